"""What every note is to its chord, and what it does to the next strong note.

*Degree*: the note counted from the chord's root, as musicians name it: 1, b9, 9, b3, 3, 11, #11, 5, b13, 13, b7, 7; a
chord tone bears its name in the chord (b3 in a minor chord, where a dominant has #9; 6 in a sixth chord; bb7 in a
diminished seventh).

*Kind*: a chord tone; a scale tone, when it belongs to the scale of the moment; else outside. The scale of the moment
is the local key's, in which each chord tone replaces the note on its letter: over A7 in C major that is A B C# D E F
G, over Bb7 in C major Bb C D E F G Ab (common practice, no source). Without key it is the chord's named tensions.
Dominants hold more (common practice, no source):

- One that leads to minor also has b9, #9 and b13, the notes of the minor scales, natural and harmonic, of what it leads
  to: Bb, C and F over A7. It does where the next root is a fourth up and bears a minor chord, or where the chord a
  fourth up in the key's scale is minor (V/ii, V/iii, V/vi; in minor V, V/iv, V/v), wherever it goes.
- One that is written with an altered ninth, fifth or thirteenth (b9, #9, #5, b13; #11 alone alters nothing) has all of
  b9, #9, #11 and b13 that its own tones leave free.
- ``alt`` is the altered scale, 1 b9 #9 3 #11 b13 b7, and nothing of the key.

*Movement*, looked for in this order; a silence of a beat or more parts notes. Strong notes stand on the first beat, on
the middle beat of a bar of four or six, or where the chord changes:

=============== ================================================================================================
repeated        the pitch of the note before, struck again
anticipation    starts less than a beat before the chord changes, belongs to the next chord and not to this one
enclosure       two notes before a strong note, one above it and one below, both within a whole step
double approach two notes before a strong note, from the same side, the second a half-step away, the first one more
half-step below one note before a strong note, a half-step under it
half-step above the same from over it
step below      one note before a strong note, a whole step under it
step above      the same from over it
passing         a weak note between two others, by steps in one direction
neighbour       a weak note a step from a note that comes before and after it
=============== ================================================================================================
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final, Literal, Protocol

from corpus.harmony.modes import MODE_STEPS
from corpus.harmony.symbols import ChordSymbol, Family, is_alt
from corpus.model import Bar, Note, Transcription
from corpus.pitch import Key

Kind = Literal["chord tone", "scale tone", "outside"]
Movement = Literal[
    "repeated",
    "anticipation",
    "enclosure",
    "double approach",
    "half-step below",
    "half-step above",
    "step below",
    "step above",
    "passing",
    "neighbour",
]
APPROACHES: Final[frozenset[Movement]] = frozenset(
    ("enclosure", "double approach", "half-step below", "half-step above", "step below", "step above")
)
"""Movements that lead into a strong note."""

KINDS: Final[tuple[Kind, ...]] = ("chord tone", "scale tone", "outside")
_TENSION_NAMES: Final = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_LETTER_STEPS: Final = {0: 0, 1: 1, 2: 1, 3: 2, 4: 2, 5: 3, 6: 4, 7: 4, 8: 4, 9: 5, 10: 6, 11: 6}
"""Letter names above the root on which a chord tone so many semitones up stands in a chord."""


class Harmony(Protocol):
    """What roles need to know of a stretch of harmony; times in ticks of the played line."""

    @property
    def onset_ticks(self) -> int:
        """Where it begins."""

    @property
    def end_ticks(self) -> int:
        """Where it ends."""

    @property
    def symbol(self) -> ChordSymbol | None:
        """The chord, or None for no or an unreadable one."""

    @property
    def key(self) -> Key | None:
        """The local key, or None."""


@dataclass(frozen=True, slots=True)
class NoteRole:
    """A note against its chord: ``semitones`` above the root (0 to 11), its degree's name, kind and movement."""

    semitones: int
    degree: str
    kind: Kind
    movement: Movement | None = None


def degree_in(symbol: ChordSymbol, semitones: int) -> str:
    """The name of a note so many semitones above the root of a chord."""
    if semitones not in symbol.tones:
        if semitones == 3 and 4 not in symbol.tones:
            return "b3"
        return _TENSION_NAMES[semitones]
    names = {0: "1", 2: "9", 3: "b3", 4: "3", 5: "11", 6: "b5", 7: "5", 8: "#5", 9: "13", 10: "b7", 11: "7"}
    if semitones == 3 and 4 in symbol.tones:
        return "#9"
    if semitones in (2, 5) and not {3, 4} & set(symbol.tones):
        return {2: "2", 5: "4"}[semitones]
    if semitones == 6 and 7 in symbol.tones:
        return "#11"
    if semitones == 8 and 7 in symbol.tones:
        return "b13"
    if semitones == 9 and not {10, 11} & set(symbol.tones):
        return "bb7" if {3, 6} <= set(symbol.tones) else "6"
    return names.get(semitones, _TENSION_NAMES[semitones])


