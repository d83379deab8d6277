"""How a terminal reaches the database: services, password files, TLS, schemas that do not fit, damage there."""

from __future__ import annotations

import os
import subprocess

import psycopg
import pytest
from aids.commands import environment, shopboard
from aids.failing_over import make_pair
from aids.postgres import place, server
from aids.store_steps import collect, need, picture, take_in

from shopboard.store import CommitFailed, ShopUnusable, new_shop, open_shop, place_of, verify
from shopboard.store.postgres import schema, texts
from shopboard.store.postgres.connection import asked, connect

SECRET = "hush-Hush7"


@pytest.fixture(scope="module")
def guarded():
    """A server that wants passwords and offers TLS, with a login and its password, and a shop."""
    with server() as one:
        one.execute("create database shops")
        new_shop(place_of(one.address("shops", "main")))
        one.execute(f"create role counter login password '{SECRET}'")
        made = "req -new -x509 -days 30 -nodes -subj /CN=somewhere-else -out server.crt -keyout server.key"
        subprocess.run(["openssl", *made.split()], cwd=one.data, check=True, capture_output=True)
        for name in ("server.crt", "server.key"):
            os.chmod(one.data / name, 0o600)
            owner = (one.data / "postgresql.conf").stat()
            os.chown(one.data / name, owner.st_uid, owner.st_gid)
        one.set(ssl="on")
        (one.data / "pg_hba.conf").write_text(
            "host all owner_login 127.0.0.1/32 trust\nhost all counter 127.0.0.1/32 scram-sha-256\n"
        )
        one.stop()
        one.start()
        from shopboard.store.chain_files import admit

        admit(place_of(one.address("shops", "main")), "counter", "staff")
        yield one


@pytest.fixture
def here(tmp_path):
    """An environment of its own: no password, no service, nothing kept in a home."""
    named = {"XDG_STATE_HOME": str(tmp_path / "state"), "HOME": str(tmp_path), "COLUMNS": "100"}
    return environment(**named)


def test_the_password_file_is_honoured_and_nothing_repeats_it(guarded, here, tmp_path):
    address = guarded.address("shops", "main", "counter")
    done = shopboard("glance", "--shop", address, env=here)
    assert "password file" in done.complained(3)
    passwords = tmp_path / "passwords"
    passwords.write_text(f"127.0.0.1:{guarded.port}:shops:counter:{SECRET}\n")
    passwords.chmod(0o600)
    done = shopboard("glance", "--shop", address, env=here | {"PGPASSFILE": str(passwords)})
    assert done.code == 0 and "Our shop" in done.out and SECRET not in done.out + done.err
    wrong = shopboard("glance", "--shop", address, env=here | {"PGPASSWORD": SECRET + "x"})
    assert "password authentication failed" in wrong.complained(3) and SECRET not in wrong.err


def test_a_service_file_is_honoured(guarded, here, tmp_path):
    service = tmp_path / "services"
    service.write_text(
        f"[board]\nhost=127.0.0.1\nport={guarded.port}\ndbname=shops\nuser=counter\npassword={SECRET}\n"
        "application_name=mine\n"
    )
    named = here | {"PGSERVICEFILE": str(service)}
    for address in ("postgresql://?service=board&branch=main", "postgresql://?service=board"):
        done = shopboard("glance", "--shop", address, env=named)
        assert done.code == 0 and SECRET not in done.out + done.err, done.err
    done = shopboard("glance", "--shop", "postgresql://?branch=main", env=named | {"PGSERVICE": "board"})
    assert done.code == 0, done.err


def test_the_environment_of_libpq_is_honoured(guarded, here):
    named = here | {
        "PGHOST": "127.0.0.1", "PGPORT": str(guarded.port), "PGDATABASE": "shops", "PGUSER": "counter",
        "PGPASSWORD": SECRET,
    }  # fmt: skip
    done = shopboard("glance", "--shop", "postgresql://?branch=main", env=named)
    assert done.code == 0, done.err


