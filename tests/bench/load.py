"""Many readers and some writers at once: does anything fail, is a row lost, how long does each wait?

``python -m tests.bench.load [--url URL] [--seconds 120] [--readers 20] [--writers 2] [--lines 2000]`` works on SQLite
and on PostgreSQL alike; without ``--url`` in a new file. Each client is a process with a database of its own, as each
user is. Readers look for figures exactly and near and for progressions, list, and load lines; writers add files, edit
and remove what they added. Latency is what a client waits for one answer, its connection already open.
"""

import argparse
import multiprocessing
import queue
import random
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from corpus.harmony.over import parse_progression
from corpus.match.context import Context
from corpus.match.figure import Folds, figure_from_intervals, figure_from_notes_of
from db.catalogue import Selection, entries, load
from db.connection import Database
from db.editing import edit
from db.examine import examine
from db.near import NearQuestion, search_near
from db.opening import open_database
from db.search import Question, search, search_over
from db.store import add_source, prepare, remove
from tests.db.helpers import source
from tests.generators.lines import walking_line

BARS = 16
_SEEDS_A_WRITER = 1_000_000
_SHARES = (50, 90, 99)


@dataclass
class Told:
    """What a client tells at its end: seconds by what it did, errors, and the files that it left there."""

    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    files: dict[str, int] = field(default_factory=dict)

    def timed(self, name: str, work: Callable[[], object]) -> bool:
        """Do something, note how long it took or why it failed; tells whether it was done."""
        begun = time.monotonic()
        try:
            work()
        except Exception as error:
            # The client goes on, and the error makes the whole run fail.
            self.errors.append(f"{name}: {type(error).__name__}: {error}")
            return False
        self.seconds[name].append(time.monotonic() - begun)
        return True


def _reader(url: str, number: int, seconds: float, results: Any) -> None:
    told = Told()
    chance = random.Random(number)
    with closing(Database(url)) as database:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            name, ask = chance.choice(_QUESTIONS)
            told.timed(name, lambda ask=ask: _asked(database, ask, chance))  # type: ignore[misc]
            time.sleep(chance.uniform(0, 0.2))
    results.put(told)


def _asked(database: Database, ask: Callable[[Any, random.Random], object], chance: random.Random) -> None:
    with database.reading() as connection:
        ask(connection, chance)


def _find(connection: Any, chance: random.Random) -> None:
    sizes = " ".join(str(chance.choice((-2, -1, 1, 2, 3))) for _ in range(5))
    search(connection, Question(figure_from_intervals(sizes), Folds(octaves=True)), 40)


def _near(connection: Any, chance: random.Random) -> None:
    figure = figure_from_notes_of(walking_line(chance.randrange(50), BARS), 3, 10)
    search_near(connection, NearQuestion(Question(figure), 0.8), 10)


def _over(connection: Any, chance: random.Random) -> None:
    search_over(connection, Context(over=parse_progression(chance.choice(("ii V I", "V I", "I vi")))), Selection(), 20)


def _list(connection: Any, chance: random.Random) -> None:
    entries(connection, Selection(player=f"player {chance.randrange(9)}"), 40)


def _show(connection: Any, chance: random.Random) -> None:
    # The lines that the run began with are never removed.
    load(connection, chance.randrange(1, 20))


_QUESTIONS: Sequence[tuple[str, Callable[[Any, random.Random], object]]] = (
    ("find", _find),
    ("near", _near),
    ("over", _over),
    ("list", _list),
    ("show", _show),
)


def _writer(url: str, number: int, seconds: float, results: Any) -> None:
    told = Told()
    chance = random.Random(number)
    with closing(Database(url)) as database:
        end, seed = time.monotonic() + seconds, (number + 1) * _SEEDS_A_WRITER
        while time.monotonic() < end:
            name = f"writer {number} file {seed}.abc"
            lines = [prepare(walking_line(seed + one, BARS)) for one in (0, 1)]
            stored: list[int] = []

            def add(name: str = name, lines: Any = lines, stored: list[int] = stored) -> None:
                stored.extend(add_source(database, source(name), lines, "load").ids)

            if told.timed("add", add):
                told.files[name] = 2
                if chance.random() < 0.3:
                    told.timed("edit", lambda ids=stored: edit(database, ids, {"year": 1994}))  # type: ignore[misc]
                if chance.random() < 0.2 and told.timed("remove", lambda ids=stored: remove(database, ids)):  # type: ignore[misc]
                    del told.files[name]
            seed += 2
            time.sleep(chance.uniform(0, 0.2))
    results.put(told)