_TO_MINOR: Final = frozenset({1, 3, 8})
_ALTERED: Final = frozenset({1, 3, 6, 8})
_MINOR_FAMILIES: Final = frozenset({Family.MINOR, Family.MINOR_MAJOR, Family.HALF_DIMINISHED})


@lru_cache(maxsize=4096)
def scale_of_the_moment(symbol: ChordSymbol, key: Key | None, *, leads_to_minor: bool = False) -> frozenset[int]:
    """The pitch classes of the scale over a chord in a key; without key chord tones and tensions."""
    root = symbol.root
    assert root is not None
    chord = {root.pitch_class + tone for tone in symbol.tones}
    if symbol.family is Family.DOMINANT:
        tensions = _ALTERED.intersection(symbol.tensions)
        if is_alt(symbol):
            return frozenset(pitch % 12 for pitch in chord | {root.pitch_class + t for t in tensions})
        added = tensions if not (_ALTERED - {6}).isdisjoint(symbol.tones) else frozenset()
        if leads_to_minor:
            added |= _TO_MINOR.intersection(symbol.tensions)
        chord |= {root.pitch_class + tension for tension in added}
    if key is None or key.mode not in MODE_STEPS:
        return frozenset(pitch % 12 for pitch in chord | {root.pitch_class + t for t in symbol.tensions})
    tonic = key.tonic_spelling
    by_letter = {
        (tonic.letter + step) % 7: (tonic.pitch_class + semitones) % 12
        for step, semitones in enumerate(MODE_STEPS[key.mode])
    }
    replaced: set[int] = set()
    for tone in symbol.tones:
        letter = (root.letter + _letter_steps(symbol, tone)) % 7
        replaced.add(letter)
    kept = {pitch for letter, pitch in by_letter.items() if letter not in replaced}
    return frozenset(kept | {pitch % 12 for pitch in chord})


def _leads_to_minor(harmony: Sequence[Harmony], index: int) -> bool:
    """Whether a chord is a dominant that leads to minor, by the next chord or by its key."""
    span = harmony[index]
    symbol, key = span.symbol, span.key
    if symbol is None or symbol.root is None or symbol.family is not Family.DOMINANT:
        return False
    target = (symbol.root.pitch_class + 5) % 12
    for later in harmony[index + 1 :]:
        if later.symbol is None:
            break
        if later.symbol.root is not None and later.symbol.root.pitch_class != symbol.root.pitch_class:
            if later.symbol.root.pitch_class == target and later.symbol.family in _MINOR_FAMILIES:
                return True
            break
    if key is None or key.mode not in MODE_STEPS:
        return False
    degree, steps = (target - key.tonic_pitch_class) % 12, MODE_STEPS[key.mode]
    return degree in steps and (degree + 3) % 12 in steps


def _letter_steps(symbol: ChordSymbol, tone: int) -> int:
    if tone == 6 and 7 in symbol.tones:
        return 3
    if tone == 8 and 7 in symbol.tones:
        return 5
    if tone == 3 and 4 in symbol.tones:
        return 1
    if tone == 9 and {3, 6} <= set(symbol.tones) and not {10, 11} & set(symbol.tones):
        return 6
    return _LETTER_STEPS[tone]


def roles_of(transcription: Transcription, harmony: Sequence[Harmony]) -> tuple[NoteRole | None, ...]:
    """The role of every note; None for a dead note or where no chord is known.

    ``harmony`` are the chords in order of time, as ``analyse`` gives them. Cost: linear in notes.
    """
    if not any(span.symbol is not None and span.symbol.root is not None for span in harmony):
        return (None,) * len(transcription.notes)
    onsets = [span.onset_ticks for span in harmony]
    movements = _movements(transcription, harmony, onsets)
    scales: dict[int, frozenset[int]] = {}
    roles: list[NoteRole | None] = []
    for note, movement in zip(transcription.notes, movements, strict=True):
        index = bisect_right(onsets, note.onset_ticks) - 1
        symbol = harmony[index].symbol if index >= 0 and note.onset_ticks < harmony[index].end_ticks else None
        if note.pitch is None or symbol is None or symbol.root is None:
            roles.append(None)
            continue
        semitones = (note.pitch - symbol.root.pitch_class) % 12
        kind: Kind = "chord tone"
        if semitones not in symbol.tones:
            if index not in scales:
                leads_to_minor = _leads_to_minor(harmony, index)
                scales[index] = scale_of_the_moment(symbol, harmony[index].key, leads_to_minor=leads_to_minor)
            kind = "scale tone" if note.pitch % 12 in scales[index] else "outside"
        roles.append(NoteRole(semitones, degree_in(symbol, semitones), kind, movement))
    return tuple(roles)


