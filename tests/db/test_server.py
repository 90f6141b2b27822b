"""A PostgreSQL server as others keep it: users without rights, restarts, locks, foreign databases; all in words."""

import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import psycopg
import pytest
import sqlalchemy as sa

from corpus.errors import CorpusError, SystemTroubleError, WellwornError
from corpus.match.figure import figure_from_intervals
from db.catalogue import Selection, entries
from db.connection import Database
from db.location import shown
from db.opening import open_database
from db.postgresql import POSTGRESQL
from db.search import Question, search
from tests.databases import ServerDatabases
from tests.db.helpers import is_sound, scalar, store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.server_only
ROOT = Path(__file__).parents[2]
SECRET = "s3cr%40t-word"


def plain(url: str) -> str:
    """A URL as psycopg wants it."""
    return url.replace("+psycopg", "")


def kill_backend(database: Database, connection: sa.Connection) -> None:
    """The server ends a connection, as a restart does."""
    pid = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    with psycopg.connect(plain(database.url), autocommit=True) as other:
        other.execute("SELECT pg_terminate_backend(%s, 5000)", (pid,))


def test_a_server_that_restarts_in_the_middle_leaves_whole_files(database: Database) -> None:
    """The connection ends while a file is stored: said in words, nothing of it is there, and the next file goes in."""
    store_lines(database, [walking_line(1)], "first.abc")

    def change() -> None:
        with database.writing() as connection:
            connection.exec_driver_sql("DELETE FROM line")
            kill_backend(database, connection)
            connection.exec_driver_sql("DELETE FROM reading")

    with pytest.raises(SystemTroubleError, match="connection was lost") as told:
        change()
    assert "nothing is half-written" in str(told.value)
    assert scalar(database, "SELECT count(*) FROM line") == 1
    assert store_lines(database, [walking_line(2)], "second.abc") == [2]
    assert is_sound(database)


def test_a_connection_that_ended_while_nothing_was_under_way_is_made_again(database: Database) -> None:
    """Between two transactions a restart is not even noticed."""
    with database.reading() as connection:
        pid = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    with psycopg.connect(plain(database.url), autocommit=True) as other:
        other.execute("SELECT pg_terminate_backend(%s, 5000)", (pid,))
    assert scalar(database, "SELECT count(*) FROM line") == 0


def test_a_reader_whose_connection_ends_is_told(database: Database) -> None:
    """No traceback of a library: words, and what to do."""

    def look() -> None:
        with database.reading() as connection:
            kill_backend(database, connection)
            entries(connection, Selection())

    with pytest.raises(SystemTroubleError, match="connection was lost"):
        look()


def test_a_writer_waits_and_is_told_when_it_takes_too_long(database: Database) -> None:
    """Another writer holds the lock: readers go on, a second writer gives up with words and leaves nothing."""
    store_lines(database, [walking_line(1)], "first.abc")
    soon = POSTGRESQL.begin_writing.replace("'30s'", "'100ms'")
    with closing(Database(database.url)) as other, database.writing():
        with patch.object(type(POSTGRESQL), "begin_writing", soon), pytest.raises(SystemTroubleError, match="in use"):
            store_lines(other, [walking_line(2)], "second.abc")
        assert scalar(other, "SELECT count(*) FROM transcription") == 1
    assert scalar(database, "SELECT count(*) FROM source") == 1


def test_two_add_while_two_search_and_every_count_is_one_that_was_true(database: Database) -> None:
    """Readers see whole files only: each file holds the figure equally often, so every total is a multiple of that."""
    script = (
        "import sys; from db.opening import open_database; from tests.db.helpers import store_lines;"
        "from tests.generators.lines import walking_line; d = open_database(sys.argv[1]);"
        "[store_lines(d, [walking_line(7, 4), walking_line(7, 4)], f'{sys.argv[2]}{i}.abc') for i in range(20)]"
    )
    question = Question(figure_from_intervals("+2 +1"))
    store_lines(database, [walking_line(7, 4), walking_line(7, 4)], "one.abc")

    def total(of: Database) -> int:
        with of.reading() as connection:
            return search(connection, question, limit=1).total

    a_file = total(database)
    commands = [[sys.executable, "-c", script, database.url, name] for name in ("left", "right")]
    running = [subprocess.Popen(command, cwd=ROOT) for command in commands]
    seen = []
    with closing(Database(database.url)) as second:
        while any(process.poll() is None for process in running):
            seen += [total(database), total(second)]
    assert [process.returncode for process in running] == [0, 0]
    assert total(database) == 41 * a_file > 0
    assert {count % a_file for count in seen} == {0}
    assert seen == sorted(seen)
    assert scalar(database, "SELECT count(*) FROM transcription") == 82
    assert is_sound(database)


