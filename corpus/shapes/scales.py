"""Which scale a run belongs to.

Looked for in this order: the major scales (named by their mode from the chord's root, with the parent major scale);
the harmonic minor, melodic (ascending) minor, whole-tone and diminished scales; a major scale with one chromatic
passing note. Of several that hold the run, the one that holds more of the chord's tones is taken, then the earlier
kind, then the one nearest to the local key on the circle of fifths (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final

from corpus.harmony.modes import MODE_STEPS
from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch, default_spelling, parse_spelling
from corpus.shapes.strokes import Region

_MAJOR: Final = MODE_STEPS["major"]
_MODES: Final = ("major", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
"""Modes by the degree of the major scale that they begin on."""

_OTHERS: Final = {
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
    "whole-tone": (0, 2, 4, 6, 8, 10),
    "diminished scale": (0, 2, 3, 5, 6, 8, 9, 11),
}
_ROOTLESS: Final = ("whole-tone", "diminished scale")


@dataclass(frozen=True, slots=True)
class ScaleName:
    """A scale: its root (None for the scales that repeat within the octave) and name; its parent major scale.

    ``passing`` is the one note of the run that the scale does not hold.
    """

    root: SpelledPitch | None
    scale: str
    parent: SpelledPitch | None = None
    passing: SpelledPitch | None = None

    @property
    def text(self) -> str:
        """The scale's name: ``D dorian``."""
        return self.scale if self.root is None else f"{self.root} {self.scale}"


def name_scale(notes: Sequence[SpelledPitch], chord: Region | None, key: Key | None) -> ScaleName | None:
    """The scale of a run of notes in order, or None when no scale holds them all."""
    run = frozenset(note.pitch_class for note in notes)
    gap = _augmented_second(notes)
    if gap is not None:
        return _harmonic_minor(run, gap, notes, key)
    parents = [tonic for tonic in range(12) if run <= _from(tonic, _MAJOR)]
    if parents:
        return _mode(_best(parents, notes, chord, key), notes, chord, key, None)
    others = [
        (scale, tonic, steps) for scale, steps in _OTHERS.items() for tonic in range(12) if run <= _from(tonic, steps)
    ]
    if others:
        order = list(_OTHERS)
        scale, tonic, _ = min(
            others, key=lambda found: _cost(found[1], found[2], order.index(found[0]), notes, chord, key)
        )
        return ScaleName(None if scale in _ROOTLESS else _spelled(tonic, notes, key), scale)
    return _with_passing_note(notes, chord, key)


def _augmented_second(notes: Sequence[SpelledPitch]) -> frozenset[int] | None:
    """The two notes of the first step of three semitones in a run, None when there is none."""
    for one, other in pairwise(notes):
        if (other.pitch_class - one.pitch_class) % 12 in (3, 9):
            return frozenset((one.pitch_class, other.pitch_class))
    return None


def _harmonic_minor(
    run: frozenset[int], gap: frozenset[int], notes: Sequence[SpelledPitch], key: Key | None
) -> ScaleName | None:
    """The harmonic minor scale whose sixth and seventh are the notes of a gap, if it holds the run."""
    for tonic in range(12):
        if gap == {(tonic + 8) % 12, (tonic + 11) % 12} and run <= _from(tonic, _OTHERS["harmonic minor"]):
            return ScaleName(_spelled(tonic, notes, key), "harmonic minor")
    return None


def _with_passing_note(notes: Sequence[SpelledPitch], chord: Region | None, key: Key | None) -> ScaleName | None:
    """A major scale that holds the chord, and one note more, between two notes of the scale a whole step apart."""
    tones = frozenset() if chord is None else chord.symbol.pitch_classes
    found = []
    for index in range(1, len(notes) - 1):
        others = [note for place, note in enumerate(notes) if place != index]
        run = frozenset(note.pitch_class for note in others)
        around = (notes[index + 1].pitch_class - notes[index - 1].pitch_class) % 12
        if around in (2, 10) and notes[index].pitch_class not in run:
            found += [(tonic, index) for tonic in range(12) if run | tones <= _from(tonic, _MAJOR)]
    if not found:
        return None
    tonic = _best([tonic for tonic, _ in found], notes, chord, key)
    index = next(index for place, index in found if place == tonic)
    return _mode(tonic, notes, chord, key, notes[index])


@cache
def _from(tonic: int, steps: tuple[int, ...]) -> frozenset[int]:
    return frozenset((tonic + step) % 12 for step in steps)


def _cost(
    tonic: int, steps: Sequence[int], rank: int, notes: Sequence[SpelledPitch], chord: Region | None, key: Key | None
) -> tuple[int, int, int, int]:
    """How badly a scale agrees with chord and key; without both, how far it is from the first note's."""
    tones = frozenset() if chord is None else chord.symbol.pitch_classes
    home = notes[0].pitch_class
    if key is not None:
        home = _parent_of(key) if steps is _MAJOR else key.tonic_pitch_class
    fifths = 7 * (tonic - home) % 12
    return len(tones - _from(tonic, steps)), rank, min(fifths, 12 - fifths), fifths


def _best(tonics: Sequence[int], notes: Sequence[SpelledPitch], chord: Region | None, key: Key | None) -> int:
    """The tonic of the major scale that agrees best."""
    return min(tonics, key=lambda tonic: _cost(tonic, _MAJOR, 0, notes, chord, key))


def _parent_of(key: Key) -> int:
    """The tonic of the major scale with the notes of a key."""
    steps = MODE_STEPS.get(key.mode, _MAJOR)
    wanted = _from(key.tonic_pitch_class, steps)
    return next(tonic for tonic in range(12) if _from(tonic, _MAJOR) == wanted)


def _mode(
    parent: int, notes: Sequence[SpelledPitch], chord: Region | None, key: Key | None, passing: SpelledPitch | None
) -> ScaleName:
    """A major scale as the mode on the chord's root, else on the key's tonic, else as itself."""
    scale = _from(parent, _MAJOR)
    roots = [] if chord is None else [chord.root]
    if key is not None and _parent_of(key) == parent:
        roots.append(key.tonic_spelling)
    root = next((root for root in roots if root.pitch_class in scale), None)
    if root is None:
        tonic = _spelled(parent, notes, key)
        return ScaleName(tonic, "major", tonic, passing)
    degree = _MAJOR.index((root.pitch_class - parent) % 12)
    letter = (root.letter - degree) % 7
    alteration = (parent - LETTER_SEMITONES[letter] + 6) % 12 - 6
    spelled = SpelledPitch(letter, alteration, None) if abs(alteration) <= 1 else _spelled(parent, notes, key)
    return ScaleName(root, _MODES[degree], spelled, passing)


def _spelled(pitch_class: int, notes: Sequence[SpelledPitch], key: Key | None) -> SpelledPitch:
    """A pitch class as the line or the key spells it, else as usual."""
    names = [*notes, *([key.tonic_spelling] if key is not None else [])]
    usual = parse_spelling(default_spelling(60 + pitch_class))
    return next(
        (name for name in names if name.pitch_class == pitch_class), SpelledPitch(usual.letter, usual.alteration, None)
    )
