"""Files that went wrong in every way a seed can draw: what reads them works, or answers in one line."""

from __future__ import annotations

import io
import random
import zipfile
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from aids.ugly_list import make, write_csv, write_xlsx
from shopboard.exchange.entries import Reader, find_ways, read_rows
from shopboard.exchange.mapping import mapped
from shopboard.exchange.outcome import rejects_file
from shopboard.exchange.sheet import sheet_in
from shopboard.exchange.take import List, step_of, take
from shopboard.places.drafts import Drafts
from shopboard.records import Refused, ShopState, encode
from shopboard.store import StoreError, erasing, read_book, read_catalogue, read_models, read_settings
from shopboard.store.journal import BadLine, change_in, number_in, scan
from shopboard.store.tiny_files import OpenFile, read_tiny

_SIGNS = b'" "" \' ; , [ ] { } \\ \\u0000 \\ud800 < & &#x0; ]]> <f> <v> r="A1048577" r="XFE1" t="e" # """ \'\'\' [[[[[['
_WORDS = b"=1+1 -1 1e999 nan inf 99999999999999999999 1.412,5 1,4,1,2 31/02/2020 02/29/2021 0/0/0 2021-13-45 29.02.20"
_MORE = b"9999-99-99 1-jan-0000 12:61 #REF! true null 0x1p9 name,name,name phone;phone [[bay]] [hours] id=1"
_BYTES = b"\t|\r|\n|\x00|\xff\xfe|\xef\xbb\xbf|\xff|\xc3|\xed\xa0\x80|\x81|\xe2\x80\xae|sep=;\n|1979-05-27T07:32:00Z"
_TOKENS = [
    *_SIGNS.split(),
    *_WORDS.split(),
    *_MORE.split(),
    *_BYTES.split(b"|"),
    "ＡＢ犬é".encode(),
    b"=" * 50,
    b'"' * 33,
]


def mutated(data: bytes, draw: random.Random) -> bytes:
    """The bytes with one to eight things wrong."""
    new = bytearray(data)
    for _ in range(draw.choice((1, 1, 2, 3, 8))):
        at = draw.randrange(len(new) + 1)
        kind = draw.randrange(7)
        if kind == 0 and at < len(new):
            new[at] ^= 1 << draw.randrange(8)
        elif kind == 1:
            new[at:at] = draw.choice(_TOKENS)
        elif kind == 2:
            del new[at : at + draw.choice((1, 2, 5, 40, 400))]
        elif kind == 3:
            new[at : at + draw.randrange(8)] = draw.choice(_TOKENS)
        elif kind == 4:
            other = draw.randrange(len(new) + 1)
            new[at:at] = new[other : other + draw.choice((1, 9, 90))]
        elif kind == 5:
            new[at:at] = bytes(draw.getrandbits(8) for _ in range(draw.choice((1, 4, 16))))
        elif draw.random() < 0.2:
            del new[at:]
    return bytes(new)


def one_line(text: str) -> None:
    """What is told is one line that a person can read."""
    assert text and "\n" not in text and "Traceback" not in text, ascii(text)


# -- lists ------------------------------------------------------------------------------------------------------------


class Lists:
    """Takes bytes as a list of any kind, as `import` does, with everything said to it drawn."""

    def __init__(self, state: ShopState) -> None:
        self._state, self._book = state, read_book(None)

    def __call__(self, data: bytes, draw: random.Random) -> str:
        kind = draw.choice(("customers", "machines", "past-jobs"))
        told = draw.choice((*[""] * 12, "A=customer,B=model", "Owner=name", "x=y", "C=-", "=", "Tel.=phone"))
        now = datetime(2026, 11, 24, 9, tzinfo=UTC)
        sheet = sheet_in(
            data,
            "list",
            encoding=_letters(data, draw),
        )
        mapping = mapped(sheet, kind, told)
        reader = Reader(now.date(), ZoneInfo("Europe/Berlin"), "EUR")
        ways, _, doubts = find_ways(mapping, reader, *draw.choice(_WAYS))
        for doubt in doubts:
            one_line(doubt.words.replace("\n", " "))
        entries, unread = read_rows(mapping, Reader(reader.today, reader.zone, reader.currency, ways))
        given = List(kind, "list", entries, unread)
        outcome = take(self._state, now, "cy", given, self._book)
        assert outcome.rows == len(mapping.rows)
        step = step_of(outcome, given)
        for record in step.puts:
            assert msgspec.json.decode(encode(record), type=type(record)) == record
        rejects_file(mapping, outcome.rejected)
        return "taken" if step.puts else "nothing"


