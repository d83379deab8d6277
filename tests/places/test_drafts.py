"""The half-typed intake on disk: one a person, whole or the one before, and a disk that refuses harms nobody."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from aids.hostile import TEXTS
from hypothesis import given
from hypothesis import strategies as st

from shopboard.places import drafts
from shopboard.places.drafts import Drafts
from shopboard.places.fields import Values

HALF: Values = {"who": "Mill at the weir", "symptoms": ("weak-drive", "clunk"), "complaint": ""}


def test_a_draft_comes_back_in_another_process_as_it_was(tmp_path: Path) -> None:
    first = Drafts(tmp_path)
    first.keep("ana", HALF)
    assert Drafts(tmp_path).of("ana") is None, "nothing is on disk before it is flushed"
    first.flush()
    assert Drafts(tmp_path).of("ana") == HALF
    assert Drafts(tmp_path).of("bo") is None


@pytest.mark.parametrize("kind", TEXTS)
def test_any_text_comes_back_as_it_was(kind: str, tmp_path: Path) -> None:
    kept = Drafts(tmp_path)
    kept.keep("ana", {"complaint": TEXTS[kind]})
    kept.flush()
    assert Drafts(tmp_path).of("ana") == {"complaint": TEXTS[kind]}


@given(st.lists(st.text(st.characters(codec="utf-8"), min_size=1, max_size=12), min_size=2, max_size=6, unique=True))
def test_no_two_people_share_a_draft(people: list[str]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        kept = Drafts(Path(folder))
        for person in people:
            kept.keep(person, {"who": f"for {person}"})
        kept.flush()
        again = Drafts(Path(folder))
        assert [again.of(person) for person in people] == [{"who": f"for {person}"} for person in people]
        assert {path.parent for path in Path(folder).rglob("*.json")} == {Path(folder) / "drafts"}


def test_a_dropped_draft_is_gone_everywhere(tmp_path: Path) -> None:
    kept = Drafts(tmp_path)
    kept.keep("ana", HALF)
    kept.flush()
    kept.keep("ana", HALF)
    kept.drop("ana")
    kept.flush()
    assert kept.of("ana") is None and Drafts(tmp_path).of("ana") is None
    assert [*(tmp_path / "drafts").iterdir()] == []


@pytest.mark.parametrize("data", [b"", b"{", b"[1]", b'{"who": 3}', b'{"who": {"a": 1}}', b"\xff\xfe", b"null"])
def test_a_spoilt_draft_is_no_draft(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "drafts").mkdir()
    (tmp_path / "drafts" / "intake-ana.json").write_bytes(data)
    assert Drafts(tmp_path).of("ana") is None


def test_a_disk_that_refuses_keeps_the_draft_before_and_the_typing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = Drafts(tmp_path)
    kept.keep("ana", HALF)
    kept.flush()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(drafts.os, "replace", full)
    kept.keep("ana", {"who": "newer"})
    kept.flush()
    assert kept.of("ana") == {"who": "newer"} and Drafts(tmp_path).of("ana") == HALF
    assert [path.name for path in (tmp_path / "drafts").iterdir()] == ["intake-ana.json"]


@pytest.mark.skipif(os.name != "posix", reason="file modes")
def test_others_on_the_machine_cannot_read_it(tmp_path: Path) -> None:
    kept = Drafts(tmp_path)
    kept.keep("ana", HALF)
    kept.flush()
    assert (tmp_path / "drafts").stat().st_mode & 0o77 == 0
    assert (tmp_path / "drafts" / "intake-ana.json").stat().st_mode & 0o77 == 0


def test_without_a_folder_it_is_kept_in_memory() -> None:
    kept = Drafts(None)
    kept.keep("ana", HALF)
    kept.flush()
    assert kept.of("ana") == HALF
    kept.drop("ana")
    assert kept.of("ana") is None
