"""``make fuzz``: so many altered inputs for every reader and parser, on all cores.

``FUZZ_INPUTS`` says how many for each (100,000), ``FUZZ_TARGETS`` which (all), ``FUZZ_FIRST`` with which number to
begin (0): every input follows from its target and number alone. An input may take five seconds of processor time and
three gigabytes. What raises anything but the project's own errors is kept in ``.fuzz/`` and makes the exit code 1;
mended, it belongs into ``tests/fuzz/findings/TARGET/``.
"""

import importlib
import multiprocessing
import os
import random
import resource
import signal
import sys
import time
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import FrameType

from tests.fuzz.targets import Mutator, Target, targets

SECONDS_AN_INPUT = 5.0
_MOST_BYTES = 3 << 30
_CHUNK = 100
FOUND = Path(".fuzz")


class TooSlowError(Exception):
    """An input that takes longer than it may."""


@dataclass(frozen=True)
class Finding:
    """An input that must be looked at: ``place`` is the error with the innermost line of ours."""

    target: str
    number: int
    place: str
    data: bytes


def source_of(target: str, number: int) -> random.Random:
    """The source of chance for one input."""
    return random.Random(f"{target} {number}")


def run_one(target: Target, data: bytes, seconds: float = SECONDS_AN_INPUT) -> str:
    """Run a target on an input within so many seconds of processor time; what came out that must not, or nothing."""

    def stop(signal_number: int, frame: FrameType | None) -> None:
        raise TooSlowError(f"more than {seconds:g} s")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        target.run(data)
    except Exception as error:
        frames = traceback.extract_tb(error.__traceback__)
        ours = [
            frame for frame in frames if "site-packages" not in frame.filename and "/lib/python" not in frame.filename
        ]
        last = ours[-1] if ours else frames[-1]
        message = " ".join(str(error).split())[:120]
        return f"{type(error).__name__} at {Path(last.filename).name}:{last.lineno}: {message}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)
    return ""


@cache
def _mutator(name: str) -> Mutator:
    return targets()[name].mutator()


def run_many(job: tuple[str, int, int]) -> tuple[int, list[Finding]]:
    """Run inputs ``first`` to ``last`` of a target; how many, and what was found."""
    name, first, last = job
    target = targets()[name]
    mutate = _mutator(name)
    found: list[Finding] = []
    for number in range(first, last):
        data = mutate(source_of(name, number))
        place = run_one(target, data)
        if place:
            found.append(Finding(name, number, place, data))
    return last - first, found


def _begin_worker() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))


def _jobs(name: str, first: int, count: int) -> Iterator[tuple[str, int, int]]:
    for start in range(first, first + count, _CHUNK):
        yield name, start, min(start + _CHUNK, first + count)


def _fuzz(target: Target, first: int, count: int) -> dict[str, Finding]:
    """Run a target in as many processes as there are cores; one finding for each place. Ctrl-C ends it early."""
    places: dict[str, Finding] = {}
    begun, done = time.monotonic(), 0
    with multiprocessing.get_context("fork").Pool(initializer=_begin_worker) as pool:
        try:
            for ran, found in pool.imap_unordered(run_many, _jobs(target.name, first, count)):
                done += ran
                for finding in found:
                    if places.setdefault(finding.place.split(": ")[0], finding) is finding:
                        _keep(finding, target)
        except KeyboardInterrupt:
            sys.stdout.write("  stopped early\n")
    seconds = time.monotonic() - begun
    sys.stdout.write(f"{target.name}: {done:,} inputs in {seconds:.0f} s, {len(places)} to look at\n")
    sys.stdout.flush()
    return places


def _keep(finding: Finding, target: Target) -> None:
    path = FOUND / f"{target.name}-{finding.number}{target.suffix}"
    path.write_bytes(finding.data)
    sys.stdout.write(f"  {finding.place}\n    kept as {path}\n")
    sys.stdout.flush()


def main() -> int:
    """Fuzz what the environment asks for; 1 when there is something to look at."""
    count = int(os.environ.get("FUZZ_INPUTS", "100000"))
    first = int(os.environ.get("FUZZ_FIRST", "0"))
    wanted = os.environ.get("FUZZ_TARGETS", "").split() or list(targets())
    for ending in (signal.SIGINT, signal.SIGTERM):
        signal.signal(ending, signal.default_int_handler)
    FOUND.mkdir(exist_ok=True)
    importlib.import_module("music21")  # once, before the processes are forked
    found = [_fuzz(targets()[name], first, count) for name in wanted]
    return int(any(found))


if __name__ == "__main__":
    sys.exit(main())
