"""A remark: one sentence about one bar, and what it rests on."""

from dataclasses import dataclass
from typing import Final, Literal

from corpus.model import Transcription

Kind = Literal["implied", "cadence", "shape", "figure", "register", "first beat", "rhythm", "approach", "plain"]

WEIGHTS: Final[dict[Kind, float]] = {
    "implied": 10,
    "figure": 9,
    "shape": 6,
    "cadence": 5,
    "register": 5.5,
    "first beat": 4,
    "rhythm": 3.5,
    "approach": 2,
    "plain": 1,
}
"""What is told first where a bar has much to tell."""


@dataclass(frozen=True, slots=True)
class Remark:
    """``text`` is the sentence without its bar; ``why`` the finding behind it, in figures.

    ``bar_index`` counts played bars from 0; ``first`` and ``last`` are the notes it is about. ``is_everyday`` says that
    it is told only where there is nothing else to tell.
    """

    kind: Kind
    bar_index: int
    first: int
    last: int
    text: str
    why: str
    weight: float
    is_everyday: bool = False


def remark_at(
    line: Transcription,
    kind: Kind,
    notes: tuple[int, int],
    text: str,
    why: str,
    more_weight: float = 0.0,
    is_everyday: bool = False,
) -> Remark:
    """A remark about notes of a line, at the bar in which the first of them starts."""
    return Remark(kind, line.notes[notes[0]].bar_index, *notes, text, why, WEIGHTS[kind] + more_weight, is_everyday)


def names(line: Transcription, first: int, last: int) -> str:
    """The notes as they are spelled, ``x`` for a dead note."""
    return " ".join(note.spelling or "x" for note in line.notes[first : last + 1])
