"""Databases of a PostgreSQL server for the jobs, and the faults that only a server has: it stops in the middle."""

import hashlib
import os
import random
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psycopg
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from db.connection import Database
from db.migrations.on_server import prepare_server
from db.opening import open_database
from tests.faults import materials
from tests.faults.jobs import FILES, Common
from tests.faults.kills import Job, run, start, wait_for_writing
from tests.faults.materials import CONTENTS
from tests.faults.surroundings import NotPossibleHereError

CONTROL_VARIABLE = "WELLWORN_TEST_POSTGRES_CONTROL"
"""A command that stops the server as a crash does (``stop``) and starts it again (``start``): ``.ci/with-postgres``."""
_SECONDS_TO_LET_GO = 30
_TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"


class Server:
    """See ``tests.faults.jobs.Home``; each folder's database is made anew on the server that ``url`` names."""

    def __init__(self, url: str) -> None:
        self._url = sa.make_url(url)
        self._prefix = f"wellworn_faults_{os.getpid()}"
        self._made: set[str] = set()
        self._contents: dict[str, dict[str, list[str]]] = {}
        self._watch: psycopg.Connection | None = None

    def _connect(self, name: str | None = None) -> psycopg.Connection:
        url = self._url.set(drivername="postgresql", database=name or self._url.database)
        return psycopg.connect(url.render_as_string(hide_password=False), autocommit=True)

    def _name(self, folder: Path) -> str:
        return f"{self._prefix}_{hashlib.sha256(str(folder).encode()).hexdigest()[:12]}"

    def _url_of(self, name: str) -> str:
        return self._url.set(drivername="postgresql+psycopg", database=name).render_as_string(hide_password=False)

    def words(self, folder: Path) -> list[str]:
        """See ``Home``."""
        return ["--db", self.url(folder)]

    def url(self, folder: Path) -> str:
        """See ``Home``."""
        return self._url_of(self._name(folder))

    def put(self, folder: Path, name: str) -> None:
        """See ``Home``."""
        self._make(self._name(folder), self._template(name) if name else "template0")

    def _make(self, name: str, template: str) -> None:
        with self._connect() as admin:
            admin.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
            admin.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}" ENCODING UTF8')
            # What was said to be kept must be there after a crash, whatever a test server's habits.
            admin.execute(f'ALTER DATABASE "{name}" SET synchronous_commit = on')
        self._made.add(name)

    def _template(self, name: str) -> str:
        full = f"{self._prefix}_{name}"
        if full not in self._made:
            self._make(full, self._template("filled") if name == "emptied" else "template0")
            url = self._url_of(full)
            if name == "old":
                old_database_on_server(url, materials.OLD_LINES)
            elif name == "filled":
                with closing(open_database(url, create=True)) as database:
                    materials.fill(database, materials.LINES)
            else:
                assert run(["--db", url, "remove", *map(str, range(1, materials.LINES + 1))]) == 0
            self._contents[name] = self._contents_of(full, CONTENTS)
        return full

    def _ask(self, name: str, sql: str) -> Sequence[tuple[Any, ...]]:
        with self._connect(name) as connection:
            return connection.execute(sql.encode()).fetchall()

    def ask(self, folder: Path, sql: str) -> Sequence[tuple[Any, ...]]:
        """See ``Home``."""
        self._wait_until_let_go(folder)
        return self._ask(self._name(folder), sql)

    def schema(self, folder: Path) -> str | None:
        """See ``Home``."""
        if ("alembic_version",) not in self.ask(folder, _TABLES):
            return None
        rows = self.ask(folder, "SELECT version_num FROM alembic_version")
        return str(rows[0][0]) if rows else None

    def _contents_of(self, name: str, tables: tuple[str, ...]) -> dict[str, list[str]]:
        return materials.contents_by(lambda sql: self._ask(name, sql), _TABLES, tables)

    def contents(self, folder: Path, tables: tuple[str, ...] = CONTENTS) -> dict[str, list[str]]:
        """See ``Home``."""
        self._wait_until_let_go(folder)
        return self._contents_of(self._name(folder), tables)

    def template_contents(self, name: str) -> dict[str, list[str]]:
        """See ``Home``."""
        self._template(name)
        return self._contents[name]

    def wrongs(self, folder: Path) -> list[str]:
        """See ``Home``."""
        self._wait_until_let_go(folder)
        return materials.doctor_says(self.url(folder))

    def _sessions(self, folder: Path, condition: str) -> int:
        """How many of the database's sessions fulfil a condition, through a connection that is kept."""
        if self._watch is None or self._watch.closed:
            self._watch = self._connect()
        sql = f"SELECT count(*) FROM pg_stat_activity WHERE datname = %s AND {condition}"
        row = self._watch.execute(sql.encode(), [self._name(folder)]).fetchone()
        assert row is not None
        return int(row[0])

    def is_writing(self, folder: Path) -> bool:
        """Whether a session has written in a transaction that is still open."""
        return self._sessions(folder, "backend_xid IS NOT NULL") > 0

    def _wait_until_let_go(self, folder: Path) -> None:
        """A killed client's session ends when the server notices; until then what it sent last may still be done."""
        latest = time.monotonic() + _SECONDS_TO_LET_GO
        while self._sessions(folder, "backend_type = 'client backend'"):
            assert time.monotonic() < latest, "the server keeps the session of a client that is gone"
            time.sleep(0.005)

    def control(self, word: str) -> None:
        """Let the server ``stop`` as in a crash, or ``start`` again. Raises NotPossibleHereError where nobody can."""
        control = os.environ.get(CONTROL_VARIABLE)
        if not control:
            raise NotPossibleHereError("this server cannot be stopped from here: .ci/with-postgres starts one that can")
        subprocess.run([control, word], check=True, stdout=subprocess.DEVNULL)
        if self._watch is not None:
            self._watch.close()
            self._watch = None

    def close(self) -> None:
        """Take all databases off the server again."""
        if self._watch is not None:
            self._watch.close()
        with self._connect() as admin:
            for name in self._made:
                admin.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def old_database_on_server(url: str, lines: int) -> None:
    """A database of the first schema on a server, with the rows of such a file."""
    with TemporaryDirectory() as folder, closing(Database(url)) as database, database.writing() as connection:
        file = Path(folder) / "old.db"
        materials.old_database(file, lines)
        prepare_server(connection)
        config = Config()
        config.set_main_option("script_location", "db:migrations")
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        old = sa.MetaData()
        old.reflect(connection)
        with closing(sqlite3.connect(file)) as dump:
            dump.row_factory = sqlite3.Row
            for name in ("source", "transcription", "line", "reading"):
                names = [column.name for column in old.tables[name].columns]
                columns, values = ", ".join(names), ", ".join(f":{column}" for column in names)
                rows = [dict(row) for row in dump.execute(f"SELECT * FROM {name}")]
                connection.execute(sa.text(f"INSERT INTO {name} ({columns}) VALUES ({values})"), rows)
                if name in ("source", "transcription"):
                    connection.exec_driver_sql(
                        f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT max(id) FROM {name}))"
                    )


