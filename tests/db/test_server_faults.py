"""Clients that die in the middle of a write on a PostgreSQL server, and a server that ends their connection there.

At random moments, and with the whole server stopped: ``.ci/with-postgres make faults``.
"""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest

from db.connection import Database
from db.opening import SCHEMA, open_database
from tests.db.helpers import is_sound, scalar, store_lines
from tests.faults.materials import abc_file, doctor_says
from tests.faults.server import old_database_on_server
from tests.generators.lines import walking_line

pytestmark = pytest.mark.server_only
ROOT = Path(__file__).parents[2]
_HOLD = "print('held', flush=True); sys.stdin.readline()"
_ADDS = (
    "import sys; from unittest.mock import patch; from db.opening import open_database; from db import postgresql;"
    "from tests.db.helpers import store_lines; from tests.generators.lines import walking_line;"
    f"\ndef hold(*_):\n    {_HOLD}\n"
    "d = open_database(sys.argv[1])\n"
    "with patch.object(type(postgresql.POSTGRESQL), 'check_commit', hold):\n"
    "    store_lines(d, [walking_line(2), walking_line(3)], 'second.abc')\n"
)
_UPGRADES = (
    "import sys; from unittest.mock import patch; from db.opening import open_database; from db import postgresql;"
    f"\ndef hold(*_):\n    {_HOLD}\n"
    "with patch.object(type(postgresql.POSTGRESQL), 'check_commit', hold):\n"
    "    open_database(sys.argv[1])\n"
)
_LOSES = (
    "import sys, psycopg; from db import postgresql; from cli.main import main; files = 0\n"
    "def lose(_, connection):\n"
    "    global files\n"
    "    files += 1\n"
    "    if files == 3:\n"
    "        pid = connection.exec_driver_sql('SELECT pg_backend_pid()').scalar_one()\n"
    "        with psycopg.connect(sys.argv[2].replace('+psycopg', ''), autocommit=True) as other:\n"
    "            other.execute('SELECT pg_terminate_backend(%s, 5000)', (pid,))\n"
    "type(postgresql.POSTGRESQL).check_commit = lose\n"
    "main()\n"
)


@contextmanager
def held_before_commit(script: str, url: str) -> Iterator[None]:
    """A process that has written everything and not committed; it is killed there."""
    command = [sys.executable, "-c", script, url]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == "held\n"
            yield
        finally:
            process.kill()
    assert process.returncode == -9


def test_a_client_killed_before_it_commits_leaves_nothing(database: Database) -> None:
    """Its lines are not there, its lock is gone, and the same file goes in at once."""
    store_lines(database, [walking_line(1)], "first.abc")
    with held_before_commit(_ADDS, database.url):
        with psycopg.connect(database.url.replace("+psycopg", "")) as other:
            row = other.execute(
                "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND backend_xid IS NOT NULL"
            ).fetchone()
        assert row == (1,), "nothing was being written"
        assert scalar(database, "SELECT count(*) FROM transcription") == 1
    tables = ("source", "transcription", "line", "reading")
    assert [scalar(database, f"SELECT count(*) FROM {table}") for table in tables] == [1, 1, 1, 1]
    assert len(store_lines(database, [walking_line(2), walking_line(3)], "second.abc")) == 2
    assert [scalar(database, f"SELECT count(*) FROM {table}") for table in tables] == [2, 3, 3, 3]
    assert is_sound(database)
    assert doctor_says(database.url) == []


def test_an_upgrade_killed_before_it_commits_leaves_the_old_schema(bare_url: str) -> None:
    """Five lines of the first schema are as they were; the next who opens the database upgrades it whole."""
    old_database_on_server(bare_url, 2)
    readings = "SELECT md5(string_agg(interval || letter || degree, ' ' ORDER BY transcription_id)) FROM reading"
    with psycopg.connect(bare_url.replace("+psycopg", ""), autocommit=True) as plain:
        before = plain.execute(readings).fetchone()
        with held_before_commit(_UPGRADES, bare_url):
            assert plain.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        assert plain.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        assert plain.execute("SELECT to_regclass('history')").fetchone() == (None,)
        assert plain.execute(readings).fetchone() == before
    with closing(open_database(bare_url)) as database:
        assert database.schema() == SCHEMA
        tables = ("transcription", "line", "reading")
        assert [scalar(database, f"SELECT count(*) FROM {table}") for table in tables] == [5, 5, 5]
        # One of the three tunes has no chords.
        assert scalar(database, "SELECT count(DISTINCT transcription_id) FROM harmony") == 4
        assert is_sound(database)
    assert doctor_says(bare_url) == []


def test_add_says_what_is_kept_when_the_server_ends_its_connection(database: Database, tmp_path: Path) -> None:
    """At the commit of the third of five files: two are kept and said so, one line of words, 1 as the exit code."""
    for number in range(5):
        abc_file(tmp_path / f"{number}.abc", number)
    command = [sys.executable, "-c", _LOSES, "--db", database.url, "add", str(tmp_path), "--processes", "1"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    *_, kept, words = done.stderr.strip().splitlines()
    assert kept == "stopped: 2 of 5 files are finished and kept"
    assert "the connection was lost: try again when the server answers" in words
    assert scalar(database, "SELECT count(*) FROM source") == 2
    assert scalar(database, "SELECT count(*) FROM line") == 4
    assert is_sound(database)
