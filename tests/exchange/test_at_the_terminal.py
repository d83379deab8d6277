"""The questions an import asks a person: what they answer wrong, and what they answer right."""

from __future__ import annotations

import argparse
import contextlib

import pytest
from aids.shops import MORNING, make_shop

from shopboard.exchange import import_command
from shopboard.records import Refused
from shopboard.store import open_shop


@pytest.fixture
def talk(tmp_path, monkeypatch):
    """Import a list with these answers typed one after the other; all that was said, and the state after."""
    make_shop(tmp_path / "shop").close()
    monkeypatch.setattr("shopboard.store.utc_now", lambda: MORNING)

    def run(kind, text, *answers, **more):
        (tmp_path / "list.csv").write_text(text)
        given = {"columns": "", "dates": "", "decimal": "", "encoding": "", "sheet": "", "person": "cy"}
        given |= {"yes": False, "dry_run": False, "add": False, "json": False} | more
        said, left = [], list(answers)

        def ask(question):
            said.append(question)
            return left.pop(0)

        options = argparse.Namespace(kind=kind, file=str(tmp_path / "list.csv"), **given)
        quiet = lambda what, total: contextlib.nullcontext(lambda: None)  # noqa: E731
        try:
            import_command.import_list(options, tmp_path / "shop", said.append, ask, None, quiet)
        except Refused as stopped:
            said.append(str(stopped))
        assert not left, f"never asked for {left}"
        return said, open_shop(tmp_path / "shop").state

    return run


PEOPLE = "Who;Tel;\nHill;555 0123\nLake;555 0124\n"


def test_a_person_sets_the_columns_right_and_keeps_it(talk):
    said, state = talk("customers", PEOPLE, "", "Who=nam", "Who=name", "y", "y")
    assert [line for line in said if "no column gives name (name)" in line]
    assert [line for line in said if "customers have no field “nam”" in line]
    assert "  Who → name (name), as told" in said and {one.name for one in state.customers.values()} == {"Hill", "Lake"}


@pytest.mark.parametrize("answers", [("n",), ("Who=name", "n"), ("Who=name", "", "n"), ("Who=name", "", "")])
def test_whoever_stops_keeps_nothing(talk, answers):
    said, state = talk("customers", PEOPLE, *answers)
    assert said[-1].startswith("nothing was imported") and state.seq == 0


def test_a_column_without_a_heading_is_called_by_its_letter(talk):
    _, state = talk("customers", "Name;Tel;\nHill;555 0123;rings late\n", "column C=note", "", "y")
    assert state.customers[1].note == "rings late"


def test_the_order_of_dates_and_the_mark_are_asked_until_answered(talk):
    talk("customers", "Name;Tel\nHill;555 0123\n", "", "y")
    machines = "Owner;Machine;S/N;Hours;Last seen\nHill;in-line-1;S1;1.412;03/04/2021\n"
    said, state = talk("machines", machines, "", "which", "comma", "mdy", "y")
    assert sum(line.startswith("Which is it? point, comma") for line in said) == 2
    (reading,) = state.machines[1].readings
    assert (reading.hours, f"{reading.at:%Y-%m-%d}") == (1412, "2021-03-04")


def test_what_is_told_beforehand_is_not_asked_again(talk):
    said, state = talk("customers", PEOPLE, columns="Who=name", yes=True)
    assert len(state.customers) == 2 and not [line for line in said if "?" in line]
