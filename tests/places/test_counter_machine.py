"""Which machine comes: one that stands here already, a slip of the finger, a model that the shop does not keep."""

from __future__ import annotations

from pathlib import Path

from aids.boards import answer, form_here, open_board, question_here, screen_text, take, type_keys, until
from aids.screen_shop import screen_shop

from shopboard.places.dialogs import FormDialog
from shopboard.places.fields import Field, Values, needed
from shopboard.places.form_parts import words
from shopboard.records import Layout
from shopboard.store import verify


async def test_a_machine_that_stands_here_is_told_and_the_warning_stays(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=orchard", "enter")
        assert "here already as T-0007" in screen_text(pilot.app)
        await type_keys(pilot, "enter")
        assert question_here(pilot.app).field.label == "hour meter"
        assert "it stands here already as T-0007" in screen_text(pilot.app)


async def test_a_slip_in_a_known_model_is_offered_but_never_taken_by_enter_alone(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=Mole Lane", "enter", "enter", "=ferow 24", "enter")
        row = question_here(pilot.app)
        assert row.field.id == "machine" and "choose with the arrows" in row.error
        assert row.options[0].label == "new: Ferrow 24"
        await type_keys(pilot, "down", "enter")
        assert form_here(pilot.app).row("machine").value == "new: Ferrow 24"


async def test_a_model_that_nobody_listed_comes_in_with_its_layout(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=Mole Lane", "enter", "enter", "=Zorra 5, 4x4")
        await take(pilot, "machine", "not listed: Zorra 5, 4x4, split")
        await answer(pilot, "serial", "")
        await answer(pilot, "hour meter", "88")
        await type_keys(pilot, "=no drive on the left", "ctrl+s")
        assert "taken in: Zorra 5, 4x4" in screen_text(pilot.app)
        machine = max(pilot.app.state.machines.values(), key=lambda m: m.id)
        assert (machine.model, machine.layout, machine.unlisted) == ("Zorra 5, 4x4", Layout.SPLIT, True)
    assert not [fault for fault in verify(tmp_path) if "Zorra" in fault.why]


async def test_a_half_typed_intake_goes_on_at_the_first_open_question(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=hill", "enter", "enter", "=1500", "enter")
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=no power on hills")
        form = form_here(pilot.app)
        assert form.row("complaint").value == "no power on hills"
        assert form.row("who").input.value == "Hill Vineyard"


async def test_the_beginning_of_the_only_answer_is_enough_also_without_enter(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    async with open_board(tmp_path, clock=clock) as pilot:
        await type_keys(pilot, "n", "=hill", "enter", "enter", "=1500", "enter", "=no power on hills")
        form_here(pilot.app).row("down").input.focus()
        await until(pilot, lambda: question_here(pilot.app).field.id == "down", "the question")
        await type_keys(pilot, "=x", "ctrl+s")
        assert "“x” is not one of the list" in form_here(pilot.app).row("down").error
        await type_keys(pilot, "backspace", "=y", "ctrl+s")
        assert form_here(pilot.app).row("down").value == "yes, work waits for it"
        assert "Not taken in: this machine is here already as T-0008" in screen_text(pilot.app)  # all answers are right


async def test_an_answer_taken_as_the_form_is_sent_asks_what_it_must(tmp_path: Path) -> None:
    clock = screen_shop(tmp_path)
    sent: list[Values] = []
    fields = (
        Field("down", "down?", "choice", options=words("no", "yes, it stands")),
        Field("why", "why", check=needed("say why"), asked=lambda values: values["down"] == "yes, it stands"),
    )
    async with open_board(tmp_path, clock=clock) as pilot:
        pilot.app.push_screen(FormDialog("asked", fields), sent.append)
        await until(pilot, lambda: "down?" in screen_text(pilot.app), "the form")
        await type_keys(pilot, "=y", "ctrl+s")
        assert question_here(pilot.app).field.id == "why" and not sent
        await type_keys(pilot, "=rain", "ctrl+s")
        assert sent == [{"down": "yes, it stands", "why": "rain"}]
