"""What is asked for: a figure from typed notes, intervals, steps, a contour, or a passage of a transcription.

A figure knows only what its way of asking tells: intervals have no place on the keyboard, steps no semitones, a
contour neither. ``pitches`` are absolute MIDI numbers only when ``is_absolute``; ``positions`` are staff positions.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from corpus.errors import QueryError
from corpus.model import Meter, Transcription
from corpus.pitch import LETTER_SEMITONES, parse_spelling

if TYPE_CHECKING:
    from corpus.harmony.role_symbols import RoleChoice

LONGEST_FIGURE_NOTES = 500


@dataclass(frozen=True, slots=True)
class Folds:
    """Differences that a search ignores: octaves (displacement), doubles (immediate repeats), mode (major or minor)."""

    octaves: bool = False
    doubles: bool = False
    mode: bool = False

    @classmethod
    def parse(cls, text: str) -> "Folds":
        """Read a list such as ``octaves,doubles``. Raises QueryError for an unknown word."""
        words = [word for word in re.split(r"[,\s]+", text.strip().lower()) if word]
        for word in words:
            if word not in cls.__dataclass_fields__:
                raise QueryError(f"cannot ignore {word!r}: choose from octaves, doubles, mode")
        return cls(**dict.fromkeys(words, True))


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of ``len(figure)`` notes.

    ``pitches`` or ``positions`` is None where the way of asking does not tell. ``octave_known`` says for each note
    whether its octave counts. ``contour`` is set for a figure that is only a contour (one symbol less than notes).
    ``onsets`` are ticks, for a figure that has rhythm; ``beat`` and ``meter`` say where in which bar it begins. A
    figure of roles or degrees has nothing but ``choices``: for each note the symbols of that ``reading`` that will do,
    in ``approaches`` the notes that must be approaches, and in ``roles`` for each note the symbols of the role reading
    that will do beside a degree, empty for any.
    """

    text: str
    pitches: tuple[int, ...] | None = None
    positions: tuple[int, ...] | None = None
    octave_known: tuple[bool, ...] = ()
    contour: str | None = None
    onsets: tuple[int, ...] | None = None
    beat: Fraction | None = None
    meter: Meter | None = None
    is_absolute: bool = False
    reading: Literal["role", "degree"] | None = None
    choices: tuple[str, ...] = ()
    approaches: tuple[int, ...] = ()
    roles: tuple[str, ...] = ()

    def __len__(self) -> int:
        if self.reading is not None:
            return len(self.choices)
        if self.contour is not None:
            return len(self.contour) + 1
        return len(self.octave_known)

    def run_starts(self) -> list[int]:
        """Indexes of the notes that are no immediate repeat of the one before.

        A step of 0 counts as a repeat in a figure that is only steps. Roles and degrees stand for notes that differ.
        """
        if self.reading is not None:
            return list(range(len(self.choices)))
        if self.contour is not None:
            return [0, *(i + 1 for i, symbol in enumerate(self.contour) if symbol != "r")]
        return [i for i in range(len(self)) if i == 0 or not self._repeats(i)]

    def _repeats(self, index: int) -> bool:
        if self.pitches is None:
            assert self.positions is not None
            return self.positions[index] == self.positions[index - 1]
        if self.octave_known[index] and self.octave_known[index - 1]:
            return self.pitches[index] == self.pitches[index - 1]
        return (self.pitches[index] - self.pitches[index - 1]) % 12 == 0

    def without_doubles(self) -> "Figure":
        """The figure with each run of immediate repeats as one note."""
        if self.reading is not None:
            return self
        kept = self.run_starts()
        return Figure(
            text=self.text,
            pitches=None if self.pitches is None else tuple(self.pitches[i] for i in kept),
            positions=None if self.positions is None else tuple(self.positions[i] for i in kept),
            octave_known=tuple(self.octave_known[i] for i in kept) if self.octave_known else (),
            contour=None if self.contour is None else self.contour.replace("r", ""),
            onsets=None if self.onsets is None else tuple(self.onsets[i] for i in kept),
            is_absolute=self.is_absolute,
        )


def _checked(figure: Figure) -> Figure:
    if len(figure) < 2:
        raise QueryError(f"a figure needs at least two notes; {figure.text!r} has {len(figure)}")
    if len(figure) > LONGEST_FIGURE_NOTES:
        raise QueryError(f"a figure of {len(figure)} notes is too long: at most {LONGEST_FIGURE_NOTES} notes")
    return figure


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[\s,|]+", text.strip()) if word]


