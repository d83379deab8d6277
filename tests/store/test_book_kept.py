"""The trouble book kept ready is the book of its files, whatever lies in the cache."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopboard.store import ShopUnusable, book_kept, read_book
from shopboard.store.shop_files import _read_book, book_additions, shipped_book
from shopboard.trouble import Book

TABLES = ("symptoms", "checks", "causes", "corrections", "covers", "service_points", "cautions")
ADDED = '[caution.our-own]\ntext = "our own"\n'


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of this test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "shopboard"


def _shop(folder: Path, text: str = ADDED) -> Path:
    (folder / "book").mkdir(parents=True, exist_ok=True)
    (folder / "book" / "own.toml").write_text(text, encoding="utf-8")
    return folder


def _tables(book: Book) -> list[str]:
    """Every entry to the letter, in order: also whether a number is whole or not."""
    return [repr(dict(getattr(book, name))) for name in TABLES]


def _of_files(folder: Path | None) -> list[str]:
    return _tables(_read_book(shipped_book(), book_additions(folder)))


@pytest.mark.parametrize("own", [False, True])
def test_kept_it_is_the_same_book(own: bool, tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = _shop(tmp_path / "shop") if own else None
    wanted = _of_files(folder)
    assert _tables(read_book(folder)) == wanted and len(list(cache.iterdir())) == 1
    monkeypatch.setattr("shopboard.store.shop_files._read_book", lambda *_: pytest.fail("the files were read again"))
    assert _tables(read_book(folder)) == wanted


def test_a_book_that_was_edited_is_read_again(tmp_path: Path) -> None:
    folder = _shop(tmp_path / "shop")
    assert read_book(folder).cautions["our-own"].text == "our own"
    _shop(folder, ADDED.replace("our own", "ours all"))
    assert read_book(folder).cautions["our-own"].text == "ours all"
    (folder / "book" / "own.toml").rename(folder / "book" / "other.toml")
    assert read_book(folder).cautions["our-own"].text == "ours all"
    (folder / "book" / "other.toml").unlink()
    assert "our-own" not in read_book(folder).cautions


def test_another_program_reads_it_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_book(None)
    read: list[str] = []
    monkeypatch.setattr(book_kept, "_made_by", lambda: [("book.py", 1, 1)])
    monkeypatch.setattr("shopboard.store.shop_files._read_book", lambda *texts: read.append("") or _read_book(*texts))
    assert _tables(read_book(None)) == _of_files(None)
    assert read


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: b"",
        lambda data: data[: len(data) // 2],
        lambda data: data[:9000] + b"\xff" + data[9001:],
        lambda data: b"\x80\x04K*." + data,  # a pickle is nothing that would be opened
        lambda data: _signed(b"\xc1"),
        lambda data: _signed(b"\x93\x01\x02\x03"),
    ],
)
def test_whatever_else_lies_there_is_as_good_as_nothing(spoil, cache: Path) -> None:
    wanted = _tables(read_book(None))
    (path,) = cache.iterdir()
    path.write_bytes(spoil(path.read_bytes()))
    assert _tables(read_book(None)) == wanted
    assert _tables(read_book(None)) == wanted
    assert [one.name for one in cache.iterdir()] == [path.name]


def _signed(data: bytes) -> bytes:
    import zlib

    return zlib.crc32(data).to_bytes(4, "big") + data


def test_a_book_with_mistakes_is_not_kept(tmp_path: Path, cache: Path) -> None:
    folder = _shop(tmp_path / "shop", ADDED + 'txet = ""\n')
    for _ in range(2):
        with pytest.raises(ShopUnusable, match=r"book/own\.toml: caution\.our-own"):
            read_book(folder)
    assert not cache.exists()


def test_a_cache_that_cannot_be_written_costs_only_time(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("a file where the folder should be")
    assert _tables(read_book(None)) == _of_files(None)


def test_few_are_kept(tmp_path: Path, cache: Path) -> None:
    for n in range(10):
        read_book(_shop(tmp_path / "shop", ADDED.replace("our own", f"number {n}")))
    assert len(list(cache.iterdir())) == 6
    assert read_book(tmp_path / "shop").cautions["our-own"].text == "number 9"
