"""Text that would act on a terminal or on markup if anything let it, and a shop that is full of it."""

from __future__ import annotations

import unicodedata
from decimal import Decimal
from pathlib import Path
from typing import Any

from rich.cells import cell_len

from aids.boards import shipped
from aids.shops import MODELS, SHOP, Clock
from shopboard.records import Step, visible
from shopboard.shop import approval, bays, closing, evidence, parts, stages
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import FolderStore, new_shop, open_shop

#: By name; each begins with its own three letters, by which a screen is searched.
TEXTS = {
    "markup": "MKP [left] [/b] [bold red]x[/bold red] [@click=app.leave]y[/] $primary [link=z]",
    "escapes": "ESC \x1b[31mred\x1b]0;evil\x07 \x9b5m \x1bc",
    "controls": "CTL a\x00b\x08\x08\x7fc\td",
    "right to left": "RTL שלום \u202eabc\u202c \u2066x\u2069 عربي \u200f",
    "wide": "WID 宽宽宽 🚜 👩‍🔧 ＡＢ 宽",
    "combining": "CMB e\u0301 a" + "\u0301\u0323" * 40 + " z\u200d\u200b",
    "lines": "LIN one\r\ntwo\nthree\u2028four\x0bfive\x85six",
    "long": "LNG " + "y" * 10_000,
}

#: Characters that may never come to a screen.
_ACTING = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C, 0x2028, 0x2029}


def acts(text: str) -> list[str]:
    """The characters of a screen's text that a terminal would obey or that hide what stands beside them."""
    return [f"U+{ord(c):04X}" for c in text if unicodedata.category(c) in ("Cc", "Cs", "Co") or ord(c) in _ACTING]


def screen_faults(app: Any) -> list[str]:
    """What is wrong with what the screen shows: acting characters, rows that are not as wide as the screen."""
    faults = []
    width = app.size.width
    for number, strip in enumerate(app.screen._compositor.render_strips()):
        text = "".join(segment.text for segment in strip)
        if found := acts(text):
            faults.append(f"row {number} holds {found}: {text!r}")
        if cell_len(text) != width:
            faults.append(f"row {number} is {cell_len(text)} cells wide, not {width}: {text!r}")
    return faults


def toml_text(text: str) -> str:
    """The text as a TOML string."""
    plain = (c if c not in '"\\' and not unicodedata.category(c).startswith("C") else f"\\U{ord(c):08X}" for c in text)
    return f'"{"".join(plain)}"'


def hostile_shop(folder: Path, text: str, clock: Clock) -> FolderStore:
    """A shop in which every word that people may choose is `text`: jobs 1 to 5 at several stages."""
    new_shop(folder)
    settings, models = SHOP, MODELS
    for name in ("Test shop", "clean", "Bo", "Seal House"):
        settings = settings.replace(f'name = "{name}"', f"name = {toml_text(text)}")
    models = models.replace('name = "Test split"', f"name = {toml_text(text)}")
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    (folder / "models.toml").write_text(models, encoding="utf-8")
    store = open_shop(folder, clock=clock)
    for number in range(1, 7):
        _do(store, take_in, _intake(text, number), book=shipped())
    _bench(store, text)
    _do(store, approval.decline, 3, text, text, text)
    _waits(store, text)
    _collected(store, text)
    return store


def _do(store: FolderStore, rule: Any, *given: Any, **named: Any) -> None:
    def action(state: Any, now: Any) -> Step:
        step: Step = rule(state, now, "ana", *given, **named)
        return step

    store.commit("ana", action)


def _intake(text: str, number: int) -> Intake:
    return Intake(
        customer=NewCustomer(name=f"{text}{number}", phone=text, address=text, note=text),
        machine=NewMachine(model="in-line-1" if number % 2 else "split-1", serial=f"{text}{number}"),
        complaint=text,
        symptoms=("weak-drive",),
        hours=1412.0,
        condition=text,
        keys=text,
        attachments=text,
        order_number=text,
    )


def _bench(store: FolderStore, text: str) -> None:
    _do(store, evidence.remark, 1, text)
    _do(store, stages.diagnose, 1, "ana")
    _do(store, evidence.find, 1, "other", text, text, book=shipped())
    check = next(check for check in shipped().checks.values() if "in-line" in check.layouts)
    _do(store, evidence.answer, 1, check.id, next(iter(check.outcomes)), book=shipped(), note=text)
    _do(store, stages.spend, 1, 20.0, text)
    for number in ("N1", text, "N3"):
        _do(store, parts.need, 1, number, text, 2, supplier="seal" if number == text else "north")
    _do(store, parts.order, (2,), "seal", None, text)
    _do(store, bays.put, 1, "2")


def _waits(store: FolderStore, text: str) -> None:
    _do(store, stages.diagnose, 2, "ana")
    _do(store, evidence.find, 2, "other", text, text, book=shipped())
    _do(store, approval.ask, 2, Decimal(100))


def _collected(store: FolderStore, text: str) -> None:
    _do(store, stages.diagnose, 5, "ana")
    _do(store, evidence.find, 5, "other", text, text, book=shipped())
    _do(store, approval.ask, 5, Decimal(1000))
    _do(store, approval.give, 5, text, text)
    _do(store, bays.put, 5, "1", "ana")
    _do(store, stages.start_repair, 5, "ana")
    _do(store, stages.finish_repair, 5)
    _do(store, stages.road_test, 5, True, True, True, text)
    _do(store, closing.collect, 5, Decimal(100), Decimal(50), text)


def shown(text: str) -> str:
    """The beginning of the text as every screen must show it, short enough for a narrow column."""
    return visible(text)[:9].rstrip()
