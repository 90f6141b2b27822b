"""SIGKILL at random moments of commands, and what must hold afterwards.

A command runs in a forked process with everything imported already, so that the time in which it is killed is that of
its work. How long it takes is measured first; the moments are spread evenly over that time, a little beyond its end.

To be killed while it writes, a process is stopped (SIGSTOP) at such a moment and looked at: it is killed only where it
then holds a write transaction open, or has a copy half-made; otherwise it goes on and is looked at again soon.
"""

import multiprocessing
import os
import random
import shutil
import signal
import statistics
import sys
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from cli.main import main

_LONGEST_SECONDS = 120
_LOOK_SECONDS = 0.0005


@dataclass(frozen=True)
class Job:
    """A command in a folder: how the folder is made ready, the words typed, and what must hold at the end.

    ``check`` gets the folder and raises AssertionError; it tells whether the command had done its work when it died.
    ``is_writing`` tells whether anybody is in the middle of a write.
    """

    name: str
    ready: Callable[[Path], None]
    words: Callable[[Path], Sequence[str]]
    check: Callable[[Path], bool]
    is_writing: Callable[[Path], bool]


@dataclass
class Tried:
    """How often a command was killed: before it had changed anything that lasts, after, and not in time."""

    name: str
    before: int = 0
    after: int = 0
    finished: int = 0

    @property
    def kills(self) -> int:
        """Processes that were killed while they worked."""
        return self.before + self.after


def _child(words: Sequence[str], told: Path | None, before: Callable[[], None] | None) -> None:
    sys.argv = ["wellworn", *words]
    code = 0
    with (told or Path(os.devnull)).open("w", encoding="utf-8") as out:
        sys.stdout = sys.stderr = out
        try:
            if before is not None:
                before()
            main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        except BaseException:
            traceback.print_exc(file=out)
            code = 99
    os._exit(code)


def start(
    words: Sequence[str], told: Path | None = None, before: Callable[[], None] | None = None
) -> multiprocessing.process.BaseProcess:
    """Run ``wellworn`` in a forked process; ``told`` takes what it prints, ``before`` is called there first.

    This process itself must never run discovery: its suffix sorting starts threads, and a fork of such a process hangs.
    """
    process = multiprocessing.get_context("fork").Process(target=_child, args=(list(words), told, before))
    process.start()
    return process


def run(words: Sequence[str], told: Path | None = None, before: Callable[[], None] | None = None) -> int:
    """Run ``wellworn`` in a forked process to its end; the exit code (99 for a traceback)."""
    process = start(words, told, before)
    process.join(_LONGEST_SECONDS)
    if process.exitcode is None:
        process.kill()
        raise AssertionError(f"{' '.join(words)} did not end in {_LONGEST_SECONDS} s")
    return process.exitcode


def seconds_of(job: Job, folder: Path, times: int = 3) -> tuple[float, float]:
    """How long a job takes when nobody kills it, and how long from its first write to its last: the medians."""
    taken, writing = [], []
    for number in range(times):
        place = folder / f"whole-{number}"
        place.mkdir()
        job.ready(place)
        begun = time.monotonic()
        process = start(job.words(place))
        wait_for_writing(process, job, place)
        first = last = time.monotonic()
        while process.is_alive():
            time.sleep(_LOOK_SECONDS)
            if job.is_writing(place):
                last = time.monotonic()
        taken.append(time.monotonic() - begun)
        writing.append(last - first)
        assert process.exitcode == 0, (job.name, process.exitcode)
        assert job.check(place), f"{job.name} did not do its work"
        shutil.rmtree(place)
    return statistics.median(taken), statistics.median(writing)


def wait_for_writing(process: multiprocessing.process.BaseProcess, job: Job, place: Path) -> None:
    """Return when a process writes, or has ended."""
    while process.is_alive() and not job.is_writing(place):
        time.sleep(_LOOK_SECONDS)


def _stop(process: multiprocessing.process.BaseProcess) -> bool:
    """Stop a process where it stands; False when it has ended."""
    if not process.is_alive():
        return False
    assert process.pid is not None
    os.kill(process.pid, signal.SIGSTOP)  # one that has ended meanwhile is still there, nobody has waited for it
    told = os.waitid(os.P_PID, process.pid, os.WSTOPPED | os.WEXITED | os.WNOWAIT)
    return told is not None and told.si_code == os.CLD_STOPPED


def _kill_in_writing(
    process: multiprocessing.process.BaseProcess, job: Job, place: Path, chance: random.Random
) -> None:
    """Kill a process at the next moment in which it is stopped and found writing; return too when it ends before."""
    assert process.pid is not None
    while _stop(process):
        if job.is_writing(place):
            process.kill()
            return
        os.kill(process.pid, signal.SIGCONT)
        # Not a fixed step: transactions must not all be met at their beginning.
        time.sleep(chance.uniform(0.0002, 0.002))


def kill(job: Job, folder: Path, kills: int, in_writing: bool = False, seed: int = 8) -> Tried:
    """Kill a job at so many moments of its work, or of the part in which it writes; each time everything is checked.

    The moments are random, one out of each of as many equal parts of that time as there are kills.
    """
    chance = random.Random(seed)
    tried = Tried(job.name)
    whole, writing = seconds_of(job, folder)
    length = writing if in_writing else whole
    while tried.kills < kills:
        place = folder / "killed"
        place.mkdir()
        job.ready(place)
        process = start(job.words(place))
        if in_writing:
            wait_for_writing(process, job, place)
        process.join((tried.kills + chance.random()) / kills * length)
        if in_writing:
            _kill_in_writing(process, job, place, chance)
        else:
            process.kill()
        process.join(_LONGEST_SECONDS)
        is_done = job.check(place)
        if process.exitcode == 0:
            tried.finished += 1
            # The machine was faster than before: that was no kill, and the time is measured too long.
            length *= 0.9
        elif is_done:
            tried.after += 1
        else:
            tried.before += 1
        shutil.rmtree(place)
    return tried
