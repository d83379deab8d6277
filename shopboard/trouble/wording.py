"""From a customer's sentence to the symptoms it may mean: suggested, never chosen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from .book import Book, Symptom

#: Words that carry no complaint; they are not needed for a match.
_SMALL = frozenset(
    """a an the it its is are was be been has have had i my we our you they and or but when if then so to of in on at
    with for from by as that this there just really very bit some now again all any get gets got does do""".split()  # noqa: SIM905
)
#: Greetings are no complaint, though the morning may be one.
_GREETING = re.compile(r"\bgood (morning|day|afternoon|evening)\b")
#: A score below this is not worth suggesting.
_LEAST = 0.45
#: How alike (0 to 100) two words must be to be one word misspelt; short words hardly can be.
_ALIKE = 76.0
#: How alike a run of words must be to a whole wording, and each word to its own, to be that wording with every word
#: misspelt.
_ALIKE_WHOLE, _ALIKE_EACH = 78.0, 60.0


def suggest_symptoms(book: Book, words: str, *, layout: str | None = None) -> tuple[tuple[str, float], ...]:
    """Symptoms that a sentence in everyday words may mean, as (id, score from 0 to 1), the best first.

    Spelling mistakes are forgiven; a "not" before or after a wording is not read. Nothing is chosen: whoever listens
    ticks. With `layout`, only symptoms of it.
    """
    said, rarity = _words(words), _rarity(book)
    if not said:
        return ()
    here = [symptom for symptom in book.symptoms.values() if layout is None or layout in symptom.layouts]
    found = _worth([(symptom.id, _match(said, symptom, rarity)) for symptom in here])
    # Only where no word is recognised by itself: every word may be misspelt
    return found or _worth([(symptom.id, _as_a_whole(said, symptom)) for symptom in here])


def _worth(scores: list[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Those worth suggesting, the best first."""
    found = [(id, round(score, 3)) for id, score in scores if score >= _LEAST]
    return tuple(sorted(found, key=lambda f: (-f[1], f[0])))


def _match(said: tuple[str, ...], symptom: Symptom, rarity: dict[str, float]) -> float:
    """The better of two: how much of one wording was said, and how many telling words of all wordings were."""
    wordings = [_words(wording) for wording in _wordings(symptom)]
    whole = max(_score(said, wording, rarity) for wording in wordings)
    telling = {word for wording in wordings for word in wording} - _SMALL
    missing = 1.0
    for word in dict.fromkeys(said):
        missing *= 1.0 - 0.5 * max((rarity[other] * _alike(word, other) for other in telling), default=0.0)
    return max(whole, 1.0 - missing)


def _wordings(symptom: Symptom) -> Iterator[str]:
    yield symptom.name
    yield from symptom.words


# A sentence is looked at anew at every key typed, against the same few hundred words of the book
@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    plain = _GREETING.sub(" ", text.casefold().replace("'", "").replace("’", ""))
    return tuple(re.findall(r"[^\W_]+", plain))


def _rarity(book: Book) -> dict[str, float]:
    """How much a word of the book's wordings tells: much if few symptoms use it."""
    if "rarity" not in book.compiled:
        used: dict[str, set[str]] = {}
        for symptom in book.symptoms.values():
            for wording in _wordings(symptom):
                for word in _words(wording):
                    used.setdefault(word, set()).add(symptom.id)
        book.compiled["rarity"] = {
            word: (0.15 if word in _SMALL else 1.0) / len(symptoms) ** 0.5 for word, symptoms in used.items()
        }
    found: dict[str, float] = book.compiled["rarity"]
    return found


def _score(said: tuple[str, ...], wording: tuple[str, ...], rarity: dict[str, float]) -> float:
    """The share of the wording's weight that the sentence has, a misspelt word counting a little less."""
    total = sum(rarity[word] for word in wording)
    found = sum(rarity[word] * max(_alike(word, other) for other in said) for word in wording)
    return found / total if total else 0.0


def _as_a_whole(said: tuple[str, ...], symptom: Symptom) -> float:
    """How alike the best run of words is to one wording as a whole, or to a part of the symptom's name that tells; 0
    if no run is nearly one."""
    targets = {words for wording in _wordings(symptom) if len(words := _words(wording)) > 1}
    name = _words(symptom.name)
    targets |= {name[at : at + many] for many in (2, 3) for at in range(len(name) - many + 1)}
    telling = [target for target in targets if len(set(target) - _SMALL) > 1]
    runs = ((said[at : at + len(t)], t) for t in telling for at in range(len(said) - len(t) + 1))
    return max((_run_alike(run, target) for run, target in runs), default=0.0)


def _run_alike(run: tuple[str, ...], wording: tuple[str, ...]) -> float:
    if any(_letters_alike(*pair) < _ALIKE_EACH for pair in zip(run, wording, strict=True)):
        return 0.0
    alike = _letters_alike(" ".join(run), " ".join(wording))
    return alike / 100 if alike >= _ALIKE_WHOLE else 0.0


def _letters_alike(one: str, other: str) -> float:
    """From 0 to 100: by the letters they share in order, or, if better, by slips of the finger between them."""
    from rapidfuzz import fuzz  # only here: nobody else needs it loaded
    from rapidfuzz.distance import OSA

    return max(float(fuzz.ratio(one, other)), 100.0 * OSA.normalized_similarity(one, other))


@lru_cache(maxsize=65536)
def _alike(word: str, other: str) -> float:
    """1 for the same word, less for one misspelt or inflected, 0 for another word."""
    from rapidfuzz import fuzz  # only here: nobody else needs it loaded

    if word == other:
        return 1.0
    if min(len(word), len(other)) <= 3:
        return 0.0
    if _stem(word) == _stem(other):
        return 0.95
    ratio = float(fuzz.ratio(word, other))
    return ratio / 100 if ratio >= _ALIKE else 0.0


@lru_cache(maxsize=8192)
def _stem(word: str) -> str:
    """The word without the common endings, a doubled last letter made one: whines, whining and whinning are one."""
    stem = re.sub(r"(?<=...)(ing|ed|es|s|e)$", "", word)
    return re.sub(r"(.)\1$", r"\1", stem)
