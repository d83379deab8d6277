"""The files a shop edits: shop.toml, models.toml, parts.toml and its additions to the trouble book, with errors to act
on."""

from __future__ import annotations

import os
import shutil
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from shopboard.records import CataloguePart, FieldError, Model, Record, Settings, to_record

from . import disk
from .new_shop import NEW_TEXTS
from .protocol import ShopUnusable

if TYPE_CHECKING:
    from shopboard.trouble import Book

R = TypeVar("R", bound=Record)

#: How shop.toml spells the lists of Settings: one `[[bay]]` table a bay.
_SPELLED = {"bay": "bays", "person": "people", "supplier": "suppliers"}

#: Settings that are sums or per cents.
_SUMS = (
    "tax_percent",
    "labour_rate",
    "diagnostic_fee",
    "overrun_percent",
    "supplies_percent",
    "supplies_most",
    "deposit_percent",
)


def read_settings(folder: Path) -> Settings:
    """shop.toml. Raises ShopUnusable with the file, the field, what is wrong and what would be right."""
    folder = Path(folder)
    if not folder.is_dir():
        raise ShopUnusable(f"there is no folder {folder}", f"`shopboard new {folder}` makes a shop there")
    if not (folder / "shop.toml").is_file():
        raise ShopUnusable(f"{folder} is no shop: it has no shop.toml", "`shopboard new FOLDER` makes a shop")
    data = _toml(folder / "shop.toml")
    for spelled, name in _SPELLED.items():
        if spelled in data:
            if name in data:
                raise _wrong("shop.toml", spelled, f"stands beside `{name}`", f"write each as [[{spelled}]]")
            data[name] = data.pop(spelled)
            if not isinstance(data[name], list):
                raise _wrong("shop.toml", spelled, "is not a list", f"write each as [[{spelled}]], with two brackets")
    settings = _record(data, Settings, "shop.toml")
    _check_settings(settings)
    return settings


def _tables(folder: Path, file: str, name: str) -> list[Any]:
    """The `[[name]]` tables of a file, none if there is no such file. Raises ShopUnusable for anything else in it."""
    path = Path(folder) / file
    data = _toml(path) if path.is_file() else {}
    tables = data.pop(name, [])
    if data:
        raise _wrong(file, next(iter(data)), "is not known here", f"write each {name} as [[{name}]]")
    if not isinstance(tables, list):
        raise _wrong(file, name, "is not a list", f"write each {name} as [[{name}]], with two brackets")
    return tables


def read_models(folder: Path) -> dict[str, Model]:
    """models.toml by model id; empty if there is no such file. Raises ShopUnusable as `read_settings`."""
    tables = _tables(folder, "models.toml", "model")
    found: dict[str, Model] = {}
    for number, table in enumerate(tables, 1):
        model = _record(table, Model, "models.toml", f"model[{number}]")
        if model.id in found:
            raise _wrong(
                "models.toml", f"model[{number}].id", f'"{model.id}" is used twice', "give each model its own id"
            )
        found[model.id] = model
    return found


def read_catalogue(folder: Path, settings: Settings) -> dict[str, CataloguePart]:
    """parts.toml by part number; empty if there is no such file. Raises ShopUnusable as `read_settings`, also for a
    price finer than the shop's money or below nought, a number used twice, and a substitute that leads nowhere."""
    found: dict[str, CataloguePart] = {}
    for place, table in enumerate(_tables(folder, "parts.toml", "part"), 1):
        here = f"part[{place}]"
        part = _record(table, CataloguePart, "parts.toml", here)
        if not part.number.strip() or not part.name.strip():
            raise _wrong("parts.toml", here, "number or name is blank", "write both")
        if part.number in found:
            why = f'"{part.number}" is used twice'
            raise _wrong("parts.toml", f"{here}.number", why, "leave one of them, or write the serials' number apart")
        for name, sum_ in (("price", part.price), ("core_charge", part.core_charge)):
            _check_sum(f"{here}.{name}", sum_, settings)
        found[part.number] = part
    for place, part in enumerate(found.values(), 1):
        _check_substitutes(f"part[{place}].replaced_by", part, found)
    return found


def _check_sum(path: str, amount: Decimal | None, settings: Settings) -> None:
    if amount is None:
        return
    if not amount.is_finite() or amount < 0:
        raise _wrong("parts.toml", path, f"{amount} is out of range", "write it like 62.50, zero at least")
    if amount != amount.quantize(Decimal(1).scaleb(-settings.decimals)):
        raise _wrong("parts.toml", path, f"{amount} is finer than the shop's money", f"{settings.decimals} decimals")


def _check_substitutes(path: str, part: CataloguePart, known: Mapping[str, CataloguePart]) -> None:
    seen = [part.number]
    while known[seen[-1]].replaced_by:
        following = known[seen[-1]].replaced_by
        if following not in known:
            raise _wrong("parts.toml", path, f'"{following}" is no part of this file', "write a [[part]] for it")
        if following in seen:
            raise _wrong("parts.toml", path, "each is replaced by the other", "take one replaced_by out")
        seen.append(following)


def read_book(folder: Path | None) -> Book:
    """The trouble book as shipped, with the shop's own book/*.toml added.

    Raises ShopUnusable with the first entry that is wrong, and how many more there are.
    """
    from . import book_kept

    return book_kept.kept(shipped_book(), book_additions(folder), _read_book)


