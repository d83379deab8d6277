"""A database's shop files and its logins, as the commands ask for them; needs the extra `postgres`."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from .address import Address
from .anywhere import need_driver
from .protocol import ShopUnusable, Store
from .shop_files import read_book, read_catalogue, read_models, read_settings


def listed(address: Address, name: str = "") -> list[str]:
    """One line a file, newest version; with `name` one line a version of it. Raises ShopUnusable."""
    need_driver()
    from .postgres import texts
    from .postgres.connection import asked

    found = asked(address, lambda link: texts.versions(link, texts.ready(link, address).id, name))
    return [
        f"{one.name}  version {one.version}  {one.kept:%Y-%m-%d %H:%M}  {one.login}"
        f"{'' if one.body is not None else '  taken away'}"
        for one in found
    ]


def got(address: Address, name: str, version: int = 0) -> str:
    """A file's text, of a version or the newest. Raises ShopUnusable where there is none."""
    need_driver()
    from .postgres import texts
    from .postgres.connection import asked

    found = asked(address, lambda link: texts.versions(link, texts.ready(link, address).id, name))
    chosen = [one for one in found if one.version == version] if version else found[-1:]
    if not chosen or chosen[0].body is None:
        there = f"there are versions up to {found[-1].version}" if found else "`shopboard files` lists those there are"
        raise ShopUnusable(f"no file {name}{f' of version {version}' if version else ''} is kept here", there)
    return chosen[0].body


def put(address: Address, name: str, body: str | None) -> str:
    """Keep a new version of a file (None: take it away), unless the shop could not be opened with it; what was done.

    Raises ShopUnusable with what is wrong in it, and nothing is changed.
    """
    need_driver()
    from .postgres import texts
    from .postgres.connection import Link, asked

    if not texts.NAME.fullmatch(name) or name == texts.PINS:
        raise ShopUnusable(f"no file may be called {name}", "shop.toml, models.toml, parts.toml or book/NAME.toml")

    def work(link: Link) -> str:
        branch = texts.ready(link, address).id
        files = texts.present(link, branch)
        if body is None and name not in files:
            raise ShopUnusable(f"no file {name} is kept here", "`shopboard files` lists those there are")
        if files.get(name) == body:
            return f"{name} is that already"
        _prove({**files, name: body} if body is not None else {k: v for k, v in files.items() if k != name})
        number = texts.put(link, branch, name, body)
        return (
            f"{name} is {'kept' if body is not None else 'taken away'} as version {number}; boards see it when reopened"
        )

    return asked(address, work)


def _prove(files: dict[str, str]) -> None:
    """Raises ShopUnusable where a shop with these files could not be opened."""
    from .postgres.texts import lay_out

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        lay_out(folder, files)
        settings = read_settings(folder)
        read_models(folder)
        read_catalogue(folder, settings)
        read_book(folder)


def admit(address: Address, login: str, may: str) -> str:
    """Let a login do something in a branch, or nothing any more; what was done. See `postgres.admin.admit`."""
    need_driver()
    from .postgres.admin import admit as let_in

    return let_in(address, login, may)


def each_branch(address: Address) -> Iterator[tuple[Address, Store | ShopUnusable]]:
    """Every branch the login may see, by name, each opened to be read (close it), or why it cannot be.

    Raises ShopUnusable where the database cannot be opened or holds none.
    """
    need_driver()
    from .postgres import schema
    from .postgres.admin import open_branch
    from .postgres.branch import Branch, branches
    from .postgres.connection import Link, asked

    def names(link: Link) -> list[Branch]:
        schema.check(link)
        return branches(link)

    found = asked(address, names)
    if not found:
        raise ShopUnusable("there is no branch here that this login may see", "ask the owner (`shopboard admit`)")
    for branch in found:
        one = Address(address.server, branch.name)
        try:
            yield one, open_branch(one, using=False)
        except ShopUnusable as error:
            yield one, error
