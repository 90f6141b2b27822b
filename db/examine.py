"""What is wrong with a database: found by looking, told in words, with what can be done about it.

Everything that follows from something else is made again and compared: readings, roles and functions with the notes
they were made from, trigram indexes with the readings, kept families with the lines that were looked at. What does not
follow from anything (notes, titles, the shelf, the practice log) can only be looked at; ``db.mend`` never throws any
of it away.
"""

import json
import random
import struct
import tempfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from corpus.errors import SystemTroubleError, WellwornError
from corpus.shelf.file import read_music
from db.catalogue import load
from db.connection import Database
from db.dialect import is_on_server
from db.families import unpack_family
from db.history import unpack as unpack_history
from db.location import unfinished_prefix
from db.made import Made, Trouble
from db.opening import open_database
from db.recur import lines_hash, selection_from
from db.schema import INDEXED_READINGS, HarmonyRow, ReadingRow, TranscriptionRow
from db.server_check import index_troubles, made_on_server, server_objects, unusable_indexes
from db.store import prepare

Progress = Callable[[int, int], None]

READABLE_ERRORS: Final = (
    WellwornError,
    ArithmeticError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
    struct.error,
    zlib.error,
)
"""What reading damaged bytes may raise."""

COMPARED: Final = ("trigger", "function", "gin index")
"""What is dropped and made again where it is not as the migrations make it: nothing but that hangs on it."""
_MOST_NAMED: Final = 8
_BROKEN_INDEX: Final = ("missing from index", "in index", "NULL value in", "wrong # of entries")


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """All that was found, and how many of the transcriptions were made again and compared."""

    troubles: tuple[Trouble, ...]
    line_count: int
    compared: int

    @property
    def is_well(self) -> bool:
        """Whether nothing is wrong."""
        return not any(trouble.is_wrong for trouble in self.troubles)


def examine(database: Database, most_lines: int | None = None, progress: Progress | None = None) -> Diagnosis:
    """Look at everything; of more than ``most_lines`` transcriptions, a random choice of so many is made again.

    Raises SystemTroubleError when the file is too damaged to look any further than its first pages.
    """
    with database.reading() as connection:
        troubles = [*_file_troubles(connection)]
        if any(not trouble.is_mendable for trouble in troubles):
            # Reading on through damaged pages tells nothing that can be relied on.
            return Diagnosis(tuple(troubles), 0, 0)
        troubles += _schema_troubles(connection, _wanted(database))
        if any(trouble.kind == "tables" for trouble in troubles):
            return Diagnosis(tuple(troubles), 0, 0)
        troubles += _orphans(connection)
        ids = list(connection.execute(sa.select(TranscriptionRow.id).order_by(TranscriptionRow.id)).scalars())
        chosen = ids if most_lines is None or len(ids) <= most_lines else sorted(random.sample(ids, most_lines))
        troubles += _derived_troubles(connection, chosen, progress)
        troubles += _family_troubles(connection)
        troubles += _shelf_troubles(connection)
        troubles += _history_troubles(connection)
    troubles += index_troubles(database) if database.is_on_server else _index_troubles(database)
    troubles += _unfinished(database.file)
    return Diagnosis(tuple(troubles), len(ids), len(chosen))


def listed(ids: Sequence[int]) -> str:
    """Some numbers in words: the first few, and how many more there are."""
    more = f" and {len(ids) - _MOST_NAMED:,} more" if len(ids) > _MOST_NAMED else ""
    return f"{', '.join(map(str, ids[:_MOST_NAMED]))}{more}"


def _file_troubles(connection: sa.Connection) -> Iterator[Trouble]:
    if is_on_server(connection):
        yield from unusable_indexes(connection)
        return
    said: list[str] = list(connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars())
    for message in said:
        if message == "ok":
            continue
        if "fts5" in message.lower():
            yield Trouble("index", f"a trigram index is damaged ({message})", is_mendable=True)
        elif any(words in message for words in _BROKEN_INDEX):
            yield Trouble("file", f"an index of the database is damaged ({message})", is_mendable=True)
        else:
            yield Trouble("file", f"the file is damaged ({message}): restore a backup ('wellworn restore')")


@cache
def made_by_migrations() -> tuple[Made, ...]:
    """Everything that the newest schema makes, read from a fresh database."""
    with (
        tempfile.TemporaryDirectory() as folder,
        closing(open_database(f"sqlite:///{Path(folder) / 'fresh.db'}", create=True)) as fresh,
        fresh.reading() as connection,
    ):
        return objects_in(connection)


