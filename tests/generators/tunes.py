"""Charts of tunes that belong to nobody, for big generated corpora: common progressions in many keys.

The progressions are common practice: twelve-bar blues in major and minor, I–VI–ii–V in AABA, ii–V–I chains, a cycle of
dominants, a minor AABA, two chords a half-step apart for eight bars each, a sixteen-bar form. A tune is one of them in
a key, with some bars exchanged for their usual substitutes.
"""

import random
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from tests.generators.walking import PROGRESSIONS, Progression

TUNES: Final = 240
_KEYS: Final = ("C", "F", "Bb", "Eb", "Ab", "G", "Db", "D")
_KEY_WEIGHTS: Final = (4, 6, 6, 5, 3, 3, 1, 2)

_MINOR_A = "1:m6 | 2:m7b5 5:7 | 1:m6 | 5:m7b5 1:7 | 4:m7 | 2:m7b5 5:7 | 1:m6 b6:7 | 2:m7b5 5:7"
_BACK_HOME = "4:m7 | b7:7 | b3:maj7 | b6:7 | 4:m7 | b7:7 | 2:m7b5 | 5:7"
_FIRST = "1:maj7 | 3:m7 b3:dim7 | 2:m7 | 5:7 | 1:maj7 | 5:m7 1:7 | 4:maj7 | 4:m6"
_SECOND = "3:m7 | 6:7 | 2:m7 | 5:7 | 3:m7b5 | 6:7 | 2:m7 | 5:7"
_HOME = "3:m7 | 6:7 | 2:m7 | 5:7 | 1:6 6:7 | 2:m7 5:7 | 1:6 | 2:m7 5:7"
_ONE_CHORD = "2:m7 | 2:m7 | 2:m7 | 2:m7 | 2:m7 | 2:m7 | 2:m7 | 2:m7"
_HALF_STEP_UP = _ONE_CHORD.replace("2:", "b3:")

_MINOR: Final = ("minor aaba", "minor blues")
_FORMS: Final = (
    *PROGRESSIONS,
    Progression(
        "minor blues",
        "Blues12",
        "1:m7 | 1:m7 | 1:m7 | 5:m7b5 1:7 | 4:m7 | 4:m7 | 1:m7 | 1:m7 | b6:7 | 5:7 | 1:m7 b6:7 | 2:m7b5 5:7",
    ),
    Progression("minor aaba", "A8 A8 B8 A8", f"{_MINOR_A} | {_MINOR_A} | {_BACK_HOME} | {_MINOR_A}"),
    Progression("abac", "A8 B8 A8 C8", f"{_FIRST} | {_SECOND} | {_FIRST} | {_HOME}"),
    Progression("one chord", "A8 A8 B8 A8", f"{_ONE_CHORD} | {_ONE_CHORD} | {_HALF_STEP_UP} | {_ONE_CHORD}"),
    Progression(
        "cycle",
        "A8 B8",
        "1:6 | b5:m7 7:7 | 3:m7 6:7 | 2:m7 5:7 | 1:6 | 7:m7b5 3:7 | 6:m7 2:7 | 2:m7 5:7 |"
        "3:7 | 6:7 | 2:7 | 5:7 | 1:6 4:7 | 3:m7 6:7 | 2:m7 5:7 | 1:6",
    ),
)
_FORM_WEIGHTS: Final = (5, 6, 5, 3, 2, 3, 1, 3)
_SUBSTITUTES: Final = (
    ("2:m7 5:7", ("2:m7 b2:7", "b6:m7 b2:7", "6:7 5:7", "2:7 5:7")),
    ("1:6 6:7", ("1:6 b3:dim7", "3:m7 6:7", "1:6 b3:7", "3:m7 b3:dim7")),
    ("3:m7 6:7", ("3:m7 b3:7", "1:6 6:7", "3:7 6:7")),
    ("2:m7b5 5:7", ("b6:7 5:7", "2:m7b5 b2:7")),
)
_SUBSTITUTED: Final = 0.25


@dataclass(frozen=True, slots=True)
class Tune:
    """A title, a chart, the key it is played in, and how fast."""

    title: str
    progression: Progression
    tonic: str
    mode: str
    tempo_bpm: int


@lru_cache(maxsize=TUNES)
def tune(number: int) -> Tune:
    """One tune out of ``TUNES``; the same number gives the same one."""
    source = random.Random(f"tune {number}")
    form = source.choices(_FORMS, _FORM_WEIGHTS)[0]
    bars = [_substituted(bar.strip(), source) for bar in form.bars.split("|")]
    return Tune(
        f"Tune {number + 1}",
        replace(form, bars=" | ".join(bars)),
        source.choices(_KEYS, _KEY_WEIGHTS)[0],
        "minor" if form.name in _MINOR else "major",
        source.randrange(88, 280, 4),
    )


def _substituted(bar: str, source: random.Random) -> str:
    for usual, others in _SUBSTITUTES:
        if bar == usual and source.random() < _SUBSTITUTED:
            return source.choice(others)
    return bar
