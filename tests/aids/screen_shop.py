"""The shop that the golden screens show: seven weeks of a small invented shop, made by the rules, always the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

from aids.desk import Desk
from aids.shops import MORNING, SHOP, Clock
from aids.small_book import small_book
from shopboard.shop import approval, bays, closing, evidence, parts, stages, stock
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.store import new_shop, open_shop

#: The moment at which every screen is drawn: a Tuesday, 10:42 in the shop's zone.
NOW = MORNING
_ZONE = ZoneInfo("Europe/Berlin")

MODELS = "\n".join(
    f'[[model]]\nid = "{id}"\nname = "{name}"\nlayout = "{layout}"\n'
    for id, name, layout in (
        ("ferrow-24", "Ferrow 24", "in-line"),
        ("brindle-z", "Brindle Z", "split"),
        ("garrel-2w", "Garrel 2W", "gear"),
    )
)

#: A small book of its own: the screens stay as they are when the shipped book learns something.
BOOK = small_book()
#: The job that the Bench shows.
ON_THE_BENCH = 7


def screen_shop(folder: Path) -> Clock:
    """The shop in `folder`, closed again; a clock that stands at NOW."""
    new_shop(folder)
    settings = SHOP.replace('name = "Test shop"', 'name = "Mill Bridge Machine Repair"')
    settings = settings.replace('can = ["clean bench"]', 'can = ["clean bench", "hoist"]')
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    (folder / "models.toml").write_text(MODELS, encoding="utf-8")
    clock = Clock()
    desk = Desk(open_shop(folder, clock=clock), clock)
    _live(desk, *STORIES)
    desk.store.close()
    clock.at = NOW
    return clock


def _at(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=_ZONE).astimezone(UTC)


def _until(month: int, day: int) -> datetime:
    return _at(month, day, 17)


#: What happens to one job: does something, then says at which moment it goes on.
Story = Iterator[datetime]


def _live(desk: Desk, *stories: Callable[[Desk], Story]) -> None:
    """Let all stories happen at their moments, side by side."""
    started = [story(desk) for story in stories]
    waiting = [(next(story), n) for n, story in enumerate(started)]
    while waiting:
        moment, n = min(waiting)
        waiting.remove((moment, n))
        desk.clock.at = moment
        waiting += [(later, n) for later in [next(started[n], None)] if later is not None]


def _came(desk: Desk, customer: NewCustomer | int, machine: NewMachine | int, complaint: str, **more: object) -> int:
    intake = Intake(customer=customer, machine=machine, complaint=complaint, **more)  # type: ignore[arg-type]
    return desk.do(take_in, intake, book=BOOK)


def _found(desk: Desk, job: int, who: str, cause: str, correction: str, asked: str) -> None:
    desk.do(stages.diagnose, job, who)
    desk.do(evidence.find, job, cause, "", correction, book=BOOK, by=who)
    desk.do(approval.ask, job, Decimal(asked))


def _autumn(desk: Desk) -> Story:
    """T-0001 went home in October; its machine is back now as the last job."""
    yield _at(10, 5, 9)
    job = _came(
        desk, NewCustomer(name="Hill Vineyard", phone="555 0117", address="Upper Road"),
        NewMachine(model="ferrow-24", serial="F24-0310"), "buzz in the floor at speed",
        symptoms=("shakes",), hours=1180.0, promise=_until(10, 9),
    )  # fmt: skip
    _found(desk, job, "ana", "spline-worn", "renew-shaft", "460.00")
    desk.do(approval.give, job, "Mr Hill", "by phone")
    yield _at(10, 7, 8)
    desk.do(bays.put, job, "1", "ana")
    desk.do(stages.start_repair, job, "ana")
    desk.do(stages.work_done, job, "renew-shaft")
    desk.do(evidence.confirm, job, "spline-worn")
    desk.do(stages.spend, job, 150.0, "shaft")
    desk.do(stages.finish_repair, job)
    desk.do(stages.road_test, job, True, True, True)
    yield _at(10, 8, 16)
    desk.do(closing.collect, job, Decimal("460.00"), Decimal("460.00"))


def _waits_for_seals(desk: Desk) -> Story:
    """T-0002 stands open on the clean bay; its seal kit is late."""
    yield _at(11, 12, 10)
    job = _came(
        desk, NewCustomer(name="Lake Golf", phone="555 0108"), NewMachine(model="brindle-z", serial="BZ-77"),
        "lost its push on the long fairway", symptoms=("weak-drive",), hours=640.0, promise=_until(11, 26),
    )  # fmt: skip
    _found(desk, job, "ana", "piston-wear", "rebuild-pump", "730.00")
    desk.do(approval.give, job, "the greenkeeper", "by phone")
    desk.do(bays.put, job, "2", "ana")
    line = _needs(desk, job, "WM-210", "seal kit, pump", 1, "seal", "64.00")
    desk.do(parts.order, (line,), "seal", date(2026, 11, 20), "S-1180")


def _to_collect(desk: Desk) -> Story:
    """T-0003 is done and waits to be fetched."""
    yield _at(11, 17, 8)
    job = _came(
        desk, NewCustomer(name="Canal Street School", phone="555 0171"), NewMachine(model="brindle-z", serial="BZ-81"),
        "creeps off by itself when the pedal is up", symptoms=("creeps",), hours=512.0, promise=_until(11, 24),
    )  # fmt: skip
    _found(desk, job, "ana", "neutral-out", "set-neutral", "95.00")
    desk.do(approval.give, job, "the caretaker", "by phone")
    desk.do(bays.put, job, "1", "ana")
    desk.do(stages.start_repair, job, "ana")
    desk.do(stages.work_done, job, "set-neutral")
    desk.do(evidence.confirm, job, "neutral-out")
    desk.do(stages.spend, job, 50.0, "neutral")
    desk.do(stages.finish_repair, job)
    yield _at(11, 18, 11)
    desk.do(stages.road_test, job, True, True, True, "stands still warm and cold")
    desk.do(bays.leave, job)


def _joint(desk: Desk) -> Story:
    """T-0004 waits for a joint of which one came, and for bolts nobody has ordered yet."""
    yield _at(11, 18, 13)
    job = _came(
        desk, NewCustomer(name="Weir Farm", phone="555 0129"), NewMachine(model="ferrow-24", serial="F24-0288"),
        "shakes under the seat since the spring", symptoms=("shakes",), hours=2036.0, promise=_until(11, 24),
    )  # fmt: skip
    _found(desk, job, "bo", "front-joint", "renew-joint", "380.00")
    desk.do(approval.give, job, "Mr Weir", "in writing", Decimal("420.00"))
    joint = _needs(desk, job, "UJ-24", "universal joint", 2, "north", "41.00")
    _needs(desk, job, "B-1045", "guard bolts", 6, "north", "0.90")
    desk.do(parts.order, (joint,), "north", date(2026, 11, 25), "N-552")
    yield _at(11, 23, 10)
    desk.do(parts.receive, joint, 1)
    _needs(desk, None, "GR-2", "grease cartridge", 12, "north", "4.80")
    desk.do(stock.lay, "GR-2", 3, name="grease cartridge", bin="A-2")
    desk.do(stock.lay, "OF-9", 2, name="oil filter", bin="B-1")


def _ready(desk: Desk) -> Story:
    """T-0005 is ready for a bay."""
    yield _at(11, 19, 14)
    job = _came(
        desk, NewCustomer(name="Stone & Daughter", phone="555 0163"), NewMachine(model="garrel-2w", serial="G2-9"),
        "vibrates at speed, worse in top", symptoms=("shakes",), hours=2210.0, promise=_until(11, 25),
    )  # fmt: skip
    _found(desk, job, "bo", "front-joint", "renew-joint", "240.00")
    desk.do(approval.give, job, "Mrs Stone", "at the counter")


def _waits_for_a_yes(desk: Desk) -> Story:
    """T-0006 waits for its owner's yes; called once."""
    yield _at(11, 20, 9)
    job = _came(
        desk, NewCustomer(name="Fern Cottage", phone="555 0155"), NewMachine(model="brindle-z", serial="BZ-19"),
        "slow under load, whines", symptoms=("weak-drive",), hours=301.0, promise=_until(11, 27),
    )  # fmt: skip
    yield _at(11, 23, 9)
    _found(desk, job, "ana", "charge-pump-worn", "renew-charge-pump", "412.00")
    yield _at(11, 23, 16)
    desk.do(approval.called, job, by="cy")


