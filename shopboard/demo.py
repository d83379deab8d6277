"""The sample shop, laid out for today, and a walk that takes one machine through the whole job in text.

The walk calls the same rules through the same store as the board does.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from shopboard.places.lines import share
from shopboard.places.step_forms import ROAD_TEST_CAUTION
from shopboard.records import Job, Layout, Model, PartLine, PartState, Refused, Role, Step, visible
from shopboard.shop import approval, bays, closing, costs, evidence, kits, parts, stages, stock
from shopboard.shop.intake import Intake, NewCustomer, NewMachine, take_in
from shopboard.shop.lessons import learned
from shopboard.store import FolderStore, ShopUnusable, StoreError, open_shop, read_book, readable_jobs, utc_now
from shopboard.trouble import Book, suggest_symptoms

COMPLAINT = "slow going up the hill when warm"
#: What is wrong with the machine of the walk.
FAULT = "pump-worn"


def lay_out(folder: Path | None, now: datetime) -> Path:
    """Copy the sample shop to `folder` (a scratch folder when None), its dates slid so that today is its today.

    All of it or nothing. Raises ShopUnusable where something is there already or the folder cannot be made.
    """
    import sample_shop

    if folder is None:
        folder = Path(tempfile.mkdtemp(prefix="shopboard-demo-")) / "shop"
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ShopUnusable(f"{folder} is there already and not empty", "name a folder that does not exist yet")
    try:
        sample_shop.copy_to(folder, now)
    except (OSError, StoreError) as error:
        shutil.rmtree(folder, ignore_errors=True)
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise ShopUnusable(f"the sample shop cannot be copied to {folder} ({why})", "see to the disk") from None
    return folder


def first_person(folder: Path) -> str:
    """Who stands at the sample's counter."""
    from shopboard.store import read_settings

    return next((p.id for p in read_settings(folder).people if Role.COUNTER in p.roles), "")


@dataclass
class _Walk:
    """The machine on its way: each `do` commits one rule and says what the journal now holds."""

    store: FolderStore
    book: Book
    say: Callable[[str], None]
    job_id: int = 0

    @property
    def job(self) -> Job:
        return self.store.state.jobs[self.job_id]

    def do(self, by: str, rule: Callable[..., Step], *arguments: object, **named: object) -> None:
        change = self.store.commit(by, lambda state, now: rule(state, now, by, *arguments, **named))
        self.job_id = change.subject or self.job_id
        self.say(f"  {change.seq:>5}  {by:<6} {visible(change.why)}")

    def person(self, role: Role, skills: frozenset[str] = frozenset()) -> str:
        people = self.store.state.settings.people
        return next(p.id for p in people if role in p.roles and skills <= set(p.skills))


def walk(folder: Path, say: Callable[[str], None]) -> None:
    """Take one new machine from the counter to collected, saying each step with its change number and who."""
    book = read_book(folder)
    store = open_shop(folder)
    store.state.covers = book.covers
    try:
        path = _Walk(store, _taught(store, book), say)
        for step in (_counter, _triage, _estimate, _parts, _repair, _leave):
            step(path)
    finally:
        store.close()


def _model(store: FolderStore) -> Model:
    """The model of the machine that comes."""
    return next(m for m in store.state.models.values() if m.layout is Layout.IN_LINE)


def _taught(store: FolderStore, book: Book) -> Book:
    """The book as the shop's closed jobs correct it for that machine."""
    model = _model(store)
    closed = readable_jobs(store, lambda _: None)
    return learned(store.state, closed, book, utc_now(), model.layout.value, model.family or model.id).book


def _counter(w: _Walk) -> None:
    clerk, model = w.person(Role.COUNTER), _model(w.store)
    suggested = [id for id, _ in suggest_symptoms(w.book, COMPLAINT, layout=model.layout)][:3]
    ticked = tuple(id for id in suggested if id == "weak-when-hot") or tuple(suggested[:1])
    w.say(f"said     “{COMPLAINT}”, {model.name}, 1,412 h")
    w.say(f"suggests {', '.join(w.book.symptoms[s].name for s in suggested)}")
    w.say(f"ticked   {', '.join(w.book.symptoms[s].name for s in ticked)}")
    intake = Intake(
        customer=NewCustomer(name="Walk-in from the allotments", phone="555 0142"),
        machine=NewMachine(model=model.id, serial="WALK-1", first_seen_used=True),
        complaint=COMPLAINT,
        hours=1412.0,
        symptoms=ticked,
        keys="one key, on the board",
    )
    w.do(clerk, take_in, intake, book=w.book)
    _say_likely(w)


