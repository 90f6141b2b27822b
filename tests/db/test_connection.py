"""Opening databases: settings, schema, and every kind of trouble in plain words."""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from corpus.errors import CorpusError, SystemTroubleError
from db.connection import Database
from db.location import database_url, file_of
from db.opening import SCHEMA, open_database
from db.readers import rows_of
from db.schema import Base
from tests.db.helpers import is_sound, scalar, store_lines
from tests.generators.lines import walking_line


def url_of(path: Path) -> str:
    """The URL of a SQLite file."""
    return f"sqlite:///{path}"


@pytest.mark.sqlite_only(reason="settings of SQLite")
def test_a_new_database_is_at_the_newest_schema_with_the_settings_promised(database: Database) -> None:
    """Write-ahead log, foreign keys, busy timeout."""
    assert database.schema() == SCHEMA
    with database.reading() as connection:
        settings = [
            connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "foreign_keys", "busy_timeout")
        ]
    assert settings == ["wal", 1, 30000]
    assert is_sound(database)


def test_migrations_make_the_tables_that_the_models_describe(database: Database) -> None:
    """Alembic's own comparison finds no difference between the migrated database and the models."""
    with database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"include_name": _is_modelled})
        differences = compare_metadata(context, Base.metadata)
    if database.is_on_server:
        # There it is an index over a hash of the question, as that may be longer than what an index has room for.
        differences = [each for each in differences if "asked" not in repr(each)]
    assert differences == []


def _is_modelled(name: str | None, kind: str, _: object) -> bool:
    """Whether a table or index is one of the models': the trigram indexes are not."""
    return kind not in ("table", "index") or "_index" not in (name or "")


def test_a_missing_database_is_named_unless_it_may_be_made(tmp_path: Path) -> None:
    """Searching makes no files; adding makes folders too."""
    path = tmp_path / "deep" / "down" / "lines.db"
    with pytest.raises(CorpusError, match="wellworn add"):
        open_database(url_of(path))
    assert not path.parent.exists()
    open_database(url_of(path), create=True).close()
    assert path.exists()


@pytest.mark.parametrize("name", ["lines.db", "file:{}?uri=true"])
def test_a_question_to_a_name_that_is_mistyped_makes_nothing(tmp_path: Path, name: str) -> None:
    """Neither a file nor tables in an empty one, whichever way the name is written."""
    url = f"sqlite:///{name.format(tmp_path / 'mistyped.db')}" if "{" in name else url_of(tmp_path / "mistyped.db")
    with pytest.raises((CorpusError, SystemTroubleError)):
        open_database(url)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "mistyped.db").touch()
    with pytest.raises(CorpusError, match="holds no transcriptions yet"):
        open_database(url)
    assert (tmp_path / "mistyped.db").stat().st_size == 0


@pytest.mark.sqlite_only(reason="a file is asked through another module than SQLAlchemy")
def test_a_file_is_asked_without_sqlalchemy_and_answers_alike(database: Database) -> None:
    """Rows by name and place, values by name, and one state of the database until the question is answered."""
    store_lines(database, [walking_line(1), walking_line(2)], "first.abc")
    sql = "SELECT t.id, t.title AS name, t.note_count FROM transcription t WHERE t.id >= :least ORDER BY t.id"
    with database.asking() as asking, database.reading() as reading:
        own, theirs = (rows_of(connection, sql, {"least": 1}).all() for connection in (asking, reading))
        assert [tuple(row) for row in own] == [tuple(row) for row in theirs]
        assert [(row.id, row.name, row[2]) for row in own] == [(row.id, row.name, row.note_count) for row in theirs]
        with pytest.raises(AttributeError):
            _ = own[0].player
        assert rows_of(asking, sql, {"least": 9}).first() is None
        store_lines(database, [walking_line(3)], "second.abc")
        assert rows_of(asking, "SELECT count(*) FROM transcription").scalar_one() == 2
        with pytest.raises(LookupError, match="more found"):
            rows_of(asking, sql, {"least": 1}).one()
    with pytest.raises(SystemTroubleError, match="no such column"), database.asking() as asking:
        rows_of(asking, "SELECT absent FROM transcription")


