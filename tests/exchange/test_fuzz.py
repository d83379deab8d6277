"""Files that are wrong in every way that can be drawn are read, or refused in one line; nothing else ever happens."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest
from aids.desk import small_day
from aids.fuzz import Lists, csv_seeds, json_reader, mutated, rezipped, run, tally, toml_reader, xlsx_seed
from aids.shops import MODELS, SHOP, make_shop
from aids.ugly_list import make, write_csv

import sample_shop
from shopboard import cli
from shopboard.store import open_shop

#: Inputs of each kind: a share that never waits, and the long run (50,000 and more together).
SHORT = {"csv": 400, "xlsx": 150, "toml": 150, "json": 400}
LONG = {"csv": 22_000, "xlsx": 8_000, "toml": 8_000, "json": 16_000}
SIZES = [pytest.param(SHORT, 1, id="share"), pytest.param(LONG, 2, id="long", marks=pytest.mark.long)]

PARTS = """
[[part]]
number = "S-77"
name = "seal kit"
supplier = "seal"
price = 41.50
models = ["in-line-1"]
"""
BOOK = (Path(sample_shop.__file__).parent / "book" / "wheel_motor_seals.toml").read_text(encoding="utf-8")


@pytest.fixture
def lists(shop, run, tmp_path):
    write_csv(make(1, 60), tmp_path / "customers.csv")
    assert run("import", "customers", tmp_path / "customers.csv", "--as", "cy", "--yes", "--json").code == 0
    return Lists(open_shop(shop).state)


@pytest.mark.parametrize(("sizes", "seed"), SIZES)
def test_lists_as_text(sizes, seed, lists, tmp_path):
    seeds, ends = csv_seeds(tmp_path), Counter()
    for number in range(sizes["csv"]):
        draw = random.Random(f"csv {seed} {number}")
        data = mutated(draw.choice(seeds), draw)
        ends[run_(lists, data, draw)] += 1
    print(tally(ends))
    assert ends["taken"] > sizes["csv"] // 20 and ends["Refused"] > sizes["csv"] // 20


def run_(lists, data, draw):
    return run(lambda: lists(data, draw))


@pytest.mark.parametrize(("sizes", "seed"), SIZES)
def test_lists_as_workbooks(sizes, seed, lists, tmp_path):
    whole, ends = xlsx_seed(tmp_path), Counter()
    for number in range(sizes["xlsx"]):
        draw = random.Random(f"xlsx {seed} {number}")
        ends[run_(lists, rezipped(whole, draw), draw)] += 1
    print(tally(ends))
    assert ends["taken"] > sizes["xlsx"] // 20 and ends["Refused"] > sizes["xlsx"] // 20


@pytest.mark.parametrize(("sizes", "seed"), SIZES)
def test_the_files_a_shop_edits(sizes, seed, tmp_path):
    texts = {"shop.toml": SHOP, "models.toml": MODELS, "parts.toml": PARTS, "book/own.toml": BOOK}
    read, ends = toml_reader(tmp_path), Counter()
    for name, text in texts.items():
        (tmp_path / name).write_text(text)
    for number in range(sizes["toml"]):
        draw = random.Random(f"toml {seed} {number}")
        name = draw.choice(list(texts))
        data = mutated(texts[name].encode(), draw)
        ends[run(lambda name=name, data=data: read(name, data))] += 1
    print(tally(ends))
    assert ends["read"] > sizes["toml"] // 50 and ends["ShopUnusable"] > sizes["toml"] // 3


@pytest.mark.parametrize(("sizes", "seed"), SIZES)
def test_the_files_the_board_keeps(sizes, seed, lists, shop, tmp_path):
    small_day(tmp_path / "day")
    whole = {
        "journal": (tmp_path / "day" / "journal" / "000000000001.jsonl").read_bytes()[:4000],
        "open.json": (shop / "db" / "open.json").read_bytes(),
        "erasing.json": b'{"customer":1,"by":"cy","marks":["Hill"],"unsure":[],"jobs":[1]}',
        "drafts/intake-ana.json": b'{"who":"Hill","symptoms":["weak-drive"],"complaint":"slow"}',
    }
    here, ends = tmp_path / "kept", Counter()
    here.mkdir()
    read = json_reader(here)
    for number in range(sizes["json"]):
        draw = random.Random(f"json {seed} {number}")
        name = draw.choice(list(whole))
        data = mutated(whole[name], draw)
        ends[run(lambda name=name, data=data: read(name, data))] += 1
    print(tally(ends))
    assert ends["read"] > sizes["json"] // 5 and ends["ShopUnusable"] > sizes["json"] // 20


def test_a_slip_in_the_reader_would_be_noticed(lists):
    """The test of the test: an error that is no refusal is not swallowed."""
    with pytest.raises(ZeroDivisionError):
        run(lambda: str(1 / 0))
    with pytest.raises(AssertionError):
        run(lambda: (_ for _ in ()).throw(cli.Refused("two\nlines")))


def test_together_the_long_run_draws_fifty_thousand():
    assert sum(LONG.values()) >= 50_000


def test_an_empty_file_and_a_folder(run, tmp_path, shop):
    (tmp_path / "empty.csv").write_bytes(b"")
    assert "holds no row with anything in it" in run("import", "customers", tmp_path / "empty.csv", "--yes").complained(
        2
    )
    assert "is a folder: name a file in it" in run("import", "customers", tmp_path, "--yes").complained(2)
    assert run("import", "customers", tmp_path / "none.csv", "--yes").code == 3
    make_shop(tmp_path / "another").close()