def _triage(w: _Walk) -> None:
    tech = w.person(Role.TECHNICIAN, frozenset({"hydrostat"}))
    w.do(tech, stages.diagnose, w.job_id, tech)
    for _ in range(6):
        checks = evidence.checks(w.store.state, w.job, w.book)
        if not checks:
            w.say("next     no check saves time any more: mend the likeliest")
            break
        check = checks[0]
        w.say(f"next     {check.name}: {check.minutes:.0f} min, saves about {check.saves_minutes:.0f}")
        for text in check.cautions:
            w.say(f"CAUTION  {text}")
        w.do(tech, evidence.answer, w.job_id, check.check, _shown_by(w.book, check.check), book=w.book)
        _say_likely(w)
    top = evidence.ranking(w.store.state, w.job, w.book).causes[0]
    for weight in top.speaks_for[:3]:
        w.say(f"for      {weight.text} ({weight.strength})")
    w.do(tech, evidence.find, w.job_id, top.id, "", w.book.causes[top.id].correction[0], book=w.book)


def _say_likely(w: _Walk) -> None:
    ranking = evidence.ranking(w.store.state, w.job, w.book)
    first = ", ".join(f"{c.name} {share(c.probability)}" for c in ranking.causes[:3])
    w.say(f"likely   {first}, none of these {share(ranking.none_of_these)}")


def _shown_by(book: Book, check: str) -> str:
    """What a machine with worn pump pistons, as this one has, shows most often."""
    shown = book.causes[FAULT].answers.get(check, {})
    likely = max(shown, key=lambda outcome: shown[outcome], default="")
    return likely if likely and shown[likely] >= 0.5 else book.checks[check].normal.id


def _estimate(w: _Walk) -> None:
    clerk = w.person(Role.COUNTER)
    w.do(clerk, kits.ask, w.job_id, w.job.findings[-1].correction, book=w.book)
    made = costs.estimate_of(w.store.state, w.job)
    for each in made.lines:
        w.say(f"estimate {each.text}: {each.amount}")
    w.say(f"estimate {made.total} with tax")
    w.do(clerk, approval.ask, w.job_id, made.total)
    w.do(clerk, approval.give, w.job_id, "the customer", "by phone")


def _parts(w: _Walk) -> None:
    clerk = w.person(Role.COUNTER)
    for line in _needed(w):
        if stock.takable(w.store.state, line):
            w.do(clerk, stock.take, line.id)
    for supplier in dict.fromkeys(line.supplier for line in _needed(w)):
        ids = tuple(line.id for line in _needed(w) if line.supplier == supplier)
        w.do(clerk, parts.order, ids, supplier, None)
        for id in ids:
            w.do(clerk, parts.receive, id, w.store.state.parts[id].quantity)


def _needed(w: _Walk) -> list[PartLine]:
    return [line for line in w.store.state.parts_of(w.job_id) if line.state is PartState.NEEDED]


def _repair(w: _Walk) -> None:
    tech = w.person(Role.TECHNICIAN, frozenset(op.skill for op in w.job.operations if op.skill))
    _into_a_bay(w, tech)
    w.do(tech, stages.start_repair, w.job_id, tech)
    for part in [p.id for p in w.store.state.parts_of(w.job_id)]:
        w.do(tech, parts.fit, part)
    w.do(tech, stages.spend, w.job_id, 180.0, "the repair")
    for operation in [op.id for op in w.job.operations if not op.done]:
        w.do(tech, stages.work_done, w.job_id, operation)
    w.do(tech, evidence.confirm, w.job_id, w.job.findings[-1].cause)
    w.do(tech, stages.finish_repair, w.job_id)


def _into_a_bay(w: _Walk, tech: str) -> None:
    """Into a free bay that fits; where all are full, the machine that only stands in one makes room."""
    free = [bay for bay, why_not in bays.fitting(w.store.state, w.job) if not why_not]
    if free:
        w.do(tech, bays.put, w.job_id, free[0].id, tech)
        return
    for bay in w.store.state.settings.bays:
        try:
            w.do(tech, bays.swap, w.job_id, bay.id)
        except Refused as error:
            w.say(f"not so   {visible(str(error))}")
        else:
            return


def _leave(w: _Walk) -> None:
    tech, clerk = w.person(Role.TECHNICIAN), w.person(Role.COUNTER)
    w.say(f"CAUTION  {ROAD_TEST_CAUTION}")
    w.do(tech, stages.road_test, w.job_id, True, True, True, "climbs the ramp warm")
    total = costs.estimate_of(w.store.state, w.job).total
    w.do(clerk, closing.collect, w.job_id, total, total)
