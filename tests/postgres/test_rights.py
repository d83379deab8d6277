"""What a login may do with plain SQL, and what it may not; other branches; hostile text."""

from __future__ import annotations

import psycopg
import pytest
from aids.hostile import TEXTS
from aids.store_steps import picture, remark, take_in

from shopboard.store import Address, CommitFailed, ShopUnusable, new_shop, open_shop, place_of
from shopboard.store.chain_files import admit, got, listed, put


@pytest.fixture(scope="module")
def logins(server):
    """Logins as who runs the server would make them."""
    for name in ("counter_one", "wall_one", "stranger", "other_counter"):
        server.execute(f"create role {name} login")


def as_login(address: Address, login: str) -> Address:
    place = place_of(str(address).replace("owner_login@", f"{login}@"))
    assert isinstance(place, Address)
    return place


@pytest.fixture
def shop(address, logins, opening):
    """A branch with two changes, where one login may work and one may look."""
    store = opening(address)
    store.commit("me", take_in("one"))
    store.commit("me", take_in("two"))
    admit(address, "counter_one", "staff")
    admit(address, "wall_one", "wall")
    return address


def number(server, address):
    return server.execute(f"select id from shopboard.branch where name = '{address.branch}'", "shops")[0][0]


FORBIDDEN = [
    "update shopboard.change set line = ''",
    "update shopboard.change set login = 'somebody' where seq = 1",
    "delete from shopboard.change",
    "delete from shopboard.change where seq = 2",
    "truncate shopboard.change",
    "insert into shopboard.change (branch, seq, id, line) values ({b}, 3, gen_random_uuid(), '')",
    "update shopboard.touched set seq = 1",
    "delete from shopboard.touched",
    "insert into shopboard.touched values ({b}, 'jobs', 1, 1)",
    "drop table shopboard.change",
    "alter table shopboard.change disable trigger all",
    "alter table shopboard.change owner to {login}",
    "create or replace function shopboard.may(b int) returns text language sql as $$ select 'owner' $$",
    "create table shopboard.mine_too (a int)",
    "insert into shopboard.member values ({b}, '{login}', 'staff')",
    "update shopboard.member set may = 'staff'",
    "delete from shopboard.given_up",
    "insert into shopboard.text (branch, name, version, body) values ({b}, 'shop.toml', 99, '')",
    "update shopboard.text set body = ''",
    "update shopboard.branch set name = 'x'",
    "set role shopboard_owner",
    "set session authorization owner_login",
    "grant shopboard_owner to {login}",
    "copy shopboard.change from '/dev/null'",
]
NOT_FOR_THE_WALL = [
    "insert into shopboard.rest (branch, part, seq, body) values ({b}, 'open', 9, '')",
    "delete from shopboard.rest",
    "delete from shopboard.closed_job",
    "select shopboard.hold({b})",
    "select shopboard.settle({b}, gen_random_uuid())",
    "select shopboard.append({b}, 2, null, gen_random_uuid(), null, '{{}}', '{{}}', '')",
]


@pytest.mark.parametrize("statement", FORBIDDEN)
@pytest.mark.parametrize("login", ["counter_one", "wall_one"])
def test_no_login_alters_the_journal_or_its_own_rights(statement, login, server, shop):
    before = server.execute("select * from shopboard.change order by branch, seq", "shops")
    with pytest.raises(psycopg.Error) as refused:
        server.execute(statement.format(b=number(server, shop), login=login), "shops", login)
    assert refused.value.sqlstate == "42501", refused.value
    assert server.execute("select * from shopboard.change order by branch, seq", "shops") == before


@pytest.mark.parametrize("statement", NOT_FOR_THE_WALL)
def test_a_wall_screen_writes_nothing(statement, server, shop):
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        server.execute(statement.format(b=number(server, shop)), "shops", "wall_one")


def test_even_the_owner_must_first_take_a_lock_off(server, shop):
    for statement in FORBIDDEN[:5]:
        with pytest.raises(psycopg.errors.InsufficientPrivilege, match="only ever added to"):
            server.execute(statement, "shops")