def run(url: str, seconds: float, readers: int, writers: int) -> list[Told]:
    """Let all clients work at once; what each told. Raises RuntimeError when one of them died."""
    context = multiprocessing.get_context("spawn")
    results = context.Queue()
    clients = [
        context.Process(target=target, args=(url, number, seconds, results))
        for target, count in ((_reader, readers), (_writer, writers))
        for number in range(count)
    ]
    for client in clients:
        client.start()
    told = []
    try:
        # Results before joining: a process whose queue is full does not end.
        told += [results.get(timeout=seconds + 300) for _ in clients]
    except queue.Empty:
        raise RuntimeError(f"{len(clients) - len(told)} clients never answered") from None
    for client in clients:
        client.join()
        if client.exitcode:
            raise RuntimeError(f"a client died with {client.exitcode}")
    return told


def lost(database: Database, files: Mapping[str, int], begun_with: int) -> list[str]:
    """What is not as the writers left it: files that lack lines, or are there though removed; other troubles."""
    sql = (
        "SELECT s.name, count(t.id), count(l.transcription_id), count(r.transcription_id) FROM source s "
        "LEFT JOIN transcription t ON t.source_id = s.id LEFT JOIN line l ON l.transcription_id = t.id "
        "LEFT JOIN reading r ON r.transcription_id = t.id WHERE s.name LIKE 'writer %' GROUP BY s.name"
    )
    with database.reading() as connection:
        found = {name: counts for name, *counts in connection.exec_driver_sql(sql.replace("%", "%%")).all()}
        total = connection.exec_driver_sql("SELECT count(*) FROM transcription").scalar_one()
    wrong = [f"{name}: {found.get(name)}" for name, count in files.items() if found.get(name) != [count] * 3]
    wrong += [f"{name} was removed" for name in found if name not in files]
    if total != begun_with + sum(files.values()):
        wrong.append(f"{total} lines in all, {begun_with + sum(files.values())} expected")
    return wrong + [trouble.words for trouble in examine(database, 300).troubles if trouble.is_wrong]


def report(told: Sequence[Told], seconds: float) -> list[str]:
    """A table of what was done, how often, and how long it took, in milliseconds."""
    by_name: dict[str, list[float]] = defaultdict(list)
    for one in told:
        for name, taken in one.seconds.items():
            by_name[name] += taken
    rows = ["| what | times | a second | median | 90 % | 99 % | longest |", "|---|---|---|---|---|---|---|"]
    for name, taken in by_name.items():
        taken.sort()
        shares = [taken[min(len(taken) * share // 100, len(taken) - 1)] for share in _SHARES]
        figures = " | ".join(f"{1000 * value:,.0f} ms" for value in (*shares, taken[-1]))
        rows.append(f"| {name} | {len(taken):,} | {len(taken) / seconds:.1f} | {figures} |")
    return rows


def fill(url: str, lines: int) -> int:
    """A database with so many lines, ten a file; how many it holds."""
    with closing(open_database(url, create=True)) as database:
        for first in range(0, lines, 10):
            prepared = [prepare(walking_line(seed, BARS)) for seed in range(first, first + 10)]
            add_source(database, source(f"first {first}.abc"), prepared, "")
        with database.reading() as connection:
            return entries(connection, Selection(), 1)[1]


def main() -> int:
    """Fill, run, look for what is lost, print; 0 when there was no error and nothing is lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--url", help="an empty database; a new file otherwise")
    for name, default in (("seconds", 120), ("readers", 20), ("writers", 2), ("lines", 2000)):
        parser.add_argument(f"--{name}", type=int, default=default)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = asked.url or f"sqlite:///{Path(folder) / 'load.db'}"
        begun_with = fill(url, asked.lines)
        told = run(url, asked.seconds, asked.readers, asked.writers)
        files = {name: count for one in told for name, count in one.files.items()}
        with closing(Database(url)) as database:
            wrong = lost(database, files, begun_with)
    errors = [error for one in told for error in one.errors]
    print(f"{asked.readers} readers, {asked.writers} writers, {asked.seconds} s, {begun_with:,} lines at first")  # noqa: T201
    for line in (
        *report(told, asked.seconds),
        f"errors: {len(errors)}",
        *errors[:10],
        f"lost: {len(wrong)}",
        *wrong[:10],
    ):
        print(line)  # noqa: T201
    return 1 if errors or wrong else 0


if __name__ == "__main__":
    sys.exit(main())
