"""A customer's words suggest symptoms; nothing is chosen."""

from __future__ import annotations

import pytest
from aids.small_book import small_book
from hypothesis import given
from hypothesis import strategies as st

from shopboard.trouble import suggest_symptoms

SMALL = small_book()

# sentences of our own, spelling mistakes and all, with the symptom a listener would tick
HEARD = [
    ("it has no power on the hills", "weak-drive"),
    ("wont pull", "weak-drive"),
    ("there is no powr on hils any more", "weak-drive"),
    ("it shakes like mad", "shakes"),
    ("vibrats at speed", "shakes"),
    ("a buz in the flor", "shakes"),
    ("creeps with the pedal up", "creeps"),
    ("it wont stand stil", "creeps"),
    ("rolls on its own", "creeps"),
]


@pytest.mark.parametrize(("words", "symptom"), HEARD)
def test_everyday_words_find_their_symptom(words: str, symptom: str) -> None:
    assert suggest_symptoms(SMALL, words)[0][0] == symptom


@pytest.mark.parametrize("words", ["", "   ", "!?", "the invoice was wrong", "my neighbour paints boats"])
def test_words_about_something_else_suggest_nothing(words: str) -> None:
    assert suggest_symptoms(SMALL, words) == ()


def test_several_complaints_suggest_several_symptoms() -> None:
    found = [id for id, _ in suggest_symptoms(SMALL, "it shakes at speed and creeps when the pedal is up")]
    assert set(found) == {"shakes", "creeps"}


def test_only_the_layouts_symptoms_if_asked() -> None:
    assert suggest_symptoms(SMALL, "creeps when the pedal is up", layout="gear") == ()


@given(st.text(max_size=80))
def test_any_text_gives_scores_in_order(text: str) -> None:
    found = suggest_symptoms(SMALL, text)
    assert all(id in SMALL.symptoms and 0 < score <= 1 for id, score in found)
    assert [score for _, score in found] == sorted((score for _, score in found), reverse=True)


@given(st.sampled_from(sorted(SMALL.symptoms)), st.data())
def test_a_wording_of_the_book_is_found_whole(symptom: str, data: st.DataObject) -> None:
    entry = SMALL.symptoms[symptom]
    wording = data.draw(st.sampled_from([entry.name, *entry.words]))
    assert dict(suggest_symptoms(SMALL, wording.upper()))[symptom] == 1