@contextmanager
def user(databases: ServerDatabases, url: str, *grants: str) -> Iterator[str]:
    """The URL of a database for a user of no other rights than those granted."""
    name = "wellworn_test_guest"
    with psycopg.connect(plain(url), autocommit=True) as admin:
        # Users belong to the whole server: tests that run beside this one must not take it away.
        admin.execute("SELECT pg_advisory_lock(4711)")
        admin.execute(f"DROP ROLE IF EXISTS {name}")
        admin.execute(f"CREATE ROLE {name} LOGIN PASSWORD 'guest'")
        try:
            for grant in grants:
                admin.execute(f"GRANT {grant} TO {name}")
            yield sa.make_url(url).set(username=name, password="guest").render_as_string(hide_password=False)
        finally:
            admin.execute(f"DROP OWNED BY {name} CASCADE")
            admin.execute(f"DROP ROLE {name}")


def test_a_user_who_may_not_make_the_extension_is_told_who_may(databases: ServerDatabases, bare_url: str) -> None:
    """The words name the command for the owner; nothing is made before, everything after."""
    with user(databases, bare_url, "CREATE, USAGE ON SCHEMA public") as guest:
        with pytest.raises(CorpusError, match="CREATE EXTENSION pg_trgm"):
            open_database(guest, create=True)
        with psycopg.connect(plain(bare_url), autocommit=True) as admin:
            assert admin.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone() == (0,)
            admin.execute("CREATE EXTENSION pg_trgm")
        with closing(open_database(guest, create=True)) as made:
            assert store_lines(made, [walking_line(1)]) == [1]
            assert is_sound(made)


def test_a_user_who_may_not_make_tables_is_told(databases: ServerDatabases, bare_url: str) -> None:
    """As on a new database since PostgreSQL 15: the schema public is not for everyone."""
    with user(databases, bare_url, "USAGE ON SCHEMA public") as guest:
        with psycopg.connect(plain(bare_url), autocommit=True) as admin:
            admin.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
        with pytest.raises(SystemTroubleError, match="permission denied for schema public"):
            open_database(guest, create=True)


def test_a_user_who_may_only_read_can_search(databases: ServerDatabases, database: Database) -> None:
    """A class that looks things up in the teacher's corpus."""
    store_lines(database, [walking_line(1)])
    with (
        user(databases, database.url, "USAGE ON SCHEMA public", "SELECT ON ALL TABLES IN SCHEMA public") as guest,
        closing(open_database(guest)) as reading,
    ):
        with reading.reading() as connection:
            assert entries(connection, Selection())[1] == 1
        with pytest.raises(SystemTroubleError, match="does not allow this user"):
            store_lines(reading, [walking_line(2)], "second.abc")


def test_a_database_without_tables_is_told_and_left_alone(bare_url: str) -> None:
    """Searching makes no tables; adding does."""
    with pytest.raises(CorpusError, match="wellworn add"):
        open_database(bare_url)
    open_database(bare_url, create=True).close()
    open_database(bare_url).close()


def test_another_programs_database_is_refused(bare_url: str) -> None:
    """Its tables are left alone, whatever is asked."""
    with psycopg.connect(plain(bare_url), autocommit=True) as admin:
        admin.execute("CREATE TABLE customer (id integer)")
    for create in (False, True):
        with pytest.raises(CorpusError, match=r"holds no transcriptions|another program"):
            open_database(bare_url, create=create)


