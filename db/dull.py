"""Dull bars of stored lines, and figures of the shelf and the corpus that could stand there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from corpus.check import Instrument, instrument_of
from corpus.harmony.analysis import analyse
from corpus.suggest.replace import Replaced, Replacing
from db.catalogue import load_many
from db.recurring import corpus_figures
from db.suggest import families_material, shelf_material

if TYPE_CHECKING:
    from corpus.model import Transcription

MOST_LINES: Final = 3
"""Lines in which dull bars are looked for."""
MOST_BARS: Final = 4


@dataclass(frozen=True, slots=True)
class DullPlace:
    """A dull bar of a line (counted in the order asked for), and what could stand there."""

    line: int
    transcription: "Transcription"
    replaced: Replaced


@dataclass(frozen=True)
class DullPlaces:
    """The dullest bars, how many there are in all, and what could not be done."""

    places: tuple[DullPlace, ...]
    count: int
    remarks: tuple[str, ...]


def dull_places(connection: sa.Connection, ids: Sequence[int], model: str = "", repetition: bool = False) -> DullPlaces:
    """The dullest bars of some lines, with figures; those of the player ``model`` are preferred.

    Figures are those of the shelf, and the families of the corpus where they are kept, quickly found, or wished for.
    """
    lines = [(line, analyse(line)) for _, line in load_many(connection, ids[:MOST_LINES])]
    remarks = []
    if len(ids) > MOST_LINES:
        remarks.append(f"dull bars are looked for in the first {MOST_LINES} lines only: name a line by its ID")
    if not any(line.chords for line, _ in lines):
        return DullPlaces((), 0, (*remarks, "no chords: nothing is said about dull bars"))
    shelf = shelf_material(connection)
    figures = corpus_figures(connection, repetition)
    sources = [*shelf.sources, *(families_material(connection, figures.families).sources if figures else ())]
    if not sources:
        remarks.append(_nothing(shelf.count, figures is None))
    places = []
    for number, (line, analysis) in enumerate(lines):
        instrument = _instrument(line)
        if line.chords and instrument is not None:
            replacing = Replacing(line, analysis, sources, instrument, model.casefold())
            places += [(number, line, replacing, dull) for dull in replacing.dull]
    places.sort(key=lambda place: (-place[3].score, place[0], place[3].bar_index))
    told = tuple(
        DullPlace(number, line, replacing.replaced(dull)) for number, line, replacing, dull in places[:MOST_BARS]
    )
    return DullPlaces(told, len(places), tuple(remarks))


def _nothing(kept: int, is_unknown: bool) -> str:
    shelf = "the figures of the shelf cannot be used" if kept else "the shelf is empty"
    corpus = "none of the corpus are known yet ('wellworn recur --common' finds them once)"
    return f"no figure can be suggested: {shelf}, and {corpus if is_unknown else 'the corpus holds none'}"


def _instrument(line: "Transcription") -> Instrument | None:
    """The instrument whose range is kept; without a known one the range of the line itself."""
    found = instrument_of(line.details.instrument)
    pitches = [note.pitch for note in line.notes if note.pitch is not None]
    if found is None and pitches:
        return Instrument("the line's own range", (), min(pitches), max(pitches))
    return found
