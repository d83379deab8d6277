"""Power cuts on a file system of its own: what was acknowledged is on the device, whatever memory still held."""

from __future__ import annotations

import os
import random
import signal

import pytest
from aids import crash_worker
from aids.crash_harness import check, replayed, start
from aids.power import cut, mounted, new_image

from shopboard.store import ShopUnusable, new_shop


def _stop(children):
    for child in children:
        os.kill(child.process.pid, signal.SIGSTOP)


def _cuts(place, rounds, writers, worker, seed):
    """`rounds` times: let processes commit, cut the power, mount what the device held, hold it to what was said."""
    image, draw, acknowledged = new_image(place), random.Random(seed), 0
    with mounted(image, place / "mnt") as there:
        new_shop(there / "shop")
    for _ in range(rounds):
        acks = []
        with mounted(image, place / "mnt") as there:
            children = [start(worker, there / "shop", f"w{n}", draw.getrandbits(40)) for n in range(writers)]
            for child in children:
                child.wait_ready()
            for _ in range(draw.randrange(5, 40)):
                child = draw.choice(children)
                child.acks.append(child.pipe.recv())
            _stop(children)
            acks = [ack for child in children for ack in child.acks]
            cut(image, place / "after.img")
            for child in children:
                child.kill()
                child.finish()
        with mounted(place / "after.img", place / "mnt") as there:
            store = check(there / "shop", acks)
            replayed(there / "shop", store)
            store.close()
        (place / "after.img").replace(image)  # the next round goes on from what the cut left
        acknowledged += len(acks)
    return acknowledged


def test_a_power_cut_loses_nothing_acknowledged(tmp_path_factory):
    assert _cuts(tmp_path_factory.mktemp("power"), 4, 2, crash_worker.run, 1) >= 20


@pytest.mark.long
def test_many_power_cuts_lose_nothing_acknowledged(tmp_path_factory):
    said = _cuts(tmp_path_factory.mktemp("power"), 60, 3, crash_worker.run, 2)
    print(f"60 power cuts, {said} acknowledged, 0 lost")


def test_a_store_that_never_syncs_fails_this_test(tmp_path_factory):
    """The test of the test."""
    with pytest.raises((AssertionError, ShopUnusable), match=r"is lost|open\.json|journal|shop\.toml"):
        _cuts(tmp_path_factory.mktemp("power"), 3, 1, crash_worker.run_unsynced, 3)