def test_a_corpus_in_a_schema_of_its_own_sees_no_other(database: Database) -> None:
    """Two corpora in one database, told apart by the search path."""
    store_lines(database, [walking_line(1)])
    with database.connect() as connection:
        connection.exec_driver_sql("CREATE SCHEMA second")
    try:
        with closing(open_database(f"{database.url}?options=-csearch_path%3Dsecond,public", create=True)) as second:
            assert scalar(second, "SELECT count(*) FROM transcription") == 0
            assert store_lines(second, [walking_line(2), walking_line(3)]) == [1, 2]
        assert scalar(database, "SELECT count(*) FROM transcription") == 1
    finally:
        with database.connect() as connection:
            connection.exec_driver_sql("DROP SCHEMA second CASCADE")


def test_an_encoding_that_lacks_letters_is_refused(databases: ServerDatabases) -> None:
    """Functions are kept as letters beyond ASCII."""
    with pytest.raises(CorpusError, match="--encoding=UTF8"):
        open_database(databases.bare("LATIN1"), create=True)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"port": 1}, "cannot be reached"),
        ({"database": "there_is_none"}, "createdb|refuses this user or password"),
        ({"username": "nobody_at_all"}, "does not know this user|refuses this user or password"),
        ({"drivername": "postgresql+pg8000"}, "through psycopg"),
        ({"drivername": "mysql+nothing"}, "SQLite file or PostgreSQL"),
    ],
)
def test_no_password_is_ever_told(database: Database, changes: dict[str, Any], words: str) -> None:
    """Whatever is wrong with a URL, the words about it hide the password, in every spelling."""
    wrong = sa.make_url(database.url).set(password="s3cr@t-word", **changes).render_as_string(hide_password=False)
    assert SECRET in wrong
    for url in (wrong, f"{wrong}?password={SECRET}"):
        with pytest.raises(WellwornError, match=words) as told:
            open_database(url, create=True)
        for secret in (SECRET, "s3cr@t-word", "s3cr"):
            assert secret not in str(told.value)


def test_a_host_that_nobody_knows_is_told(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """The name is looked up before anything is sent; what was asked for is not quoted, as a password may be in it."""

    def unknown(*_: object, **__: object) -> None:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    wrong = sa.make_url(database.url).set(host=f"{SECRET}.invalid").render_as_string(hide_password=False)
    with pytest.raises(CorpusError, match="host that nobody knows"):
        open_database(wrong)


def test_the_name_of_a_database_hides_its_password() -> None:
    """Also where a password holds signs that should have been escaped."""
    for url in ("postgresql://u:a:b@c@host/db", "postgresql+psycopg://u:p@h:5/db?password=q&sslmode=require"):
        assert shown(url).count("***") >= 1
        assert not any(secret in shown(url) for secret in (":a:b", "a:b@c", ":p@", "=q"))
    assert shown("postgresql://host:5432/db") == "postgresql://host:5432/db"


def test_letters_are_folded_as_python_folds_them(database: Database) -> None:
    """Every letter of the planes in use: what is looked for is folded by Python, what is stored by the server."""
    letters = [chr(code) for code in range(1, 0x20000) if not 0xD800 <= code < 0xE000]
    sql = (
        "SELECT wellworn_casefold(letter) = wellworn_casefold(folded) "
        "FROM unnest(CAST(:letters AS text[]), CAST(:folded AS text[])) WITH ORDINALITY AS l (letter, folded, place) "
        "ORDER BY place"
    )
    with database.reading() as connection:
        same = connection.execute(
            sa.text(sql), {"letters": letters, "folded": [letter.casefold() for letter in letters]}
        )
        differing = {letter for letter, (is_same,) in zip(letters, same, strict=True) if not is_same}
    one_to_one = {letter for letter in differing if len(letter.casefold()) == 1}
    # A combining mark of Greek, and letters of old Church Slavonic.
    assert one_to_one <= {"\u0345", *map(chr, range(0x1C80, 0x1C89))}
    assert not differing & set("ßẞŉǰﬁﬂ")
