"""`erase customer`: the name is typed, the owner alone may, and what cannot be reached is said."""

from __future__ import annotations

import gzip
import shutil

import pytest

from sample_shop import SAMPLE_NOW, copy_to
from shopboard.store import open_shop, own_folder
from shopboard.store.backup import backup
from shopboard.store.pins import Pins

NAME = "Ottersby School District"


@pytest.fixture
def sample(tmp_path):
    copy_to(tmp_path / "sample", SAMPLE_NOW)
    return tmp_path / "sample"


def _named(folder):
    found = []
    for path in (path for path in folder.rglob("*") if path.is_file()):
        data = path.read_bytes()
        found += [path.name] if NAME.encode() in (gzip.decompress(data) if path.suffix == ".gz" else data) else []
    return found


def test_the_owner_types_the_name_and_they_are_gone(run, sample):
    done = run("erase", "customer", "2", "--name", NAME, "--as", "ines", "--shop", sample)
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith(f"customer 2, {NAME}: ") and "history rewritten" in done.out
    assert "Not reached either: copies kept elsewhere" in done.out
    assert _named(sample) == []
    assert run("export", "customer", NAME, "--shop", sample).complained(2).startswith("there is no customer")


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (
            ("2", "--as", "ines"),
            f"the name was not typed, so {NAME} stays: type it as it stands, or say it with --name",
        ),
        (("2", "--as", "ines", "--name", "Ottersby"), f"the name was not typed, so {NAME} stays"),
        (("2", "--as", "dell", "--name", NAME), "this is for the owner, and Dell Abara is counter here"),
        (("2", "--name", NAME), "every change is signed: say --as "),
        (("99", "--as", "ines", "--name", "x"), "there is no customer 99 here"),
    ],
)
def test_refused_in_one_line_with_everything_as_it_was(run, sample, arguments, why):
    done = run("erase", "customer", *arguments, "--shop", sample)
    assert done.code == 2 and done.err.startswith(f"shopboard: {why}") and done.err.count("\n") == 1
    store = open_shop(sample)
    assert store.state.customers[2].name == NAME and _named(sample)


def test_an_owner_with_a_pin_proves_it(run, sample, monkeypatch):
    Pins(own_folder(sample)).set("ines", "4711x")
    arguments = ("erase", "customer", "2", "--name", NAME, "--as", "ines", "--shop", sample)
    assert run(*arguments).complained(2) == "ines has a PIN: run it in a terminal, or set SHOPBOARD_PIN"
    monkeypatch.setenv("SHOPBOARD_PIN", "0000x")
    assert "that is not the PIN" in run(*arguments).complained(2)
    monkeypatch.setenv("SHOPBOARD_PIN", "4711x")
    assert run(*arguments).code == 0 and "ines" in (sample / "pins.toml").read_text()


def test_backups_and_copies_beside_the_shop_are_listed_and_not_touched(run, sample, tmp_path):
    kept = backup(sample, tmp_path / "kept.zip", SAMPLE_NOW)
    (tmp_path / "old").mkdir()
    shutil.copytree(sample, tmp_path / "old" / "sample")
    (tmp_path / "other.zip").write_bytes(b"PK no backup")
    before = (tmp_path / "kept.zip").read_bytes()
    done = run("erase", "customer", "2", "--name", NAME, "--as", "ines", "--shop", sample)
    told = [line for line in done.out.splitlines() if "is a copy of this shop and was not touched" in line]
    assert [line.split(" is a copy")[0].strip() for line in told] == [kept.file, str(tmp_path / "old" / "sample")]
    assert (tmp_path / "kept.zip").read_bytes() == before and _named(tmp_path / "old") and not _named(sample)
