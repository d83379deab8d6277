-- The journal and what is made from it, many branches in one database.
--
-- A journal row is only ever added, and only through shopboard.append: no role but the owner of the tables has the right
-- to insert, alter or delete one, and a trigger stops even that. What a login may do in which branch stands in
-- shopboard.member; row security keeps the other branches from its sight.

create table shopboard.branch (
    id int generated always as identity primary key,
    name text not null unique check (name ~ '^[a-z0-9][a-z0-9-]{0,39}$'),
    made timestamptz not null default clock_timestamp(),
    arriving text  -- where a move brings it from, until all of it is there
);

create table shopboard.member (
    branch int not null references shopboard.branch,
    login text not null,
    may text not null check (may in ('staff', 'wall')),
    primary key (branch, login)
);

create table shopboard.change (
    branch int not null references shopboard.branch,
    seq bigint not null check (seq > 0),
    id uuid not null,
    kept timestamptz not null default clock_timestamp(),
    login text not null default session_user,
    subject int,
    line bytea not null,  -- exactly the line a folder's journal holds
    primary key (branch, seq),
    unique (branch, id)
);

-- Which records a change touched: a job's story and undo need not read the rest.
create table shopboard.touched (
    branch int not null,
    kind text not null,
    record bigint not null,
    seq bigint not null,
    primary key (branch, kind, record, seq)
);

-- The state at rest: "open", and the summaries of closed jobs by month. It can be made again from the journal.
create table shopboard.rest (
    branch int not null references shopboard.branch,
    part text not null,
    seq bigint not null,
    body bytea not null,
    primary key (branch, part)
);
alter table shopboard.rest alter column body set storage external;

create table shopboard.closed_job (
    branch int not null references shopboard.branch,
    job int not null,
    month text not null,
    format int not null,
    body bytea not null,
    primary key (branch, job)
);

-- The files the shop edits, every version of them; a body that is null means the file was taken away.
create table shopboard.text (
    branch int not null references shopboard.branch,
    name text not null check (name ~ '^(book/)?[A-Za-z0-9][A-Za-z0-9._-]{0,79}$'),
    version int not null,
    body text,
    kept timestamptz not null default clock_timestamp(),
    login text not null default session_user,
    primary key (branch, name, version)
);

-- Changes that were given up before they were kept: they may not arrive late.
create table shopboard.given_up (
    branch int not null references shopboard.branch,
    id uuid not null,
    kept timestamptz not null default clock_timestamp(),
    primary key (branch, id)
);

-- What the login may do in a branch: 'owner', 'staff', 'wall', or ''.
create function shopboard.may(b int) returns text
language sql stable security definer set search_path = pg_catalog, pg_temp as $$
    select case
        when pg_has_role(session_user, 'shopboard_owner', 'member') then 'owner'
        else coalesce((select m.may from shopboard.member m where m.branch = b and m.login = session_user), '')
    end
$$;

-- The branches the login may see, or write to.
create function shopboard.mine(writing bool) returns setof int
language sql stable security definer set search_path = pg_catalog, pg_temp as $$
    select b.id from shopboard.branch b where pg_has_role(session_user, 'shopboard_owner', 'member')
    union
    select m.branch from shopboard.member m where m.login = session_user and (m.may = 'staff' or not writing)
$$;

-- Only one writer of a branch at a time, until the end of its transaction.
create function shopboard.hold(b int) returns void
language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
begin
    if shopboard.may(b) not in ('owner', 'staff') then
        raise insufficient_privilege using message = 'this login may not write to this branch';
    end if;
    perform pg_advisory_xact_lock(4713, b);
end
$$;

-- Keep the change after `after` (whose id is `after_id`): 'kept'; 'there' if this very change is kept already, with its
-- number; 'behind' if other changes came first, with the number of the last; 'other' if the journal does not hold
-- `after` as the caller knows it; 'given up'.
create function shopboard.append(
    b int, after bigint, after_id uuid, new_id uuid, about int, kinds text[], records bigint[], new_line bytea
) returns table (outcome text, at_seq bigint)
language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
declare
    last_seq bigint;
    last_id uuid;
    known uuid;
