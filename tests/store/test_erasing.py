"""A customer erased: no word of them in any file, every figure kept, everybody else untouched, whenever cut short."""

from __future__ import annotations

import gzip
import types
import typing
from datetime import date, datetime
from decimal import Decimal

import msgspec
import pytest
from aids.crash_harness import start
from aids.desk import Desk
from aids.erase_worker import erase_to_step
from aids.shops import Clock, make_shop

from sample_shop import SAMPLE_NOW, copy_to
from shopboard.records import Customer, Job, Machine, Note, Record, Refused, Stage, Step
from shopboard.shop import evidence, forget
from shopboard.store import disk, open_shop, verify

NAME, PHONE = "Ottersby School District", "555-0114"
#: What the sample's customer 2 ever said or gave: any of it left anywhere is a trace.
MARKS = (NAME, PHONE, "Fairmile Road", "Maintenance barn")


def _texts(folder):
    """Every file of the shop, unpacked, by name."""
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        data = path.read_bytes()
        yield path.name, (gzip.decompress(data) if path.suffix == ".gz" else data).decode("utf-8", "replace")


def traces(folder, marks=MARKS):
    return [(name, mark) for name, text in _texts(folder) for mark in marks if mark.casefold() in text.casefold()]


def _figures(store):
    """What must stay of every closed job."""
    found = {}
    for job, lines in store.closed_jobs():
        figures = [
            job.machine,
            job.hours,
            job.arrived,
            job.closed_at,
            job.stage,
            job.symptoms,
            job.settlement and job.settlement.total,
        ]
        figures += [(one.cause, one.confirmed, one.at) for one in job.findings]
        figures += [(one.by, one.minutes, one.at) for one in job.spent]
        figures += [(one.check, one.outcome) for one in job.answers]
        figures += [(one.quantity, one.value, one.unit) for one in job.readings]
        figures += [(line.number, line.price, line.expected, line.received_at) for line in lines]
        found[job.id] = figures
    return found


def _others(store, customer):
    whole = {job.id: (job, lines) for job, lines in store.closed_jobs() if job.customer != customer}
    state = store.state
    tables = {
        table: {id: one for id, one in getattr(state, table).items() if getattr(one, "customer", one.id) != customer}
        for table in ("customers", "machines", "jobs")
    }
    return whole, tables, state.parts


@pytest.fixture
def sample(tmp_path):
    folder = tmp_path / "sample"
    copy_to(folder, SAMPLE_NOW)
    return folder


def test_no_word_stays_in_any_file_and_every_figure_does(sample):
    store, behind = open_shop(sample, clock=lambda: SAMPLE_NOW), open_shop(sample)
    assert store.state.customers[2].name == NAME and len(traces(sample)) > 10
    said = [job.complaint for job in store.state.closed.values() if job.customer == 2]
    noted = [text for job, _ in store.closed_jobs() if job.customer == 2 for text in _words(job)]
    figures, others, seqs = _figures(store), _others(store, 2), [change.seq for change in store.changes()]
    done = store.erase_customer("ines", 2)
    assert done.records > 10 and done.left == () and done.unsure == ()
    # also what was said and written down about their jobs, at least where it is more than a word or two
    kept = {text for job, _ in store.closed_jobs() if job.customer != 2 for text in _words(job)}
    told = [text for text in (*said, *noted) if len(text) > 20 and text not in kept]
    assert len(told) > 15 and traces(sample, (*MARKS, *told)) == []
    for each in (store, behind, open_shop(sample)):
        each.refresh()
        assert each.state.customers[2].name == "customer 2 (erased)"
        assert _figures(each) == figures and _others(each, 2) == others
        assert [change.seq for change in each.changes()] == [*seqs, len(seqs) + 1]
    assert verify(sample) == ()


def _words(job):
    return [
        job.complaint,
        *(one.note for one in job.answers),
        *(one.text for one in job.findings),
        *(one.text for one in job.notes),
    ]


def test_others_go_on_working_while_and_after(sample):
    store, other = open_shop(sample, clock=lambda: SAMPLE_NOW), open_shop(sample, clock=lambda: SAMPLE_NOW)
    other.commit("ines", lambda state, now: Step("looked", (msgspec.structs.replace(state.customers[3], note="rang"),)))
    store.erase_customer("ines", 2)
    other.commit(
        "ines", lambda state, now: Step("again", (msgspec.structs.replace(state.customers[3], note="rang twice"),))
    )
    assert other.state.customers[2].phone == ""
    store.refresh()
    assert store.state.customers[3].note == "rang twice"
    with pytest.raises(Refused, match=r"cannot be undone: what was erased is nowhere any more"):
        store.undo("ines", store.state.seq - 1)
    # what is undone now brings back nothing of what is gone
    other.undo("ines")
    other.undo("ines", store.state.seq - 2)
    assert traces(sample) == [] and verify(sample) == ()


