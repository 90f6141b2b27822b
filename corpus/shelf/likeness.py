"""How like kept figures are to each other: near search's prices, from the first note of one to the last of the other.

Rhythm counts only in words: a figure kept without rhythm is not less like one that has it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Final

from corpus.match.figure import Folds
from corpus.match.prices import PARTS, Prices
from corpus.match.side_by_side import side_by_side_within
from corpus.match.sought import sought
from corpus.model import TICKS_PER_QUARTER, Bar, Details, Meter, Note, Transcription
from corpus.readings import line_of, read
from corpus.shelf.kept import KeptFigure, KeptNote

if TYPE_CHECKING:
    from corpus.match.columns import Columns

LIKE_ENOUGH: Final = 0.85
"""The least likeness of near-duplicates: that with which near search looks for a figure unless told otherwise."""
MOST_SHOWN: Final = 3
_MOST_COMPARED: Final = 24
_RHYTHM_KINDS: Final = ("rhythm", "stretched", "shifted")


@dataclass(frozen=True, slots=True)
class Alike:
    """A kept figure that is like another: its likeness and what was changed, in words."""

    figure: KeptFigure
    likeness: float
    transposed: int | None
    changes: tuple[str, ...]


def as_line(figure: KeptFigure) -> Transcription:
    """A kept figure as a line of its own; one without rhythm in quarters."""
    meter = figure.meter or Meter(4, 4)
    beat = figure.beat or Fraction(1)
    padding = round((beat - 1) * meter.beat_ticks) % meter.bar_ticks
    onsets = [
        number * TICKS_PER_QUARTER if note.onset_ticks is None else note.onset_ticks
        for number, note in enumerate(figure.notes)
    ]
    bar_indexes = [(onset + padding) // meter.bar_ticks for onset in onsets]
    bars = tuple(
        Bar(
            number + 1,
            1,
            max(number * meter.bar_ticks - padding, 0),
            meter.bar_ticks - (padding if number == 0 else 0),
            padding if number == 0 else 0,
            meter,
        )
        for number in range(bar_indexes[-1] + 1)
    )
    notes = tuple(
        Note(onset, note.duration_ticks or TICKS_PER_QUARTER, note.pitch, note.spelling, bar)
        for onset, note, bar in zip(onsets, figure.notes, bar_indexes, strict=True)
    )
    return Transcription(Details(title=figure.name, meter=meter), notes, bars)


class ShelfLines:
    """Kept figures made ready for the question which of them are like another one.

    Near search's scan tells which of them may be at all; the most promising are laid beside the other figure.
    """

    def __init__(self, figures: Sequence[KeptFigure], prices: Prices | None = None) -> None:
        self._figures, self._prices = list(figures), prices or Prices()

    @cached_property
    def _columns(self) -> "Columns":
        from corpus.match.columns import LineTexts, columns_of, wide_leaps

        # Without rhythm, so that no rest breaks a figure in two.
        lines = [line_of(as_line(replace(figure, notes=_bare(figure)))) for figure in self._figures]
        texts = [LineTexts(read(line, "folded"), read(line, "interval"), read(line, "step")) for line in lines]
        leaps = {
            (number, note): (
                (lines[number].pitches[note] or 0) - (lines[number].pitches[note - 1] or 0),
                lines[number].positions[note] - lines[number].positions[note - 1],
            )
            for number, line in enumerate(texts)
            for note in wide_leaps(line)
        }
        return columns_of("pitch", texts, leaps)

    def alike(self, figure: KeptFigure, most: int = MOST_SHOWN) -> list[Alike]:
        """Those to which a figure is like enough to be the same one, the most like first; itself left out.

        The likeness is that of the kept figure to the one asked for, the changes lead from this one to that. Cost: a
        scan through all, and some milliseconds for each that is promising: what cannot be more like than those found
        already is not. It ends when 24 are found.
        """
        from corpus.match.scan import scan

        if not self._figures:
            return []
        asked = sought(figure.figure, Folds(), self._prices)
        endings = scan(self._columns, asked, asked.most_parts(LIKE_ENOUGH))
        numbers = self._columns.line_and_note(endings.places)[0].tolist()
        found: list[Alike] = []
        for number, ending in _first_places(numbers).items():
            other = self._figures[number]
            least = LIKE_ENOUGH if len(found) < most else sorted(found, key=_order)[most - 1].likeness
            bound = int(endings.bounds(slice(ending, ending + 1)).min())
            if asked.likeness(bound) < least or len(found) >= _MOST_COMPARED:
                break
            if other.id_name == figure.id_name or not _may_be_alike(figure, other, self._prices):
                continue
            one = self._compared(figure, other, least)
            found += [] if one is None else [one]
        return sorted(found, key=_order)[:most]

    def _compared(self, figure: KeptFigure, other: KeptFigure, least: float) -> Alike | None:
        one, two = as_line(figure), as_line(other)
        ends = (0, len(one.notes) - 1), (0, len(two.notes) - 1)
        found = side_by_side_within(one, ends[0], two, ends[1], Folds(), self._prices, least)
        if found is None:
            return None
        skipped = () if figure.has_rhythm and other.has_rhythm else _RHYTHM_KINDS
        words = tuple(change.words for change in found.changes if change.words and change.kind not in skipped)
        return Alike(other, found.likeness, found.transposed, words)


def _first_places(numbers: Sequence[int]) -> dict[int, int]:
    """Where each number comes first, in order."""
    found: dict[int, int] = {}
    for place, number in enumerate(numbers):
        found.setdefault(number, place)
    return found


def _order(one: Alike) -> tuple[float, str]:
    return -one.likeness, one.figure.id_name


def _may_be_alike(figure: KeptFigure, other: KeptFigure, prices: Prices) -> bool:
    """Whether lengths alone rule it out: every two runs of repeated notes more or less cost one change at least."""
    runs, wanted = len(other.figure.run_starts()), len(figure.figure.run_starts())
    kinds = ("cut", "passing", "neighbour", "enclosure", "approach", "octave_skip", "added")
    cheapest = min(map(prices.parts, kinds))
    return abs(runs - wanted) * cheapest <= 2 * ((1 - LIKE_ENOUGH) * PARTS * len(figure.notes) + 1)


def _bare(figure: KeptFigure) -> tuple[KeptNote, ...]:
    return tuple(KeptNote(note.spelling) for note in figure.notes)
