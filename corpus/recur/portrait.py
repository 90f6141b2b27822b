"""What is told of a family beside its notes: the functions under it, how it starts and lands, where in the form it
stands, and in which disguises.

Every figure is a count among the places looked at. "Mostly" is said of what holds for at least half of them, and never
of fewer than three.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from corpus.harmony.analysis import Analysis
from corpus.harmony.roles import NoteRole
from corpus.match.exact import Occurrence
from corpus.model import Transcription

_FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class SeenPlace:
    """An occurrence in its line, with the line's harmony; the roles have an entry a note."""

    line: Transcription
    analysis: Analysis
    roles: Sequence[NoteRole | None]
    occurrence: Occurrence

    @property
    def functions(self) -> str:
        """The numerals under the notes, one that is only written again told once; empty without chords."""
        notes = self.line.notes
        first, last = notes[self.occurrence.first].onset_ticks, notes[self.occurrence.last].onset_ticks
        spans = self.analysis.spans
        begin = bisect_right(spans, first, key=lambda span: span.onset_ticks) - 1
        end = bisect_right(spans, last, key=lambda span: span.onset_ticks)
        numerals = [str(span.numeral) for span in spans[max(begin, 0) : end] if span.numeral is not None]
        return " ".join(numeral for numeral, _ in groupby(numerals))

    def degree(self, is_last: bool) -> str:
        """The degree of the first or last note in its chord."""
        role = self.roles[self.occurrence.last if is_last else self.occurrence.first]
        return role.degree if role else ""

    @property
    def section_bars(self) -> tuple[str, int, int] | None:
        """The section it begins in, and the bars of the section from its first note to its last, from 1."""
        notes, bars = self.line.notes, self.line.bars
        section = self.line.section_at(notes[self.occurrence.first].onset_ticks)
        if section is None:
            return None
        begin = next((i for i, bar in enumerate(bars) if bar.onset_ticks >= section.onset_ticks), 0)
        first, last = notes[self.occurrence.first].bar_index, notes[self.occurrence.last].bar_index
        return section.label, first - begin + 1, last - begin + 1


@dataclass(frozen=True, slots=True)
class Portrait:
    """Counts over ``places`` places, each from the commonest: what stands in a counter stood there so often."""

    places: int
    functions: Counter[str]
    starts: Counter[str]
    lands: Counter[str]
    bars: Counter[str]
    sections: Counter[str]
    disguises: Counter[str]

    def words(self) -> list[str]:
        """The best-known contexts, in phrases: ``mostly over ii V (9 of 14)``."""
        told = [
            _mostly(self.functions, self.places, "over {}"),
            _mostly(self.starts, self.places, "starts on the {}"),
            _mostly(self.lands, self.places, "lands on the {}"),
            _mostly(self.bars, self.places, "in {}"),
        ]
        return [phrase for phrase in told if phrase]


def portrait_of(seen: Iterable[SeenPlace]) -> Portrait:
    """Count what the places of a family have in common."""
    places = list(seen)
    in_sections = [place.section_bars for place in places]
    return Portrait(
        len(places),
        _count(places, lambda place: place.functions),
        _count(places, lambda place: place.degree(False)),
        _count(places, lambda place: place.degree(True)),
        Counter(_bars_words(*found) for found in in_sections if found),
        Counter(found[0] for found in in_sections if found),
        Counter(kind for place in places for kind in disguises_of(place.occurrence)),
    )


def _count(places: Sequence[SeenPlace], what: Callable[[SeenPlace], str]) -> Counter[str]:
    return Counter(found for found in map(what, places) if found)


def _bars_words(section: str, first: int, last: int) -> str:
    return f"bar {first} of {section}" if first == last else f"bars {first}-{last} of {section}"


def _mostly(counts: Counter[str], places: int, phrase: str) -> str:
    if not counts:
        return ""
    best, count = counts.most_common(1)[0]
    if count < _FEWEST:
        return ""
    told = f"{phrase.format(best)} ({count} of {places})"
    return f"mostly {told}" if 2 * count >= places else told if 4 * count >= places else ""


_DISGUISES: Final = {
    "octave": "octave displaced",
    "repeats": "doubled",
    "altered": "altered",
    "replaced": "another note",
    "added": "ornamented",
    "left out": "note left out",
    "cut": "cut short",
    "extended": "extended",
    "stretched": "stretched",
    "shifted": "shifted",
    "rhythm": "other rhythm",
}
"""What a kind of change (see ``corpus.match.changes``) makes of a figure."""


def disguises_of(occurrence: Occurrence) -> list[str]:
    """The disguises of an occurrence, each once, in a word or two; ``as it is`` for none."""
    found = list(dict.fromkeys(_DISGUISES[change.kind] for change in occurrence.changes))
    return found or ["as it is"]
