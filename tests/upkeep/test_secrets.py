"""What must not leave: PINs anywhere, customers' words in error lines; and what a technician may not do."""

from __future__ import annotations

import gzip
import re
import tomllib
import zipfile
from pathlib import Path

import pytest
from aids.boards import open_board, type_keys, until

from shopboard.store import open_shop, pins
from shopboard.store.pins import Pins

from .conftest import *  # noqa: F403

PIN = "4711-geheimnis"
#: Words of the small shop's customers and complaints.
CUSTOMERS = ("Vineyard", "Lake Golf", "slow going up", "clunks as it changes")


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "_COST", 2)


async def _set_at_the_board(shop: Path) -> list[str]:
    """Ana sets a PIN at the board, gets it wrong once, leaves a form half typed; the texts that must stay inside."""
    async with open_board(shop) as pilot:
        await type_keys(pilot, "o", "y", f"={PIN}", "enter", f"={PIN}", "enter", "ctrl+l")
        await until(pilot, lambda: pilot.app.locked, "locked")
        await type_keys(pilot, f"={PIN}x", "enter", f"={PIN}", "enter")
        await until(pilot, lambda: not pilot.app.locked, "unlocked")
        await type_keys(pilot, "=1", "enter", "w", "=a remark", "enter", "n", "=half typed", "escape")
    kept = tomllib.loads((shop / "pins.toml").read_text())["ana"]
    return [PIN, kept["salt"], kept["hash"]]


def _holds(path: Path, secrets: list[str]) -> list[str]:
    data = path.read_bytes()
    data = gzip.decompress(data) if path.suffix == ".gz" else data
    return [secret for secret in secrets if secret.encode() in data]


async def test_a_pin_is_in_no_file_but_its_own_and_in_nothing_that_is_printed(shop, at_once, tmp_path):
    secrets = await _set_at_the_board(shop)
    open_shop(shop).checkpoint()
    files = [path for path in shop.rglob("*") if path.is_file()]
    assert {path.name for path in files if _holds(path, secrets)} == {"pins.toml"}
    assert any(path.suffix == ".gz" for path in files) and (shop / "drafts").is_dir()
    said = [at_once("backup", "--shop", shop, tmp_path / "kept.zip")]
    for what in ("customers", "machines", "jobs", "parts", "closed"):
        for form in ("csv", "json"):
            said.append(at_once("export", what, "--shop", shop, "--format", form))
    said.append(at_once("export", "customer", "Hill Vineyard", "--shop", shop))
    for command in ("glance", "verify", "history"):
        said += [at_once(command, "--shop", shop), at_once(command, "--shop", shop, "--json")]
    (shop / "pins.toml").write_text((shop / "pins.toml").read_text().replace("cost", "costs"))
    said.append(at_once("erase", "customer", "2", "--shop", shop, "--as", "ana", "--name", "Lake Golf"))
    assert said[0].code == 0 and said[-1].code != 0
    assert not [secret for done in said for secret in secrets if secret in done.out + done.err]
    with zipfile.ZipFile(tmp_path / "kept.zip") as archive:
        for name in archive.namelist():
            (tmp_path / "one").with_suffix(Path(name).suffix).write_bytes(archive.read(name))
            assert not _holds((tmp_path / "one").with_suffix(Path(name).suffix), secrets)


def _damage(path: Path, found: bytes, put: bytes) -> None:
    data = path.read_bytes()
    assert found in data
    path.write_bytes(data.replace(found, put))


def _resigned(path: Path, found: bytes, put: bytes) -> None:
    """The last line of the journal changed and its checksum made right again: only its sense is wrong now."""
    import zlib

    lines = path.read_bytes().splitlines(keepends=True)
    at = next(n for n, one in enumerate(lines) if found in one)
    body = lines[at].rstrip(b"\n").replace(found, put)[16:]
    lines[at] = b'{"c":"%08x",%s\n' % (zlib.crc32(b"{" + body), body)
    path.write_bytes(b"".join(lines))


