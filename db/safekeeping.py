"""Backup and restore: whole copies of a database, taken while it is in use, and checked before they count.

A copy of a file is made through SQLite's own backup interface, one of a server's database row by row
(``db.server_copy``), inside one reading transaction: it holds one state of the
database, whatever others write meanwhile. It is written under another name in the target's folder, checked (SQLite's
integrity check; as many rows in every table as the original holds in that state), and only then moved to its place.
At every moment there is a whole database, or a whole backup, under the name that the user knows.
"""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from corpus.errors import CorpusError, QueryError, SystemTroubleError
from db.connection import Database, plain_errors, schema_in, tables_in
from db.location import file_of, unfinished_prefix
from db.opening import SCHEMA, make_folder, open_database

_ALWAYS_THERE: Final = ("source", "transcription", "line", "reading")
_LOGS: Final = ("-wal", "-shm", "-journal")
_PATIENCE_SECONDS: Final = 5


@dataclass(frozen=True, slots=True)
class Holdings:
    """What a database holds: transcriptions, notes, kept figures, entries of the practice log, and rows by table."""

    transcriptions: int
    notes: int
    figures: int
    practice: int
    rows: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Restored:
    """What was restored, and where the database that stood there before is kept.

    ``before`` is its file, None for none; on a server ``schema`` is the schema that its tables are kept in, empty for
    none.
    """

    holdings: Holdings
    before: Path | None
    schema: str = ""


def holdings(connection: sa.Connection) -> Holdings:
    """Count what a database of any schema holds; the trigram indexes' own tables are left out."""
    tables = tables_in(connection)
    rows = {
        name: int(connection.exec_driver_sql(f'SELECT count(*) FROM "{name}"').scalar_one())
        for name in sorted(tables)
        if "_index" not in name and not name.startswith("sqlite_")
    }
    notes = connection.exec_driver_sql("SELECT coalesce(sum(note_count), 0) FROM transcription").scalar_one()
    return Holdings(rows["transcription"], int(notes), rows.get("shelf_figure", 0), rows.get("practice", 0), rows)


def backup(database: Database, target: Path, force: bool = False) -> Holdings:
    """Write a checked copy of a database to a file.

    Raises QueryError when the target exists (unless ``force``), is a folder or the database itself; SystemTroubleError
    when it cannot be written, or when the copy is damaged (as the database is, then).
    """
    # Through a link, the file that it names is written, not the link.
    target = target.resolve()
    if database.file is not None and target.exists() and target.samefile(database.file):
        raise QueryError(f"{target} is the database itself: name another file")
    if target.is_dir():
        raise QueryError(f"{target} is a folder: name a file")
    if target.exists() and not force:
        raise QueryError(f"{target} exists already: give another name, or --force to write over it")
    with _room_beside(target) as copy:
        held = _checked_copy(database, copy, str(target))
        _into_place(copy, target)
    return held


def restore(file: Path, url: str, force: bool = False) -> Restored:
    """Put a backup in the place of the database at ``url``, upgraded to the newest schema.

    A database that stands there is kept beside it, under a name that ends in ``.before-restore``; on a server in a
    schema of its own. Raises CorpusError
    when ``file`` is no wellworn database, was made by a newer wellworn, or a database stands there and ``force`` is
    not given; SystemTroubleError when the backup is damaged, when others use the database, or when the disk refuses.
    """
    place = file_of(url)
    _refuse_strangers(file)
    if place is None:
        return _restore_on_server(file, url, force)
    place = place.resolve()
    if place.exists() and place.samefile(file):
        raise QueryError(f"{file} is the database itself: nothing to restore")
    if place.is_dir():
        raise QueryError(f"{place} is a folder: name a file with --db")
    if place.exists() and place.stat().st_size and not force:
        raise CorpusError(
            f"there is a database {place} already: --force puts the backup in its place and keeps the old one beside it"
        )
    make_folder(place)
    with _room_beside(place) as copy:
        held = _made_ready(file, copy, str(place))
        before = _keep_old(place) if place.exists() else None
        _into_place(copy, place)
    _check_at_its_place(place, held, before)
    return Restored(held, before)


def _made_ready(file: Path, copy: Path, name: str) -> Holdings:
    """A checked copy of a backup, of the newest schema, without anything that is not wellworn's."""
    with closing(Database(f"sqlite:///{file.absolute()}")) as backed_up:
        held = _checked_copy(backed_up, copy, name)
    _upgrade(copy)
    _refuse_foreign_parts(copy, file)
    return held


def _restore_on_server(file: Path, url: str, force: bool) -> Restored:
    from db.server_copy import put_on_server

    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.db"
        held = _made_ready(file, copy, str(copy))
        with closing(Database(f"sqlite:///{copy}")) as ready, ready.reading() as connection:
            rows = holdings(connection).rows
        return Restored(held, None, put_on_server(copy, url, force, rows))


def _refuse_strangers(file: Path) -> None:
    """Raises CorpusError for a file that is no database of ours, or one of a newer schema."""
    if not file.is_file():
        raise CorpusError(f"there is no backup {file}")
    database = Database(f"sqlite:///{file.absolute()}")
    try:
        with database.reading() as connection:
            tables = tables_in(connection)
            schema = schema_in(connection) if "alembic_version" in tables else None
    finally:
        database.close()
    if schema is None or not tables.issuperset(_ALWAYS_THERE):
        raise CorpusError(f"{file} is not a wellworn database: nothing is changed")
    if schema > SCHEMA:
        raise CorpusError(
            f"{file} has schema {schema}, made by a newer wellworn; this one knows {SCHEMA}: install the newer one"
        )


