"""Backup and restore of a PostgreSQL database: a file that any database can be made of."""

import json
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa

from corpus.errors import CorpusError, SystemTroubleError
from corpus.shelf.kept import KeptFigure, KeptNote, KeptSource
from db.connection import Database
from db.editing import edit
from db.examine import examine
from db.opening import open_database
from db.recur import RecurQuestion, recur
from db.safekeeping import backup, restore
from db.shelf import change_shelf
from db.store import remove
from tests.db.helpers import is_sound, store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.server_only

TABLES = (
    "source", "transcription", "line", "reading", "harmony", "discovery", "family", "shelf_figure", "shelf_source",
)  # fmt: skip


@pytest.fixture
def filled(database: Database) -> Iterator[Database]:
    """A database with four lines, one edited, a discovery and a kept figure."""
    store_lines(database, [walking_line(seed, 6) for seed in range(4)])
    edit(database, [3], {"key": "Eb major", "player": "Åsa Lindqvärn"})
    recur(database, RecurQuestion())
    notes = (KeptNote("Bb2", 0, 10080), KeptNote("C3", 10080, 10080))
    source = KeptSource("Study 1", "Player 1", "1", ("Bb2", "C3"), 2, 0, 1)
    change_shelf(database, lambda shelf: [*shelf, KeptFigure("Two notes", notes, sources=(source,))])
    yield database
    with database.connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA IF EXISTS before_restore_1 CASCADE")


def _plain(value: Any) -> Any:
    """A value as either kind of database gives it: JSON as one text, times without a zone (both are UTC)."""
    if isinstance(value, str) and value[:1] in ("{", "["):
        value = json.loads(value)
    if isinstance(value, (dict, list)):
        return json.dumps(value, sort_keys=True)
    if isinstance(value, str) and value[:2] == "20" and value[4:5] == "-":
        value = datetime.fromisoformat(value)
    return value.replace(tzinfo=None) if isinstance(value, datetime) else value


def rows(database: Database) -> dict[str, list[list[Any]]]:
    """Every row of every table by plain SQL."""
    found = {}
    with database.reading() as connection:
        for table in TABLES:
            columns = sorted(column["name"] for column in sa.inspect(connection).get_columns(table))
            listed = ", ".join(f'"{column}"' for column in columns)
            read = connection.exec_driver_sql(f"SELECT {listed} FROM {table}").all()
            found[table] = sorted(([_plain(value) for value in row] for row in read), key=str)
    return found


def test_a_backup_is_a_file_that_holds_every_row(filled: Database, tmp_path: Path) -> None:
    """The file is a database of its own: the same rows, sound, and searched as any other."""
    held = backup(filled, tmp_path / "copy.db")
    assert (held.transcriptions, held.figures) == (4, 1)
    with closing(open_database(f"sqlite:///{tmp_path / 'copy.db'}")) as copy:
        assert rows(copy) == rows(filled)
        assert is_sound(copy)
        assert examine(copy).is_well


def test_restoring_keeps_the_tables_before_and_goes_on_numbering(filled: Database, tmp_path: Path) -> None:
    """Nothing is put over lines unasked; what was there is a schema of its own, and can be backed up in turn."""
    backup(filled, tmp_path / "copy.db")
    before = rows(filled)
    remove(filled, [1, 2])
    changed = rows(filled)
    with pytest.raises(CorpusError, match="--force"):
        restore(tmp_path / "copy.db", filled.url)
    assert rows(filled) == changed
    restored = restore(tmp_path / "copy.db", filled.url, force=True)
    assert restored.schema == "before_restore_1"
    assert rows(filled) == before
    assert examine(filled).troubles == ()
    with closing(open_database(f"{filled.url}?options=-csearch_path%3D{restored.schema}")) as kept:
        assert rows(kept) == changed
        backup(kept, tmp_path / "older.db")
    assert store_lines(filled, [walking_line(9)], "later.abc") == [5]


def test_a_file_moves_to_a_server_that_has_no_tables_yet(bare_url: str, tmp_path: Path) -> None:
    """From one machine to a school's server; a second time only with --force."""
    with closing(open_database(f"sqlite:///{tmp_path / 'own.db'}", create=True)) as own:
        store_lines(own, [walking_line(seed, 4) for seed in range(3)])
        backup(own, tmp_path / "copy.db")
        wanted = rows(own)
    assert restore(tmp_path / "copy.db", bare_url).schema == ""
    with closing(open_database(bare_url)) as moved:
        assert rows(moved) == wanted
        assert is_sound(moved)
    with pytest.raises(CorpusError, match="--force"):
        restore(tmp_path / "copy.db", bare_url)


def test_a_restore_that_breaks_off_changes_nothing(
    filled: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server ends the connection while rows arrive: all tables are as they were."""
    backup(filled, tmp_path / "copy.db")
    before = rows(filled)

    def cut(connection: sa.Connection) -> None:
        pid = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
        with psycopg.connect(filled.url.replace("+psycopg", ""), autocommit=True) as other:
            other.execute("SELECT pg_terminate_backend(%s, 5000)", (pid,))

    monkeypatch.setattr("db.server_copy._number_on", cut)
    with pytest.raises(SystemTroubleError, match="was lost"):
        restore(tmp_path / "copy.db", filled.url, force=True)
    assert rows(filled) == before
    assert examine(filled).is_well
