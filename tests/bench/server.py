"""The same look-ups on SQLite and on PostgreSQL, side by side.

The server is the one that ``WELLWORN_TEST_POSTGRES`` names (``.ci/with-postgres make bench`` starts one); its database
is a restored backup of the SQLite file, so both hold the same rows.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import psycopg
import sqlalchemy as sa

from corpus.harmony.over import parse_progression
from corpus.match.context import Context
from corpus.match.figure import Figure, figure_from_intervals, figure_from_notes_of
from db.catalogue import Selection, load
from db.connection import Database
from db.near import NearQuestion, search_near
from db.opening import open_database
from db.safekeeping import backup, restore
from db.search import Question, search, search_over
from tests.bench.corpora import Filled
from tests.bench.timing import heading, process_seconds, report
from tests.databases import SERVER_VARIABLE

_MOST = 5.0
"""A look-up on PostgreSQL may take so many times as long as on SQLite."""
_DATABASE = "wellworn_bench"
_PROGRESSION = parse_progression("ii V I")
Ask = Callable[[sa.Connection], object]


def time_server(filled: Filled, name: str, has_chords: bool) -> None:
    """Look-ups on both, warm and as whole processes."""
    server = os.environ.get(SERVER_VARIABLE)
    if not server:
        report(f"PostgreSQL, {name}", f"left out: {SERVER_VARIABLE} names no server")
        return
    heading(f"SQLite and PostgreSQL side by side: {name}")
    address = sa.make_url(server).set(drivername="postgresql")
    with psycopg.connect(address.render_as_string(hide_password=False), autocommit=True) as admin:
        admin.execute(f"DROP DATABASE IF EXISTS {_DATABASE} WITH (FORCE)")
        admin.execute(f"CREATE DATABASE {_DATABASE} TEMPLATE template0 ENCODING UTF8")
        try:
            _compare(filled, address.set(database=_DATABASE).render_as_string(hide_password=False), has_chords)
        finally:
            admin.execute(f"DROP DATABASE {_DATABASE} WITH (FORCE)")


def _compare(filled: Filled, url: str, has_chords: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "copy.db"
        backup(filled.database, file)
        begun = time.perf_counter()
        restore(file, url)
        report("restored to PostgreSQL, notes a second", f"{filled.notes / (time.perf_counter() - begun):,.0f}")
    with closing(open_database(url)) as served:
        with served.connect() as connection:
            connection.exec_driver_sql("VACUUM ANALYZE")
            size = connection.exec_driver_sql("SELECT pg_database_size(current_database())").scalar_one()
        report("PostgreSQL: bytes a note", f"{size / filled.notes:.1f}")
        for what, ask, times in _questions(filled.database, has_chords):
            _side_by_side(what, [filled.database, served], ask, times)
    _processes(filled.database, url)


def _questions(database: Database, has_chords: bool) -> list[tuple[str, Ask, int]]:
    with database.reading() as connection:
        count = connection.exec_driver_sql("SELECT max(id) FROM transcription").scalar_one()
        _, line = load(connection, count // 2)
    figures = {
        "find, an opening of 8 notes": figure_from_notes_of(line, 0, 7),
        "find, an opening of 14 notes": figure_from_notes_of(line, 0, 13),
        "find +4 +1 +1 -3 +2": figure_from_intervals("+4 +1 +1 -3 +2"),
        "find +2 +2 +1": figure_from_intervals("+2 +2 +1"),
        "find +2 +2 (no index)": figure_from_intervals("+2 +2"),
    }
    asked: list[tuple[str, Ask, int]] = [(what, _exactly(figure), 40) for what, figure in figures.items()]
    near = NearQuestion(Question(figure_from_intervals("+2 +2 -4 +4 +1 +2 -3 +1 -1 -2 -2 +4")))
    asked.append(("find --near, 13 notes", lambda c: search_near(c, near, 20), 5))
    if has_chords:
        over = Context(over=_PROGRESSION)
        asked.append(("find --over 'ii V I'", lambda c: search_over(c, over, Selection(), 20), 20))
    return asked


def _exactly(figure: Figure) -> Ask:
    return lambda connection: search(connection, Question(figure), 20)


def _side_by_side(what: str, databases: list[Database], ask: Ask, times: int) -> None:
    """The fastest of some calls on each: whatever else runs on the machine only ever makes a call slower."""
    fastest = []
    for database in databases:
        taken = []
        with database.reading() as connection:
            ask(connection)
            for _ in range(times):
                begun = time.perf_counter()
                ask(connection)
                taken.append(time.perf_counter() - begun)
        fastest.append(min(taken))
    ratio = fastest[1] / fastest[0]
    told = f"{1000 * fastest[0]:.2f} ms on SQLite, {1000 * fastest[1]:.2f} ms on PostgreSQL: {ratio:.1f} times"
    report(what, told, f"{_MOST:g} times", ratio <= _MOST)


def _processes(database: Database, url: str) -> None:
    wellworn = str(Path(sys.executable).with_name("wellworn"))
    words = ["find", "--intervals", "+4 +1 +1 -3 +2", "--limit", "20"]
    places = [{"WELLWORN_DB": str(database.file)}, {"WELLWORN_DB": url}]
    here, served = process_seconds([[wellworn, *words]] * 2, settings=places)
    told = f"{1000 * here:.0f} ms on SQLite, {1000 * served:.0f} ms on PostgreSQL: {served / here:.1f} times"
    report("wellworn find, the whole process", told, f"{_MOST:g} times", served <= _MOST * here)