def test_a_file_that_goes_away_is_told_and_not_made_again(tmp_path: Path) -> None:
    """A name with signs of URIs in it stands for itself."""
    path = tmp_path / "odd #1 100%.db"
    open_database(url_of(path), create=True).close()
    database = open_database(url_of(path))
    assert database.schema() == SCHEMA
    for file in tmp_path.iterdir():
        file.unlink()
    with pytest.raises(SystemTroubleError, match="cannot be opened"), database.asking():
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_newer_schema_is_refused_and_left_alone(tmp_path: Path, database: Database) -> None:
    """A database of a later wellworn is not touched."""
    with database.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    for create in (False, True):
        with pytest.raises(CorpusError, match="newer wellworn"):
            open_database(database.url, create=create)
    with database.writing() as connection:
        connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{SCHEMA}'")


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A foreign SQLite file, and a file that is none."""
    foreign = tmp_path / "other.db"
    with sqlite3.connect(foreign) as connection:
        connection.execute("CREATE TABLE customer (id INTEGER)")
    text = tmp_path / "notes.txt"
    text.write_text("not a database " * 100)
    for path in (foreign, text):
        before = path.read_bytes()
        for create in (False, True):
            with pytest.raises(CorpusError, match=r"not a wellworn database|another program"):
                open_database(url_of(path), create=create)
        assert path.read_bytes() == before


@pytest.mark.parametrize("url", ["nonsense://x", "sqlite://host/x", "postgresql+psycopg://127.0.0.1:1/db"])
def test_urls_that_cannot_be_used_are_refused(url: str) -> None:
    """Unknown dialects, and a server that does not answer."""
    with pytest.raises((CorpusError, SystemTroubleError)):
        open_database(url, create=True)


def test_where_the_database_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The option, then the environment, then the platform's folder."""
    monkeypatch.setenv("WELLWORN_DB", str(tmp_path / "env.db"))
    assert database_url(str(tmp_path / "option.db")) == url_of(tmp_path / "option.db")
    assert database_url(None) == url_of(tmp_path / "env.db")
    assert database_url("sqlite:///x.db") == "sqlite:///x.db"
    monkeypatch.delenv("WELLWORN_DB")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    if sys.platform == "linux":
        assert database_url(None) == url_of(tmp_path / "data" / "wellworn" / "wellworn.db")
    assert file_of("sqlite://") is None


def test_two_processes_that_write_at_once_wait_for_each_other(database: Database) -> None:
    """Both store all their lines; nothing is lost or locked."""
    script = (
        "import sys; from db.opening import open_database; from tests.db.helpers import store_lines;"
        "from tests.generators.lines import walking_line; d = open_database(sys.argv[1]);"
        "[store_lines(d, [walking_line(i, 4)], f'{sys.argv[2]}{i}.abc') for i in range(30)]"
    )
    root = Path(__file__).parents[2]
    commands = [[sys.executable, "-c", script, database.url, name] for name in ("left", "right")]
    running = [subprocess.Popen(command, cwd=root) for command in commands]
    assert [process.wait(timeout=60) for process in running] == [0, 0]
    assert scalar(database, "SELECT count(*) FROM transcription") == 60
    assert is_sound(database)


@pytest.mark.skipif(os.name != "posix" or not Path("/dev/full").exists(), reason="needs a Unix system")
@pytest.mark.sqlite_only(reason="the page limit of SQLite")
def test_a_disk_that_fills_up_is_said_and_nothing_is_half_written(database: Database) -> None:
    """The page limit of SQLite gives the error of a full disk: whole files stay, the last one leaves no trace."""
    store_lines(database, [walking_line(1)], "first.abc")
    pages = scalar(database, "PRAGMA page_count")

    def limit(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {pages + 4}")

    small = Database(database.url)
    sa.event.listen(small._engine, "connect", limit)
    with pytest.raises(SystemTroubleError, match="disk is full"):
        store_lines(small, [walking_line(seed) for seed in range(200)], "second.abc")
    small.close()
    assert scalar(database, "SELECT count(*) FROM transcription") == 1
    assert is_sound(database)
