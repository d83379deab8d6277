"""Each topic of `shopboard help` has its page, fits the width, and names only commands and options that there are."""

from __future__ import annotations

import re
import shlex
from importlib.resources import files

import pytest

from shopboard import cli, manual
from shopboard.places.actions import PLACES

ALL = [*PLACES, *manual.TOPICS]


def _commands() -> list[list[str]]:
    found = []
    for topic in manual.TOPICS:
        text = files("shopboard.manual").joinpath(f"{topic}.txt").read_text(encoding="utf-8")
        for row in re.findall(r"^ .*?(shopboard [^,]*?)(?:  .*)?$", text, re.M) + re.findall(
            r"`(shopboard [^`]+)`", text
        ):
            found.append(shlex.split(row.replace("\n", " "))[1:])
    return found


@pytest.mark.parametrize("topic", ALL)
@pytest.mark.parametrize("width", [60, 80, 200])
def test_every_topic_has_a_page_that_fits(topic: str, width: int) -> None:
    found = manual.page(topic, width)
    assert found and len(found) > 300
    assert all(len(row) <= max(width, 100) for row in found.splitlines())
    assert topic in manual.topics()


def test_no_page_stands_there_that_no_topic_names() -> None:
    names = {path.name for path in files("shopboard.manual").iterdir() if path.name.endswith(".txt")}
    assert names == {f"{topic}.txt" for topic in manual.TOPICS}


@pytest.mark.parametrize("command", _commands(), ids=" ".join)
def test_every_command_on_a_page_is_one(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Asked for its help, the command named on the page answers, and has every option that the page gives it."""
    words = [word for word in command if not word.startswith("-")]
    options = [word for word in command if re.match(r"--?[a-z]", word) and word != "--help"]
    deeper = words[:2] if words[0] in ("calc", "export", "erase", "import") and len(words) > 1 else words[:1]
    for tries in (deeper, words[:1]):
        code = cli.run([*tries, "--help"])
        said = capsys.readouterr()
        if code == 0:
            break
    assert code == 0, said.err
    assert all(option in said.out for option in options), said.out


def test_help_lists_topics_and_refuses_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["help"]) == 0
    assert "safety" in capsys.readouterr().out
    assert cli.run(["help", "gearboxes"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and "gearboxes" in said.err
