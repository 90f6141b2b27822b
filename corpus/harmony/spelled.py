"""Which chord do these notes spell? A probability for each of 132 chords, from the notes alone.

The model is a naive Bayes classifier over weighted notes, of the kind described in D. Temperley, *Music and
Probability* (2007), for pitch classes given a harmony (from memory): every chord says how likely each of the twelve
pitch classes is, and a chord's score is the sum of the logarithms, each times the weight of its note. A chord with few
tones gives each of them more, so that a seventh is not heard where none is played; this does the work of the penalty
for missing tones in template matching (Pardo & Birmingham, "Algorithms for Chordal Analysis", *Computer Music Journal*
26(2), 2002; from memory).

How much a note weighs is the caller's business (``corpus.harmony.evidence``): a passing note on a weak beat little, a
long note on the first beat much. A note that may be expected to be the root (the first one in the bass) is read with a
table of its own.

The probabilities of the tables are set by hand and checked on the tuned half of the analysts' chords
(``tests/bench/implied.py``), which reports how often the answer is right by how sure it says it is.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import exp, log
from typing import Final, NamedTuple

QUALITIES: Final = {
    # Semitones above the root, and the logarithm of how common the quality is before a note is heard.
    "": ((0, 4, 7), 0.0),
    "m": ((0, 3, 7), 0.0),
    "7": ((0, 4, 7, 10), -0.1),
    "m7": ((0, 3, 7, 10), -0.4),
    "maj7": ((0, 4, 7, 11), -0.8),
    "6": ((0, 4, 7, 9), -1.2),
    "m6": ((0, 3, 7, 9), -1.6),
    "dim": ((0, 3, 6), -1.0),
    "m7b5": ((0, 3, 6, 10), -1.0),
    "dim7": ((0, 3, 6, 9), -1.2),
    "+": ((0, 4, 8), -2.5),
}
_TONE_SHARES: Final = {3: (0.34, 0.30, 0.22), 4: (0.29, 0.25, 0.16, 0.16)}
"""Probability of root, third, fifth and seventh among the notes over a chord of three or four tones."""
_ROOT_SHARES: Final = {3: (0.62, 0.19, 0.09), 4: (0.56, 0.17, 0.07, 0.07)}
"""The same for a note that is expected to be the root."""


class Heard(NamedTuple):
    """A note as evidence: its pitch class, its weight (1 = a plain note), and whether a root is expected here."""

    pitch_class: int
    weight: float
    is_root_place: bool = False


class Spelled(NamedTuple):
    """A chord and the probability that the notes spell it. ``root`` is a pitch class, ``suffix`` a quality's."""

    root: int
    suffix: str
    probability: float

    @property
    def tones(self) -> frozenset[int]:
        """Pitch classes of the chord."""
        return _tones(self.root, self.suffix)

    @property
    def has_minor_third(self) -> bool:
        """Whether the third above the root is minor."""
        return QUALITIES[self.suffix][0][1] == 3


@lru_cache(maxsize=256)
def _tones(root: int, suffix: str) -> frozenset[int]:
    return frozenset((root + tone) % 12 for tone in QUALITIES[suffix][0])


@lru_cache(maxsize=256)
def likelihoods(tones: tuple[int, ...], tensions: tuple[int, ...] = ()) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Log probabilities of the twelve degrees over a chord: anywhere, and where a root is expected.

    ``tones`` are semitones above the root in the order root, third, fifth, others; tensions are twice as likely as the
    notes outside. A chord of other than three or four tones shares evenly.
    """
    tables = []
    for shares in (_TONE_SHARES, _ROOT_SHARES):
        even = tuple(0.84 / len(tones) for _ in tones)
        chances = dict(zip(tones, shares.get(len(tones), even), strict=True))
        rest = 1 - sum(chances.values())
        parts = {degree: 2.0 if degree in tensions else 1.0 for degree in range(12) if degree not in chances}
        whole = sum(parts.values())
        tables.append(tuple(log(chances.get(d) or rest * parts[d] / whole) for d in range(12)))
    return tables[0], tables[1]


def score(notes: Sequence[Heard], root: int, tones: tuple[int, ...], tensions: tuple[int, ...] = ()) -> float:
    """The log likelihood of the notes over a chord, each weighted."""
    anywhere, at_root = likelihoods(tones, tensions)
    return sum(
        note.weight * (at_root if note.is_root_place else anywhere)[(note.pitch_class - root) % 12] for note in notes
    )


class _Table(NamedTuple):
    """A chord with the log probability of each pitch class, anywhere and where a root is expected."""

    root: int
    suffix: str
    prior: float
    anywhere: tuple[float, ...]
    at_root: tuple[float, ...]


@lru_cache(maxsize=1)
def _tables() -> tuple[_Table, ...]:
    found = []
    for suffix, (tones, prior) in QUALITIES.items():
        anywhere, at_root = likelihoods(tones)
        for root in range(12):
            turned = [tuple(table[(pitch - root) % 12] for pitch in range(12)) for table in (anywhere, at_root)]
            found.append(_Table(root, suffix, prior, turned[0], turned[1]))
    return tuple(found)


def spell(notes: Sequence[Heard]) -> list[Spelled]:
    """All chords that the notes may spell, the likeliest first; probabilities add up to 1. Empty for no notes."""
    if not notes:
        return []
    weights: dict[int, float] = {}
    for note in notes:
        if not note.is_root_place:
            weights[note.pitch_class] = weights.get(note.pitch_class, 0.0) + note.weight
    plain, at_root = list(weights.items()), [(n.pitch_class, n.weight) for n in notes if n.is_root_place]
    scored = []
    for table in _tables():
        value = table.prior
        for pitch_class, weight in plain:
            value += weight * table.anywhere[pitch_class]
        for pitch_class, weight in at_root:
            value += weight * table.at_root[pitch_class]
        scored.append((-value, table.root, table.suffix))
    scored.sort()
    best = scored[0][0]
    whole = sum(exp(best - value) for value, _, _ in scored)
    return [Spelled(root, suffix, exp(best - value) / whole) for value, root, suffix in scored]
