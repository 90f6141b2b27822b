"""The shelf in the database: kept figures, their sources and practice, and where they stand in the stored lines.

A change is a function from the whole shelf to the whole shelf; what differs is written, all in one transaction.
"""

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from itertools import accumulate
from typing import Any, Final, Literal

import sqlalchemy as sa

from corpus.match.pattern import Pattern, pattern_of
from corpus.model import Transcription
from corpus.pitch import parse_spelling
from corpus.regions import passage_name
from corpus.shelf.file import music_fields, read_music
from corpus.shelf.kept import KeptFigure, KeptSource, Practice
from db.catalogue import load_many
from db.connection import Database
from db.history import TABLES, Content, Deed, Row, named, record, rows_of
from db.schema import PracticeRow, ShelfFigureRow, ShelfSourceRow
from db.search import Answer, Question, search

_IDS_AT_ONCE: Final = 500
_FIELDS: Final = tuple(field.name for field in fields(KeptFigure))
Shelf = Sequence[KeptFigure]


def load_shelf(connection: sa.Connection) -> list[KeptFigure]:
    """All kept figures, in the order of their names."""
    sources = _by_figure(connection, ShelfSourceRow.__table__, _source)
    practice = _by_figure(connection, PracticeRow.__table__, _practice)
    table = ShelfFigureRow.__table__
    rows = connection.execute(sa.select(table).order_by(table.c.id_name)).all()
    return [
        KeptFigure(
            name=row.name,
            **read_music(row.music),
            tags=tuple(row.tags),
            rating=row.rating,
            comment=row.comment,
            family=row.family,
            kept_on=row.kept_on,
            sources=tuple(sources[row.id]),
            practice=tuple(practice[row.id]),
        )
        for row in rows
    ]


