"""Text that can be read: contrast of both looks by WCAG 2.1, and looks that need no colour at all."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from aids.boards import open_board, type_keys
from aids.desk import small_day
from textual.theme import Theme

from shopboard.places.themes import BRIGHT, NIGHT
from shopboard.places.widgets.form import FieldInput
from shopboard.places.widgets.line_list import LineList

#: WCAG 2.1, success criterion 1.4.3 (AA): normal text has at least this contrast.
AA = 4.5
ROLES = ("", "strong", "soft", "late", "wait", "good", "mark")
GROUNDS = ("background", "surface", "panel")


def _luminance(red: int, green: int, blue: int) -> float:
    """Relative luminance as WCAG 2.1 defines it, from sRGB 0 … 255."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.03928 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in (red, green, blue)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Contrast ratio 1 … 21 as WCAG 2.1 defines it: (L1 + 0.05) / (L2 + 0.05), the lighter one first."""
    dark, light = sorted((_luminance(*one), _luminance(*other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_at_values_that_are_published() -> None:
    """Black on white is 21:1; #767676 is known as the lightest grey that passes AA on white, #777777 just fails."""
    white = (255, 255, 255)
    assert contrast((0, 0, 0), white) == pytest.approx(21)
    assert contrast((0x76,) * 3, white) >= AA > contrast((0x77,) * 3, white)


@pytest.mark.parametrize("theme", [NIGHT.name, BRIGHT.name])
async def test_every_role_can_be_read_on_every_ground(theme: str, tmp_path: Path) -> None:
    small_day(tmp_path / "shop")
    async with open_board(tmp_path / "shop") as pilot:
        pilot.app.theme = theme
        await pilot.pause()
        found = pilot.app.screen.query_one(LineList)
        grounds = pilot.app.theme_variables
        weak = {}
        for role, ground in product(ROLES, GROUNDS):
            color = (found.rich_style + found.role_style(role)).color
            assert color is not None and color.triplet is not None
            back = grounds[ground].lstrip("#")
            ratio = contrast(tuple(color.triplet), tuple(int(back[i : i + 2], 16) for i in (0, 2, 4)))
            if ratio < AA:
                weak[role, ground] = round(ratio, 2)
    assert not weak


@pytest.mark.parametrize("theme", [NIGHT.name, BRIGHT.name])
async def test_a_hint_can_be_read_for_it_may_be_the_question_itself(theme: str, tmp_path: Path) -> None:
    async with open_board(tmp_path / "shop") as pilot:
        pilot.app.theme = theme
        await type_keys(pilot, "n")
        color = pilot.app.screen.query(FieldInput).last().get_component_rich_style("input--placeholder").color
        assert color is not None and color.triplet is not None
        back = pilot.app.theme_variables["background"].lstrip("#")
        assert contrast(tuple(color.triplet), tuple(int(back[i : i + 2], 16) for i in (0, 2, 4))) >= AA


async def test_cursor_and_late_stand_out_without_colour(tmp_path: Path) -> None:
    """Where a terminal shows no colour, the row under the cursor is reversed and marked, what is late is bold."""
    small_day(tmp_path / "shop")
    async with open_board(tmp_path / "shop") as pilot:
        found = pilot.app.screen.query_one(LineList)
        assert found.role_style("cursor").reverse and found.role_style("late").bold
        strips = [found.render_line(y) for y in range(found.size.height)]
        marked = [strip for strip in strips if strip.text.startswith(">")]
        assert len(marked) == 1 and all(segment.style and segment.style.reverse for segment in marked[0])


#: Colour vision without one kind of cone, as matrices on linear sRGB: Machado, Oliveira, Fernandes 2009 ("A
#: physiologically-based model for simulation of color vision deficiency"), severity 1.0.
WITHOUT = {
    "red": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "green": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "blue": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}


def seen_without(cone: str, color: tuple[int, int, int]) -> tuple[int, int, int]:
    """The colour as somebody without this kind of cone sees it, sRGB 0 … 255."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in color]
    seen = [min(1.0, max(0.0, sum(m * c for m, c in zip(row, linear, strict=True)))) for row in WITHOUT[cone]]
    red, green, blue = (round(255 * (12.92 * c if c <= 0.0031308 else 1.055 * c ** (1 / 2.4) - 0.055)) for c in seen)
    return red, green, blue


def test_greys_look_the_same_to_everybody() -> None:
    """Each row of the matrices sums to one, so that a colour without hue stays as it is."""
    for cone in WITHOUT:
        assert all(abs(c - 128) <= 1 for c in seen_without(cone, (128, 128, 128)))


@pytest.mark.parametrize("cone", WITHOUT)
@pytest.mark.parametrize("theme", [NIGHT, BRIGHT], ids=lambda theme: theme.name)
def test_every_state_can_be_read_by_those_who_miss_a_cone(theme: Theme, cone: str) -> None:
    def rgb(text: str) -> tuple[int, int, int]:
        return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)

    states = {"late": theme.error, "wait": theme.warning, "good": theme.success, "mark": theme.accent}
    grounds = {"background": theme.background, "surface": theme.surface, "panel": theme.panel}
    weak = {}
    for (state, color), (ground, back) in product(states.items(), grounds.items()):
        assert color is not None and back is not None
        ratio = contrast(seen_without(cone, rgb(color)), seen_without(cone, rgb(back)))
        if ratio < AA:
            weak[state, ground] = round(ratio, 2)
    assert not weak
