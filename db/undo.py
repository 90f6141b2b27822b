"""Going back: what the last command changed is put as it was, in one transaction, and leaves the history.

Rows that were kept come back byte for byte; readings, functions and roles are derived from the notes again. Before
anything is touched, what is there is compared with what the change left: where something else has had a hand in it,
nothing is undone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa

from corpus.errors import CorpusError
from db.catalogue import load
from db.connection import Database
from db.history import MOST_BYTES, TABLES, Content, Row, rows_of, unpack
from db.schema import HistoryRow, ReadingRow, ShelfFigureRow, ShelfSourceRow, Source, TranscriptionRow
from db.store import delete_lines, insert_functions, prepare, unlink_sources

_IDS_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class Effect:
    """What going back does, in numbers: lines and kept figures taken out, brought back, and set as they were."""

    lines_out: int
    lines_back: int
    lines_as_before: int
    figures_out: int
    figures_back: int
    figures_as_before: int
    links_back: int


@dataclass(frozen=True, slots=True)
class Step:
    """A command in the history: its code, name and time, what each of its changes did in words, and in how many.

    ``effect`` is None where the change was too large to be kept.
    """

    code: str
    command: str
    made_at: datetime
    words: Sequence[str]
    changes: int
    effect: Effect | None


def last_step(connection: sa.Connection) -> Step | None:
    """The command that is undone next; None when there is none."""
    newest = connection.execute(sa.select(HistoryRow.deed).order_by(HistoryRow.id.desc()).limit(1)).scalar()
    return None if newest is None else _step(_changes(connection, newest))


def steps(connection: sa.Connection) -> list[Step]:
    """All that can be undone, the newest first."""
    newest = sa.func.max(HistoryRow.id)
    codes = connection.execute(sa.select(HistoryRow.deed).group_by(HistoryRow.deed).order_by(newest.desc())).scalars()
    return [_step(_changes(connection, code)) for code in codes.all()]


def undo(database: Database, step: Step) -> Effect:
    """Undo a command, which must be the last one still.

    Raises CorpusError, and changes nothing, when another command came after it, when it was too large to be kept, or
    when what it left has been changed in a way that the history knows nothing of.
    """
    with database.writing() as connection:
        last = last_step(connection)
        if last is None or last.code != step.code:
            raise CorpusError("something else was changed meanwhile: look again with 'wellworn undo'")
        changes = _changes(connection, step.code)
        _refuse_tangled(connection, changes)
        for change in reversed(changes):
            _go_back(connection, _content(change))
        connection.execute(sa.delete(HistoryRow).where(HistoryRow.deed == step.code))
    assert last.effect is not None
    return last.effect


def _changes(connection: sa.Connection, code: str) -> Sequence[Any]:
    """The changes of a command, in the order in which they were made."""
    table = HistoryRow.__table__
    return connection.execute(sa.select(table).where(table.c.deed == code).order_by(table.c.id)).all()


def _step(changes: Sequence[Any]) -> Step:
    first = changes[0]
    is_kept = all(change.content is not None for change in changes)
    effect = _effect([_content(change) for change in changes]) if is_kept else None
    return Step(first.deed, first.command, first.made_at, [c.words for c in changes], len(changes), effect)


def _content(change: Any) -> Content:
    if change.content is None:
        raise CorpusError(
            f"'{change.command}' changed more than the {MOST_BYTES >> 20} MB that the history keeps, so it cannot be "
            "undone, nor what was before it: a backup ('wellworn restore') brings back what it holds"
        )
    return unpack(change.content)


def _effect(contents: Sequence[Content]) -> Effect:
    def count(name: str, table: str) -> int:
        return sum(len(getattr(content, name).get(table, ())) for content in contents)

    return Effect(
        count("made", "transcription"),
        count("gone", "transcription"),
        count("were", "transcription"),
        count("made", "shelf_figure"),
        count("gone", "shelf_figure"),
        count("were", "shelf_figure"),
        sum(len(content.links) for content in contents),
    )


def _refuse_tangled(connection: sa.Connection, changes: Sequence[Any]) -> None:
    """Raises CorpusError when another command, between the first and last change, touched the same things."""
    keys = set().union(*(_content(change).keys() for change in changes))
    table = HistoryRow.__table__
    is_between = sa.and_(table.c.id > changes[0].id, table.c.deed != changes[0].deed)
    for other in connection.execute(sa.select(table).where(is_between)):
        if other.content is None or keys & unpack(other.content).keys():
            raise CorpusError(
                f"'{other.command}' of another process changed the same things while '{changes[0].command}' was at "
                "work, so it cannot be undone: restore a backup"
            )


def _go_back(connection: sa.Connection, content: Content) -> None:
    _check_as_left(connection, content)
    _take_out_made(connection, content)
    for row in content.were.get("source", ()):
        connection.execute(sa.update(Source).where(Source.id == row["id"]).values(**row))
    _insert(connection, "source", content.gone.get("source", ()))
    _put_lines_back(connection, content)
    _put_figures_back(connection, content)
    for identity, line, first, last in content.links:
        where = (ShelfSourceRow.id == identity, ShelfSourceRow.transcription_id.is_(None))
        connection.execute(
            sa.update(ShelfSourceRow).where(*where).values(transcription_id=line, first=first, last=last)
        )


def _check_as_left(connection: sa.Connection, content: Content) -> None:
    """Raises CorpusError when what a change made or altered is gone, or what it took away is there."""
    for model in (Source, TranscriptionRow, ShelfFigureRow):
        name = model.__tablename__
        wanted = [*content.made.get(name, ()), *(row["id"] for row in content.were.get(name, ()))]
        # An ID that became free may have been given again by the same change.
        given_again = set(content.made.get(name, ()))
        unwanted = [row["id"] for row in content.gone.get(name, ()) if row["id"] not in given_again]
        table = TABLES[name]
        there = {row["id"] for row in rows_of(connection, table, table.c.id, [*wanted, *unwanted])}
        if not there.issuperset(wanted) or there.intersection(unwanted):
            raise CorpusError(
                "the database was changed since in a way that the history knows nothing of (doctor --repair, a SQL "
                "shell, another program): nothing is undone"
            )


def _take_out_made(connection: sa.Connection, content: Content) -> None:
    lines = list(content.made.get("transcription", ()))
    unlink_sources(connection, lines)
    # What changed in its notes is taken out whole, and comes back from what is kept.
    delete_lines(connection, [*lines, *(row["transcription_id"] for row in content.were.get("line", ()))])
    figures = [*content.made.get("shelf_figure", ()), *(row["id"] for row in content.were.get("shelf_figure", ()))]
    for model, ids in ((Source, content.made.get("source", ())), (ShelfFigureRow, figures)):
        for start in range(0, len(ids), _IDS_AT_ONCE):
            connection.execute(sa.delete(model).where(model.id.in_(ids[start : start + _IDS_AT_ONCE])))


def _put_lines_back(connection: sa.Connection, content: Content) -> None:
    were = content.were.get("transcription", ())
    taken_out = {row["transcription_id"] for row in content.were.get("line", ())}
    for row in were:
        if row["id"] not in taken_out:
            connection.execute(sa.update(TranscriptionRow).where(TranscriptionRow.id == row["id"]).values(**row))
    whole = [row for row in were if row["id"] in taken_out]
    _insert(connection, "transcription", [*content.gone.get("transcription", ()), *whole])
    notes = [*content.gone.get("line", ()), *content.were.get("line", ())]
    _insert(connection, "line", notes)
    for row in notes:
        identity = row["transcription_id"]
        _, transcription = load(connection, identity)
        line = prepare(transcription)
        connection.execute(sa.insert(ReadingRow).values(transcription_id=identity, **line.readings))
        insert_functions(connection, identity, line)


def _put_figures_back(connection: sa.Connection, content: Content) -> None:
    for name in ("shelf_figure", "shelf_source", "practice"):
        _insert(connection, name, [*content.gone.get(name, ()), *content.were.get(name, ())])


def _insert(connection: sa.Connection, name: str, rows: Sequence[Row]) -> None:
    if rows:
        connection.execute(sa.insert(TABLES[name]), list(rows))
