"""``python -m tests.faults [KILLS [JOB…]]``: every fault (or some commands), and the table of what was survived."""

import sys
import tempfile
import time
from pathlib import Path

from tests.faults.jobs import JOBS
from tests.faults.kills import Job, kill
from tests.faults.surroundings import ALL, NotPossibleHereError

KILLS = 50


def load_all() -> None:
    """Import what the commands use, so that forked processes begin with their work."""
    import alembic.command
    import music21
    import rich.table

    import corpus.read.formats
    import db.intake
    import db.near
    import db.safekeeping
    import db.undo

    assert all((alembic, music21, rich, corpus, db))


def _killed(job: Job, kills: int, in_writing: bool) -> tuple[str, bool]:
    """A row of the table for a command that is killed, and whether all was whole every time."""
    name = f"SIGKILL {'while' if in_writing else 'during'} `{job.name}`{' writes' if in_writing else ''}"
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        try:
            tried = kill(job, Path(folder), kills, in_writing)
        except AssertionError as error:
            return f"| {name} | | **not survived**: {str(error)[:300]!r} |", False
    words = f"{tried.before} before and {tried.after} after something was committed; all whole"
    return f"| {name} | {tried.kills} moments | {words} ({time.monotonic() - begun:.0f} s) |", True


def main() -> int:
    """Try everything and print the table; the number of faults that were not survived."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    names = sys.argv[2:]
    load_all()
    failed = 0
    print("| fault | tried | afterwards |\n|---|---|---|", flush=True)  # noqa: T201
    for job in [job for job in JOBS if not names or job.name in names]:
        for in_writing in (False, True):
            row, is_survived = _killed(job, kills // 2 if in_writing else kills, in_writing)
            failed += not is_survived
            print(row, flush=True)  # noqa: T201
    for fault in () if names else ALL:
        with tempfile.TemporaryDirectory() as folder:
            try:
                words, count = fault(Path(folder))
                row = f"| {words} | {count} times | nothing lost or half-written, doctor clean |"
            except NotPossibleHereError as error:
                row = f"| {fault.__name__.replace('_', ' ')} | not tried | {error} |"
            except AssertionError as error:
                failed += 1
                row = f"| {fault.__name__.replace('_', ' ')} | | **not survived**: {str(error)[:300]!r} |"
        print(row, flush=True)  # noqa: T201
    return failed


if __name__ == "__main__":
    sys.exit(main())