def objects_in(connection: sa.Connection) -> tuple[Made, ...]:
    """What a database is made of; SQLite's own automatic indexes are left out."""
    if is_on_server(connection):
        return server_objects(connection)
    rows = connection.exec_driver_sql("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
    return tuple(Made(*row) for row in rows)


def wanted_in(database: Database) -> tuple[Made, ...]:
    """What a database must be made of. Raises SystemTroubleError when a server does not let this user find out."""
    return made_on_server(database) if database.is_on_server else made_by_migrations()


def _wanted(database: Database) -> tuple[Made, ...] | None:
    try:
        return wanted_in(database)
    except SystemTroubleError:
        return None


def _unfinished(file: Path | None) -> Iterator[Trouble]:
    prefix = "" if file is None else unfinished_prefix(file)
    left = [] if file is None else sorted(path.name for path in file.parent.iterdir() if path.name.startswith(prefix))
    if left:
        told = f"copies that were never finished lie beside the database ({', '.join(left[:_MOST_NAMED])})"
        yield Trouble("file", f"{told}: remove them when no backup or restore is running", is_wrong=False)


def _schema_troubles(connection: sa.Connection, made_anew: Sequence[Made] | None) -> Iterator[Trouble]:
    if made_anew is None:
        told = "tables and indexes cannot be compared: that takes a user who may make a schema in the database"
        yield Trouble("schema", told, is_wrong=False)
        return
    wanted = {made.name: made for made in made_anew}
    there = {made.name: made for made in objects_in(connection)}
    missing = [made for name, made in wanted.items() if name not in there]
    tables = [made for made in missing if made.kind == "table" and "_index" not in made.name]
    for made in tables:
        yield Trouble("tables", f"the table {made.name} is missing: restore a backup ('wellworn restore')")
    if tables:
        return
    for made in missing:
        yield Trouble("schema", f"the {made.kind} {made.name} is missing", is_mendable=True)
    for name, made in there.items():
        if made.kind in COMPARED and name in wanted and wanted[name].sql != made.sql:
            yield Trouble("schema", f"the {made.kind} {name} is not as wellworn makes it", is_mendable=True)
        if made.kind in ("trigger", "view") and name not in wanted:
            yield Trouble(
                "schema", f"the {made.kind} {name} is not wellworn's: drop it in a SQL shell, if it is not yours"
            )


def _index_troubles(database: Database) -> Iterator[Trouble]:
    """FTS5's own comparison of each index with the readings. It counts as writing, and changes nothing."""
    for name in INDEXED_READINGS:
        try:
            with database.writing() as connection:
                connection.exec_driver_sql(
                    f"INSERT INTO {name}_index({name}_index, rank) VALUES ('integrity-check', 1)"
                )
        except SystemTroubleError as error:
            if "read-only" in str(error):
                yield Trouble("index", "the trigram indexes cannot be checked in a read-only file", is_wrong=False)
                return
            if "damaged" not in str(error):
                raise
            yield Trouble("index", f"the trigram index over the reading {name} differs from it", is_mendable=True)
        except WellwornError as error:
            yield Trouble("index", f"the trigram index over the reading {name} is missing ({error})", is_mendable=True)


ORPHANS: Final = (
    # table, its column, the table it hangs on, what it is called, whether it can be made again
    ("reading", "transcription_id", "transcription", "readings", True),
    ("harmony", "transcription_id", "transcription", "functions", True),
    ("family", "discovery_id", "discovery", "families", True),
    ("line", "transcription_id", "transcription", "notes", False),
    ("shelf_source", "figure_id", "shelf_figure", "sources of kept figures", False),
    ("practice", "figure_id", "shelf_figure", "practice entries", False),
)


def _column(connection: sa.Connection, sql: str) -> tuple[int, ...]:
    return tuple(connection.exec_driver_sql(sql).scalars())


def _orphans(connection: sa.Connection) -> Iterator[Trouble]:
    for table, column, parent, words, is_derived in ORPHANS:
        sql = f"SELECT DISTINCT {column} FROM {table} WHERE {column} NOT IN (SELECT id FROM {parent}) ORDER BY 1"
        if ids := _column(connection, sql):
            of_what = {"transcription": "transcription", "discovery": "discovery", "shelf_figure": "kept figure"}[
                parent
            ]
            told = f"{words} of a {of_what} that is not there: {listed(ids)}"
            keep = "" if is_derived else "; they are left as they are: restore a backup that has both"
            yield Trouble("orphans", told + keep, ids, is_mendable=is_derived)
    sourceless = "SELECT id FROM transcription WHERE source_id NOT IN (SELECT id FROM source) ORDER BY id"
    if ids := _column(connection, sourceless):
        yield Trouble("sources", f"transcriptions whose file is not named: {listed(ids)}", ids, is_mendable=True)
    noteless = "SELECT id FROM transcription WHERE id NOT IN (SELECT transcription_id FROM line) ORDER BY id"
    if ids := _column(connection, noteless):
        told = f"transcriptions without their notes: {listed(ids)}; add their files again, or restore a backup"
        yield Trouble("lost", told, ids)
    known = {table for table, *_ in ORPHANS} | {"transcription"}
    # A server never lets go of a row that others hang on.
    broken = [] if is_on_server(connection) else connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    for table in sorted({row[0] for row in broken} - known):
        yield Trouble("orphans", f"rows of {table} hang on rows that are not there: restore a backup")


def _derived_troubles(connection: sa.Connection, ids: Sequence[int], progress: Progress | None) -> Iterator[Trouble]:
    differing, unreadable = [], []
    with_notes = set(_column(connection, "SELECT transcription_id FROM line"))
    # A line whose file is not named cannot be loaded yet.
    named = set(_column(connection, "SELECT t.id FROM transcription t JOIN source s ON s.id = t.source_id"))
    for number, identity in enumerate(ids):
        if identity in with_notes and identity in named:
            try:
                is_same = _is_as_derived(connection, identity)
            except READABLE_ERRORS:
                unreadable.append(identity)
            else:
                if not is_same:
                    differing.append(identity)
        if progress is not None:
            progress(number + 1, len(ids))
    if differing:
        told = f"readings, functions or counts that differ from the notes: transcriptions {listed(differing)}"
        yield Trouble("derived", told, tuple(differing), is_mendable=True)
    if unreadable:
        told = f"transcriptions that cannot be read: {listed(unreadable)}; add their files again, or restore a backup"
        yield Trouble("lost", told, tuple(unreadable))


def _is_as_derived(connection: sa.Connection, identity: int) -> bool:
    entry, transcription = load(connection, identity)
    line = prepare(transcription)
    reading = connection.execute(sa.select(ReadingRow.__table__).where(ReadingRow.transcription_id == identity)).first()
    if reading is None or any(getattr(reading, name) != text for name, text in line.readings.items()):
        return False
    columns = (HarmonyRow.functions, HarmonyRow.chord_indexes, HarmonyRow.silences)
    rows = connection.execute(
        sa.select(*columns).where(HarmonyRow.transcription_id == identity).order_by(HarmonyRow.level)
    ).all()
    counts = (line.columns["note_count"], line.columns["bar_count"])
    return [tuple(row) for row in rows] == list(line.functions) and (entry.note_count, entry.bar_count) == counts


def _family_troubles(connection: sa.Connection) -> Iterator[Trouble]:
    stale, unreadable = [], []
    for identity, asked, stored in connection.exec_driver_sql("SELECT id, asked, lines_hash FROM discovery").all():
        try:
            if lines_hash(connection, selection_from(json.loads(asked)[0])) != stored:
                stale.append(identity)
            sql = sa.text("SELECT content FROM family WHERE discovery_id = :id")
            for content in connection.execute(sql, {"id": identity}).scalars():
                unpack_family(content)
        except READABLE_ERRORS:
            unreadable.append(identity)
    if stale:
        told = f"families kept for lines that have changed since: {len(stale)} discoveries; 'recur' makes them again"
        yield Trouble("families", told, tuple(stale), is_mendable=True, is_wrong=False)
    if unreadable:
        told = f"kept families that cannot be read: {len(unreadable)} discoveries"
        yield Trouble("families", told, tuple(unreadable), is_mendable=True)


def _shelf_troubles(connection: sa.Connection) -> Iterator[Trouble]:
    gone = _column(
        connection,
        "SELECT s.id FROM shelf_source s LEFT JOIN transcription t ON t.id = s.transcription_id WHERE "
        "s.transcription_id IS NOT NULL "
        "AND (t.id IS NULL OR s.first < 0 OR s.last < s.first OR s.last >= t.note_count)",
    )
    if gone:
        told = f"kept figures whose line is no longer there: {len(gone)} sources; the words about them stay"
        yield Trouble("links", told, gone, is_mendable=True, is_wrong=False)
    kept = "SELECT name, CAST(music AS TEXT) FROM shelf_figure ORDER BY id_name"
    for name, music in connection.exec_driver_sql(kept).all():
        try:
            read_music(json.loads(music))
        except READABLE_ERRORS:
            yield Trouble("shelf", f"the kept figure {name!r} cannot be read: restore a backup")


def _history_troubles(connection: sa.Connection) -> Iterator[Trouble]:
    broken = []
    sql = "SELECT id, content FROM history WHERE content IS NOT NULL ORDER BY id"
    for identity, content in connection.exec_driver_sql(sql).all():
        try:
            unpack_history(content)
        except READABLE_ERRORS:
            broken.append(identity)
    if broken:
        told = f"changes kept for undo that cannot be read: {len(broken)}; a repair forgets them and those before"
        yield Trouble("history", told, tuple(broken), is_mendable=True, is_wrong=False)