def _by_figure(connection: sa.Connection, table: Any, made: Callable[[Any], Any]) -> Mapping[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in connection.execute(sa.select(table).order_by(table.c.id)):
        found[row.figure_id].append(made(row))
    return found


def _source(row: Any) -> KeptSource:
    return KeptSource(row.title, row.player, row.passage, tuple(row.notes), row.transcription_id, row.first, row.last)


def _practice(row: Any) -> Practice:
    return Practice(row.day, row.bpm, tuple(row.keys), row.grade)


def change_shelf(database: Database, change: Callable[[Shelf], Shelf], command: str = "shelf") -> None:
    """Let a function make a new shelf of the one that is there, in one transaction: all of it is written, or nothing.

    What the function raises goes through, and nothing is changed then. ``command`` is what the history calls it.
    """
    with database.writing() as connection:
        before = load_shelf(connection)
        after = change(before)
        kept = _differing(connection, before, after)
        _write(connection, before, after)
        made = _figure_ids(connection, [f.id_name for f in after if f.id_name not in {b.id_name for b in before}])
        content = replace(kept, made={"shelf_figure": made})
        if content.keys():
            record(connection, Deed(command), difference_words(before, after), content)


def _figure_ids(connection: sa.Connection, names: Sequence[str]) -> list[int]:
    ids: list[int] = []
    for start in range(0, len(names), _IDS_AT_ONCE):
        where = ShelfFigureRow.id_name.in_(names[start : start + _IDS_AT_ONCE])
        ids += connection.execute(sa.select(ShelfFigureRow.id).where(where)).scalars()
    return ids


def _differing(connection: sa.Connection, before: Shelf, after: Shelf) -> Content:
    """What will be gone from a shelf or changed on it, for the history."""
    new = {figure.id_name: figure for figure in after}
    gone = _figure_ids(connection, [figure.id_name for figure in before if figure.id_name not in new])
    changed = _figure_ids(connection, [f.id_name for f in before if f.id_name in new and new[f.id_name] != f])
    return Content(gone=_whole_figures(connection, gone), were=_whole_figures(connection, changed))


def _whole_figures(connection: sa.Connection, ids: Sequence[int]) -> dict[str, list[Row]]:
    columns = {
        "shelf_figure": ShelfFigureRow.id,
        "shelf_source": ShelfSourceRow.figure_id,
        "practice": PracticeRow.figure_id,
    }
    return {name: rows_of(connection, TABLES[name], column, ids) for name, column in columns.items()} if ids else {}


def difference_words(before: Shelf, after: Shelf) -> str:
    """How two states of a shelf differ: figures put on it, taken off it, and what was changed of others."""
    old = {figure.id_name: figure for figure in before}
    new = {figure.id_name: figure for figure in after}
    changed = [figure for name, figure in new.items() if name in old and figure != old[name]]
    kinds = {field for f in changed for field in _FIELDS if getattr(f, field) != getattr(old[f.id_name], field)}
    parts = (
        ("put on", [figure.name for name, figure in new.items() if name not in old]),
        ("taken off", [figure.name for name, figure in old.items() if name not in new]),
        ("changed", [figure.name for figure in changed]),
    )
    words = [f"{part} {named(map(repr, names))}" for part, names in parts if names]
    return "; ".join(words) + (f" ({', '.join(sorted(kinds)).replace('_', ' ')})" if kinds else "")


def _write(connection: sa.Connection, before: Shelf, after: Shelf) -> None:
    old = {figure.id_name: figure for figure in before}
    new = {figure.id_name: figure for figure in after}
    gone = [name for name in old if name not in new]
    changed = [figure for name, figure in new.items() if name in old and figure != old[name]]
    for start in range(0, len(gone), _IDS_AT_ONCE):
        where = ShelfFigureRow.id_name.in_(gone[start : start + _IDS_AT_ONCE])
        connection.execute(sa.delete(ShelfFigureRow).where(where))
    for figure in changed:
        same = ShelfFigureRow.id_name == figure.id_name
        identity = connection.execute(
            sa.update(ShelfFigureRow).where(same).values(**_columns(figure)).returning(ShelfFigureRow.id)
        ).scalar_one()
        for model in (ShelfSourceRow, PracticeRow):
            connection.execute(sa.delete(model).where(model.figure_id == identity))
        _insert_parts(connection, identity, figure)
    for name, figure in new.items():
        if name not in old:
            insert = sa.insert(ShelfFigureRow).values(**_columns(figure)).returning(ShelfFigureRow.id)
            _insert_parts(connection, connection.execute(insert).scalar_one(), figure)


def _columns(figure: KeptFigure) -> dict[str, Any]:
    return {
        "name": figure.name,
        "id_name": figure.id_name,
        "music": music_fields(figure),
        "tags": list(figure.tags),
        "rating": figure.rating,
        "comment": figure.comment,
        "family": figure.family,
        "kept_on": figure.kept_on,
    }


def _insert_parts(connection: sa.Connection, identity: int, figure: KeptFigure) -> None:
    sources = [
        {
            "figure_id": identity,
            "title": source.title,
            "player": source.player,
            "passage": source.passage,
            "notes": list(source.notes),
            "transcription_id": source.transcription,
            "first": source.first,
            "last": source.last,
        }
        for source in figure.sources
    ]
    entries = [
        {"figure_id": identity, "day": e.day, "bpm": e.bpm, "keys": list(e.keys), "grade": e.grade}
        for e in figure.practice
    ]
    if sources:
        connection.execute(sa.insert(ShelfSourceRow), sources)
    if entries:
        connection.execute(sa.insert(PracticeRow), entries)


SourceState = Literal["live", "changed", "gone"]


@dataclass(frozen=True, slots=True)
class LiveSource:
    """A source as it stands now: ``live`` with its passage in the stored line, ``changed`` where the line no longer
    holds what was played, ``gone`` where there is no line.
    """

    source: KeptSource
    state: SourceState
    passage: str = ""


def live_sources(connection: sa.Connection, figure: KeptFigure) -> list[LiveSource]:
    """The sources of a figure as they stand now; a passage that moved inside its line is found again."""
    wanted = sorted({s.transcription for s in figure.sources if s.transcription is not None})
    lines = dict(load_many(connection, wanted))
    return [_live(source, lines.get(source.transcription or 0)) for source in figure.sources]


def _live(source: KeptSource, line: Transcription | None) -> LiveSource:
    if line is None or source.first is None:
        return LiveSource(source, "gone")
    pitches = [parse_spelling(spelling).pitch for spelling in source.notes]
    played = [note.pitch for note in line.notes]
    count = len(pitches)
    starts = [start for start in range(len(played) - count + 1) if played[start : start + count] == pitches]
    if not starts:
        return LiveSource(source, "changed")
    first = min(starts, key=lambda start: (abs(start - (source.first or 0)), start))
    moved = replace(source, first=first, last=first + count - 1)
    return LiveSource(moved, "live", passage_name(line, first, first + count - 1))


def question_of(figure: KeptFigure) -> Question:
    """The question by which places of a kept figure are found: exactly, octaves and doubled notes ignored."""
    return Question(figure.figure, figure.folds)


def occurrences_of(connection: sa.Connection, figure: KeptFigure, limit: int | None = None) -> Answer:
    """Where a figure stands in the stored lines now, at most ``limit`` places unpacked, and in how many in all."""
    return search(connection, question_of(figure), limit)


def count_places(connection: sa.Connection, figure: KeptFigure) -> int:
    """In how many places of the stored lines a figure stands now."""
    return occurrences_of(connection, figure, 0).total


def places_in(connection: sa.Connection, figures: Shelf, ids: Sequence[int]) -> dict[str, dict[int, int]]:
    """How often each figure (by name) stands in each of some lines (by ID).

    The readings of those lines are read once, and looked through for all figures: what ignores octaves is decided by
    the text alone. Cost: some milliseconds a million notes for each figure; nothing for an empty shelf.
    """
    found: dict[str, dict[int, int]] = {figure.name: {} for figure in figures}
    if not figures:
        return found
    patterns = [(figure.name, pattern_of(figure.figure, figure.folds)) for figure in figures]
    for start in range(0, len(ids), _IDS_AT_ONCE):
        joined = _Joined.of(connection, ids[start : start + _IDS_AT_ONCE])
        for name, pattern in patterns:
            found[name].update(joined.counts(pattern))
    return found


@dataclass(frozen=True)
class _Joined:
    """The readings without octaves of some lines, one after the other, by whether doubles are collapsed in them."""

    ids: Sequence[int]
    texts: Mapping[bool, str]
    starts: Mapping[bool, Sequence[int]]

    @classmethod
    def of(cls, connection: sa.Connection, ids: Sequence[int]) -> "_Joined":
        listed = ", ".join(str(int(identity)) for identity in ids)
        sql = (
            "SELECT transcription_id, folded, folded_collapsed FROM reading "
            f"WHERE transcription_id IN ({listed}) ORDER BY transcription_id"
        )
        rows = connection.execute(sa.text(sql)).all()
        columns = {False: [row.folded for row in rows], True: [row.folded_collapsed for row in rows]}
        # No reading holds the bar, so nothing is found across two lines.
        return cls(
            [row.transcription_id for row in rows],
            {is_collapsed: "|".join(texts) for is_collapsed, texts in columns.items()},
            {
                is_collapsed: list(accumulate((len(text) + 1 for text in texts[:-1]), initial=0))
                for is_collapsed, texts in columns.items()
            },
        )

    def counts(self, pattern: Pattern) -> dict[int, int]:
        """How often a pattern stands in each line that holds it, by ID."""
        # The symbols of a pattern begin with its second note.
        places = (place + pattern.lead for place in pattern.places(self.texts[pattern.is_collapsed]))
        starts = self.starts[pattern.is_collapsed]
        return dict(Counter(self.ids[bisect_right(starts, place) - 1] for place in places))


def ids_of_files(connection: sa.Connection, names: Sequence[str]) -> list[int]:
    """The lines that are stored under names of files."""
    ids: list[int] = []
    sql = "SELECT t.id FROM transcription t JOIN source s ON s.id = t.source_id WHERE s.name IN :names ORDER BY t.id"
    query = sa.text(sql).bindparams(sa.bindparam("names", expanding=True))
    for start in range(0, len(names), _IDS_AT_ONCE):
        ids += connection.execute(query, {"names": list(names[start : start + _IDS_AT_ONCE])}).scalars()
    return ids
