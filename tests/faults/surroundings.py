"""A disk that fills up, a file system that cannot be written, a clock that jumps, a database that others hold.

Each function tries one of these and raises AssertionError where anything is lost, half-written or told badly; it
returns what was tried, in words, and how often. Where the system does not let us (no right to mount), it raises
``NotPossibleHereError``.
"""

import datetime as real_datetime
import random
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from tests.faults.jobs import FILES, JOBS
from tests.faults.kills import Job, run, start
from tests.faults.materials import abc_file, close_log, contents, filled_database, wrongs

_WRITERS = ("add", "upgrade", "backup", "restore", "remove", "undo")
_READERS = (("list",), ("find", "--contour", "uudu"), ("doctor",), ("shelf", "list"))


class NotPossibleHereError(Exception):
    """This machine does not let us try that."""


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """A file system in memory of so many kilobytes."""
    place = folder / "disk"
    place.mkdir(exist_ok=True)
    _mount("-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(place))
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def _mount(*words: str) -> None:
    try:
        subprocess.run(["mount", *words], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError) as error:
        raise NotPossibleHereError("a file system cannot be mounted here: that takes root") from error


def _job(name: str) -> Job:
    return next(job for job in JOBS if job.name == name)


def _kilobytes(folder: Path) -> int:
    """What files take on a disk, in pages of 4 kB, the folders included."""
    return sum(4 * (path.stat().st_size // 4096 + 1) for path in folder.rglob("*")) + 8


def full_disk(folder: Path) -> tuple[str, int]:
    """Each command on disks of growing size: a full one is told, nothing is lost, and with room again all goes on."""
    tries = 0
    for name in _WRITERS:
        job = _job(name)
        ready = folder / f"ready-{name}"
        ready.mkdir()
        job.ready(ready)
        refused = 0
        for room in (16, 48, 112, 240, 400):
            with small_disk(folder, _kilobytes(ready) + room) as disk:
                shutil.copytree(ready, disk, dirs_exist_ok=True)
                told = folder / "told.txt"
                code = run(job.words(disk), told)
                words = told.read_text(encoding="utf-8")
                assert code in (0, 1, 2), (name, room, words)
                if code:
                    assert "disk" in words or "space" in words.lower(), (name, room, words)
                    refused += 1
                _mount("-o", "remount,size=64m", str(disk))
                # The check finishes what was begun, and tells whether all is whole.
                job.check(disk)
                tries += 1
        assert refused, f"{name} found room on every disk: too large for a test"
        shutil.rmtree(ready)
    return "full disk (tmpfs), then room again: " + ", ".join(_WRITERS), tries


def read_only(folder: Path) -> tuple[str, int]:
    """On a file system mounted read-only what reads goes on, what writes says so, nothing changes."""
    tries = 0
    with small_disk(folder, 8192) as disk:
        filled_database(disk / "lines.db", 10)
        abc_file(disk / "one.abc", 1)
        before = contents(disk / "lines.db")
        close_log(disk / "lines.db")
        _mount("-o", "remount,ro", str(disk))
        told = folder / "told.txt"
        base = ["--db", str(disk / "lines.db")]
        for words in (*_READERS, ("recur",)):
            code = run([*base, *words], told)
            assert code == 0, (words, told.read_text(encoding="utf-8"))
            tries += 1
        assert "not kept" not in told.read_text(encoding="utf-8") or "read-only" in told.read_text(encoding="utf-8")
        writing = (("add", str(disk / "one.abc")), ("edit", "1", "--year", "1990"), ("remove", "1"), ("undo", "--yes"))
        for write in (*writing, ("shelf", "add", "X", "--notes", "C3 D3 E3"), ("backup", str(disk / "copy.db"))):
            code = run([*base, *write], told)
            words_told = told.read_text(encoding="utf-8")
            assert code == 1, (write, code, words_told)
            assert "read-only" in words_told.lower() or "cannot be written" in words_told, (write, words_told)
            tries += 1
        _mount("-o", "remount,rw", str(disk))
        assert contents(disk / "lines.db") == before
        assert wrongs(disk / "lines.db") == []
    return "read-only file system: readers answer, writers are refused in words", tries


class _JumpingClock(real_datetime.datetime):
    """A clock that stands decades before or after the true time, elsewhere at every look."""

    chance = random.Random(8)

    @classmethod
    def now(cls, tz: Any = None) -> "_JumpingClock":
        """Some moment between 1950 and 2090."""
        moment = cls.chance.uniform(-20 * 365, 120 * 365) * 86400
        return cls.fromtimestamp(0, tz) + real_datetime.timedelta(seconds=moment)


class _JumpingDay(real_datetime.date):
    """The day of that clock."""

    @classmethod
    def today(cls) -> "_JumpingDay":
        """Some day between 1950 and 2090."""
        return cls.fromordinal(_JumpingClock.now().toordinal())


def _jump(seed: int) -> Callable[[], None]:
    def before() -> None:
        _JumpingClock.chance = random.Random(seed)
        for module in list(sys.modules.values()):
            name = getattr(module, "__name__", "")
            if name.startswith("db.") and getattr(module, "datetime", None) is real_datetime.datetime:
                vars(module)["datetime"] = _JumpingClock
            # Of days only the commands ask the clock; elsewhere ``date`` is the name of a type.
            if name.startswith("cli.") and getattr(module, "date", None) is real_datetime.date:
                vars(module)["date"] = _JumpingDay

    return before


def clock_jumps(folder: Path) -> tuple[str, int]:
    """Commands whose clock is decades off, before and after: order and undo follow what was done, not the clock."""
    file = folder / "lines.db"
    filled_database(file, 10)
    states = [contents(file)]
    abc_file(folder / "one.abc", 1)
    changes = [
        ["add", str(folder / "one.abc")],
        ["edit", "2", "--player", "Tamsin Vey"],
        ["shelf", "add", "Other", "--notes", "C3 D3 E3"],
        ["practice", "log", "Other", "--bpm", "90", "--grade", "4"],
        ["practice", "log", "Other", "--bpm", "96"],
        ["shelf", "edit", "Other", "--rating", "3"],
        ["remove", "1"],
    ]
    told = folder / "told.txt"
    tries = 0
    for seed, words in enumerate(changes):
        code = run(["--db", str(file), *words], told, _jump(seed))
        assert code == 0, (words, told.read_text(encoding="utf-8"))
        states.append(contents(file))
        tries += 1
    for words in (["practice", "due"], ["practice", "progress", "Other"], ["undo", "--list"], ["recur"], ["doctor"]):
        assert run(["--db", str(file), *words], told, _jump(tries)) == 0, (words, told.read_text(encoding="utf-8"))
        tries += 1
    for state in reversed(states[:-1]):
        assert run(["--db", str(file), "undo", "--yes"], told, _jump(tries)) == 0, told.read_text(encoding="utf-8")
        assert contents(file) == state
        tries += 1
    assert wrongs(file) == []
    return "clock decades off, elsewhere at every look: add, edit, shelf, practice, remove, undo, recur", tries


def _impatient() -> None:
    from db import sqlite

    vars(sqlite)["_BUSY_TIMEOUT_SECONDS"] = 1


_HOLDER = (
    "import sqlite3, sys; held = sqlite3.connect(sys.argv[1], isolation_level=None); held.execute('BEGIN IMMEDIATE');"
    "held.execute('DELETE FROM harmony'); print('held', flush=True); sys.stdin.readline(); held.execute('ROLLBACK')"
)


@contextmanager
def held(file: Path) -> Iterator[Callable[[], None]]:
    """Another process that has changed a database and not committed; the function makes it roll back."""
    command = [sys.executable, "-c", _HOLDER, str(file)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdin is not None
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"

        def let_go() -> None:
            holder.communicate("\n")

        yield let_go
        if holder.poll() is None:
            let_go()


def locked(folder: Path) -> tuple[str, int]:
    """While another process writes, readers answer and writers wait; those who wait too long say so."""
    file = folder / "lines.db"
    filled_database(file, 10)
    abc_file(folder / "one.abc", 1)
    before = contents(file)
    told = folder / "told.txt"
    writes: Sequence[Sequence[str]] = (["add", str(folder / "one.abc")], ["remove", "1"], ["undo", "--yes"])
    tries = 0
    with held(file) as let_go:
        for words in _READERS[:2]:
            assert run(["--db", str(file), *words], told) == 0, told.read_text(encoding="utf-8")
            tries += 1
        for write in writes:
            assert run(["--db", str(file), *write], told, _impatient) == 1
            assert "in use by another process" in told.read_text(encoding="utf-8")
            tries += 1
        waiting = start(["--db", str(file), "edit", "1", "--year", "1990"], told)
        time.sleep(1)
        assert waiting.is_alive(), "nobody waited"
        let_go()
        waiting.join(60)
        assert waiting.exitcode == 0, told.read_text(encoding="utf-8")
        tries += 1
    assert run(["--db", str(file), "undo", "--yes"]) == 0
    assert contents(file) == before
    assert wrongs(file) == []
    return "database held by another process: readers answer, writers wait or are told", tries


def two_at_once(folder: Path) -> tuple[str, int]:
    """Two processes add the same files and others at once: every line is there once."""
    for name, seeds in (("shared", range(FILES)), ("left", range(100, 110)), ("right", range(200, 210))):
        (folder / name).mkdir()
        for seed in seeds:
            abc_file(folder / name / f"{seed}.abc", seed)
    file = folder / "lines.db"
    base = ["--db", str(file), "add", "--processes", "1", str(folder / "shared")]
    running = [start([*base, str(folder / name)]) for name in ("left", "right")]
    for process in running:
        process.join(120)
        assert process.exitcode == 0
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT count(*), sum(note_count) FROM transcription").fetchone() == (
            2 * (FILES + 20),
            2 * 16 * (FILES + 20),
        )
    assert wrongs(file) == []
    return "two processes add at once, some files the same", 2


ALL = (full_disk, read_only, clock_jumps, locked, two_at_once)
