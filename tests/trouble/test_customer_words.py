"""The shipped wordings against what customers say: each finds its symptom, spelling mistakes and all."""

from __future__ import annotations

import random

import pytest
from aids.shipped_book import shipped_book

from shopboard.trouble import suggest_symptoms

SAID = [
    ("It wont clime the hil any more", "weak-drive"),
    ("fine in the morning but fades when it gets hot", "weak-when-hot"),
    ("engine runs but it just sits there, dead both ways", "no-drive"),
    ("lost reverse, only goes foward", "one-way-only"),
    ("it keeps roling when I take my foot off", "creeps-in-neutral"),
    ("bucks and jumps when I start off", "jerky-response"),
    ("rolls back on the hill", "rolls-on-slope"),
    ("always pulls to the left", "pulls-aside"),
    ("big clunk going from forward to reverse", "clunk"),
    ("shakes and vibrates thru the floor", "vibration"),
    ("grinding noise from the back wheel", "rumble"),
    ("howls going up hill like a siren", "whine"),
    ("smells of burnt ruber and squeals", "belt-squeal"),
    ("transmission gets too hot to touch", "overheats"),
    ("there is a pudle of oil under it", "oil-leak"),
    ("the oil is white and full of bubbles", "milky-oil"),
    ("pedal is stuck down and wont come back", "hard-pedal"),
    ("engine dies when I put it in drive", "lugs-engine"),
    ("heard a loud bang and now it wont move", "bang-no-drive"),
    ("pops out of gear in low", "range-jumps-out"),
    ("slow on cold mornings until it warms up", "slow-when-cold"),
    ("speed hunts, goes fast then slow by itself", "surges"),
    ("feels like the brake is on, hard to push", "held-back"),
]


@pytest.mark.parametrize(("said", "symptom"), SAID)
def test_a_customers_sentence_finds_its_symptom_among_the_first_three(said: str, symptom: str) -> None:
    found = [id for id, _ in suggest_symptoms(shipped_book(), said)]
    assert symptom in found[:3]


def test_most_sentences_find_it_first() -> None:
    first = [suggest_symptoms(shipped_book(), said)[0][0] == symptom for said, symptom in SAID]
    assert sum(first) >= 0.8 * len(SAID)


def test_every_wording_of_the_book_finds_its_own_symptom_first_or_second() -> None:
    for symptom in shipped_book().symptoms.values():
        for wording in symptom.words:
            found = [id for id, _ in suggest_symptoms(shipped_book(), wording)]
            assert symptom.id in found[:2], wording


def test_small_talk_suggests_nothing() -> None:
    assert suggest_symptoms(shipped_book(), "hello, is Bo in today, he has my spare key") == ()


@pytest.mark.parametrize(
    ("said", "symptom"),
    [("wek drve", "weak-drive"), ("it has wek drve", "weak-drive"), ("weka driev", "weak-drive"),
     ("no drve", "no-drive"), ("hrd pedl", "hard-pedal"), ("oil leek", "oil-leak"),
     ("crep at nutral", "creeps-in-neutral")],
)  # fmt: skip
def test_every_word_may_be_misspelt(said: str, symptom: str) -> None:
    assert symptom in [id for id, _ in suggest_symptoms(shipped_book(), said)][:2]


def _slipped(word: str, rng: random.Random) -> str:
    """The word with one slip of the finger: a letter left out, doubled, or two changed over. Short words stay."""
    if len(word) < 4:
        return word
    at = rng.randrange(1, len(word) - 1)
    return rng.choice([word[:at] + word[at + 1 :], word[:at] + word[at] + word[at:],
                       word[:at] + word[at + 1] + word[at] + word[at + 2 :]])  # fmt: skip


def test_a_slip_in_every_word_of_a_name_or_wording_still_finds_it() -> None:
    rng, book = random.Random(412), shipped_book()
    tried = found = 0
    for symptom in book.symptoms.values():
        for wording in (symptom.name, *symptom.words):
            typed = " ".join(_slipped(word, rng) for word in wording.split())
            tried += 1
            found += symptom.id in [id for id, _ in suggest_symptoms(book, typed)][:3]
    assert tried > 150 and found >= 0.95 * tried, (found, tried)


def test_a_sentence_about_something_else_does_not_become_a_drive() -> None:
    for talk in (
        "the week starts with a long drive to town",
        "we drove home at the weekend",
        "nice weather for a drive",
    ):
        assert "weak-drive" not in [id for id, _ in suggest_symptoms(shipped_book(), talk)]
