"""`new`, and everything that may stand in the way of a command: one clear line, the right exit code, nothing lost."""

from __future__ import annotations

import errno
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from aids.commands import bound_by_rights, environment, one_line, shopboard
from aids.desk import Desk
from aids.faulty_os import FaultyOs
from aids.shops import MORNING, Clock

from shopboard.store import disk, open_shop

# -- new ------------------------------------------------------------------------------------------------------------


def test_new_makes_a_shop_that_every_command_takes(tmp_path, at_once):
    folder = tmp_path / "our shop"
    done = at_once("new", folder)
    assert (done.code, done.err) == (0, "")
    first, _, third = done.out.splitlines()
    assert first == f"A new shop stands in {folder}."
    assert third == f"  shopboard open '{folder}'"
    assert {"shop.toml", "models.toml", "book"} <= {path.name for path in folder.iterdir()}
    assert "press n to take one in" in at_once("glance", "--shop", folder).out
    assert at_once("verify", "--shop", folder).code == 0
    assert at_once("triage", "clunk", "--shop", folder).code == 0


def test_new_takes_an_empty_folder_and_none_with_something_in_it(tmp_path, at_once):
    (tmp_path / "empty").mkdir()
    assert at_once("new", tmp_path / "empty").code == 0
    before = _contents(tmp_path)
    told = at_once("new", tmp_path / "empty").complained(3)
    assert told == f"{tmp_path / 'empty'} is there already and not empty: choose a folder that does not exist yet"
    (tmp_path / "file").write_text("mine")
    at_once("new", tmp_path / "file").complained(3)
    assert _contents(tmp_path) == before | {tmp_path / "file": b"mine"}


def test_a_hostile_name_of_a_folder_is_shown_and_never_acts(tmp_path, at_once):
    done = at_once("new", tmp_path / "a\x1b[31m\u202eb")
    assert done.code == 0 and all(line.isprintable() for line in done.out.splitlines())
    assert "a␛[31m<U+202E>b" in done.out


# -- broken files of the shop ---------------------------------------------------------------------------------------


def _append(name: str, text: str) -> Callable[[Path], None]:
    def spoil(shop: Path) -> None:
        (shop / name).parent.mkdir(exist_ok=True)
        with (shop / name).open("a", encoding="utf-8") as file:
            file.write(text)

    return spoil


def _replace(name: str, old: str, new: str) -> Callable[[Path], None]:
    def spoil(shop: Path) -> None:
        text = (shop / name).read_text("utf-8")
        assert old in text
        (shop / name).write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


def _binary(shop: Path) -> None:
    (shop / "shop.toml").write_bytes(b'name = "\xff\xfe"\n')


