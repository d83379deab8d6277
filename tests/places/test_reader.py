"""What the terminal sends, read as keys: Esc is never lost to the key after it, and sequences and pastes stay whole."""

from __future__ import annotations

from time import sleep

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events
from textual.message import Message

from shopboard.places.reader import Keys


def named(messages: list[Message]) -> list[str]:
    """Keys by name, pastes by their text."""
    return [m.key if isinstance(m, events.Key) else f"paste {m.text}" for m in messages if not _silent(m)]


def _silent(message: Message) -> bool:
    return not isinstance(message, (events.Key, events.Paste))


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        ("\x1bn", ["escape", "n"]),
        ("\x1b/", ["escape", "slash"]),
        ("\x1b\r", ["escape", "enter"]),
        ("\x1b5", ["escape", "5"]),
        ("\x1bN\x1b?", ["escape", "N", "escape", "question_mark"]),
        ("\x1b[A\x1bs\x1b[B", ["up", "escape", "s", "down"]),
        ("\x1bOP", ["f1"]),
        ("\x1b[200~a\x1b[201~", ["paste a"]),
        ("\x1bn\x1b[200~a\x1b[201~\x1b\x11", ["escape", "n", "paste a", "escape", "ctrl+q"]),
    ],
)
def test_esc_and_the_next_key_are_two_keys(sent: str, keys: list[str]) -> None:
    assert named(list(Keys().feed(sent))) == keys


@given(st.lists(st.sampled_from(["\x1b[A", "\x1b[5~", "x", "/", "7", "\x1b[200~two words\x1b[201~", "\r"])), st.data())
def test_however_it_is_cut_the_same_keys_come_out(pieces: list[str], data: st.DataObject) -> None:
    sent = "".join(pieces)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(sent)), max_size=6)))
    keys, cut = Keys(), Keys()
    parts = [sent[a:b] for a, b in zip([0, *cuts], [*cuts, len(sent)], strict=True)]
    whole = named(list(keys.feed(sent)))
    assert named([m for part in parts if part for m in cut.feed(part)]) == whole


def test_an_esc_alone_then_a_key_in_the_next_read() -> None:
    keys = Keys()
    first = list(keys.feed("\x1b"))
    assert named([*first, *keys.feed("n")]) == ["escape", "n"]


def test_a_paste_that_was_left_open_ends_where_it_is_ended() -> None:
    keys = Keys()
    assert named(list(keys.feed("\x1b[200~half"))) == []
    assert named(list(keys.feed(" of it\x1b[201~\x1b\x1b\x11"))) == ["paste half of it", "escape", "escape", "ctrl+q"]


def test_what_is_read_at_once_came_at_once() -> None:
    """However long a busy machine takes from one key to the next: a scanner's burst stays one."""
    times = []
    for message in Keys().feed("10000045\r"):
        times.append(message.time)
        sleep(0.002)
    assert len(times) == 9 and len(set(times)) == 1
