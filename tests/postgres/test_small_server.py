"""A small server set up as README says: an owner who is no superuser, a login that works, one that looks."""

from __future__ import annotations

import psycopg
import pytest
from aids.postgres import server as starting
from aids.store_steps import take_in

from shopboard import cli
from shopboard.store import open_shop, place_of


@pytest.fixture(scope="module")
def small():
    """The logins and the database that README's first commands make."""
    with starting() as one:
        one.execute("create role owner login createrole")
        one.execute("create role counter login")
        one.execute("create role screen login")
        one.execute("create database shops owner owner encoding 'UTF8'")
        yield one


def run(capsysbinary, *arguments):
    code = cli.run(list(arguments))
    out, err = capsysbinary.readouterr()
    assert code == 0, err.decode()
    return out.decode()


def test_new_files_admit_open(small, capsysbinary, tmp_path):
    owner = small.address("shops", "north", "owner")
    assert "stands at" in run(capsysbinary, "new", owner)
    text = run(capsysbinary, "files", "get", "shop.toml", "--shop", owner)
    (tmp_path / "shop.toml").write_text(text.replace('name = "Our shop"', 'name = "North"'))
    assert "version 2" in run(capsysbinary, "files", "put", "shop.toml", str(tmp_path / "shop.toml"), "--shop", owner)
    assert len(run(capsysbinary, "files", "--shop", owner).splitlines()) >= 4
    assert "may work in north" in run(capsysbinary, "admit", "counter", "staff", "--shop", owner)
    assert "may look at north" in run(capsysbinary, "admit", "screen", "wall", "--shop", owner)
    counter = open_shop(place_of(small.address("shops", "", "counter")))
    change = counter.commit("me", take_in())
    screen = open_shop(place_of(small.address("shops", "", "screen")))
    assert list(screen.changes()) == [change] and screen.state.settings.name == "North"
    assert "North" in run(capsysbinary, "glance", "--shop", small.address("shops", "north", "screen"))
    for store in (counter, screen):
        store.close()
    assert "north" in run(capsysbinary, "branches", "--shop", small.address("shops", "", "counter"))
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        small.execute("delete from shopboard.change", "shops", "counter")


def test_every_reading_command_takes_the_address(small, capsysbinary, monkeypatch):
    monkeypatch.setenv("SHOPBOARD_SHOP", small.address("shops", "north", "owner"))
    run(capsysbinary, "new", small.address("shops", "east", "owner"))
    monkeypatch.setenv("SHOPBOARD_SHOP", small.address("shops", "east", "owner"))
    for words in (
        ["glance", "--json"],
        ["memory"],
        ["plan"],
        ["triage", "weak drive"],
        ["paper", "parts"],
        ["paper", "chart", "weak drive"],
        ["verify"],
        ["calc", "whirl", "--outer", "60 mm", "--inner", "54 mm", "--length", "1200 mm"],
    ):
        assert run(capsysbinary, *words), words


def test_a_second_branch_and_an_owner_more(small, capsysbinary):
    run(capsysbinary, "new", small.address("shops", "south", "owner"))
    small.execute("create role second login")
    said = run(capsysbinary, "admit", "second", "owner", "--shop", small.address("shops", "south", "owner"))
    assert "owns every branch" in said
    out = run(capsysbinary, "branches", "--shop", small.address("shops", "", "second"))
    assert "south" in out
    run(capsysbinary, "new", small.address("shops", "west", "second"))


def test_a_login_nobody_made_is_said(small, capsysbinary):
    assert cli.run(["admit", "nobody", "staff", "--shop", small.address("shops", "south", "owner")]) == 3
    assert "the server knows no login nobody" in capsysbinary.readouterr().err.decode()


def test_these_commands_refuse_a_folder(tmp_path, capsysbinary):
    for words in (["files"], ["branches"], ["admit", "a", "staff"]):
        assert cli.run([*words, "--shop", str(tmp_path)]) == 2
        assert "is a folder" in capsysbinary.readouterr().err.decode()


def test_a_backup_of_the_engines_own_tools_comes_back(small, capsysbinary):
    """pg_dump into another database: the same journal, proved by verify."""
    owner = small.address("shops", "north", "owner")
    small.run("pg_dump", "-Fc", "-f", str(small.place / "shops.dump"), "-d", small.conninfo("shops"))
    small.execute("create database restored owner owner encoding 'UTF8'")
    small.run("pg_restore", "-d", small.conninfo("restored"), "--exit-on-error", str(small.place / "shops.dump"))
    here = open_shop(place_of(owner))
    there = open_shop(place_of(small.address("restored", "north", "owner")))
    assert list(here.changes()) == list(there.changes()) and here.state.customers == there.state.customers
    assert there.commit("me", take_in()).seq == here.state.seq + 1
    for store in (here, there):
        store.close()
    assert cli.run(["verify", "--shop", small.address("restored", "north", "owner")]) in (0, 1)
    out = capsysbinary.readouterr().out.decode()
    assert not [line for line in out.splitlines() if line.startswith("shopboard.")], out