@pytest.mark.parametrize("command", [["glance"], ["verify"], ["verify", "--json"], ["history"], ["memory"]])
@pytest.mark.parametrize("hurt", ["open.json", "journal", "journal's sense", "torn"])
def test_no_customers_words_stand_in_the_error_lines_of_a_damaged_shop(shop, at_once, hurt, command):
    (journal,) = (shop / "journal").glob("*.jsonl")
    if hurt == "open.json":
        _damage(shop / "db" / "open.json", b'"name":"Hill Vineyard"', b'"name":["Hill Vineyard"]')
    elif hurt == "journal":
        _damage(journal, b"Hill Vineyard", b"Hill Vineyarq")
    elif hurt == "journal's sense":
        (shop / "db" / "open.json").write_bytes(_emptied((shop / "db" / "open.json").read_bytes()))
        _resigned(journal, b'"name":"Hill Vineyard"', b'"name":["Hill Vineyard"]')
    else:
        journal.write_bytes(journal.read_bytes()[:-40])
    done = at_once(*command, "--shop", shop)
    complaint = done.err if command != ["verify"] else done.err + done.out
    assert not [word for word in CUSTOMERS if word in complaint]
    assert complaint or done.code == 0 or command == ["verify", "--json"]


def _emptied(data: bytes) -> bytes:
    """open.json as before the first change, so that the whole journal is read again."""
    del data
    return b'{"meta":{"1":{"seq":0,"format":1,"next_ids":{},"index_seq":0,"crc":""}}}'


#: What the owner alone does by command, and what the counter and the owner do: nobody else, whoever they say they are.
NOT_FOR_A_TECHNICIAN = [
    ["erase", "customer", "2", "--name", "Lake Golf"],
    ["import", "customers", "LIST", "--yes"],
]


@pytest.mark.parametrize("command", NOT_FOR_A_TECHNICIAN, ids=lambda command: command[0])
def test_a_technician_cannot_by_command(shop, at_once, tmp_path, command):
    (tmp_path / "list.csv").write_text("Name,Phone\nNew Farm,555 99\n")
    command = [str(tmp_path / "list.csv") if word == "LIST" else word for word in command]
    before = {path: path.read_bytes() for path in shop.rglob("*") if path.is_file() and path.parent.name == "journal"}
    done = at_once(*command, "--shop", shop, "--as", "bo")
    assert done.code == 2 and re.search(r"this is for .*the owner, and Bo is technician here: ask .*Cy", done.err)
    assert before == {path: path.read_bytes() for path in before}
    assert "this is for" not in at_once(*command, "--shop", shop, "--as", "cy").err


def test_a_signature_with_a_pin_is_not_given_without_it(shop, at_once):
    Pins(shop).set("cy", PIN)
    done = at_once("erase", "customer", "2", "--name", "Lake Golf", "--shop", shop, "--as", "cy")
    assert "cy has a PIN" in done.complained(2) or "has a PIN" in done.err
    assert len(open_shop(shop).state.customers) == 3


async def test_a_technician_meets_the_same_refusal_on_every_screen(shop):
    """On the Bench, from the list of next steps and from a form's own key; in Parts; in the Office."""
    async with open_board(shop, who="bo") as pilot:
        store, board = pilot.app.store, pilot.app
        for job, want in ((2, "approval.give"), (2, "approval.decline")):
            before = store.state.seq
            board.open_job(job)
            from shopboard.places.steps import do_step

            do_step(board, job, want)
            await type_keys(pilot, "=somebody", "enter", "=by phone", "enter", "=no", "enter", "ctrl+s")
            assert store.state.seq == before
            await type_keys(pilot, "escape", "escape")
        store.commit("ana", _needs(2))
        line = max(store.state.parts)
        before = store.state.seq
        await type_keys(pilot, "p", "d")
        await type_keys(pilot, "ctrl+s", "enter", "escape", "escape")
        assert store.state.seq == before and store.state.parts[line].state == "needed"


def _needs(job):
    from shopboard.shop import parts

    return lambda state, now: parts.need(state, now, "ana", job, "K-1", "key", 1, supplier="north")