# -- what others wrote, and who may ----------------------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path):
    clock = Clock()
    return Desk(make_shop(tmp_path / "shop", clock), clock), tmp_path / "shop"


def _close(desk, number):
    def collected(state, now):
        gone = {"stage": Stage.COLLECTED, "closed_at": now, "left": now, "since": now}
        return Step("collected", (msgspec.structs.replace(state.jobs[number], **gone),), subject=number)

    desk.store.commit("cy", collected)


def test_their_name_and_number_go_from_other_peoples_jobs_too(desk):
    desk, folder = desk
    theirs = desk.take_in("Pat Farrow", "slow uphill")
    other = desk.take_in("Hill Vineyard", "clunks")
    store = desk.store
    store.commit(
        "cy",
        lambda s, n: Step(
            "number", (msgspec.structs.replace(s.customers[1], phone="+43 660 123456", email="pat@farrow.example"),)
        ),
    )
    for text in (
        "lent by pat  FARROW, call 0043/660-123-456 or 660 123456",
        "she is at +43 (660) 12 34 56; Farrowgate stays",
    ):
        desk.do(evidence.remark, other, text)
    desk.do(evidence.remark, theirs, "mail pat@farrow.example")
    _close(desk, theirs)
    store.checkpoint()
    desk.do(evidence.remark, other, "Pat Farrow called")
    done = store.erase_customer("cy", 1)
    assert done.left == ()
    text = "\n".join(text for _, text in _texts(folder))
    assert (
        "farrow," not in text.casefold() and "pat@" not in text and "12 34 56" not in text and "Pat Farrow" not in text
    )
    assert "Farrowgate stays" in text and "Hill Vineyard" in text
    notes = [note.text for note in store.state.jobs[other].notes]
    assert notes[0].startswith("lent by …, call ") and notes[2] == "… called"
    assert verify(folder) == ()


def test_a_word_that_is_somebody_elses_too_is_told_and_left_to_them(desk):
    desk, folder = desk
    first, second = desk.take_in("Hill", "slow uphill"), desk.take_in("Hill Vineyard", "clunks going up the hill")
    _close(desk, first)
    done = desk.store.erase_customer("cy", 1)
    assert done.unsure == ("Hill", "555 01")  # one is in another's name, the other another's number
    state = desk.store.state
    assert state.customers[2].name == "Hill Vineyard" and state.jobs[second].complaint == "clunks going up the hill"
    assert [text for _, text in _texts(folder) if "Hill" in text.replace("Hill Vineyard", "")] == []


@pytest.mark.parametrize(
    ("by", "customer", "why"),
    [
        ("cy", 1, "T-0001 of Pat Farrow is open: close that first"),
        ("cy", 9, "there is no customer number 9"),
        ("ana", 1, "this is for the owner, and Ana is counter and technician here: ask Cy"),
        ("zoe", 1, "nobody here signs as zoe"),
    ],
)
def test_refused(desk, by, customer, why):
    desk, folder = desk
    desk.take_in("Pat Farrow", "slow uphill")
    with pytest.raises(Refused, match=why.replace("(", r"\(")):
        desk.store.erase_customer(by, customer)
    assert desk.store.state.seq == 1 and not (folder / "erasing.json").exists()


def test_drafts_and_cut_off_lines_go_too(desk):
    desk, folder = desk
    _close(desk, desk.take_in("Pat Farrow", "slow uphill"))
    (folder / "drafts").mkdir()
    (folder / "drafts" / "intake-ana.json").write_text('{"who":"Pat Farrow [1]"}')
    (folder / "drafts" / "intake-bo.json").write_text('{"who":"Hill"}')
    (folder / "journal" / "torn-000000000002.bin").write_bytes(b'{"c":"00000000","s":2,"why":"Pat Far')
    done = desk.store.erase_customer("cy", 1)
    assert done.files == ("drafts/intake-ana.json", "journal/torn-000000000002.bin")
    assert [path.name for path in (folder / "drafts").iterdir()] == ["intake-bo.json"]


# -- cut short --------------------------------------------------------------------------------------------------------

#: Every step an erasing passes; the test below proves that each is passed.
STEPS = ["erasing planned", "written", "synced", "applied", "temp written", "temp synced", "replaced", "months filed"]
STEPS += ["index written", "open written", "segment begun", "packed", "plain removed", "history rewritten"]
STEPS += ["spares removed", "erasing done"]


