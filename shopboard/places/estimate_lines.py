"""What the Bench says of a job's estimate: the sum and how it comes about, what is worth doing while it is open, what
else could be done, and words for the customer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from shopboard.estimate import CostRange, Estimate, Offer, Weighed
from shopboard.paper.desk import Desk, chance, minutes
from shopboard.paper.estimate_sheet import MOST_TOLD, how_sure, rows_of, sum_of, sums_of
from shopboard.paper.words import message
from shopboard.records import Job, Payer, ShopState
from shopboard.shop import approval, costs, said, ways_out, while_open
from shopboard.trouble import Book

from .lines import BLANK, Line, Role, cell, line, wrapped

#: Keys of lines: what is asked for, and what may be added, by its id.
ASK, ADD = "ask", "add:"
_QUANTITY, _PRICE, _AMOUNT = 10, 11, 12
#: Below this width quantity and price give way to what it is for.
_NARROW = 56


@dataclass(frozen=True)
class Page:
    """All that is known of what a job comes to. `found` is None where nothing can be said yet."""

    desk: Desk
    job: Job
    found: Estimate | CostRange | None
    open: while_open.Open
    ways: tuple[Weighed, ...]
    declined: Decimal
    words: str


def look(state: ShopState, book: Book, job: Job, now: datetime) -> Page:
    """The page of an open job, reckoned now."""
    desk = Desk(state, book, now)
    found = sum_of(desk, job)
    return Page(
        desk=desk,
        job=job,
        found=found,
        open=while_open.open_now(state, job, book, now),
        ways=ways_out.ways_out(state, job, book),
        declined=costs.if_declined_here(state, job),
        words=message(desk, job.id, found),
    )


def proposed(found: Estimate | CostRange | None) -> Decimal | None:
    """The sum to ask for: the estimate's total, or what it may come to at most while the cause is not known."""
    if found is None:
        return None
    return found.high if isinstance(found, CostRange) else found.total


def page_lines(page: Page, width: int) -> list[Line]:
    """The whole page."""
    rows = [*_sum(page, width), *_agreed(page, width)]
    if isinstance(page.found, CostRange):
        rows += _range(page.found, width)
    elif page.found is not None:
        rows += _firm(page.found, width)
    for block in (_open(page, width), _ways(page, width), _words(page, width)):
        rows += [BLANK, *block] if block else []
    return rows


# -- the sum ----------------------------------------------------------------------------------------------------------


def _sum(page: Page, width: int) -> list[Line]:
    found, money = page.found, page.desk.money
    if found is None:
        nothing = "nothing is found yet and nothing in the trouble book fits, so no sum can be said"
        return wrapped(nothing, width, "soft")
    if isinstance(found, CostRange):
        words = f"{money(found.low)} to {money(found.high)}, on average {money(found.expected)}, tax with it"
        return [line(ASK, (cell(words, width), "strong")), *wrapped(how_sure(found), width, "soft")]
    rows = [line(ASK, (cell(f"{money(found.total)}, tax with it: Enter asks for it", width), "strong"))]
    if found.unpriced:
        rows += wrapped(f"not in it, no price yet: {', '.join(found.unpriced)}", width, "wait")
    return rows


def _agreed(page: Page, width: int) -> list[Line]:
    job, money, rows = page.job, page.desk.money, []
    rows += wrapped(f"the {job.payer} pays", width, "" if job.payer is Payer.CUSTOMER else "wait")
    agreed, asked = approval.agreed(job), job.approval
    if asked is not None and asked.given is None:
        rows += wrapped(f"{money(asked.asked)} is asked for and not answered yet", width, "wait")
    if agreed is not None:
        over = isinstance(page.found, Estimate) and page.found.total > (
            approval.allowed(page.desk.state, job) or agreed
        )
        words = f"agreed up to {money(agreed)}"
        rows += wrapped(
            f"{words}: less than this, ask for a new yes" if over else words, width, "late" if over else "good"
        )
    if page.declined:
        back = ", with what is off put back" if job.covers_off else ""
        rows += wrapped(f"if the answer is no: {money(page.declined)}{back}", width, "soft")
    return rows


def _columns(what: str, quantity: str, price: str, amount: str, width: int, role: Role = "") -> Iterator[Line]:
    """A row of the bill; what it is for runs on over more lines rather than being cut."""
    columns = ((quantity, _QUANTITY), (price, _PRICE), (amount, _AMOUNT))
    shown = columns if width >= _NARROW else columns[2:]
    room = max(8, width - sum(wide for _, wide in shown))
    first, *more = wrapped(what, room - 1, role)
    right = "".join(cell(text, wide, ">") for text, wide in shown)
    yield line(None, (cell(first.text, room), role), (right, role))
    yield from more