def _is_strong(note: Note, bar: Bar, chord_onsets: frozenset[int]) -> bool:
    if note.onset_ticks in chord_onsets:
        return True
    # Whole ticks: a fraction for every note would cost more than all the rest.
    in_bar = note.onset_ticks - bar.onset_ticks + bar.padding_ticks
    beats = bar.meter.numerator
    return in_bar == 0 or (beats in (4, 6, 12) and in_bar == beats // 2 * bar.meter.beat_ticks)


def _movements(
    transcription: Transcription, harmony: Sequence[Harmony], onsets: Sequence[int]
) -> list[Movement | None]:
    notes, bars = transcription.notes, transcription.bars
    chord_onsets = frozenset(onsets)
    strong = [_is_strong(note, bars[note.bar_index], chord_onsets) for note in notes]
    joined = [
        after.onset_ticks - before.end_ticks < bars[before.bar_index].meter.beat_ticks
        for before, after in pairwise(notes)
    ]
    return [
        None
        if note.pitch is None
        else _repeated(notes, joined, i)
        or _anticipation(note, bars[note.bar_index], harmony, onsets)
        or _into_strong(notes, strong, joined, i)
        or _between(notes, strong, joined, i)
        for i, note in enumerate(notes)
    ]


def _repeated(notes: Sequence[Note], joined: Sequence[bool], index: int) -> Movement | None:
    return "repeated" if index and joined[index - 1] and notes[index - 1].pitch == notes[index].pitch else None


def _anticipation(note: Note, bar: Bar, harmony: Sequence[Harmony], onsets: Sequence[int]) -> Movement | None:
    index = bisect_right(onsets, note.onset_ticks) - 1
    if index < 0 or index + 1 >= len(harmony) or note.pitch is None:
        return None
    now, following = harmony[index].symbol, harmony[index + 1].symbol
    is_close = onsets[index + 1] - note.onset_ticks < bar.meter.beat_ticks
    if not is_close or now is None or following is None or now.root is None or following.root is None:
        return None
    belongs = [(note.pitch - root.pitch_class) % 12 in symbol.tones for root, symbol in
               ((now.root, now), (following.root, following))]  # fmt: skip
    return "anticipation" if belongs == [False, True] else None


def _into_strong(notes: Sequence[Note], strong: Sequence[bool], joined: Sequence[bool], index: int) -> Movement | None:
    """Enclosures, double and single approaches of the strong note that follows one or two notes later."""
    if strong[index]:
        return None
    here = notes[index].pitch
    assert here is not None
    for first in (index, index - 1):
        target_index = first + 2
        if first < 0 or target_index >= len(notes) or not strong[target_index] or strong[first] or strong[first + 1]:
            continue
        one, two, target = (note.pitch for note in notes[first : target_index + 1])
        if one is None or two is None or target is None or not (joined[first] and joined[first + 1]):
            continue
        far, near = one - target, two - target
        if far * near < 0 and max(abs(far), abs(near)) <= 2:
            return "enclosure"
        if abs(near) == 1 and far == 2 * near:
            return "double approach"
    if index + 1 >= len(notes) or not joined[index] or not strong[index + 1]:
        return None
    target = notes[index + 1].pitch
    names: dict[int, Movement] = {-1: "half-step below", 1: "half-step above", -2: "step below", 2: "step above"}
    return None if target is None else names.get(here - target)


def _between(notes: Sequence[Note], strong: Sequence[bool], joined: Sequence[bool], index: int) -> Movement | None:
    if strong[index] or not 0 < index < len(notes) - 1 or not (joined[index - 1] and joined[index]):
        return None
    before, here, after = (note.pitch for note in notes[index - 1 : index + 2])
    if before is None or here is None or after is None:
        return None
    into, out = here - before, after - here
    if not (1 <= abs(into) <= 2 and 1 <= abs(out) <= 2):
        return None
    if into * out > 0:
        return "passing"
    return "neighbour" if before == after else None
