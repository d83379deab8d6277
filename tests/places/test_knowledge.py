"""The process that goes through closed jobs: two answers, then only what changed; the board takes in what it says."""

from __future__ import annotations

import pickle
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from aids.boards import PATIENCE, shipped, until

from shopboard import demo
from shopboard.places import knowledge_work
from shopboard.places.app import Board
from shopboard.places.knowledge import LESSONS, Answer, Ask, CellPage, Knowledge, Lesson, Why
from shopboard.places.knowledge_work import Idle, Teacher
from shopboard.records import Finding, Job, Stage, Step
from shopboard.store import open_shop

NOW = datetime.now(UTC)


@pytest.fixture
def sample(tmp_path: Path) -> Path:
    """The sample shop laid out."""
    return demo.lay_out(tmp_path / "shop", NOW)


class Process:
    """The process, asked and answering."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process = process

    def ask(self, asked: Ask) -> None:
        """Put a question."""
        assert self.process.stdin is not None
        self.process.stdin.write(msgspec.json.encode(asked) + b"\n")
        self.process.stdin.flush()

    def next(self) -> Answer:
        """The next answer."""
        assert self.process.stdout is not None
        answer = knowledge_work.get(self.process.stdout)
        assert answer is not None
        return answer

    def until(self, kind: type, *, since: int = 0) -> Answer:
        """The first answer of this kind that is of change `since` or later; the others are passed over."""
        began = time.monotonic()
        while time.monotonic() - began < PATIENCE:
            answer = self.next()
            if isinstance(answer, kind) and getattr(answer, "seq", since) >= since:
                return answer
        raise AssertionError(f"never: {kind.__name__}")


@contextmanager
def _process(folder: Path) -> Iterator[Process]:
    process = subprocess.Popen(knowledge_work.command(folder), stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    try:
        yield Process(process)
    finally:
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()


def _close(folder: Path, cause: str) -> int:
    """Another terminal closes a job on a machine that was here before; returns the change's number."""
    store = open_shop(folder)
    state = store.state
    model = next(m.machine for m in state.closed.values() if cause in m.causes)
    machine = state.machines[model]
    job = Job(
        id=state.next_id(_jobs()), customer=machine.customer, machine=machine.id, arrived=NOW, since=NOW, closed_at=NOW,
        complaint="again", stage=Stage.COLLECTED, hours=machine.meter(),
        findings=(Finding(cause=cause, at=NOW, by="tove", confirmed=True),),
    )  # fmt: skip
    change = store.commit("tove", lambda state, now: Step("closed", (job,)))
    store.close()
    return change.seq


def _jobs() -> object:
    from shopboard.records import Table

    return Table.JOBS


def test_first_what_summaries_teach_then_everything_then_the_lessons(sample: Path) -> None:
    with _process(sample) as process:
        process.ask(Ask(NOW))
        first, second = process.next(), process.next()
        assert isinstance(first, Knowledge) and isinstance(second, Knowledge)
        assert (first.whole, second.whole) == (False, True)
        # Warnings need no whole jobs; what is due and how words held do
        assert first.warnings == second.warnings and first.warnings["osmere-60"]
        assert first.shapes == second.shapes
        assert not first.bulk.service.dues and second.bulk.service.dues
        assert not first.held.jobs and second.held.jobs == second.jobs
        third = process.next()
        assert isinstance(third, Knowledge) and third.leads and not second.leads
        drawn = {lesson.name: lesson for _ in LESSONS if isinstance(lesson := process.next(), Lesson)}
        assert drawn.keys() == LESSONS.keys()
        assert not [lesson.fault for lesson in drawn.values() if lesson.fault]


def test_a_job_that_closes_elsewhere_is_in_the_next_answer(sample: Path) -> None:
    """Also undone again: then it is as if it had never been."""
    with _process(sample) as process:
        process.ask(Ask(NOW))
        process.until(Knowledge)
        before = process.until(Knowledge)
        assert isinstance(before, Knowledge)

        def failures(known: Knowledge) -> int:
            return sum(row.failures for row in known.bulk.rows if row.component == "pump-worn")

        seq = _close(sample, "pump-worn")
        process.ask(Ask(NOW))
        after = process.until(Knowledge, since=seq)
        assert isinstance(after, Knowledge)
        assert (after.seq, after.jobs) == (seq, before.jobs + 1)
        assert failures(after) == failures(before) + 1
        store = open_shop(sample)
        undone = store.undo("tove", seq).seq
        store.close()
        process.ask(Ask(NOW))
        again = process.until(Knowledge, since=undone)
        assert isinstance(again, Knowledge)
        assert (again.jobs, failures(again)) == (before.jobs, failures(before))
        assert again.bulk.rows == before.bulk.rows


