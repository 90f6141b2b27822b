"""What suggested lines are made of, as it is stored: kept figures, families of the corpus, a player's habits."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import sqlalchemy as sa

from corpus.errors import CorpusError
from corpus.harmony.analysis import analyse
from corpus.suggest.costs import Habits, habits_of
from corpus.suggest.source import Source, UnusableError, source_of_kept, source_of_passage
from db.catalogue import Selection, load_many
from db.connection import Database
from db.families import KeptFamily
from db.profile_lines import selected_lines
from db.recur import Progress, RecurQuestion, recur
from db.shelf import load_shelf

MOST_LINES: Final = 60
"""Lines whose places of families are used: each has to be analysed."""
MOST_PLACES: Final = 24
"""Places of one family that are used."""
_INTERVALS: Final = 13


@dataclass(frozen=True, slots=True)
class Material:
    """Figures that can be used, and for those that cannot the reason, by name."""

    sources: tuple[Source, ...]
    unusable: dict[str, str]
    count: int


class _Passage(NamedTuple):
    """Notes of a stored line; ``played`` are their names when they were kept, as the line may hold others now."""

    group: str
    transcription: int
    first: int
    last: int
    played: tuple[str, ...] = ()


def shelf_material(connection: sa.Connection) -> Material:
    """The figures of the shelf over their own chords, which come from their first source, and over those of the others.

    Stored lines are only analysed for other sources, or where a figure's own chords tell no functions.
    """
    figures = load_shelf(connection)
    sources: dict[Source, None] = {}
    unusable: dict[str, str] = {}
    for figure in figures:
        try:
            sources[source_of_kept(figure)] = None
        except UnusableError as error:
            unusable[figure.name] = str(error)
    places = [
        _Passage(figure.name, source.transcription, source.first, source.last, source.notes)
        for figure in figures
        for source in figure.sources[0 if figure.name in unusable else 1 :]
        if source.transcription is not None and source.first is not None and source.last is not None
    ]
    for source in _passages(connection, places):
        sources[source] = None
        unusable.pop(source.group, None)
    return Material(tuple(_distinct(sources)), unusable, len(figures))


def corpus_material(database: Database, progress: Progress | None = None) -> Material:
    """The places of the families of the whole corpus, over the functions on which they stand. Empty without lines."""
    try:
        families = recur(database, RecurQuestion(), progress).families
    except CorpusError:  # no line is stored
        return Material((), {}, 0)
    with database.reading() as connection:
        return families_material(connection, families)


def families_material(connection: sa.Connection, families: Sequence[KeptFamily]) -> Material:
    """The places of families over the functions on which they stand."""
    places = [
        _Passage(f"family {family.code}", place.transcription, place.first, place.last)
        for family in families
        for place in [p for p in family.places if not p.is_replay][:MOST_PLACES]
    ]
    sources = dict.fromkeys(_passages(connection, places))
    usable = {source.group for source in sources}
    names = [f"family {family.code}" for family in families]
    unusable = {name: "no place of it stands over known chords" for name in names if name not in usable}
    return Material(tuple(_distinct(sources)), unusable, len(names))


def _passages(connection: sa.Connection, places: Sequence[_Passage]) -> Iterator[Source]:
    """The places that can be used, in order; those of the first lines where there are too many."""
    ids = list(dict.fromkeys(place.transcription for place in places))[:MOST_LINES]
    lines = {identity: (line, analyse(line).spans) for identity, line in load_many(connection, ids)}
    for group, identity, first, last, played in places:
        if identity not in lines or last >= len(lines[identity][0].notes):
            continue
        try:
            source = source_of_passage(*lines[identity], first, last, group)
        except UnusableError:
            continue
        if played in ((), tuple(note.spelling for note in source.notes)):
            yield source


def _distinct(sources: dict[Source, None]) -> Iterator[Source]:
    """The first of those that hold the same notes over the same functions."""
    known: set[object] = set()
    for source in sources:
        first = source.notes[0]
        notes = tuple(
            (n.onset_ticks, n.pitch - first.pitch, n.numeral, (n.tonic - first.pitch) % 12) for n in source.notes
        )
        key = (source.group, notes, source.meter, source.beat, source.players)
        if key not in known:
            known.add(key)
            yield source


def player_habits(connection: sa.Connection, player: str) -> Habits:
    """A player's moves and roots on first beats, from all their lines. Raises QueryError where there is none."""
    import numpy as np

    columns = selected_lines(connection, Selection(player=player)).columns
    sizes = np.abs(columns.interval[columns.follows])
    counts = np.bincount(np.minimum(sizes, _INTERVALS), minlength=_INTERVALS + 1)[:_INTERVALS]
    first = columns.has_role & (columns.in_bar == 0)
    roots = int((columns.semitones[first] == 0).sum())
    return habits_of(player.casefold(), counts.tolist(), roots, int(first.sum()))
