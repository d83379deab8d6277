"""Ages from meters, and lives from what happened: replaced meters, machines seen used, comebacks, declined repairs."""

from __future__ import annotations

import math

import pytest
from aids.lives import day, job, machine

from shopboard.memory import Life, histories
from shopboard.memory.lives import columns
from shopboard.memory.meters import AgeLine, age_line
from shopboard.records import Stage


def ages_of(*readings: tuple[float, float] | tuple[float, float, bool], used: bool = False) -> AgeLine:
    """The age line of such a machine."""
    line = age_line(machine(1, *readings, used=used))
    assert isinstance(line, AgeLine), line
    return line


def test_ages_run_on_over_a_new_meter() -> None:
    line = ages_of((0, 900), (10, 950), (20, 30, True), (30, 80))
    assert line.ages == (900, 950, 980, 1030)
    assert line.at(day(25), 60) == 1010
    assert line.at(day(15), 960) == 960


def test_between_readings_the_age_is_read_off_the_line() -> None:
    line = ages_of((0, 100), (10, 200))
    assert line.at(day(5), None) == 150
    assert line.at(day(10), None) == 200
    assert line.at(day(11), None) is None, "after the last reading nobody knows"
    assert line.at(day(-1), None) is None


def test_a_job_whose_hours_cannot_be_has_no_age() -> None:
    line = ages_of((0, 100), (10, 200))
    assert line.at(day(5), 90) is None
    assert line.at(day(5), 250) is None


def test_a_machine_seen_used_is_watched_from_then() -> None:
    assert ages_of((0, 900), used=True).since == 900
    assert ages_of((0, 900)).since == 0


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ((), "machine 1: its meter was never read"),
        (((0, 900), (5, 890)), "machine 1: its meter shows 890 h after 900 h and no new meter was noted"),
        (((0, -5),), "machine 1: a reading of -5 h cannot be"),
        (((0, math.nan),), "machine 1: a reading of nan h cannot be"),
    ],
)
def test_a_meter_that_cannot_be_true_is_a_sentence(readings: tuple[tuple[float, float], ...], said: str) -> None:
    assert age_line(machine(1, *readings)) == said
    found = histories([machine(1, *readings)], [job(1, 1, 0, "seal", 900)])
    assert found.left_out[0] == said
    assert found.lives("seal") == ()


def test_each_repair_starts_a_new_life_and_the_last_goes_on() -> None:
    found = histories(
        [machine(1, (0, 0), (40, 400), (90, 900))], [job(1, 1, 20, "seal", 200), job(2, 1, 70, "seal", 700)]
    )
    assert found.lives("seal") == (Life(0, 200, True, 900), Life(0, 500, True, 700), Life(0, 200, False, 200))


def test_survivors_are_watched_to_their_last_reading() -> None:
    found = histories([machine(1, (0, 0), (50, 500)), machine(2, (0, 300), (50, 800), used=True)], [])
    assert found.lives("seal", layouts=["split"]) == (Life(0, 500, False, 500), Life(300, 800, False, 800))
    assert found.lives("seal") == (), "where it never failed it is not known who has one"


def test_what_made_a_used_machine_known_is_no_failure_watched() -> None:
    """Counting it would make every machine that comes in broken fail at once."""
    found = histories([machine(1, (0, 900), (50, 1000), used=True)], [job(1, 1, 0, "seal", 900)])
    assert found.lives("seal") == (Life(0, 100, False, 100),)


def test_a_comeback_is_the_repair_and_no_new_part_s_age() -> None:
    found = histories(
        [machine(1, (0, 0), (90, 900))],
        [job(1, 1, 20, "seal", 200), job(2, 1, 22, "seal", 220, comeback_of=1)],
    )
    assert found.lives("seal") == (Life(0, 200, True, 900), Life(0, 20, False, 700), Life(0, 680, False, 680))


def test_after_a_declined_repair_nothing_is_watched_until_one_is_made() -> None:
    declined = job(1, 1, 20, "seal", 200, stage=Stage.DECLINED)
    found = histories([machine(1, (0, 0), (90, 900))], [declined, job(2, 1, 50, "seal", 500)])
    assert found.lives("seal") == (Life(0, 200, True, 900), Life(0, 400, False, 400))


def test_what_says_nothing_is_counted() -> None:
    jobs = [job(1, 1, 5, ""), job(2, 1, 5, "other", 50), job(3, 1, 99, "seal"), job(4, 7, 5, "seal", 50)]
    found = histories([machine(1, (0, 0), (10, 100))], jobs)
    assert found.left_out == (
        "2 closed jobs have no hour-meter reading that can be true",
        "2 closed jobs name no cause",
    )
    assert found.events == {}


def test_causes_of_one_component_are_one_history() -> None:
    jobs = [job(1, 1, 20, "pump-worn", 200), job(2, 1, 70, "plate-scored", 700)]
    found = histories([machine(1, (0, 0), (90, 900))], jobs, {"pump-worn": "pump", "plate-scored": "pump"})
    assert [life.end for life in found.lives("pump")] == [200, 500, 200]
    assert found.components() == ("pump",)


@pytest.mark.parametrize(
    ("life", "said"),
    [
        (Life(-1, 5, True), "an age is below 0 h"),
        (Life(5, 5, True), "a life ends before it starts"),
        (Life(0, math.nan, True), "an age is not a number"),
    ],
)
def test_lives_that_cannot_be_are_refused_in_a_sentence(life: Life, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        columns([life])
