"""A shop in memory to print from, and eyes for PDFs: pages as pictures, the text on them, the codes on a label."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt
import pypdfium2
import zxingcpp

from aids.shipped_book import shipped_book
from shopboard.paper.desk import Desk
from shopboard.records import (
    Answer,
    Approval,
    Customer,
    Finding,
    Job,
    Layout,
    Machine,
    Model,
    Operation,
    PartLine,
    PartState,
    Reading,
    RoadTest,
    Settings,
    Settlement,
    ShopState,
    Stage,
    Supplier,
)

D = Decimal
NOW = datetime(2026, 11, 24, 9, 42, tzinfo=UTC)

LONG = (
    "It goes well enough for the first half hour, then up the long bank it slows until you could walk beside it, "
    "and on the way down again it whines. "
) * 30 + "That is all I can say."

WIDE = "軸受が鳴る – 𠮷田, Жук, ελιά, Łódź"

JOB = Job(
    id=412,
    customer=1,
    machine=1,
    arrived=NOW - timedelta(days=3),
    complaint="slow up the bank once it is warm",
    stage=Stage.APPROVAL,
    since=NOW,
    symptoms=("weak-when-hot",),
    answers=(Answer(check="hot-or-cold", outcome="hot", at=NOW, by="ana"),),
    readings=(Reading(quantity="case_drain_flow", value=9.5, unit="L/min", error=0.2, at=NOW, by="ana"),),
    findings=(Finding(cause="pump-worn", text="bronze in the filter", at=NOW, by="ana"),),
    operations=(
        Operation(id="rebuild-pump", name="rebuild the pump", minutes=280, covers=("hydrostat-out",)),
        Operation(id="set-neutral", name="set neutral", minutes=40, covers=("floor-plate",)),
    ),
    covers_off=("floor-plate",),
    hours=1412.5,
    keys="1 on the hook",
    attachments="loader",
    diagnostic_fee=D("65.00"),
    promise=NOW + timedelta(days=2),
)

PARTS = (
    PartLine(id=7, job=412, number="SK-1", name="seals", quantity=1, price=D("84.50"), needed_at=NOW, supplier="north"),
    PartLine(id=8, job=412, number="F-2", name="oil filter", quantity=2, price=D("12.40"), needed_at=NOW),
    PartLine(id=9, job=412, number="O-3", name="drive oil", quantity=1, needed_at=NOW),
)  # fmt: skip

SHOP = Settings(
    name="Mill Lane Repairs",
    zone="Europe/Berlin",
    tax_percent=D(19),
    labour_rate=D(112),
    overrun_percent=D(10),
    suppliers=(Supplier(id="north", name="North Parts"),),
)


def desk(job: Job = JOB, parts: tuple[PartLine, ...] = PARTS, customer: str = "Hill Farm", **settings: Any) -> Desk:
    """A shop with one customer, machine and job."""
    state = ShopState(
        settings=msgspec.structs.replace(SHOP, **settings),
        models={"m": Model(id="m", name="Fell 20", layout=Layout.IN_LINE)},
        customers={1: Customer(id=1, name=customer, phone="555-0100")},
        machines={1: Machine(id=1, customer=1, model="m", serial="F20-77", layout=Layout.IN_LINE)},
        jobs={job.id: job},
        parts={line.id: line for line in parts},
    )
    return Desk(state, shipped_book(), NOW)


def changed(job: Job = JOB, **fields: Any) -> Job:
    """The job with these fields changed."""
    return msgspec.structs.replace(job, **fields)


def collected() -> tuple[Job, tuple[PartLine, ...]]:
    """The job once it is done, paid in part, and released on somebody's word; its parts fitted."""
    job = changed(
        stage=Stage.COLLECTED,
        operations=tuple(msgspec.structs.replace(operation, done=True) for operation in JOB.operations),
        covers_off=(),
        approval=Approval(
            asked=D("1600.00"), asked_at=NOW, asked_by="ana", given=True, limit=D("1700.00"), said_by="Mr Hill",
            how="by phone", at=NOW,
        ),
        road_test=RoadTest(passed=True, interlocks_proved=True, brake_proved=True, at=NOW, by="ana"),
        settlement=Settlement(total=D("1650.25"), paid=D("1600.00"), at=NOW, by="ana", released_on_word_of="Ana"),
    )  # fmt: skip
    fitted = tuple(msgspec.structs.replace(line, state=PartState.FITTED, received=line.quantity) for line in PARTS)
    return job, fitted


def pages(pdf: bytes, dots: int = 100) -> list[npt.NDArray[np.uint8]]:
    """Each page as a grey picture at so many dots an inch: 0 black, 255 white."""
    document = pypdfium2.PdfDocument(pdf)
    return [np.asarray(page.render(scale=dots / 72).to_pil().convert("L")) for page in document]


def texts(pdf: bytes) -> list[str]:
    """The text on each page, line ends as spaces."""
    document = pypdfium2.PdfDocument(pdf)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in millimetres."""
    document = pypdfium2.PdfDocument(pdf)
    return [(page.get_width() * 25.4 / 72, page.get_height() * 25.4 / 72) for page in document]


def codes(picture: npt.NDArray[np.uint8]) -> dict[str, str]:
    """What an independent reader finds on a picture: text by the name of the code."""
    return {str(found.format).split(".")[-1]: found.text for found in zxingcpp.read_barcodes(picture, try_invert=False)}


def edges_are_white(picture: npt.NDArray[np.uint8], dots: int, margin: float) -> bool:
    """Whether nothing is printed within `margin` millimetres of any edge."""
    n = int(margin / 25.4 * dots)
    strips = (picture[:n], picture[-n:], picture[:, :n], picture[:, -n:])
    return all(int(strip.min()) > 200 for strip in strips)