def figure_from_notes(text: str) -> Figure:
    """A figure from note names such as ``Bb2 D3 Eb3 E3``; a name without octave fits in any octave.

    Raises QueryError for an unknown name or fewer than two notes.
    """
    spelled = [parse_spelling(word) for word in _words(text)]
    return _checked(
        Figure(
            text=" ".join(str(note) for note in spelled),
            pitches=tuple(
                60 + LETTER_SEMITONES[note.letter] + note.alteration if note.pitch is None else note.pitch
                for note in spelled
            ),
            positions=tuple(note.staff_position for note in spelled),
            octave_known=tuple(note.octave is not None for note in spelled),
            is_absolute=True,
        )
    )


def _signed_numbers(text: str, what: str, widest: int) -> list[int]:
    numbers: list[int] = []
    # Signs part numbers too: +4+1 is two intervals.
    for word in _words(re.sub(r"(?<=\d)(?=[+-])", " ", text.replace("−", "-").replace("–", "-"))):
        if not re.fullmatch(r"[+-]?\d{1,3}", word):
            raise QueryError(f"{word!r} is no {what}: write whole numbers with a sign, as in '+4 +1 -2'")
        numbers.append(int(word))
        if abs(numbers[-1]) > widest:
            raise QueryError(f"{what} {word} is wider than {widest}")
    return numbers


def _heights(sizes: Sequence[int]) -> tuple[int, ...]:
    heights = [0]
    for size in sizes:
        heights.append(heights[-1] + size)
    return tuple(heights)


def figure_from_intervals(text: str) -> Figure:
    """A figure from semitones between neighbours, such as ``+4 +1 +1``. Raises QueryError for anything else."""
    sizes = _signed_numbers(text, "interval in semitones", 60)
    heights = _heights(sizes)
    words = " ".join(f"{size:+d}" for size in sizes)
    return _checked(Figure(text=words, pitches=heights, octave_known=(True,) * len(heights)))


def figure_from_steps(text: str) -> Figure:
    """A figure from letter names between neighbours (a third is +2), such as ``+2 +1 0``. Raises QueryError."""
    sizes = _signed_numbers(text, "step", 35)
    heights = _heights(sizes)
    words = " ".join(f"{size:+d}" for size in sizes)
    return _checked(Figure(text=words, positions=heights, octave_known=(True,) * len(heights)))


def figure_from_contour(text: str) -> Figure:
    """A figure from a contour code such as ``*uudr`` (up, down, repeat; the star of the first note may be left out).

    Raises QueryError for any other letter.
    """
    code = "".join(text.lower().split()).removeprefix("*")
    wrong = sorted(set(code) - set("udr"))
    if wrong:
        raise QueryError(f"contour {text!r} contains {wrong[0]!r}: write u (up), d (down) and r (repeat)")
    return _checked(Figure(text=f"*{code}", contour=code))


def _figure_of_choices(text: str, reading: Literal["role", "degree"], choices: "Sequence[RoleChoice]") -> Figure:
    return _checked(
        Figure(
            text=" ".join(text.split()),
            reading=reading,
            choices=tuple(choice.symbols for choice in choices),
            approaches=tuple(index for index, choice in enumerate(choices) if choice.is_approach),
            roles=tuple(choice.roles for choice in choices),
        )
    )


def figure_from_roles(text: str) -> Figure:
    """A figure from degrees of the chord or classes of notes, such as ``1 3 5 b7`` or ``approach 3 outside 5``.

    Raises QueryError for an unknown word.
    """
    from corpus.harmony.role_symbols import parse_role

    return _figure_of_choices(text, "role", [parse_role(word) for word in _words(text)])


def figure_from_degrees(text: str) -> Figure:
    """A figure from degrees of the key or classes of notes, such as ``5 6 7 1`` or ``5 approach 3``.

    Raises QueryError for an unknown word.
    """
    from corpus.harmony.role_symbols import parse_degree

    return _figure_of_choices(text, "degree", [parse_degree(word) for word in _words(text)])


def figure_from_notes_of(transcription: Transcription, first: int, last: int) -> Figure:
    """A figure from notes ``first`` to ``last`` (inclusive) of a transcription, with its rhythm.

    Raises QueryError when a dead note stands among them: it has no pitch to look for.
    """
    notes = transcription.notes[first : last + 1]
    for index, note in enumerate(notes, start=first):
        if note.pitch is None:
            bar, beat = transcription.bar_of(index), transcription.beat_of(index)
            raise QueryError(
                f"the passage holds a dead note (bar {bar.number} beat {float(beat):g}), which has no pitch: "
                "choose a passage before or after it"
            )
    return _checked(
        Figure(
            text=" ".join(note.spelling for note in notes),
            pitches=tuple(note.pitch for note in notes if note.pitch is not None),
            positions=tuple(parse_spelling(note.spelling).staff_position for note in notes),
            octave_known=(True,) * len(notes),
            onsets=tuple(note.onset_ticks for note in notes),
            beat=transcription.beat_of(first),
            meter=transcription.bar_of(first).meter,
            is_absolute=True,
        )
    )
