"""Making branches, letting logins in, and opening: what is done with an address before there is a store."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import psycopg
from psycopg import sql

from shopboard.records import ShopState
from shopboard.store.address import Address, local_folder
from shopboard.store.folder import utc_now
from shopboard.store.new_shop import NEW_TEXTS
from shopboard.store.protocol import ShopUnusable
from shopboard.store.shop_files import read_catalogue, read_models, read_settings

from . import schema, texts
from .branch import Branch, branch_of
from .connection import Link, asked, mend, opened, said
from .store import PostgresStore


def open_branch(
    address: Address, clock: Callable[[], datetime] = utc_now, *, using: bool = True, arriving: bool = False
) -> PostgresStore:
    """The shop at an address; `using` tells a move that somebody works in it, `arriving` opens what is not all there.

    Raises ShopUnusable, in one line, where it cannot be opened.
    """
    link = opened(address)
    try:
        branch = texts.ready(link, address, arriving=arriving)
        folder = local_folder(address)
        texts.lay_out(folder, texts.present(link, branch.id))
        settings = read_settings(folder)
        state = ShopState(settings=settings, models=read_models(folder), catalogue=read_catalogue(folder, settings))
        return PostgresStore(address, link, branch, state, clock, using=using)
    except psycopg.Error as error:
        link.close()
        raise ShopUnusable(f"{address} cannot be opened: {said(error)}", mend(error)) from None
    except BaseException:  # however the opening ends, the connection must not stay
        link.close()
        raise


def new_branch(address: Address) -> None:
    """Make an empty shop as a branch of the database, with its tables and roles where they are not there yet.

    Raises ShopUnusable where the branch is there already, or the login may not.
    """
    if not address.branch:
        raise ShopUnusable("the address names no branch", "add ?branch=NAME to it: small letters, digits and -")
    asked(address, lambda link: _make(link, address.branch, NEW_TEXTS))


def _make(link: Link, name: str, files: dict[str, str]) -> None:
    schema.bring_up(link)
    with link.transaction():
        if link.execute("select 1 from shopboard.branch where name = %s", (name,)).fetchone():
            raise ShopUnusable(f"there is a branch {name} already", "choose another name")
        branch = make_branch(link, name)
        for file, body in files.items():
            texts.put(link, branch.id, file, body)


def make_branch(link: Link, name: str, arriving: str | None = None) -> Branch:
    """Make a branch with nothing in it. Raises psycopg.Error."""
    link.execute("insert into shopboard.branch (name, arriving) values (%s, %s)", (name, arriving))
    return branch_of(link, Address("", name))


def admit(address: Address, login: str, may: str) -> str:
    """Let a login of the server do the daily work ("staff"), only look ("wall"), own everything ("owner"), or nothing
    any more ("nothing"); what was done, in a sentence. Raises ShopUnusable where the login is not there."""

    def work(link: Link) -> str:
        branch = texts.ready(link, address)
        if not link.execute("select 1 from pg_roles where rolname = %s", (login,)).fetchone():
            raise ShopUnusable(f"the server knows no login {login}", f"make it with `createuser --pwprompt {login}`")
        name = sql.Identifier(login)
        with link.transaction():
            link.execute("delete from shopboard.member where branch = %s and login = %s", (branch.id, login))
            if may == "owner":
                link.execute(sql.SQL("grant shopboard_owner to {}").format(name))
                return f"{login} owns every branch of this database now"
            if may == "nothing":
                return f"{login} may no longer see {branch.name}"
            link.execute(sql.SQL("grant {} to {}").format(sql.Identifier(f"shopboard_{may}"), name))
            link.execute(
                "insert into shopboard.member (branch, login, may) values (%s, %s, %s)", (branch.id, login, may)
            )
        return f"{login} may {'work in' if may == 'staff' else 'look at'} {branch.name} now"

    return asked(address, work)
