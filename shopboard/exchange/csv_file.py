"""Text files of rows: which letters, which sign between the fields, and the rows. What is guessed is said."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter

from shopboard.records import Refused

#: Encodings a person may name, and how they are told.
NAMES = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with a byte-order mark",
    "utf-16": "UTF-16",
    "cp1252": "Windows-1252",
    "latin-1": "ISO 8859-1",
}
_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
#: Bytes that Windows-1252 leaves without a letter.
_NO_CP1252 = re.compile(rb"[\x81\x8d\x8f\x90\x9d]")
#: Stands behind the last line while reading: swallowed by a quote that is never closed.
_END = "\x00 end of the file \x00"
_LOOK = 60


def rows_of(data: bytes, name: str, encoding: str = "") -> tuple[list[list[str]], list[str]]:
    """The rows of a text file, and sentences on how it was read. Raises Refused."""
    text, letters = decoded(data, name, encoding)
    delimiter, text, between = delimited(text)
    return _rows(text, delimiter, name), [f"{name}: {letters}, {between}"]


# -- letters ----------------------------------------------------------------------------------------------------------


def decoded(data: bytes, name: str, encoding: str = "") -> tuple[str, str]:
    """The text in the bytes, and what its letters were taken for. Raises Refused where no letters fit."""
    if encoding:
        return _named(data, name, encoding), f"letters read as {NAMES[encoding]}, as told"
    for mark, found in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            return _named(data, name, found), f"letters are {NAMES[found]}, as the file says"
    if order := _sixteen(data):
        try:
            return data.decode(order), "letters look like UTF-16"
        except UnicodeDecodeError:
            raise Refused(f"{name} is no text in letters known here", "save it as UTF-8") from None
    if b"\x00" in data:
        raise Refused(f"{name} is no text: it holds bytes that no letter has", "save the sheet as .csv or .xlsx")
    try:
        text = data.decode("utf-8")
        return text, "plain letters" if data.isascii() else "letters look like UTF-8"
    except UnicodeDecodeError:
        return _eight(data)


def _named(data: bytes, name: str, encoding: str) -> str:
    try:
        return data.decode(encoding).removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        at = data.count(b"\n", 0, error.start) + 1
        raise Refused(f"{name} is not {NAMES[encoding]} (line {at})", f"try --encoding {_others(encoding)}") from None


def _others(encoding: str) -> str:
    return " or ".join(other for other in NAMES if other != encoding)


def _sixteen(data: bytes) -> str:
    """The byte order of UTF-16 without a mark: nearly every second byte of mostly plain text is nought."""
    piece = data[:4000]
    if len(piece) < 4 or len(data) % 2:
        return ""
    high, low = piece[0::2].count(0), piece[1::2].count(0)
    if low > len(piece) * 0.3 and high < len(piece) * 0.05:
        return "utf-16-le"
    return "utf-16-be" if high > len(piece) * 0.3 and low < len(piece) * 0.05 else ""


def _eight(data: bytes) -> tuple[str, str]:
    """One letter a byte; in a file put together from two, the lines that are UTF-8 stay so."""
    lines = data.split(b"\n")
    other = "latin-1" if _NO_CP1252.search(data) else "cp1252"
    read: list[str] = []
    wrong: list[int] = []
    right = 0
    for number, line in enumerate(lines, 1):
        try:
            read.append(line.decode("utf-8"))
            right += not line.isascii()
        except UnicodeDecodeError:
            read.append(line.decode("latin-1" if _NO_CP1252.search(line) else other))
            wrong.append(number)
    if not right:
        return data.decode(other), f"letters look like {NAMES[other]}"
    some = ", ".join(map(str, wrong[:5])) + (" …" if len(wrong) > 5 else "")
    lines_of = f"{len(wrong)} line{'s' if len(wrong) > 1 else ''} ({some})"
    return "\n".join(read), f"letters look like UTF-8, but {lines_of} like {NAMES[other]}: look at the names there"


# -- fields -----------------------------------------------------------------------------------------------------------


def delimited(text: str) -> tuple[str, str, str]:
    """The sign between fields, the text without a line that names it, and what it was taken for."""
    named = re.match(r"\s*sep=(.)\r?\n", text)
    if named and named[1] in _DELIMITERS:
        return named[1], text[named.end() :], f"{_DELIMITERS[named[1]]} between the fields, as its first line says"
    lines = [line for line in text[:200_000].splitlines()[: _LOOK * 2] if line.strip()][:_LOOK]
    best = max(_DELIMITERS, key=lambda delimiter: _fits(lines, delimiter))
    return best, text, f"{_DELIMITERS[best]} between the fields" if _fits(lines, best)[1] else "one field a line"


def _fits(lines: list[str], delimiter: str) -> tuple[bool, bool, float]:
    """How well the lines read with this sign: quotes as they should be, most rows equally wide, and how wide."""
    try:
        rows, sound = list(csv.reader(lines, delimiter=delimiter, strict=True)), True
    except csv.Error as error:
        # A field may go on behind the lines looked at
        rows, sound = _loose(lines, delimiter), "unexpected end" in str(error)
    widths = Counter(len(row) for row in rows if row)
    width, many = max(widths.items(), key=lambda item: (item[1] * (item[0] > 1), item[0]), default=(1, 0))
    share = many / max(1, widths.total())
    return sound, width > 1, (share >= 0.5) * 100 + width * share


def _loose(lines: list[str], delimiter: str) -> list[list[str]]:
    try:
        return list(csv.reader(lines, delimiter=delimiter))
    except csv.Error:
        return []


def _rows(text: str, delimiter: str, name: str) -> list[list[str]]:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n") if "\n" in text or "\r" in text else [text]
    reader = csv.reader([*(f"{line}\n" for line in lines), _END], delimiter=delimiter)
    found: list[list[str]] = []
    began = 1
    try:
        for row in reader:
            found.append(row)
            if reader.line_num <= len(lines):
                began = reader.line_num + 1
    except csv.Error as error:
        raise Refused(f"{name}, line {reader.line_num}: {error}", "look at the quotes there") from None
    if found[-1:] != [[_END]]:
        raise Refused(f'{name}, line {began}: a quote " opens there and is never closed', "close it, or write it twice")
    return found[:-1]