class OnServer(Common):
    """The jobs on a server: those of files, and ``restore``, which works otherwise there."""

    def __init__(self, home: Server) -> None:
        super().__init__(home)
        self._server = home

    def jobs(self) -> tuple[Job, ...]:
        """All of them."""
        restore = Job("restore", self._restore_ready, self._restore_words, self._restore_check, self.home.is_writing)
        return (*super().jobs(), restore)

    def _restore_ready(self, folder: Path) -> None:
        self.home.put(folder, "filled")
        materials.filled_database(folder / "backup.db", 10)

    def _restore_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "restore", str(folder / "backup.db"), "--force"]

    def _restore_check(self, folder: Path) -> bool:
        self._sound(folder)
        found = self.home.contents(folder)
        kept = self.home.ask(folder, "SELECT nspname FROM pg_namespace WHERE nspname LIKE 'before_restore%'")
        if found == self.home.template_contents("filled"):
            assert kept == []
            return False
        # The same rows, but for what the databases call their values: a text read from either is the same.
        wanted = materials.contents(folder / "backup.db")
        assert {table: len(rows) for table, rows in found.items()} == {t: len(rows) for t, rows in wanted.items()}
        [(schema,)] = kept
        before = self.home.template_contents("filled")
        for table, rows in before.items():
            assert sorted(repr(row) for row in self.home.ask(folder, f"SELECT * FROM {schema}.{table}")) == rows
        return True


def stopped_in_add(home: Server, folder: Path, times: int) -> tuple[str, int]:
    """The server stops, as in a crash, while a file is written, and comes back: at once, or when the client has left.

    The client says in words what became of it; what it called kept is there, and nothing by halves.
    """
    job = next(job for job in OnServer(home).jobs() if job.name == "add")
    chance = random.Random(8)
    told = folder / "told.txt"
    for number in range(times):
        place = folder / "stopped"
        place.mkdir()
        job.ready(place)
        process = start(job.words(place), told)
        wait_for_writing(process, job, place)
        process.join(chance.uniform(0, 0.5))
        wait_for_writing(process, job, place)
        assert process.is_alive(), "it had ended before the server was stopped"
        home.control("stop")
        if number % 2:
            home.control("start")
        process.join(120)
        if not number % 2:
            home.control("start")
        words = told.read_text(encoding="utf-8")
        assert process.exitcode == 1, (process.exitcode, words)
        assert "nothing is half-written" in words, words
        assert "Traceback" not in words, words
        last = words.strip().splitlines()[-1]
        assert len(last) < 400, words
        kept = [int(line.split()[1]) for line in words.splitlines() if line.startswith("stopped: ")]
        stored = 0 if home.schema(place) is None else OnServer(home).check_added(place)
        # The answer to the last COMMIT may have been lost on the way: then one more is there than was told.
        assert stored - sum(kept) in (0, 1), (stored, words)
        assert stored < FILES
        shutil.rmtree(place)
    return "the server stopped as in a crash while `add` writes, and started again", times
