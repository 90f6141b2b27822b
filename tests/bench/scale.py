"""How every kind of question grows from ten thousand notes to ten million: time, memory, file size; drawn.

``make scale`` fills one database step by step with the choruses of ``tests.generators.choruses`` and puts the same
questions to it at each step, each in a process of its own, so that its peak memory can be told. ``SCALE_URL`` names
another database, of a server too (it must be empty, or one that an earlier run began to fill); ``SCALE_CHORUSES`` the
steps. Wall time is what a user waits for; the processor's time (of all threads) tells more on a busy machine.
"""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Final

import sqlalchemy as sa

from corpus.match.context import Context
from corpus.match.figure import Figure, figure_from_notes_of, figure_from_roles
from db.catalogue import Selection, load
from db.connection import Database
from db.near import NearLines, NearQuestion, search_near
from db.opening import open_database
from db.search import Question, search
from tests.bench.corpora import BENCH_FOLDER
from tests.bench.filling import fill, size_in_bytes
from tests.bench.timing import heading, report

STEPS: Final = (100, 1_000, 10_000, 100_000)
"""Choruses, about a hundred notes each."""
PLOT: Final = BENCH_FOLDER / "scale.png"
RESULTS: Final = BENCH_FOLDER / "scale.json"
_MEGA: Final = 1024 * 1024
_SHOWN: Final = 20


@dataclass(frozen=True, slots=True)
class Measured:
    """One question at one step: seconds to wait, seconds of the processor, megabytes at the peak, what came out."""

    question: str
    notes: int
    seconds: float
    cpu: float
    megabytes: float
    answer: str


@dataclass(frozen=True, slots=True)
class Target:
    """What a question may take at ten million notes."""

    seconds: float
    megabytes: float | None = None


TARGETS: Final = {
    "find": Target(0.020),
    "near": Target(1.5, 1024),
    "over": Target(0.200),
    "recur": Target(300, 6 * 1024),
}
BYTES_A_NOTE: Final = 64.0
NOTES_A_SECOND: Final = 50_000.0


def _middle(connection: sa.Connection, notes: int) -> Figure:
    """The opening of a line in the middle of the corpus."""
    count = connection.execute(sa.text("SELECT max(id) FROM transcription")).scalar_one()
    _, line = load(connection, max(count // 2, 1))
    return figure_from_notes_of(line, 0, notes - 1)


def _find(database: Database) -> Callable[[], object]:
    with database.reading() as connection:
        figure = _middle(connection, 8)

    def run() -> object:
        with database.reading() as connection:
            return f"{search(connection, Question(figure), _SHOWN).total} hits"

    return run


def _roles(database: Database) -> Callable[[], object]:
    figure = figure_from_roles("5 1 3 5 b7")

    def run() -> object:
        with database.reading() as connection:
            return f"{search(connection, Question(figure), _SHOWN).total} hits"

    return run


def _near(database: Database) -> Callable[[], object]:
    """As a command does it: all lines are read, then searched."""
    with database.reading() as connection:
        figure = _middle(connection, 12)

    def run() -> object:
        with database.reading() as connection:
            found = search_near(connection, NearQuestion(Question(figure)), _SHOWN)
        return f"{len(found.hits)} hits shown"

    return run


def _near_again(database: Database) -> Callable[[], object]:
    """As a program does it that keeps the lines."""
    with database.reading() as connection:
        figure = _middle(connection, 12)
        lines = NearLines.of(connection, "pitch", Selection())

    def run() -> object:
        with database.reading() as connection:
            found = search_near(connection, NearQuestion(Question(figure)), _SHOWN, lines)
        return f"{len(found.hits)} hits shown"

    return run


def _over(database: Database) -> Callable[[], object]:
    from corpus.harmony.over import parse_progression
    from db.search import search_over

    context = Context(over=parse_progression("ii V I"))

    def run() -> object:
        with database.reading() as connection:
            return f"{search_over(connection, context, Selection(), _SHOWN).total} places"

    return run


def _recur(database: Database) -> Callable[[], object]:
    from db.recur import RecurQuestion, discover

    def run() -> object:
        with database.reading() as connection:
            return f"{len(discover(connection, RecurQuestion()).families)} families"

    return run


def _profile(database: Database) -> Callable[[], object]:
    from db.profiles import profiled

    def run() -> object:
        with database.reading() as connection:
            return f"{len(profiled(connection, Selection(), False, False).profile.measures)} figures"

    return run


QUESTIONS: Final[dict[str, tuple[str, Callable[[Database], Callable[[], object]], int]]] = {
    "find": ("find, 8 notes", _find, 15),
    "roles": ("find --roles, 5 roles", _roles, 5),
    "over": ("find --over 'ii V I'", _over, 5),
    "near": ("find --near, 12 notes, lines read", _near, 5),
    "near again": ("the same, lines at hand", _near_again, 5),
    "profile": ("profile of everything", _profile, 0),
    "recur": ("recur over everything", _recur, 0),
}
"""By name: words, what makes the question ready, and how often it is asked after the first time (the median counts);
0 for what is asked once, cold."""


def measure(url: str, question: str) -> dict[str, object]:
    """One question put to a database as it stands, in this process."""
    _, ready, times = QUESTIONS[question]
    database = open_database(url)
    run = ready(database)
    answer = run() if times else ""
    walls, processors = [], []
    for _ in range(max(times, 1)):
        begun, begun_cpu = time.perf_counter(), time.process_time()
        answer = run()
        walls.append(time.perf_counter() - begun)
        processors.append(time.process_time() - begun_cpu)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"seconds": median(walls), "cpu": median(processors), "megabytes": peak, "answer": str(answer)}


def _measured(url: str, question: str, notes: int) -> Measured:
    words = [sys.executable, "-m", "tests.bench.scale", "--measure", question, url]
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}  # noqa: PTH109 (the checkout is where the bench runs)
    done = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True, env=environment)
    return Measured(question, notes, **json.loads(done.stdout))


