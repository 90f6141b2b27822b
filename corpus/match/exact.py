"""Where a pattern stands in a line: verification on the notes, rhythm, and the notes an occurrence covers."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from corpus.errors import QueryError
from corpus.match.figure import Figure
from corpus.match.pattern import Pattern, letter_sizes
from corpus.readings import Line, gaps_of, read

if TYPE_CHECKING:
    from corpus.match.changes import Change

Rhythm = Literal["any", "stretched", "same"]


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One place where a figure stands: notes ``first`` to ``last`` of the line, counted from 0, both included.

    ``transposed`` is in semitones from the figure asked for; None when the figure has no pitch of its own.
    ``likeness`` is 1 for an exact occurrence under the folds in force; a near search tells the ``changes``, and
    in ``moved`` the semitones also where the figure has no pitch of its own: they compare its occurrences.
    """

    first: int
    last: int
    transposed: int | None
    likeness: float = 1.0
    changes: "tuple[Change, ...]" = ()
    moved: int | None = field(default=None, compare=False, repr=False)


def check_rhythm(figure: Figure, rhythm: Rhythm) -> None:
    """Raises QueryError when rhythm is asked for of a figure that has none."""
    if rhythm != "any" and figure.onsets is None:
        raise QueryError(f"--rhythm {rhythm} needs a figure that has rhythm: ask with --like")


def _fits_notes(pattern: Pattern, line: Line, first: int) -> bool:
    """Whether the real notes bear out what the reading could not show."""
    figure, folds = pattern.figure, pattern.folds
    places = range(first, first + len(figure))
    by_letter = folds.mode or figure.pitches is None
    wanted = figure.positions if by_letter else figure.pitches
    if wanted is None:
        # Intervals asked for under the mode fold: a leap too wide for a symbol is judged by its letters.
        assert figure.pitches is not None
        return _fits_letters(figure.pitches, line, first)
    found = line.positions if by_letter else line.pitches
    if folds.octaves:
        return True
    shifts = {(found[place] or 0) - wanted[index] for index, place in enumerate(places) if figure.octave_known[index]}
    return len(shifts) <= 1


def _fits_letters(wanted: Sequence[int], line: Line, first: int) -> bool:
    """Whether each leap spans letter names that its semitones usually span, however wide."""
    positions = line.positions[first : first + len(wanted)]
    return all(
        positions[i] - positions[i - 1] in letter_sizes(wanted[i] - wanted[i - 1]) for i in range(1, len(wanted))
    )


def _fits_rhythm(wanted: Sequence[int], found: Sequence[int], rhythm: Rhythm) -> bool:
    """Whether two lists of onsets have the same gaps, or gaps of the same proportions."""
    if rhythm == "any":
        return True
    wanted_gaps, found_gaps = gaps_of(wanted), gaps_of(found)
    if rhythm == "same":
        return wanted_gaps == found_gaps
    return all(a * found_gaps[0] == b * wanted_gaps[0] for a, b in zip(wanted_gaps, found_gaps, strict=True))


def _covered(pattern: Pattern, line: Line, first: int, edges: tuple[int, int]) -> tuple[int, int]:
    """The notes of the full line that a match in the collapsed line covers.

    The runs at both ends reach as far as those inside do: in a line whose every note is doubled both notes belong to
    the figure, but a plain figure after a repeated note begins with the last of the repeats.
    """
    runs = line.runs
    last = first + len(pattern.figure) - 1
    inside = max((runs.lasts[i] - runs.firsts[i] + 1 for i in range(first + 1, last)), default=1)
    begin = max(runs.firsts[first], runs.lasts[first] - max(inside, edges[0]) + 1)
    end = min(runs.lasts[last], runs.firsts[last] + max(inside, edges[1]) - 1)
    return begin, end


def edge_runs(figure: Figure) -> tuple[int, int]:
    """How many times the first and the last note of a figure are repeated in the figure itself."""
    starts = figure.run_starts()
    first = (starts[1] if len(starts) > 1 else len(figure)) - starts[0]
    return first, len(figure) - starts[-1]


def _transposition(figure: Figure, pitches: Sequence[int | None], octaves_folded: bool) -> int | None:
    """Semitones from the figure to the notes found, by the first note whose octave is known."""
    if not figure.is_absolute or figure.pitches is None:
        return None
    known = next((i for i, is_known in enumerate(figure.octave_known) if is_known), None)
    if known is None or (octaves_folded and known > 0):
        return ((pitches[0] or 0) - figure.pitches[0] + 5) % 12 - 5
    return (pitches[known] or 0) - figure.pitches[known]


def places_in(pattern: Pattern, line: Line) -> list[int]:
    """The notes (of the collapsed line, for a collapsed pattern) at which the readings of a line match."""
    searched = line.collapsed if pattern.is_collapsed else line
    beside = (read(searched, "interval"), searched.movements, searched.roles) if pattern.lead == 0 else ("", "", "")
    return [place for place in pattern.places(read(searched, pattern.reading)) if pattern.is_whole(place, *beside)]


def occurrences(
    pattern: Pattern, line: Line, asked: Figure, rhythm: Rhythm = "any", places: Iterable[int] | None = None
) -> Iterator[Occurrence]:
    """Every occurrence of a pattern in a line, in order, overlapping ones included.

    ``asked`` is the figure before folding; ``places`` the matches of the readings (``places_in``) when they are at
    hand. Cost: linear in the line.
    """
    searched = line.collapsed if pattern.is_collapsed else line
    figure = pattern.figure
    edges = edge_runs(asked) if pattern.is_collapsed else (1, 1)
    for first in places_in(pattern, line) if places is None else places:
        if pattern.needs_notes and not _fits_notes(pattern, searched, first):
            continue
        last = first + len(figure) - 1
        begin, end = _covered(pattern, line, first, edges) if pattern.is_collapsed else (first, last)
        if rhythm != "any":
            assert figure.onsets is not None
            onsets = [line.onsets[begin], *searched.onsets[first + 1 : last + 1]]
            if not _fits_rhythm(figure.onsets, onsets, rhythm):
                continue
        transposed = _transposition(figure, searched.pitches[first : last + 1], pattern.folds.octaves)
        yield Occurrence(begin, end, transposed)
