"""What a reading says of recurring figures: where each comes back, how it is varied, and who else plays it.

Figures bear letters in the order in which they first stand in the line, the same in all its choruses. The first place
tells where the figure comes back; every further one what was changed since the first, by laying both side by side
(``corpus.match.side_by_side``); a figure with one place in the line tells who else plays it.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Final, NamedTuple

from corpus.match.change_words import listed
from corpus.match.figure import Folds
from corpus.match.prices import Prices
from corpus.match.side_by_side import SideBySide, side_by_side
from corpus.model import Transcription
from corpus.pitch import transposition_name
from corpus.reading.remarks import Remark, names, remark_at
from corpus.recur.letters import letter

_MOST_BARS: Final = 6
_MOST_CHANGES: Final = 2
_MOST_NOTES: Final = 10
_MOST_TITLES: Final = 2


class Statement(NamedTuple):
    """A place of a figure in the line, from its first to its last note; a replay lies in a passage played again."""

    first: int
    last: int
    is_replay: bool = False


@dataclass(frozen=True, slots=True)
class Recurrence:
    """A figure as seen from one line: its code, its places there, and the other lines that hold it.

    ``elsewhere`` are title and player of each other line; ``count`` all places that are evidence, ``expected`` how
    many chance would give.
    """

    code: str
    places: tuple[Statement, ...]
    elsewhere: tuple[tuple[str, str], ...]
    player: str
    count: int
    expected: float


@dataclass(frozen=True, slots=True)
class NamedFigure:
    """A recurring figure with its letter and its places in the line."""

    letter: str
    code: str
    places: tuple[Statement, ...]


@dataclass(frozen=True)
class FigureTold:
    """The figures of a line, and the remarks on all their places."""

    figures: tuple[NamedFigure, ...] = ()
    remarks: tuple[Remark, ...] = ()


def figures_told(line: Transcription, recurrences: Sequence[Recurrence], chorus: int | None = None) -> FigureTold:
    """Letters for the figures of a line, and remarks on their places, perhaps of one chorus only.

    Cost: laying each of these places beside the first one of its figure.
    """
    ordered = sorted((r for r in recurrences if r.places), key=lambda r: (min(r.places), -len(r.places), r.code))
    named = tuple(NamedFigure(letter(i), r.code, _without_repeats(line, r.places)) for i, r in enumerate(ordered))
    told = [remark for figure, r in zip(named, ordered, strict=True) for remark in _remarks(line, figure, r, chorus)]
    return FigureTold(named, tuple(told))


def _without_repeats(line: Transcription, places: Sequence[Statement]) -> tuple[Statement, ...]:
    """The places in order, without repeats of their first and last note that not all of them have.

    Where repeats are ignored, a note that closes one phrase and opens the next is one: the figure begins with the last.
    """
    ordered = sorted(places)
    opening = [_repeats(line, range(place.first, place.last + 1)) for place in ordered]
    closing = [_repeats(line, range(place.last, place.first - 1, -1)) for place in ordered]
    return tuple(
        place._replace(first=place.first + begin - min(opening), last=place.last - end + min(closing))
        for place, begin, end in zip(ordered, opening, closing, strict=True)
    )


def _repeats(line: Transcription, notes: range) -> int:
    """How often the first of some notes is struck again before another pitch comes."""
    pitch = line.notes[notes[0]].pitch
    return sum(1 for _ in takewhile(lambda index: line.notes[index].pitch == pitch, notes)) - 1


def _remarks(line: Transcription, figure: NamedFigure, found: Recurrence, chorus: int | None) -> Iterator[Remark]:
    first, *again = figure.places
    evidence = f"family {found.code}: {_count(len(figure.places), 'place')} in this line, {found.count} in all, "
    evidence += f"chance would give {_few(found.expected)}"
    what = f"figure {figure.letter} ({_first_notes(line, first)})"
    more = _comes_back(line, again) if again else _who_else(found)
    if more and chorus in (None, line.bar_of(first.first).chorus):
        # What is told elsewhere only weighs less than what comes back in the line itself.
        yield remark_at(line, "figure", (first.first, first.last), f"{what} {more}", evidence, 0.0 if again else -2.0)
    for place in again:
        if chorus not in (None, line.bar_of(place.first).chorus):
            continue
        found_again = side_by_side(line, first[:2], line, place[:2], Folds(), Prices())
        text = f"figure {figure.letter} again {_how(found_again, _bar(line, first))}"
        why = f"{evidence}; likeness {found_again.likeness:.2f} to bar {_bar(line, first)}"
        yield remark_at(line, "figure", (place.first, place.last), text, why)


def _first_notes(line: Transcription, place: Statement) -> str:
    """The notes of a place, of a long one the first and how many there are."""
    count = place.last - place.first + 1
    if count <= _MOST_NOTES:
        return names(line, place.first, place.last)
    return f"{names(line, place.first, place.first + _MOST_NOTES - 3)} … {count} notes"


def _how(found: SideBySide, bar: str) -> str:
    """How a place differs from the first one."""
    words = [change.words for change in found.changes if change.words]
    far = "" if not found.transposed else transposition_name(found.transposed)
    if not words:
        return f"{far}, otherwise as in bar {bar}" if far else f"as in bar {bar}"
    more = len(words) - _MOST_CHANGES
    told = [far] * bool(far) + words[:_MOST_CHANGES] + ([f"{_count(more, 'more change')}"] if more > 0 else [])
    return f"(first in bar {bar}): {'; '.join(told)}"


def _comes_back(line: Transcription, again: Sequence[Statement]) -> str:
    bars = list(dict.fromkeys(_bar(line, place) for place in again))
    more = len(bars) - _MOST_BARS
    shown = bars[:_MOST_BARS] + ([f"{more} more"] if more > 0 else [])
    return f"comes back in bar{'s' if len(bars) > 1 else ''} {listed(shown)}"


def _who_else(found: Recurrence) -> str:
    """Who plays a figure that stands once in the line; empty where nobody is known to."""
    own = found.player.casefold()
    others = Counter(player for _, player in found.elsewhere if player and player.casefold() != own)
    if others:
        most = min(others, key=lambda player: (-others[player], player))
        more = f" and {_count(len(others) - 1, 'other')}" if len(others) > 1 else ""
        return f"is common stock: {most}{more} {'play' if more else 'plays'} it too"
    titles = list(dict.fromkeys(title for title, player in found.elsewhere if player.casefold() == own))
    if not titles:
        return ""
    rest = len(titles) - _MOST_TITLES
    return f"stands in {listed(titles[:_MOST_TITLES] + ([f'{rest} more'] if rest > 0 else []))} too"


def _bar(line: Transcription, place: Statement) -> str:
    bar = line.bar_of(place.first)
    return f"{bar.number}~{bar.pass_number}" if bar.pass_number > 1 else str(bar.number)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _few(expected: float) -> str:
    return "less than 0.01" if expected < 0.01 else f"{expected:.2g}"