def run(url: str, steps: Sequence[int], questions: Sequence[str]) -> list[Measured]:
    """Fill and ask, step by step; prints as it goes. Steps that the database has passed already are left out."""
    database = open_database(url, create=True)
    found: list[Measured] = []
    for step in steps:
        with database.reading() as connection:
            there = connection.execute(sa.text("SELECT count(*) FROM transcription")).scalar_one()
        if there > step:
            continue
        added = fill(database, step)
        with database.reading() as connection:
            total = connection.execute(sa.text("SELECT sum(note_count) FROM transcription")).scalar_one()
        notes = int(total)
        heading(f"{step:,} choruses, {notes:,} notes")
        size = size_in_bytes(database)
        report("file", f"{size / _MEGA:,.0f} MB, {size / notes:.1f} bytes a note", f"{BYTES_A_NOTE:g}",
               size / notes <= BYTES_A_NOTE)  # fmt: skip
        found.append(Measured("size", notes, 0, 0, size / _MEGA, f"{size / notes:.1f} bytes a note"))
        if added.notes:
            rate = added.notes / added.store_seconds
            words = f"{rate:,.0f} notes/s, {added.notes / added.store_cpu:,.0f} a second of the processor"
            report("add, after parsing and analysis", words, f"{NOTES_A_SECOND:,.0f}", rate >= NOTES_A_SECOND)
            report("readings and harmony before that", f"{added.notes / added.prepare_cpu:,.0f} notes/s a core")
            found.append(Measured("add", notes, added.store_seconds, added.store_cpu, 0, words))
        for question in questions:
            one = _measured(url, question, notes)
            found.append(one)
            _tell(one, step == STEPS[-1])
    return found


def _tell(one: Measured, is_last: bool) -> None:
    target = TARGETS.get(one.question) if is_last else None
    words = ""
    met = None
    if target is not None:
        words = f"{target.seconds:g} s" + (f", {target.megabytes:,.0f} MB" if target.megabytes else "")
        met = one.seconds <= target.seconds and (target.megabytes is None or one.megabytes <= target.megabytes)
    figure = f"{one.seconds:.4f} s, processor {one.cpu:.4f} s, {one.megabytes:,.0f} MB  ({one.answer})"
    report(QUESTIONS[one.question][0], figure, words, met)


def draw(found: Sequence[Measured], file: Path = PLOT) -> None:
    """Time and memory against notes, one curve a question; the targets as crosses at ten million notes."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot

    figure, (times, memories) = pyplot.subplots(1, 2, figsize=(13, 5.5), layout="constrained")
    for name, (words, _, _) in QUESTIONS.items():
        curve = [one for one in found if one.question == name]
        if not curve:
            continue
        notes = [one.notes for one in curve]
        (drawn,) = times.loglog(notes, [one.seconds for one in curve], "o-", label=words)
        memories.loglog(notes, [one.megabytes for one in curve], "o-", color=drawn.get_color(), label=words)
        target = TARGETS.get(name)
        if target is not None:
            times.plot(1e7, target.seconds, "x", markersize=11, markeredgewidth=2, color=drawn.get_color())
            if target.megabytes:
                memories.plot(1e7, target.megabytes, "x", markersize=11, markeredgewidth=2, color=drawn.get_color())
    sizes = [one for one in found if one.question == "size"]
    memories.loglog([one.notes for one in sizes], [one.megabytes for one in sizes], "k--", label="the database itself")
    times.set_title("time to wait (crosses: targets)")
    times.set_ylabel("seconds")
    memories.set_title("memory at the peak; size of the database")
    memories.set_ylabel("megabytes")
    for axis in (times, memories):
        axis.set_xlabel("notes in the corpus")
        axis.grid(visible=True, alpha=0.3)
        axis.legend(fontsize=8)
    file.parent.mkdir(exist_ok=True)
    figure.savefig(file, dpi=120)
    pyplot.close(figure)
    report("drawn", str(file))


def save(found: Sequence[Measured], file: Path = RESULTS) -> None:
    """Keep what was measured, so that it can be drawn beside another database's."""
    from dataclasses import asdict

    file.write_text(json.dumps([asdict(one) for one in found], indent=1), encoding="utf-8")


def main() -> None:
    """Everything, in the order of the steps."""
    BENCH_FOLDER.mkdir(exist_ok=True)
    url = os.environ.get("SCALE_URL") or f"sqlite:///{(BENCH_FOLDER / 'scale.db').absolute()}"
    chosen = os.environ.get("SCALE_CHORUSES")
    steps = tuple(int(word) for word in chosen.split(",")) if chosen else STEPS
    names = os.environ.get("SCALE_QUESTIONS")
    found = run(url, steps, names.split(",") if names else tuple(QUESTIONS))
    save(found)
    draw(found)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        sys.stdout.write(json.dumps(measure(sys.argv[3], sys.argv[2])))
    else:
        main()
