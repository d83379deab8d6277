"""The database's schema: numbered migrations, roles with least rights, and what is told where they do not fit."""

from __future__ import annotations

from importlib.resources import files

import psycopg

from shopboard.store.postgres.connection import Link
from shopboard.store.protocol import ShopUnusable

#: What a login is granted: everything, the daily work, or to look only.
ROLES = ("shopboard_owner", "shopboard_staff", "shopboard_wall")
_LOCK = 4712


def scripts() -> dict[int, str]:
    """The migrations by number."""
    shelf = (entry for entry in files(__name__).iterdir() if entry.name.endswith(".sql"))
    return {int(entry.name[:4]): entry.read_text(encoding="utf-8") for entry in sorted(shelf, key=lambda e: e.name)}


def newest() -> int:
    """The schema this program works with."""
    return max(int(entry.name[:4]) for entry in files(__name__).iterdir() if entry.name.endswith(".sql"))


def present(link: Link) -> int:
    """The schema the database has, 0 for none."""
    try:
        found = link.execute("select max(number) from shopboard.migration").fetchone()
    except (psycopg.errors.UndefinedTable, psycopg.errors.InvalidSchemaName):
        return 0
    return int(found[0] or 0) if found else 0


def check(link: Link) -> None:
    """Raises ShopUnusable unless the database has the schema this program works with."""
    has, needs = present(link), newest()
    if has == 0:
        raise ShopUnusable("the database holds no shop", "`shopboard new ADDRESS` makes one there")
    if has > needs:
        raise ShopUnusable(
            f"the database belongs to a newer shopboard (schema {has}, this one works with {needs})",
            "install the newer version on this machine too",
        )
    if has < needs:
        raise ShopUnusable(
            f"the database is of an older shopboard (schema {has}, this one works with {needs})",
            "the owner brings it up to date with `shopboard new` on any branch's address; nothing is lost",
        )


def bring_up(link: Link) -> None:
    """Make the schema and its roles, or bring them up to date; done by one at a time, each migration whole or not.

    Raises ShopUnusable where the login may not, psycopg.Error where the server refuses.
    """
    encoding = link.execute("show server_encoding").fetchone()
    if not encoding or encoding[0] != "UTF8":
        raise ShopUnusable("the database does not keep UTF-8", "make it with encoding UTF8")
    with link.transaction():
        link.execute("select pg_advisory_xact_lock(%s, 0)", (_LOCK,))
        if present_in(link) == 0:
            _make_roles(link)
            link.execute("create schema if not exists shopboard authorization shopboard_owner")
        link.execute("set local role shopboard_owner")
        link.execute(
            "create table if not exists shopboard.migration (number int primary key, "
            "at timestamptz not null default clock_timestamp(), login text not null default session_user)"
        )
        has = present_in(link)
        for number, script in scripts().items():
            if number > has:
                link.execute(script.encode())
                link.execute("insert into shopboard.migration (number) values (%s)", (number,))


def present_in(link: Link) -> int:
    """As `present`, within a transaction, which an error would end."""
    found = link.execute("select to_regclass('shopboard.migration')").fetchone()
    return present(link) if found and found[0] else 0


def _make_roles(link: Link) -> None:
    there = {name for (name,) in link.execute("select rolname from pg_roles where rolname = any(%s)", (list(ROLES),))}
    missing = [role for role in ROLES if role not in there]
    try:
        with link.transaction():
            for role in missing:
                link.execute(f"create role {role} nologin")
            member = link.execute("select pg_has_role(current_user, 'shopboard_owner', 'usage')").fetchone()
            if not member or not member[0]:
                link.execute("grant shopboard_owner to current_user")
    except psycopg.errors.InsufficientPrivilege:
        raise ShopUnusable(
            "this login may not make the roles shopboard_owner, shopboard_staff and shopboard_wall",
            "let who runs the server make them with `create role`, and grant you shopboard_owner",
        ) from None
