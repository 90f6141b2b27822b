"""What faults are tried on: files to add, databases that hold something, and how their contents are compared."""

import atexit
import random
import shutil
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from db.connection import Database
from db.editing import edit
from db.examine import examine
from db.opening import open_database
from db.shelf import change_shelf
from db.store import add_source, prepare
from tests.db.helpers import source
from tests.generators.plants import planted

CONTENTS = ("source", "transcription", "line", "reading", "harmony", "shelf_figure", "shelf_source", "practice")
"""Tables that hold what the user has; families and the history follow from what was asked and done."""
NOTES_A_TUNE = 16
LINES = 40
OLD_LINES = 60
Ask = Callable[[str], Sequence[tuple[Any, ...]]]
"""Puts a question in SQL to a database, past wellworn."""
_SQLITE_TABLES = "SELECT name FROM sqlite_master"
_PITCHES = ("C,", "D,", "E,", "F,", "G,", "A,", "B,", "C", "D", "E")
_CHORDS = ("C7", "F7", "Bbmaj7", "Ebmaj7", "Am7b5", "D7", "Gm6", "G7")


def lasting_folder() -> Path:
    """A folder that is gone when this process ends (the killed ones, forked from it, end otherwise)."""
    folder = Path(mkdtemp(prefix="wellworn-faults-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def abc_file(path: Path, seed: int, tunes: int = 2) -> Path:
    """An ABC file with some tunes of four bars and ``NOTES_A_TUNE`` notes; the same seed gives the same text."""
    chance = random.Random(seed)
    lines = ["%abc-2.1"]
    for number in range(1, tunes + 1):
        lines += [f"X:{number}", f"T:Tune {seed} {number}", "M:4/4", "L:1/4", "K:C clef=bass"]
        bars = [
            f'"{chance.choice(_CHORDS)}"' + " ".join(chance.choice(_PITCHES) for _ in range(4))
            for _ in range(NOTES_A_TUNE // 4)
        ]
        lines += [" | ".join(bars) + " |]", ""]
    path.write_text("\n".join(lines))
    return path


def filled_database(file: Path, lines: int) -> None:
    """A database with so many lines, two a file, a kept figure, and a little history."""
    with closing(open_database(url_of(file), create=True)) as database:
        fill(database, lines)
    close_log(file)


def fill(database: Database, lines: int) -> None:
    """Store what ``filled_database`` tells."""
    from corpus.match.figure import figure_from_intervals
    from corpus.shelf.keeping import from_typed

    # With figures planted, so that there are families to find.
    made = planted(8, lines, choruses=1, figures=4).lines
    for number in range(0, lines, 2):
        add_source(database, source(f"{number}.abc"), [prepare(line) for line in made[number : number + 2]], "")
    kept = from_typed("Climb", figure_from_intervals("2 2 1 2"), ())
    change_shelf(database, lambda shelf: [*shelf, kept], "shelf add")
    edit(database, [1], {"player": "Orlo Quist"})


def old_database(file: Path, lines: int) -> None:
    """A database of the first schema, made from its dump by copying its lines under other numbers."""
    dump = Path(__file__).parents[1] / "db" / "schemas" / "0001.sql"
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
    # The trigram indexes of a dump are there for whoever opens the file anew.
    with closing(sqlite3.connect(file)) as connection:
        columns = {table: _columns(connection, table) for table in ("source", "transcription", "line", "reading")}
        for number in range(10, 10 + lines):
            for table, names in columns.items():
                values = ", ".join(_copied(table, name, number) for name in names)
                old = {"source": "id = 1", "transcription": "id = 1"}.get(table, "transcription_id = 1")
                connection.execute(f"INSERT INTO {table} ({', '.join(names)}) SELECT {values} FROM {table} WHERE {old}")
        connection.commit()
        connection.execute("PRAGMA journal_mode = WAL")
    close_log(file)


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [f'"{row[1]}"' for row in connection.execute(f"PRAGMA table_info({table})")]


def _copied(table: str, column: str, number: int) -> str:
    name = column.strip('"')
    if name in ("id", "transcription_id", "source_id"):
        return str(number)
    return f"'{number:064d}'" if name == "content_hash" else column


def close_log(file: Path) -> None:
    """Write what stands in the log into the file, so that the file alone can be copied."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def url_of(file: Path) -> str:
    """The URL of a SQLite file."""
    return f"sqlite:///{file}"


def contents(file: Path, tables: tuple[str, ...] = CONTENTS) -> dict[str, list[str]]:
    """Every row of some tables, sorted, read by sqlite3 alone; a table that is not there has none."""
    with closing(sqlite3.connect(file)) as connection:
        return contents_by(lambda sql: connection.execute(sql).fetchall(), _SQLITE_TABLES, tables)


def contents_by(ask: Ask, tables_there: str, tables: tuple[str, ...]) -> dict[str, list[str]]:
    """Every row of some tables, sorted, as ``ask`` answers; ``tables_there`` asks for the names of all tables."""
    there = {row[0] for row in ask(tables_there)}
    return {
        table: sorted(repr(row) for row in ask(f"SELECT * FROM {table}")) if table in there else [] for table in tables
    }


def schema_of(file: Path) -> str | None:
    """The schema's number, read by sqlite3 alone; None for an empty database."""
    with closing(sqlite3.connect(file)) as connection:
        if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'").fetchone():
            return None
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        return None if row is None else str(row[0])


def wrongs(file: Path) -> list[str]:
    """What the doctor and SQLite's own check find wrong with a database; all lines are compared."""
    with closing(sqlite3.connect(file)) as connection:
        said = [row[0] for row in connection.execute("PRAGMA integrity_check")]
    return doctor_says(url_of(file)) + [words for words in said if words != "ok"]


def doctor_says(url: str) -> list[str]:
    """What the doctor finds wrong with a database; all lines are compared."""
    with closing(Database(url)) as database:
        return [trouble.words for trouble in examine(database).troubles if trouble.is_wrong]