BROKEN: dict[str, tuple[Callable[[Path], None], str]] = {
    "shop.toml is no TOML": (_append("shop.toml", "\nname = = 1\n"), r"shop\.toml: cannot be read: .* line \d+"),
    "shop.toml, unknown field": (_replace("shop.toml", "zone", "zoen"), r'shop\.toml: zoen: .*did you mean "zone"\?'),
    "shop.toml, wrong type": (_replace("shop.toml", '"Test shop"', "12"), r"shop\.toml: name: is a whole number"),
    "shop.toml, hostile text": (
        _replace("shop.toml", "Europe/Berlin", "\\u001b[31m\\u202e"),
        r'shop\.toml: zone: "␛\[31m<U\+202E>" is no time zone: ',
    ),
    "shop.toml is no text": (_binary, r"shop\.toml: is not UTF-8 text: save it as UTF-8"),
    "models.toml, unknown layout": (
        _replace("models.toml", 'layout = "split"', 'layout = "splitt"'),
        r'models\.toml: model\[2\]\.layout: .*choose "in-line" or "split"',
    ),
    "models.toml is no TOML": (_append("models.toml", "\n[[model]\n"), r"models\.toml: cannot be read: .* line \d+"),
    "book, unknown cause": (
        _append("book/own.toml", '[cause.no-such]\nshows = { weak-drive = "often" }\n'),
        r"book/own\.toml: cause\.no-such: ",
    ),
    "book, unknown symptom": (
        _append("book/own.toml", '[cause.pump-worn]\nshows = { no-such = "often" }\n'),
        r"book/own\.toml: cause\.pump-worn: .*no-such",
    ),
    "book is no TOML": (_append("book/own.toml", "[cause.\n"), r"book/own\.toml: .*line 1"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_file_of_the_shop_is_one_line_and_the_shop_is_untouched(shop, at_once, what):
    spoil, told = BROKEN[what]
    kept = _contents(shop)
    spoil(shop)
    broken = _contents(shop)
    for arguments in (["glance", "--shop", shop], ["glance", "--json", "--shop", shop], ["open", shop]):
        line = at_once(*arguments).complained(3)
        assert re.match(told, line), line
        assert re.search(r": .+: ", line), "it says what is wrong, and what would be right"
    done = at_once("verify", "--shop", shop)
    assert done.code == 1 and any(re.match(told.split(": ")[0], line) for line in done.out.splitlines())
    assert _contents(shop) == broken
    for name in ("shop.toml", "models.toml", "book/own.toml"):
        if shop / name in kept:
            (shop / name).write_bytes(kept[shop / name])
        else:
            (shop / name).unlink(missing_ok=True)
    assert "T-0003" in at_once("glance", "--shop", shop).out
    assert at_once("verify", "--shop", shop).code == 0


def test_a_folder_that_is_no_shop(tmp_path, at_once):
    for command in ("glance", "verify"):
        assert "it has no shop.toml" in at_once(command, "--shop", tmp_path).complained(3)
        assert "there is no folder" in at_once(command, "--shop", tmp_path / "none").complained(3)
    (tmp_path / "file").write_text("")
    at_once("open", tmp_path / "file").complained(3)
    at_once("open", "\x1b[31m\u202e").complained(3)


# -- the journal ----------------------------------------------------------------------------------------------------


def _journal(shop: Path) -> Path:
    return max((shop / "journal").glob("*.jsonl"))


@pytest.fixture
def busy(shop: Path) -> Path:
    """The shop with changes that stand only in its journal, as after a crash."""
    clock = Clock(MORNING + timedelta(minutes=30))
    desk = Desk(open_shop(shop, clock=clock), clock)
    for name in ("Upper Farm", "Lower Farm", "Mill"):
        desk.take_in(name, "no drive", "no-drive")
    return shop  # never closed: no checkpoint was made


def test_a_truncated_journal_is_told_once_and_loses_only_the_half_line(busy, at_once):
    path = _journal(busy)
    whole = path.read_bytes()
    lines = whole.splitlines(keepends=True)
    path.write_bytes(whole[: len(whole) - len(lines[-1]) // 2])
    torn = path.read_bytes()[len(b"".join(lines[:-1])) :]
    listed = at_once("verify", "--shop", busy)
    assert listed.code == 1 and f"journal/{path.name}, line {len(lines)}: is not whole; " in listed.out
    done = at_once("glance", "--shop", busy)
    assert done.code == 0 and "Lower Farm" in done.out and "Mill" not in done.out
    told = one_line(done.err)
    assert "the last line of the journal, was not whole" in told
    (kept,) = (busy / "journal").glob("torn-*.bin")
    assert kept.name in told and kept.read_bytes() == torn
    again = at_once("glance", "--shop", busy)
    assert (again.code, again.err) == (0, "") and again.out == done.out
    assert at_once("verify", "--shop", busy).code == 0


def test_a_damaged_line_before_good_ones_is_refused_and_left_as_it_is(busy, at_once):
    path = _journal(busy)
    data = bytearray(path.read_bytes())
    data[40] ^= 1
    path.write_bytes(data)
    before = _contents(busy)
    for arguments in (["glance", "--shop", busy], ["open", busy]):
        told = at_once(*arguments).complained(3)
        assert "line 1 does not match its checksum" in told and "`shopboard verify`" in told
    listed = at_once("verify", "--shop", busy)
    assert listed.code == 1 and f"journal/{path.name}, line 1: does not match its checksum; " in listed.out
    assert _contents(busy) == before


# -- a folder that cannot be written, a disk that is full -----------------------------------------------------------


def test_a_read_only_folder_is_read_and_told(shop):
    before = _contents(shop)
    _rights(shop, 0o555, 0o444)
    try:
        glance = shopboard("glance", "--shop", shop, preexec_fn=bound_by_rights())
        found = shopboard("verify", "--shop", shop, preexec_fn=bound_by_rights())
        inside = shopboard("new", shop / "new", preexec_fn=bound_by_rights())
        copied = shopboard("demo", "--keep", shop / "new", preexec_fn=bound_by_rights())
    finally:
        _rights(shop, 0o755, 0o644)
    assert glance.code == 0 and "T-0001" in glance.out
    assert one_line(glance.err) == f"the folder cannot be written ({shop})"
    assert (found.code, found.err) == (0, "")
    assert f"{shop / 'new'} cannot be made (Permission denied)" in inside.complained(3)
    assert f"the sample shop cannot be copied to {shop / 'new'} (Permission denied)" in copied.complained(3)
    assert _contents(shop) == before


def test_a_read_only_folder_without_a_database_is_one_line(tmp_path, at_once):
    folder = tmp_path / "shop"
    at_once("new", folder)
    _rights(folder, 0o555, 0o444)
    try:
        done = shopboard("glance", "--shop", folder, preexec_fn=bound_by_rights())
    finally:
        _rights(folder, 0o755, 0o644)
    assert done.complained(3).startswith(f"the folder cannot be written ({folder}): ")
    assert at_once("glance", "--shop", folder).code == 0


def _rights(folder: Path, folders: int, files: int) -> None:
    for path in [folder, *folder.rglob("*")]:
        path.chmod(folders if path.is_dir() else files)


def test_a_full_disk_stops_no_glance(busy, at_once, monkeypatch):
    """Only the database cannot be put at rest; every change is in the journal already."""
    monkeypatch.setattr(disk, "os", FaultyOs("write", 1, errno.ENOSPC, stuck=True))
    done = at_once("glance", "--shop", busy)
    assert done.code == 0 and "Mill" in done.out
    told = one_line(done.err)
    assert "could not be put at rest" in told and "the disk is full" in told and "safe in the journal" in told
    monkeypatch.undo()
    data = shopboard("glance", "--shop", busy)
    assert data.code == 0 and "Mill" in data.out and data.err == ""


def test_a_full_disk_makes_no_half_shop(tmp_path, at_once, monkeypatch):
    folder = tmp_path / "shop"
    for at in range(1, 4):
        monkeypatch.setattr(disk, "os", FaultyOs("write", at, errno.ENOSPC))
        told = at_once("new", folder).complained(3)
        assert f"{folder} cannot be made (No space left on device)" in told
        assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()
    assert at_once("new", folder).code == 0
    monkeypatch.setattr(disk, "os", FaultyOs("write", 1, errno.ENOSPC, stuck=True))
    assert at_once("glance", "--shop", folder).complained(3).startswith("the disk is full")
    monkeypatch.undo()
    assert at_once("glance", "--shop", folder).code == 0


def _in_a_tiny_place(script: str, place: Path) -> subprocess.CompletedProcess[bytes]:
    """Run a shell script where `place` is a disk of its own with 64 kB."""
    mount = 'mount -t tmpfs -o size=64k tmpfs "$1"'
    command = ["unshare", "-rm", "sh", "-c", f"{mount} || exit 77\n{script}", "sh", str(place), sys.executable]
    return subprocess.run(command, capture_output=True, stdin=subprocess.DEVNULL, env=environment(), timeout=120)


def test_a_disk_that_fills_while_the_sample_is_copied_leaves_nothing_behind(tmp_path):
    script = '"$2" -m shopboard demo --keep "$1/shop"; echo "ended with $?"; ls -A "$1"'
    try:
        done = _in_a_tiny_place(script, tmp_path)
    except FileNotFoundError:
        pytest.skip("this system has no unshare")
    if done.returncode == 77:
        pytest.skip("no file system may be mounted here")
    told = one_line(done.stderr.decode())
    assert told.startswith(f"the sample shop cannot be copied to {tmp_path / 'shop'} (")
    assert done.stdout.decode() == "ended with 3\n"


# -- bad input ------------------------------------------------------------------------------------------------------

BAD = {
    "no such command": (["glanse"], "argument COMMAND: invalid choice: 'glanse'"),
    "no such option": (["glance", "--jsno"], "unrecognized arguments: --jsno"),
    "an option without its value": (["glance", "--shop"], "argument --shop: expected one argument"),
    "nothing to make": (["new"], "the following arguments are required: folder"),
    "too many": (["verify", "one", "two"], "unrecognized arguments: one two"),
    "hostile": (["\x1b[31m[/b]\u202e"], "argument COMMAND: invalid choice: "),
    "hostile option": (["glance", "--\x1b[31m"], "unrecognized arguments: --␛[31m"),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_input_is_one_line_and_2(at_once, what):
    arguments, told = BAD[what]
    line = at_once(*arguments).complained(2)
    assert line.startswith(told) and "--help` shows what there is" in line


def test_help_is_printed_and_ends_well(at_once):
    for arguments in ([], ["glance"], ["triage"], ["demo"], ["new"], ["open"], ["verify"], ["calc"]):
        done = at_once(*arguments, "--help")
        assert (done.code, done.err) == (0, "") and done.out.startswith("usage: shopboard")
    for command in ("open", "demo", "new", "glance", "triage", "verify", "calc"):
        assert command in at_once("--help").out


def test_nobody_of_that_name_works_here(shop, at_once, monkeypatch):
    monkeypatch.setattr("shopboard.console.has_terminal", lambda: True)
    told = at_once("open", shop, "--as", "zoe").complained(2)
    assert told == "nobody called zoe works here: shop.toml knows ana, bo, cy"


def _contents(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file() and path.name != "lock"}
