"""Flipped bits in a sealed, packed segment: the history says so, or nothing has changed."""

from __future__ import annotations

import pytest
from aids.store_steps import take_in, ticking

from shopboard.store import ShopUnusable, open_shop, verify
from shopboard.store.story import Wanted, story


def _flip(data: bytes, bit: int) -> bytes:
    flipped = bytearray(data)
    flipped[bit // 8] ^= 1 << bit % 8
    return bytes(flipped)


def _every(folder, every):
    """Flip each so-manieth bit of the packed segment; how many were refused, how many harmless."""
    store = open_shop(folder, clock=ticking())
    for number in range(3):
        store.commit("ana", take_in(f"n{number}"))
    store.checkpoint()
    store.commit("ana", take_in("after"))
    right = list(store.changes())
    newest_first = [told for told in story(store, Wanted()) if told]
    (packed,) = store.journal_folder.glob("*.gz")
    data = packed.read_bytes()
    refused = harmless = 0
    for bit in range(0, len(data) * 8, every):
        packed.write_bytes(_flip(data, bit))
        try:
            seen = list(store.changes())
        except ShopUnusable as error:
            assert packed.name in error.why and "\n" not in str(error) and "restore" in error.would_do
            with pytest.raises(ShopUnusable):
                list(story(store, Wanted()))
            refused += 1
        else:
            assert seen == right and [told for told in story(store, Wanted()) if told] == newest_first
            harmless += 1
        if bit % (every * 50) == 0:
            faults = [fault for fault in verify(folder) if fault.where.startswith("journal")]
            assert bool(faults) == (refused + harmless > 0 and not _reads(store, right))
    packed.write_bytes(data)
    assert list(store.changes()) == right
    return refused, harmless


def _reads(store, right):
    try:
        return list(store.changes()) == right
    except ShopUnusable:
        return False


def test_flipped_bits_of_a_packed_segment(folder):
    refused, harmless = _every(folder, 13)
    assert refused > 150 and harmless < 20


@pytest.mark.long
def test_every_flipped_bit_of_a_packed_segment(folder):
    refused, harmless = _every(folder, 1)
    print(f"{refused} flips refused, {harmless} proved harmless (in the packing's own heading)")
    assert harmless < 100