def test_tls_is_used_where_it_is_offered_and_checked_where_asked(guarded):
    for more, used in (("", True), ("sslmode=disable", False), ("sslmode=require", True)):
        with connect(place_of(guarded.address("shops", "main", more=more))) as link:
            assert bool(link.pgconn.ssl_in_use) == used
    root = f"sslmode=verify-full&sslrootcert={guarded.data}/server.crt"
    with pytest.raises(ShopUnusable, match=r"cannot be opened: .*certificate.*which certificate is right"):
        open_shop(place_of(guarded.address("shops", "main", more=root)))
    ca = f"sslmode=verify-ca&sslrootcert={guarded.data}/server.crt"
    open_shop(place_of(guarded.address("shops", "main", more=ca))).close()


def test_a_server_without_tls_is_refused_where_tls_is_required(server):
    with pytest.raises(ShopUnusable, match="SSL"):
        open_shop(place_of(server.address("shops", "main", more="sslmode=require")))


@pytest.mark.parametrize(
    "database,branch,said",
    [
        ("nowhere", "x", 'database "nowhere" does not exist'),
        ("postgres", "x", "the database holds no shop"),
        ("shops", "no-such", "there is no branch no-such here"),
    ],
)
def test_what_is_not_there_is_one_line(database, branch, said, server, address):
    with pytest.raises(ShopUnusable, match=said) as refused:
        open_shop(place_of(server.address(database, branch)))
    assert "\n" not in str(refused.value)


def test_new_is_refused_without_the_right_and_on_a_taken_name(server, address):
    with pytest.raises(ShopUnusable, match="there is a branch"):
        new_shop(address)
    with pytest.raises(ShopUnusable, match="names no branch"):
        new_shop(place_of(server.address("shops")))
    server.execute("create role nobody_much login")
    with pytest.raises(ShopUnusable, match="may not"):
        new_shop(place_of(server.address("shops", "taken-over", "nobody_much")))


def test_a_database_of_another_schema_is_refused_and_brought_up(server, monkeypatch):
    server.execute("create database other_schema")
    place_ = place_of(server.address("other_schema", "main"))
    new_shop(place_)
    script = schema.scripts()[1]
    monkeypatch.setattr(schema, "scripts", lambda: {1: script, 2: "create table shopboard.more (a int);"})
    monkeypatch.setattr(schema, "newest", lambda: 2)
    with pytest.raises(ShopUnusable, match="of an older shopboard"):
        open_shop(place_)
    new_shop(place_of(server.address("other_schema", "second")))
    open_shop(place_).close()
    assert server.execute("select count(*) from shopboard.more", "other_schema") == [(0,)]
    monkeypatch.undo()
    with pytest.raises(ShopUnusable, match="belongs to a newer shopboard"):
        open_shop(place_)


def test_verify_finds_what_was_done_to_a_branch_behind_its_back(server, address, opening):
    store = opening(address)
    for word in ("one", "two", "three"):
        store.commit("me", take_in(word))
    store.commit("me", need(1, "S-1"))
    store.commit("me", collect(1))
    store.checkpoint()
    store.commit("me", collect(2))

    def found():
        return [f"{f.where}: {f.why}" for f in verify(address) if "field-20" not in f.why]

    assert found() == []
    branch = f"(select id from shopboard.branch where name = '{address.branch}')"
    server.execute(f"update shopboard.closed_job set body = convert_to('[1]', 'UTF8') where branch = {branch}", "shops")
    assert any("cannot be read" in line for line in found())
    server.execute(f"delete from shopboard.closed_job where branch = {branch}", "shops")
    assert found() == ["shopboard.closed_job: T-0001: is missing"]
    server.execute(f"delete from shopboard.rest where branch = {branch}", "shops")
    assert found() == []
    again = opening(address)  # it is made again from the journal
    assert picture(again.state)["whole"].keys() == {1, 2}
    again.checkpoint()
    assert found() == []
    with psycopg.connect(server.conninfo("shops"), autocommit=True) as owner:
        owner.execute("alter table shopboard.change disable trigger only_added")
        spoil = f"update shopboard.change set line = overlay(line placing 'X' from 60) where branch = {branch}"
        owner.execute(f"{spoil} and seq = 2".encode())
        assert any("change 2" in line and "checksum" in line for line in found())
        with pytest.raises(ShopUnusable, match=r"change 2 .* does not match its checksum"):
            list(opening(address).changes())
        owner.execute(f"delete from shopboard.change where seq = 2 and branch = {branch}".encode())
        owner.execute("alter table shopboard.change enable trigger only_added")
    assert any("change 2 is missing" in line for line in found())