def test_staff_cannot_slip_in_a_change_out_of_turn_or_unreadable(server, shop, opening):
    branch = number(server, shop)
    line = '{"c":"00000000","s":%d,"at":"x"}'
    head = server.execute(f"select id from shopboard.change where branch = {branch} and seq = 2", "shops")[0][0]
    append = (
        "select outcome from shopboard.append({b}, {after}, '{head}', gen_random_uuid(), null, '{{}}', '{{}}', {line})"
    )
    for after, body, said in [
        (2, f"'{line % 9}' || E'\\n'", "not that of the next change"),
        (2, f"'{line % 3}'", "not that of the next change"),
        (2, '\'{"c":"00000000","s":3,\' || E\'\\n\'', "invalid input syntax"),
    ]:
        given = append.format(b=branch, after=after, head=head, line=f"convert_to({body}, 'UTF8')")
        with pytest.raises(psycopg.Error, match=said):
            server.execute(given, "shops", "counter_one")
    given = append.format(b=branch, after=7, head=head, line=f"convert_to('{line % 8}' || E'\\n', 'UTF8')")
    assert server.execute(given, "shops", "counter_one") == [("other",)]
    assert server.execute(f"select max(seq) from shopboard.change where branch = {branch}", "shops") == [(2,)]


def test_each_does_what_it_may(shop, opening):
    staff, wall = opening(as_login(shop, "counter_one")), opening(as_login(shop, "wall_one"))
    change = staff.commit("me", take_in("three"))
    assert wall.refresh() == (change,) and wall.read_only == "this login may only look"
    assert picture(wall.state) == picture(staff.state)
    staff.checkpoint()
    for refused in (lambda: wall.commit("me", take_in()), lambda: wall.undo("me"), wall.checkpoint):
        with pytest.raises(CommitFailed, match=r"only look|put at rest here"):
            refused()
    with pytest.raises(ShopUnusable, match="this login may not do that"):
        put(as_login(shop, "counter_one"), "shop.toml", 'name = "Ours now"\n')
    admit(shop, "counter_one", "nothing")
    with pytest.raises(ShopUnusable, match=r"no branch .* that this login may see"):
        open_shop(as_login(shop, "counter_one"))


def test_a_login_sees_its_own_branch_only(server, shop, logins, opening):
    other = place_of(str(shop) + "b")
    new_shop(other)
    secret = opening(other)
    secret.commit("me", take_in("secret"))
    secret.checkpoint()
    admit(shop, "other_counter", "staff")
    mine = as_login(shop, "other_counter")
    with pytest.raises(ShopUnusable, match=r"no branch .* that this login may see"):
        open_shop(as_login(other, "other_counter"))
    assert opening(Address(mine.server)).state.seq == 2  # its only branch needs no name
    hidden = number(server, other)
    for table in ("change", "touched", "rest", "closed_job", "text"):
        found = server.execute(
            f"select count(*) from shopboard.{table} where branch = {hidden}", "shops", "other_counter"
        )
        assert found == [(0,)], table
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        server.execute(f"select shopboard.hold({hidden})", "shops", "other_counter")
    stolen = f"insert into shopboard.rest (branch, part, seq, body) values ({hidden}, 'x', 1, '')"
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        server.execute(stolen, "shops", "other_counter")
    with pytest.raises(ShopUnusable, match=r"may not do that|permission denied|no branch"):
        open_shop(as_login(shop, "stranger"))


@pytest.mark.parametrize(
    "text",
    [*TEXTS.values(), "'; drop table shopboard.change; --", "$$;delete from shopboard.change;$$", "%s %(a)s {0}"],
)
def test_sql_in_any_field_stays_text(text, server, shop, opening):
    store = opening(as_login(shop, "counter_one"))
    store.commit(text, take_in(text))
    store.commit(text, remark(3, text))
    again = opening(shop)
    job = again.state.jobs[3]
    assert job.complaint == job.notes[0].text == again.state.customers[3].name == text
    assert [c.by for c in again.changes(subject=3)] == [text, text]
    assert server.execute("select count(*) > 0 from shopboard.change", "shops") == [(True,)]


def test_the_shops_files_have_versions_and_are_proved(shop):
    first = got(shop, "shop.toml")
    with pytest.raises(ShopUnusable, match=r"shop.toml: zone"):
        put(shop, "shop.toml", 'name = "North"\nzone = "Nowhere/Land"\n')
    assert got(shop, "shop.toml") == first
    assert "version 2" in put(shop, "shop.toml", 'name = "North"\n')
    assert "already" in put(shop, "shop.toml", 'name = "North"\n')
    assert got(shop, "shop.toml", 1) == first and len(listed(shop, "shop.toml")) == 2
    store = open_shop(shop)
    assert store.state.settings.name == "North"
    store.close()
    assert "taken away" in put(shop, "parts.toml", None)
    with pytest.raises(ShopUnusable, match=r"no file parts.toml"):
        got(shop, "parts.toml")
    for name in ("../shop.toml", "/etc/passwd", "book/../../x.toml", "pins.toml"):
        with pytest.raises(ShopUnusable, match="no file may be called"):
            put(shop, name, "")