def _firm(found: Estimate, width: int) -> list[Line]:
    rows = [BLANK]
    for what, quantity, price, amount in rows_of(found):
        rows += _columns(what, quantity, price, amount, width)
    for what, quantity, price, amount in sums_of(found):
        rows += _columns(what, quantity, price, amount, width, "strong")
    if found.deposit:
        rows += _columns("asked for ahead", "", "", f"{found.deposit}", width)
    if len(found.shares) > 1:
        rows += [BLANK, line(None, (cell("what each work comes to, shared covers in equal parts", width), "strong"))]
        for share in found.shares:
            rows += _columns(share.name, minutes(round(share.minutes, 1)), "", f"{share.amount}", width)
    return rows


def _range(found: CostRange, width: int) -> list[Line]:
    rows = [BLANK, line(None, (cell("if it is", width - 20), "strong"), (cell("chance", 8, ">"), "soft"),
                        (cell("sum", _AMOUNT, ">"), "soft"))]  # fmt: skip
    for one in found.possibles[:MOST_TOLD]:
        more = " (parts on top)" if one.possible.name in found.without_parts else ""
        name = cell(f"{one.possible.name}{more}", width - 20)
        rows.append(
            line(None, name, cell(chance(one.possible.probability), 8, ">"), cell(f"{one.amount}", _AMOUNT, ">"))
        )
    left = len(found.possibles) - MOST_TOLD
    if left > 0:
        rows.append(line(None, (f"and {left} less likely ones, counted in the sums", "soft")))
    return rows


# -- while it is open -------------------------------------------------------------------------------------------------


def _open(page: Page, width: int) -> list[Line]:
    if not page.open.covers:
        return []
    names = ", ".join(_cover(page, id) for id in page.open.covers)
    rows = wrapped(f"while it is open: {names}", width, "strong")
    for offer in page.open.found.offers:
        rows += _offer(offer, width)
    bundle = page.open.found.bundle
    if len(bundle) > 1:
        adds, saved = page.open.found.adds, page.open.found.alone - page.open.found.adds
        words = f"b adds the best set of {len(bundle)}: {adds:.0f} min now, {saved:.0f} saved against doing each alone"
        rows += wrapped(words, width, "good")
    if not page.open.found.offers:
        rows.append(line(None, ("nothing else is due behind these covers", "soft")))
    return rows


def _cover(page: Page, id: str) -> str:
    cover = page.desk.book.covers.get(id)
    return cover.name if cover else id


def _offer(offer: Offer, width: int) -> list[Line]:
    used = offer.extra.used
    due = "a look, nobody made it" if not used else "due" if used >= 1 else "soon due"
    mark = "best set" if offer.in_bundle else ""
    hidden = "hidden grease, " if offer.extra.hidden_grease else ""
    name = cell(offer.extra.work.name, width - 10)
    cost = f"{hidden}{due}: adds {offer.adds:.0f} min now, {offer.alone:.0f} alone, saves {offer.saves:.0f}"
    return [
        line(f"{ADD}{offer.extra.work.id}", name, (cell(mark, 10, ">"), "good")),
        line(None, (cell(f"  {cost}", width), "soft")),
    ]


# -- what else could be done, and words -------------------------------------------------------------------------------


def _ways(page: Page, width: int) -> list[Line]:
    if not page.ways:
        return []
    known = any(weighed.left is not None for weighed in page.ways)
    head = "what else could be done" + ("" if known else ": v says what the machine is worth")
    rows = wrapped(head, width, "strong")
    for weighed in page.ways:
        left = f"leaves {weighed.left}" if weighed.left is not None else "worth not said"
        best = ", the most" if weighed.best else ""
        note = f" ({weighed.way.note})" if weighed.way.note else ""
        rows += _columns(
            f"{weighed.way.name}{note}", "", "", f"{weighed.way.cost}", width, "good" if weighed.best else ""
        )
        if known:
            rows.append(line(None, (cell(f"  {left}{best}", width), "soft")))
    return rows


def _words(page: Page, width: int) -> list[Line]:
    return [line(None, ("words to say (y copies them)", "strong")), *wrapped(page.words, width)]


def payer_words(payer: Payer) -> str:
    """Who pays, as one chooses it."""
    return {
        Payer.CUSTOMER: "the customer",
        Payer.WARRANTY: "warranty: ask before a sealed unit is opened",
        Payer.SHOP: "the shop itself, no yes needed",
    }[payer]


def asked_words(amount: Decimal | None, state: ShopState) -> str:
    """The sum that will be asked for, in words."""
    return "" if amount is None else said.sum_words(amount, state.settings)
