"""The words of the trouble book and the numbers behind them: two fixed scales and a few documented settings.

The numbers are common practice without a published source; what matters is that everybody who writes in the book
means the same by the same word.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

#: How often a cause shows something, and how often it is seen with no listed cause that shows it (`otherwise`).
FREQUENCY: dict[str, float] = {
    "almost always": 0.95,
    "usually": 0.80,
    "often": 0.65,
    "half the time": 0.50,
    "sometimes": 0.30,
    "seldom": 0.15,
    "rarely": 0.07,
    "almost never": 0.03,
}

#: How common a cause is, as prior odds. They are small so that two faults at once stay the exception they are:
#: the odds of a pair are the product of its two. A word is about 2.5 times the next.
WEIGHT: dict[str, float] = {
    "everyday": 0.0160,
    "common": 0.0065,
    "now and then": 0.0026,
    "uncommon": 0.0010,
    "rare": 0.0004,
}

#: Prior odds of "none of these" on the same scale: a fault the book does not list, seen only through `otherwise`.
NONE_ODDS = 0.05

#: How often a named shared cause of error (cold oil) spoils every check that carries its name.
SHARED_ERROR = 0.10

#: Minutes lost beyond the repair itself when the trouble has to be handed to somebody who will surely find it.
ESCALATION_MINUTES = 240.0

#: Share of readings that are simply wrong (misread, mistyped), and the span of ratios to the limit they fall in.
READING_SLIP, READING_SPAN = 0.03, 4.0


def nearest_word(scale: Mapping[str, float], value: float) -> str:
    """The word of the scale whose number is nearest, in odds, to this one, above 0 and below 1.

    >>> nearest_word(FREQUENCY, 0.82), nearest_word(WEIGHT, 0.002)
    ('usually', 'now and then')
    """
    odds = math.log(value / (1.0 - value))
    return min(scale, key=lambda word: abs(math.log(scale[word] / (1.0 - scale[word])) - odds))