def test_a_state_at_rest_that_is_damaged_is_said_and_can_be_dropped(server, address, opening):
    store = opening(address)
    store.commit("me", take_in())
    store.checkpoint()
    branch = f"(select id from shopboard.branch where name = '{address.branch}')"
    server.execute(f"update shopboard.rest set body = 'x' where branch = {branch}", "shops")
    with pytest.raises(ShopUnusable, match="state at rest in the database is damaged"):
        open_shop(address)
    server.execute(f"delete from shopboard.rest where branch = {branch}", "shops")
    assert opening(address).state.seq == 1


def test_many_changes_are_put_at_rest_by_themselves(address, opening, server, monkeypatch):
    from shopboard.store.postgres import store as engine

    monkeypatch.setattr(engine, "CHANGES", 20)
    writers = [opening(address), opening(address)]
    for n in range(50):
        writers[n % 2].commit("me", take_in(str(n)))
    branch = f"(select id from shopboard.branch where name = '{address.branch}')"
    (seq,) = server.execute(f"select seq from shopboard.rest where part = 'open' and branch = {branch}", "shops")[0]
    assert 31 <= seq <= 50


def test_a_shops_files_lie_on_this_machine_as_they_are_in_the_database(address, opening):
    opening(address)
    folder = texts.laid_out(address)
    there = asked(address, lambda link: texts.present(link, texts.ready(link, address).id))
    assert {p.relative_to(folder).as_posix(): p.read_text() for p in folder.rglob("*.toml")} == {
        name: body for name, body in there.items() if name.endswith(".toml")
    }
    assert folder.stat().st_mode & 0o077 == 0
    (folder / "pins.toml").write_text("")
    asked(address, lambda link: texts.put(link, texts.ready(link, address).id, "parts.toml", None))
    assert not (texts.laid_out(address) / "parts.toml").exists() and (folder / "pins.toml").exists()


def test_a_terminal_says_what_is_gone_after_an_unsafe_failover(opening):
    """No synchronous standby, and it lags: what was lost there is named at the terminal that had entered it."""
    with place() as folder:
        pair = make_pair(folder, synchronous=False)
        try:
            new_shop(place_of(pair.address))
            store = opening(place_of(pair.address))
            store.commit("me", take_in("kept"))
            seen = f"select pg_last_wal_replay_lsn() >= '{pair.primary.execute('select pg_current_wal_lsn()')[0][0]}'"
            while pair.standby.execute(seen) != [(True,)]:
                pass
            pair.lag()
            store.commit("me", take_in("lost"))
            pair.primary.kill()
            pair.promote()
            told = ""
            while not told:
                store.refresh()
                told = " ".join(store.notices())
            assert "1 changes are gone (2 took in T-0002)" in told
            assert [c.name for c in store.state.customers.values()] == ["kept"]
            assert store.commit("me", take_in("again")).seq == 2
            store.close()
        finally:
            pair.stop()


def test_a_commit_that_the_server_refuses_is_said_and_changes_nothing(server, address, opening):
    store = opening(address)
    store.commit("me", take_in())
    server.execute("alter table shopboard.change add constraint full_disk check (seq < 2) not valid", "shops")
    try:
        with pytest.raises(CommitFailed, match="not saved"):
            store.commit("me", take_in())
        assert store.state.seq == 1
    finally:
        server.execute("alter table shopboard.change drop constraint full_disk", "shops")
    assert store.commit("me", take_in()).seq == 2
