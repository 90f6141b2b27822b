"""Repairs that are safe: what follows from something else is made again, outdated families are dropped.

All repairs are one transaction. Notes, titles, kept figures and the practice log are never changed: at most a
transcription whose file's name is lost is given a placeholder for it, and a link that leads nowhere is taken off.
"""

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime

import sqlalchemy as sa

from db.catalogue import load
from db.connection import Database
from db.dialect import is_on_server
from db.examine import COMPARED, ORPHANS, objects_in, wanted_in
from db.made import Made, Trouble
from db.schema import INDEXED_READINGS, HistoryRow, ReadingRow, ShelfSourceRow, Source, TranscriptionRow
from db.server_check import rebuild_on_server, reindex_server
from db.store import prepare, store_derived

_IDS_AT_ONCE = 500


def mend(database: Database, troubles: Sequence[Trouble]) -> None:
    """See to all troubles that can be mended. Raises SystemTroubleError when the database cannot be written."""
    mendable = [trouble for trouble in troubles if trouble.is_mendable]
    kinds = {trouble.kind for trouble in mendable}
    if not mendable:
        return
    with database.writing() as connection:
        if "file" in kinds:
            reindex_server(connection) if database.is_on_server else connection.exec_driver_sql("REINDEX")
        if "schema" in kinds:
            _make_missing(connection, wanted_in(database))
        if "sources" in kinds:
            _name_sources(connection)
        if kinds & {"index", "schema", "orphans", "derived"}:
            # The triggers take old texts out of the indexes: these must agree before a reading is changed.
            rebuild_indexes(connection)
        if "orphans" in kinds:
            _drop_derived_orphans(connection)
        for trouble in mendable:
            if trouble.kind == "derived":
                _derive(connection, trouble.ids)
            elif trouble.kind == "families":
                _delete_discoveries(connection, trouble.ids)
            elif trouble.kind == "links":
                _unlink(connection, trouble.ids)
            elif trouble.kind == "history":
                # What came before a change can only be undone after it.
                connection.execute(sa.delete(HistoryRow).where(HistoryRow.id <= max(trouble.ids)))


def rebuild_indexes(connection: sa.Connection) -> None:
    """Make all trigram indexes again from the readings."""
    if is_on_server(connection):
        rebuild_on_server(connection)
        return
    for name in INDEXED_READINGS:
        connection.exec_driver_sql(f"INSERT INTO {name}_index({name}_index) VALUES ('rebuild')")


def _make_missing(connection: sa.Connection, wanted: Sequence[Made]) -> None:
    """Make triggers, indexes, functions and trigram indexes that are missing; make again those that are not ours."""
    there = {made.name: made for made in objects_in(connection)}
    for made in wanted:
        is_ours = made.kind in COMPARED and made.name in there
        if is_ours and there[made.name].sql != made.sql:
            connection.exec_driver_sql(f"DROP {made.kind.split()[-1]} {made.name}")
            del there[made.name]
    # Tables before the triggers that write into them; the tables behind a trigram index come with it.
    for made in sorted(wanted, key=lambda made: made.kind == "trigger"):
        is_behind_index = made.kind == "table" and not made.sql.upper().startswith("CREATE VIRTUAL")
        if made.name not in there and not is_behind_index:
            connection.exec_driver_sql(made.sql)


def _name_sources(connection: sa.Connection) -> None:
    lost = "SELECT DISTINCT source_id FROM transcription WHERE source_id NOT IN (SELECT id FROM source)"
    for identity in connection.exec_driver_sql(lost).scalars().all():
        name = f"lost file {identity}"
        connection.execute(
            sa.insert(Source).values(
                id=identity,
                name=name,
                content_hash=hashlib.sha256(name.encode()).hexdigest(),
                part="",
                byte_count=0,
                added_at=datetime.now(UTC),
                refused=[],
            )
        )


def _drop_derived_orphans(connection: sa.Connection) -> None:
    for table, column, parent, _, is_derived in ORPHANS:
        if is_derived:
            connection.exec_driver_sql(f"DELETE FROM {table} WHERE {column} NOT IN (SELECT id FROM {parent})")


def _derive(connection: sa.Connection, ids: Sequence[int]) -> None:
    """Readings, functions and counts of lines, made again from their notes."""
    for identity in ids:
        _, transcription = load(connection, identity)
        line = prepare(transcription)
        has_readings = sa.select(ReadingRow.transcription_id).where(ReadingRow.transcription_id == identity)
        if connection.execute(has_readings).first() is None:
            connection.execute(sa.insert(ReadingRow).values(transcription_id=identity, **line.readings))
        store_derived(connection, identity, transcription)
        counts = {name: line.columns[name] for name in ("note_count", "bar_count")}
        connection.execute(sa.update(TranscriptionRow).where(TranscriptionRow.id == identity).values(**counts))


def _delete_discoveries(connection: sa.Connection, ids: Sequence[int]) -> None:
    for start in range(0, len(ids), _IDS_AT_ONCE):
        numbers = ", ".join(str(int(identity)) for identity in ids[start : start + _IDS_AT_ONCE])
        connection.exec_driver_sql(f"DELETE FROM discovery WHERE id IN ({numbers})")


def _unlink(connection: sa.Connection, ids: Sequence[int]) -> None:
    for start in range(0, len(ids), _IDS_AT_ONCE):
        where = ShelfSourceRow.id.in_(ids[start : start + _IDS_AT_ONCE])
        connection.execute(sa.update(ShelfSourceRow).where(where).values(transcription_id=None, first=None, last=None))
