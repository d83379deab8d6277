"""Sheets and labels: which size a shop prints on."""

from __future__ import annotations

import re

from shopboard.records import Refused, Settings

#: Width and height in millimetres (ISO 216; ANSI/ASME Y14.1 size A).
SHEETS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

#: Where Letter is the usual sheet.
_LETTER_COUNTRIES = frozenset({"US", "CA", "MX", "CO", "CL", "CR", "GT", "PH", "PR", "VE"})

#: The least and most of a label's sides in millimetres: below, its codes can no longer be read.
LEAST_LABEL, MOST_LABEL = (50.0, 30.0), (300.0, 300.0)


def sheet_size(settings: Settings, wanted: str = "") -> tuple[float, float]:
    """Width and height of a sheet in millimetres: as wanted, as shop.toml says, or as usual in the shop's country.

    Raises Refused for a name that is none.
    """
    usual = "Letter" if settings.country.upper() in _LETTER_COUNTRIES or settings.units == "us" else "A4"
    name = wanted or settings.paper or usual
    for known, size in SHEETS.items():
        if known.lower() == name.lower():
            return size
    raise Refused(f"{name} is no sheet known here", f"take {' or '.join(SHEETS)}")


def label_size(settings: Settings, wanted: str = "") -> tuple[float, float]:
    """Width and height of a label in millimetres, as wanted ("100x62") or as shop.toml says.

    Raises Refused for what is no size, or one whose codes could not be read.
    """
    text = wanted or settings.label
    found = re.fullmatch(r"\s*(\d{1,4}(?:\.\d+)?)\s*[x×X]\s*(\d{1,4}(?:\.\d+)?)\s*(?:mm)?\s*", text, re.ASCII)
    if not found:
        raise Refused(f"{text} is no label size", "write width x height in millimetres, such as 100x62")
    width, height = float(found[1]), float(found[2])
    if not (LEAST_LABEL[0] <= width <= MOST_LABEL[0] and LEAST_LABEL[1] <= height <= MOST_LABEL[1]):
        least, most = "x".join(f"{n:g}" for n in LEAST_LABEL), "x".join(f"{n:g}" for n in MOST_LABEL)
        raise Refused(f"a label of {text} mm cannot carry its codes", f"take {least} to {most}")
    return width, height