def _read_book(texts: Mapping[str, str], additions: Mapping[str, str]) -> Book:
    from shopboard.trouble import BookErrors, load_book

    try:
        return load_book(texts, additions)
    except BookErrors as found:
        first, more = found.errors[0], len(found.errors) - 1
        where = f"book/{first.file}: {first.entry}: " if first.entry else f"book/{first.file}: "
        rest = f" (and {more} more: `shopboard verify` lists them)" if more else ""
        raise ShopUnusable(f"{where}{first.why}", f"{first.mend}{rest}") from None


def shipped_book() -> dict[str, str]:
    """The texts of the trouble book that comes with the program, by file name."""
    shelf = files("shopboard.trouble").joinpath("book")
    texts = (entry for entry in shelf.iterdir() if entry.name.endswith(".toml"))
    return {entry.name: entry.read_text(encoding="utf-8") for entry in sorted(texts, key=lambda entry: entry.name)}


def book_additions(folder: Path | None) -> dict[str, str]:
    """The texts of the shop's own book/*.toml by file name. Raises ShopUnusable for one that is no UTF-8 text."""
    if folder is None:
        return {}
    return {path.name: _text(path) for path in sorted((Path(folder) / "book").glob("*.toml"))}


def new_shop(folder: Path) -> None:
    """Make an empty shop with a commented shop.toml; all of it or nothing.

    Raises ShopUnusable where something is there already or the folder cannot be made.
    """
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ShopUnusable(f"{folder} is there already and not empty", "choose a folder that does not exist yet")
    making = folder.with_name(f".{folder.name}.{os.getpid()}.new")
    try:
        disk.make_folder(making)
        disk.make_folder(making / "book")
        for name, text in NEW_TEXTS.items():
            disk.replace_file(making / name, text.encode())
        if folder.exists():
            folder.rmdir()  # it is empty, and not every system renames onto a folder
        making.rename(folder)
        disk.sync_folder(folder.parent)
    except OSError as error:
        shutil.rmtree(making, ignore_errors=True)
        raise ShopUnusable(f"{folder} cannot be made ({error.strerror})", "choose a folder you may write to") from None


def _wrong(file: str, path: str, why: str, right: str) -> ShopUnusable:
    return ShopUnusable(f"{file}: {path + ': ' if path else ''}{why}", right)


def _text(path: Path) -> str:
    name = f"book/{path.name}" if path.parent.name == "book" else path.name
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ShopUnusable(f"{name}: is not UTF-8 text", "save it as UTF-8") from None
    except OSError as error:
        raise ShopUnusable(f"{name}: cannot be read ({error.strerror})", "see who may read it") from None


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(_text(path))
    except tomllib.TOMLDecodeError as error:
        raise ShopUnusable(
            f"{path.name}: cannot be read: {error}", 'look at that line: text stands in "quotes", lists in [brackets]'
        ) from None
    except RecursionError:
        raise ShopUnusable(f"{path.name}: brackets stand in brackets without end", "close them") from None


def _record(data: Any, kind: type[R], file: str, prefix: str = "") -> R:
    try:
        return to_record(data, kind, file)
    except FieldError as error:
        from .field_help import what_is_right  # only where something is wrong

        path, why, right = what_is_right(data, kind, error)
        for spelled, name in _SPELLED.items():
            path = path.replace(f"{name}[", f"{spelled}[")
        raise _wrong(file, ".".join(filter(None, (prefix, path))), why, right) from None


def _check_ids(spelled: str, ids: list[str]) -> None:
    for number, id in enumerate(ids, 1):
        path = f"{spelled}[{number}].id"
        if not id:
            raise _wrong("shop.toml", path, "is empty", "give it a short name")
        if id in ids[: number - 1]:
            raise _wrong("shop.toml", path, f'"{id}" is used twice', f"give each {spelled} its own id")


def _check_settings(settings: Settings) -> None:
    _check_ids("bay", [bay.id for bay in settings.bays])
    _check_ids("person", [person.id for person in settings.people])
    _check_ids("supplier", [supplier.id for supplier in settings.suppliers])
    for name in _SUMS:
        amount: Decimal | None = getattr(settings, name)
        if amount is not None and (not amount.is_finite() or amount < 0):
            raise _wrong("shop.toml", name, f"{amount} is out of range", "write it like 62.50, zero at least")
    try:
        ZoneInfo(settings.zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        right = 'a time zone is written like "Europe/Vienna" or "America/Denver"'
        raise _wrong("shop.toml", "zone", f'"{settings.zone}" is no time zone', right) from None
    for day, hours in settings.hours.items():
        _check_hours(f"hours.{day}", hours)
    for number, person in enumerate(settings.people, 1):
        for name, span in person.hours.items():
            _check_hours(f"person[{number}].hours.{name}", span, name)


def _check_hours(path: str, hours: str, day: str = "mon") -> None:
    from shopboard.records.settings import DAYS

    if day not in DAYS:
        raise _wrong("shop.toml", path, f'"{day}" is no day', f"the days are {', '.join(DAYS)}")
    start, _, end = hours.partition("-")
    if not (len(start) == len(end) == 5 and start < end):
        raise _wrong("shop.toml", path, f'"{hours}" is no span of a day', 'write it like "08:00-17:00", start first')