def test_a_page_is_answered_also_while_lessons_are_drawn(sample: Path) -> None:
    with _process(sample) as process:
        process.ask(Ask(NOW))
        process.ask(Ask(NOW, "wheel-motor-seal", "osmere-60"))
        page = process.until(CellPage)
        assert isinstance(page, CellPage)
        assert page.early is not None and page.early.failures == 11 and page.ageing.curve.steps


def test_it_ends_with_the_board_and_says_in_one_line_what_is_wrong(tmp_path: Path) -> None:
    with _process(tmp_path / "none") as process:
        process.ask(Ask(NOW))
        answer = process.next()
        assert isinstance(answer, Why) and answer.said and "\n" not in answer.said
        assert process.process.stdin is not None
        process.process.stdin.close()
        process.process.stdin = None
        assert process.process.wait(PATIENCE) == 0


def test_kept_up_to_date_is_as_good_as_gone_through_anew(sample: Path) -> None:
    """After jobs closed one by one, every cell, due point and figure is what a fresh look says."""
    kept = Teacher(sample)
    list(kept.answers(Ask(NOW)))
    for cause in ("pump-worn", "wheel-motor-seal", "belt-slipping", "pump-worn"):
        _close(sample, cause)
        *_, known = kept.answers(Ask(NOW))
    fresh = Teacher(sample)
    *_, anew = fresh.answers(Ask(NOW))
    assert isinstance(known, Knowledge) and isinstance(anew, Knowledge)
    cells = [{(r.component, r.model, r.word, r.failures, r.hit) for r in each.bulk.rows} for each in (known, anew)]
    assert cells[0] == cells[1] and len(cells[0]) == len(anew.bulk.rows)
    assert known.here == anew.here
    kept.reckoning.tend(), fresh.reckoning.tend()
    known, anew = kept.reckoning.knowledge(), fresh.reckoning.knowledge()
    assert known.bulk.service == anew.bulk.service
    assert (known.held, known.leads, known.left_out) == (anew.held, anew.leads, anew.left_out)
    cell = ("pump-worn", "tarrow-26")
    assert msgspec.structs.replace(kept.reckoning.page(*cell), early=None) == msgspec.structs.replace(
        fresh.reckoning.page(*cell), early=None
    )


def test_what_takes_long_is_not_begun_again_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A round of 3 s is followed by a rest of 30 s, however much is new meanwhile."""
    clock = [100.0]
    monkeypatch.setattr(knowledge_work.time, "monotonic", lambda: clock[0])
    idle = Idle(("a", "b"))
    assert idle.take() is None and idle.wait() is None
    idle.rise()
    assert idle.wait() == 0 and idle.take() == "a"
    clock[0] += 3
    assert idle.wait() == 0 and idle.take() == "b"
    assert idle.take() is None and idle.wait() is None
    idle.rise()
    assert idle.take() is None and idle.wait() == pytest.approx(30)
    clock[0] += 30
    assert idle.take() == "a"


def test_a_lesson_makes_the_knowledge_another_one_and_a_fault_is_told() -> None:
    known = msgspec.msgpack.decode(
        msgspec.msgpack.encode(
            {
                "type": "Knowledge", "seq": 1, "at": NOW, "jobs": 0, "whole": True, "warnings": {}, "shapes": {},
                "here": {}, "packed": b"", "held": _held(),
            }
        ),
        type=Answer,
    )  # fmt: skip
    assert isinstance(known, Knowledge) and known.lesson("book") is None
    richer = known.with_lesson(Lesson("book", pickle.dumps({"a": 1})))
    assert richer is not known and richer.lesson("book") == {"a": 1} and known.lesson("book") is None
    both = richer.with_lesson(Lesson("plan", fault="KeyError: x"))
    assert both.lesson("book") == {"a": 1} and both.faults == {"plan": "KeyError: x"}


def _held() -> object:
    figure = {"said": ""}
    none = {"groups": (), "brier": None, "log_score": None, "chance": None, "said": ""}
    return {
        "first_right": figure, "minutes": figure, "came_back": figure, "by_cause": (), "reliability": none, "jobs": 0,
    }  # fmt: skip


async def test_a_board_comes_to_know_and_keeps_knowing(sample: Path) -> None:
    """The real process beside a real board: not before the first paint, and anew once a job closes elsewhere."""
    store = open_shop(sample)
    board = Board(store, shipped(), "ines", folder=sample, reckon=True)
    try:
        async with board.run_test() as pilot:
            await until(pilot, lambda: board.knowledge is not None and board.knowledge.whole, "the closed jobs known")
            assert board.knowledge is not None and board.knowledge.jobs == len(store.state.closed)
            seq = _close(sample, "pump-worn")

            def known() -> bool:
                return board.knowledge is not None and board.knowledge.seq >= seq

            await until(pilot, known, "the closed job known")
            await until(pilot, lambda: not set(LESSONS) - set(board.knowledge.lessons), "the lessons")
        assert board._teacher is None
    finally:
        store.close()
