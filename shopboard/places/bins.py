"""The panels of Parts: what lies in the bins, and what suppliers get back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shopboard.records import CataloguePart, Return, Stock
from shopboard.shop import catalogue, returns, stock

from . import part_forms, steps, stock_lines
from .dialogs.acting import Act, ActingDialog
from .fields import Field, Option, Values, needed, reads, text_of
from .form_parts import Ready, choose, money, sum_of
from .lines import Line

if TYPE_CHECKING:
    from .app import Board


def _count(label: str, start: str = "") -> Field:
    return Field("quantity", label, start=start, check=reads(lambda t: part_forms.whole(t, label), blank=False))


# -- bins -------------------------------------------------------------------------------------------------------------


def show_bins(board: Board, start: int | None = None) -> None:
    """The bins; on the entry `start` where one was scanned."""

    def here(key: str | None) -> Stock | None:
        entry = board.state.stock.get(int(key)) if key else None
        if entry is None:
            board.tell("put the cursor on a bin first", "wait")
        return entry

    def count(key: str | None) -> None:
        if (entry := here(key)) is not None:
            _ask_count(board, entry)

    def more(key: str | None) -> None:
        _ask_lay(board, board.state.stock.get(int(key)) if key else None)

    acts = (
        Act("enter", "counts", count),
        Act("a", "adds pieces", more),
        Act("n", "new bin", lambda _: _ask_lay(board, None)),
    )
    dialog = ActingDialog("bins", lambda width: stock_lines.bin_lines(board.state, width), acts, start=str(start or ""))
    board.push_screen(dialog)


def _ask_count(board: Board, entry: Stock) -> None:
    def ready(v: Values) -> Ready:
        pieces = part_forms.whole(text_of(v, "quantity"), "how many lie there")
        return lambda s, now: stock.count(s, now, board.who, entry.id, pieces)

    title = f"count {entry.bin or 'the bin'}: {entry.name} {entry.number}"
    steps.ask(board, title, (_count("how many lie there", str(entry.quantity)),), ready)


def _ask_lay(board: Board, entry: Stock | None) -> None:
    parts = board.state.catalogue.values()
    options = choose([Option(p.number, f"{p.number}  {p.name}", f"bin {p.bin}" if p.bin else "") for p in parts])

    def part(v: Values) -> CataloguePart | None:
        return catalogue.known(board.state, text_of(v, "number"))

    def unknown(v: Values) -> bool:
        return part(v) is None and not stock.bins_of(board.state, text_of(v, "number"))

    fields: Sequence[Field] = (
        Field("number", "part number", options=options, eager=False, check=needed("which part?"),
              start=entry.number if entry else ""),
        Field("name", "its name", hint="parts.toml does not know it", asked=unknown, check=needed("what is it?")),
        _count("how many"),
        Field("bin", "into which bin", start=entry.bin if entry else "", hint="blank: where it lies already"),
    )  # fmt: skip

    def ready(v: Values) -> Ready:
        number, name, bin = text_of(v, "number"), text_of(v, "name"), text_of(v, "bin")
        pieces = part_forms.whole(text_of(v, "quantity"), "how many")
        return lambda s, now: stock.lay(s, now, board.who, number, pieces, name=name, bin=bin)

    steps.ask(board, "lay pieces into a bin", fields, ready)


# -- what goes back ---------------------------------------------------------------------------------------------------


def show_returns(board: Board) -> None:
    """Cores and returns; Enter does what comes next with the one under the cursor."""

    def next_step(key: str | None) -> None:
        entry = board.state.returns.get(int(key)) if key else None
        if entry is None:
            board.tell("put the cursor on something that goes back first", "wait")
        elif entry.sent_at is None:
            _ask_sent(board, entry)
        elif entry.credited_at is None:
            _ask_credit(board, entry)
        else:
            board.tell("this is credited; nothing is left to do", "soft")

    def build(width: int) -> list[Line]:
        return stock_lines.return_lines(board.state, board.local_now().date(), width)

    board.push_screen(ActingDialog("returns and cores", build, (Act("enter", "sent, or credited", next_step),)))


def _ask_sent(board: Board, entry: Return) -> None:
    fields = (Field("reference", "with which paper", hint="the supplier's number; blank if none"),)

    def ready(v: Values) -> Ready:
        reference = text_of(v, "reference")
        return lambda s, now: returns.send(s, now, board.who, entry.id, reference)

    steps.ask(board, f"send back {entry.quantity} × {entry.name}", fields, ready)


def _ask_credit(board: Board, entry: Return) -> None:
    start = "" if entry.credit is None else str(entry.credit)

    def ready(v: Values) -> Ready:
        amount = sum_of(board, v, "amount", "credit")
        return lambda s, now: returns.credit(s, now, board.who, entry.id, amount)

    steps.ask(
        board, f"credit for {entry.quantity} × {entry.name}", (money(board, "amount", "credit", start=start),), ready
    )