begin
    perform shopboard.hold(b);
    select c.seq into at_seq from shopboard.change c where c.branch = b and c.id = new_id;
    if found then
        outcome := 'there';
        return next; return;
    end if;
    perform from shopboard.given_up g where g.branch = b and g.id = new_id;
    if found then
        outcome := 'given up'; at_seq := 0;
        return next; return;
    end if;
    select c.seq, c.id into last_seq, last_id from shopboard.change c where c.branch = b order by c.seq desc limit 1;
    last_seq := coalesce(last_seq, 0);
    if last_seq = after and last_id is not distinct from after_id then
        -- A line that nobody could read would shut out every terminal
        if substring(encode(substring(new_line from 1 for 40), 'escape') from '^\{"c":"[0-9a-f]{8}","s":([0-9]+),')
            is distinct from (after + 1)::text or position('\x0a'::bytea in new_line) <> length(new_line)
        then
            raise check_violation using message = 'the line is not that of the next change';
        end if;
        perform convert_from(new_line, 'UTF8')::json;
        insert into shopboard.change (branch, seq, id, subject, line) values (b, after + 1, new_id, about, new_line);
        insert into shopboard.touched (branch, kind, record, seq)
            select b, k, r, after + 1 from unnest(kinds, records) as t (k, r);
        outcome := 'kept'; at_seq := after + 1;
        return next; return;
    end if;
    select c.id into known from shopboard.change c where c.branch = b and c.seq = after;
    outcome := case when last_seq > after and known is not distinct from after_id then 'behind' else 'other' end;
    at_seq := last_seq;
    return next;
end
$$;

-- The number under which a change is kept; if it is not, 0, and it never will be.
create function shopboard.settle(b int, new_id uuid) returns bigint
language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
declare
    found_seq bigint;
begin
    perform shopboard.hold(b);
    select c.seq into found_seq from shopboard.change c where c.branch = b and c.id = new_id;
    if found_seq is null then
        insert into shopboard.given_up (branch, id) values (b, new_id) on conflict do nothing;
    end if;
    return coalesce(found_seq, 0);
end
$$;

create function shopboard.only_added() returns trigger
language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    raise insufficient_privilege using message = 'the journal is only ever added to';
end
$$;
create trigger only_added before update or delete or truncate on shopboard.change
    for each statement execute function shopboard.only_added();

-- Row security: what one may see, and what one may write, branch by branch.
alter table shopboard.branch enable row level security;
alter table shopboard.member enable row level security;
alter table shopboard.change enable row level security;
alter table shopboard.touched enable row level security;
alter table shopboard.rest enable row level security;
alter table shopboard.closed_job enable row level security;
alter table shopboard.text enable row level security;
alter table shopboard.given_up enable row level security;
create policy see on shopboard.branch for select using (id = any (array(select shopboard.mine(false))));
create policy see on shopboard.member for select using (login = session_user);
create policy see on shopboard.change for select using (branch = any (array(select shopboard.mine(false))));
create policy see on shopboard.touched for select using (branch = any (array(select shopboard.mine(false))));
create policy see on shopboard.rest for select using (branch = any (array(select shopboard.mine(false))));
create policy see on shopboard.closed_job for select using (branch = any (array(select shopboard.mine(false))));
create policy see on shopboard.text for select using (branch = any (array(select shopboard.mine(false))));
create policy keep on shopboard.rest using (branch = any (array(select shopboard.mine(true))));
create policy keep on shopboard.closed_job using (branch = any (array(select shopboard.mine(true))));

revoke all on all functions in schema shopboard from public;
grant usage on schema shopboard to shopboard_staff, shopboard_wall;
grant execute on function shopboard.may(int), shopboard.mine(bool) to shopboard_staff, shopboard_wall;
grant execute on function
    shopboard.hold(int),
    shopboard.append(int, bigint, uuid, uuid, int, text[], bigint[], bytea),
    shopboard.settle(int, uuid)
    to shopboard_staff;
grant select on
    shopboard.migration, shopboard.branch, shopboard.member, shopboard.change, shopboard.touched, shopboard.rest,
    shopboard.closed_job, shopboard.text
    to shopboard_staff, shopboard_wall;
grant insert, update, delete on shopboard.rest, shopboard.closed_job to shopboard_staff;