@contextmanager
def _room_beside(target: Path) -> Iterator[Path]:
    """An empty file in the target's folder, gone at the end if it is still there."""
    try:
        handle, name = tempfile.mkstemp(dir=target.absolute().parent, prefix=unfinished_prefix(target))
    except OSError as error:
        raise SystemTroubleError(f"{target} cannot be written ({error.strerror}): choose another place") from error
    os.close(handle)
    copy = Path(name)
    try:
        yield copy
    finally:
        for suffix in ("", *_LOGS):
            copy.with_name(copy.name + suffix).unlink(missing_ok=True)


def _checked_copy(database: Database, copy: Path, name: str) -> Holdings:
    """Copy one state of a database into a file, and check the copy; ``name`` is what messages call the file."""
    with database.reading() as connection:
        held = holdings(connection)
        driver = connection.connection.driver_connection
        if not isinstance(driver, sqlite3.Connection):
            from db.server_copy import copy_to_file

            copy_to_file(connection, copy, name)
            _check(copy, held, f"the copy of {database.name}")
            return held
        with plain_errors(name), closing(sqlite3.connect(copy)) as target:
            driver.backup(target)
            # A single file, without a log beside it, that can be read on a medium that cannot be written.
            target.execute("PRAGMA journal_mode = DELETE")
    _check(copy, held, f"the copy of {database.name}")
    return held


def _check(file: Path, held: Holdings, name: str) -> None:
    """Raises SystemTroubleError when a file is damaged, or holds anything else than it should."""
    database = Database(f"sqlite:///{file.absolute()}")
    try:
        with database.reading() as connection:
            said = connection.exec_driver_sql("PRAGMA integrity_check(3)").scalars().all()
            found = holdings(connection) if said == ["ok"] else None
    finally:
        database.close()
    if found is None:
        raise SystemTroubleError(f"{name} is damaged ({said[0]}): nothing is changed; look with 'wellworn doctor'")
    wrong = [table for table, count in held.rows.items() if found.rows.get(table) != count]
    if wrong:
        raise SystemTroubleError(f"{name} holds fewer or more rows in {', '.join(wrong)}: nothing is changed")


def _into_place(copy: Path, target: Path) -> None:
    """Move a finished file to its name, and see to it that the folder remembers."""
    try:
        copy.chmod(0o666 & ~_umask())
        # What an older file of this name left in its log does not belong to the new one.
        for suffix in _LOGS:
            target.with_name(target.name + suffix).unlink(missing_ok=True)
        copy.replace(target)
        if os.name == "posix":
            folder = os.open(target.absolute().parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
    except OSError as error:
        raise SystemTroubleError(f"{target} cannot be written ({error.strerror}): choose another place") from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _upgrade(copy: Path) -> None:
    """Bring a copy to the newest schema, with the settings of a database in use."""
    database = open_database(f"sqlite:///{copy.absolute()}")
    with plain_errors(database.name), database.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    database.close()


def _refuse_foreign_parts(copy: Path, file: Path) -> None:
    """Raises CorpusError when a database holds triggers or views that wellworn does not make: they could change it."""
    from db.examine import made_by_migrations, objects_in

    ours = set(made_by_migrations())
    database = Database(f"sqlite:///{copy.absolute()}")
    with database.reading() as connection:
        foreign = [m for m in objects_in(connection) if m.kind in ("trigger", "view") and m not in ours]
    database.close()
    if foreign:
        raise CorpusError(
            f"{file} holds a {foreign[0].kind} {foreign[0].name!r} that is not wellworn's: nothing is changed"
        )


def _keep_old(place: Path) -> Path:
    """Give the database at a place a second name, complete in one file; returns the name.

    Raises SystemTroubleError when another process has it open.
    """
    kept = _free_name(place)
    _close_log(place)
    try:
        # A damaged database keeps its log: that may be what is left of it.
        log = place.with_name(f"{place.name}-wal")
        if log.exists() and log.stat().st_size:
            shutil.copy2(log, kept.with_name(f"{kept.name}-wal"))
        try:
            kept.hardlink_to(place)
        except OSError:
            # Some file systems know no second names.
            shutil.copy2(place, kept)
    except OSError as error:
        raise SystemTroubleError(f"{kept} cannot be written ({error.strerror}): nothing is changed") from error
    return kept


def _close_log(place: Path) -> None:
    """Write the log of a database into it: SQLite does so only while nobody else has it open."""
    with closing(sqlite3.connect(place, timeout=_PATIENCE_SECONDS)) as connection:
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise SystemTroubleError(
                    f"database {place} is in use by another process: wait until it has finished, nothing is changed"
                ) from error
            raise SystemTroubleError(f"database {place} cannot be put aside ({error}): nothing is changed") from error
        except sqlite3.DatabaseError:
            # Not readable as a database at all: it is kept as it stands.
            return


def _free_name(place: Path) -> Path:
    number = 1
    while True:
        name = place.with_name(f"{place.name}.before-restore{'' if number == 1 else f'-{number}'}")
        if not name.exists():
            return name
        number += 1


def _check_at_its_place(place: Path, held: Holdings, before: Path | None) -> None:
    """Look at the restored database once more; put the old one back when it is not what it should be."""
    try:
        _check(place, held, str(place))
    except SystemTroubleError:
        if before is not None:
            before.replace(place)
        raise