def _on_the_lift(desk: Desk) -> Story:
    """T-0007 is being diagnosed: answers, a reading, a remark."""
    yield _at(11, 23, 11)
    job = _came(
        desk, NewCustomer(name="Orchard Lane Parks", phone="555 0142"),
        NewMachine(model="ferrow-24", serial="F24-0122"),
        "no power on hills when warm, fine in the morning", symptoms=("weak-drive",), hours=1412.0,
        answers=(("hot-or-cold", "hot"),), promise=_until(11, 26), keys="1, on board",
    )  # fmt: skip
    yield _at(11, 24, 8, 20)
    desk.do(bays.put, job, "1", "ana")
    desk.do(stages.diagnose, job, "ana")
    desk.do(evidence.answer, job, "oil-level", "right", book=BOOK)
    desk.do(evidence.answer, job, "bypass-lever", "home", book=BOOK)
    desk.do(evidence.remark, job, "pulls a trailer on Fridays, worse then")
    desk.do(stages.cover_off, job, "floor-plate")
    desk.do(stages.spend, job, 35.0, "looking it over")


def _this_morning(desk: Desk) -> Story:
    """T-0008 came twenty minutes ago: the machine of T-0001, back again, and work waits for it."""
    yield _at(11, 24, 10, 21)
    machine = next(m for m in desk.store.state.machines.values() if m.serial == "F24-0310")
    _came(
        desk, machine.customer, machine.id, "the buzz in the floor is back", symptoms=("shakes",), hours=1236.0,
        machine_down=True, promise=_until(11, 27),
    )  # fmt: skip


def _needs(desk: Desk, job: int | None, number: str, name: str, count: int, supplier: str, price: str) -> int:
    """A line of parts needed; its number."""
    before = set(desk.store.state.parts)
    desk.do(parts.need, job, number, name, count, supplier=supplier, price=Decimal(price))
    (new,) = set(desk.store.state.parts) - before
    return new


STORIES = (
    _autumn, _waits_for_seals, _to_collect, _joint, _ready, _waits_for_a_yes, _on_the_lift, _this_morning
)  # fmt: skip