def _small(folder):
    """Three sealed segments and an open one, all of which speak of the customer."""
    clock = Clock()
    desk = Desk(make_shop(folder, clock), clock)
    theirs, other = desk.take_in("Pat Farrow", "slow uphill"), desk.take_in("Hill Vineyard", "clunks")
    for number in range(3):
        desk.do(evidence.remark, theirs, f"Pat Farrow called, {number}")
        desk.do(evidence.remark, other, "lent to Pat Farrow")
        desk.store.checkpoint()
    _close(desk, theirs)
    desk.do(evidence.remark, other, "and back from Pat Farrow")
    desk.store.close()


def test_killed_at_each_step_it_is_finished_by_doing_it_again(tmp_path, monkeypatch):
    _small(tmp_path / "shop")
    passed = []
    store = open_shop(tmp_path / "shop")
    monkeypatch.setattr(disk, "hook", passed.append)
    store.erase_customer("cy", 1)
    monkeypatch.setattr(disk, "hook", None)
    assert set(STEPS) <= set(passed) and passed.count("history rewritten") >= 4
    for step in STEPS:
        for times in range(1, passed.count(step) + 1):
            here = tmp_path / f"{step} {times}"
            _small(here)
            child = start(erase_to_step, here, 1, step, times)
            assert child.finish() == -9, (step, times)
            _finished(here, step)


def _finished(here, step):
    """The shop opens and is whole but for the erasing, which it tells of; done again, nothing is left."""
    store = open_shop(here, clock=Clock())
    begun = (here / "erasing.json").exists()
    assert begun or step in ("temp written", "temp synced", "erasing done")
    assert [fault.where for fault in verify(here)] == ["erasing.json"] * begun
    assert ("finishes it" in " ".join(store.notices())) == begun
    assert len(store.state.closed) == len(store.state.jobs) == 1
    store.commit("ana", lambda state, now: evidence.remark(state, now, "ana", 2, "goes on"))
    store.erase_customer("cy", 1)
    assert traces(here, ("Farrow", "slow uphill")) == []
    assert verify(here) == () and len(list(store.changes())) == store.state.seq
    assert store.state.customers[2].name == "Hill Vineyard" and store.state.jobs[2].notes[0].text == "lent to …"
    store.close()


def test_another_one_must_wait_until_that_is_finished(tmp_path):
    _small(tmp_path / "shop")
    assert start(erase_to_step, tmp_path / "shop", 1, "synced", 1).finish() == -9
    store = open_shop(tmp_path / "shop")
    store.commit("cy", lambda state, now: Step("third", (Customer(id=3, name="Third"),)))
    with pytest.raises(Refused, match="the erasing of customer 1 was cut short: finish that one first"):
        store.erase_customer("cy", 3)


# -- every field ------------------------------------------------------------------------------------------------------


def _filled(kind, path=()):
    """A record of this kind whose every text, however deep, is a mark naming its field."""
    return kind(**{name: _value(hint, (*path, name)) for name, hint in typing.get_type_hints(kind).items()})


_SAMPLES = {datetime: SAMPLE_NOW, date: SAMPLE_NOW.date(), Decimal: Decimal(1), int: 1, float: 1.0, bool: True}


def _value(hint, path):
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        return _value(next(one for one in inner if one is not type(None)), path)
    if origin is tuple:
        return (_value(inner[0], path),)
    if origin is dict:
        return {"key": _value(inner[1], path)}
    if hint is str:
        return f"MARK {'.'.join(path)}"
    if issubclass(hint, Record):
        return _filled(hint, path)
    return _SAMPLES[hint] if hint in _SAMPLES else next(iter(hint))


@pytest.mark.parametrize("kind", [Job, Machine])
def test_of_every_text_only_names_of_the_shops_own_things_stay(kind):
    filled = _filled(kind)
    text = msgspec.json.encode(filled).decode()
    assert text.count("MARK") > (3 if kind is Machine else 30)
    kept = msgspec.json.encode(forget.forgotten(filled)).decode()
    stays = {mark.split('"')[0].split(".")[-1] for mark in kept.split("MARK ")[1:]}
    assert stays <= forget.KEPT and not stays & {"note", "text", "what", "how", "said_by", "why", "condition", "keys"}
    again = msgspec.convert(msgspec.json.decode(kept), kind)
    assert forget.forgotten(again) == again


def test_a_note_is_gone_with_its_day():
    noted = Note(text="x", at=SAMPLE_NOW, by="ana")
    job = Job(id=1, customer=1, machine=1, arrived=SAMPLE_NOW, since=SAMPLE_NOW, complaint="x", notes=(noted,))
    assert forget.forgotten(job).notes == ()