_WAYS = (("", ""), ("dmy", "point"), ("dmy", "point"), ("mdy", "comma"), ("ymd", ""), ("", "point"))


def _letters(data: bytes, draw: random.Random) -> str:
    return "" if data[:2] == b"PK" else draw.choice((*[""] * 8, "utf-8", "utf-16", "latin-1", "cp1252"))


def csv_seeds(folder: Path) -> list[bytes]:
    """Small lists as text, in several letters and with several signs between."""
    write_csv(make(1, 24), folder / "seed.csv")
    text = (folder / "seed.csv").read_bytes().decode("utf-8", "replace")
    jobs = "Date,Customer,Serial,Problem,Cause,Hours,Labor hours,Amount\n"
    jobs += '03/04/2021,Hill,S1,slow,pump-worn,"1,412",1.5,$310\n'
    people = b"First name,Last name,Phone,City,Zip\nPat,Farrow,555 0123,Graz,8010\n"
    narrow = text.replace(";", "\t").encode("cp1252", "replace")
    marked = b"\xef\xbb\xbf" + jobs.replace(",", ";").encode()
    return [text.encode(), text.encode("utf-16"), narrow, jobs.encode(), marked, people]


def xlsx_seed(folder: Path) -> bytes:
    """A small workbook."""
    write_xlsx(make(1, 24), folder / "seed.xlsx")
    return (folder / "seed.xlsx").read_bytes()


def rezipped(data: bytes, draw: random.Random) -> bytes:
    """The workbook with something wrong in one of its parts, or in the file itself."""
    if draw.random() < 0.3:
        return b"PK\x03\x04" + mutated(data[4:], draw)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new:
        parts = old.namelist()
        wrong = draw.choice([*parts, *[part for part in parts if "sheet" in part] * 3])
        for part in parts:
            text = old.read(part)
            if part == wrong and draw.random() < 0.95:
                text = mutated(text, draw)
            elif part == wrong:
                continue
            new.writestr(part, text)
    return out.getvalue()


# -- the shop's files -------------------------------------------------------------------------------------------------


def toml_reader(folder: Path) -> Callable[[str, bytes], str]:
    """Reads one of a shop's own files with these bytes in it, as opening the shop does."""
    (folder / "book").mkdir(parents=True, exist_ok=True)

    def read(name: str, data: bytes) -> str:
        path = folder / name
        whole = path.read_bytes()
        path.write_bytes(data)
        try:
            settings = read_settings(folder)
            read_models(folder)
            read_catalogue(folder, settings)
            if name.startswith("book"):
                read_book(folder)
        finally:
            path.write_bytes(whole)
        return "read"

    return read


def json_reader(folder: Path) -> Callable[[str, bytes], str]:
    """Reads one of the files the board keeps with these bytes in it: database at rest, journal, draft, erasing."""

    def read(name: str, data: bytes) -> str:
        if name == "journal":
            found = scan(data, 1)
            for line in data.split(b"\n"):
                try:
                    number_in(line)
                    change_in(line)
                except BadLine as bad:
                    one_line(str(bad))
            return f"{len(found.changes)} changes"
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
        if name == "open.json":
            read_tiny(path, OpenFile)
        elif name == "erasing.json":
            erasing.unfinished(folder)
        else:
            Drafts(folder).of("ana")
        return "read"

    return read


def run(read: Callable[[], str]) -> str:
    """How reading ended: what it says itself, or which kind of refusal, in one line."""
    try:
        return read()
    except (Refused, StoreError) as error:
        one_line(str(error).replace("\r", " ") if isinstance(error, Refused) else str(error))
        return type(error).__name__


def tally(ends: Counter[str]) -> str:
    """The ends in words."""
    return ", ".join(f"{many} {end}" for end, many in ends.most_common(8))
