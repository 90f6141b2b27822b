"""``python -m tests.faults [KILLS]``: every fault, and the table of what was tried and survived."""

import sys
import tempfile
import time
from pathlib import Path

from tests.faults.jobs import JOBS
from tests.faults.kills import kill
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


def main() -> int:
    """Try everything and print the table; the number of faults that were not survived."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    load_all()
    failed = 0
    print("| fault | tried | afterwards |\n|---|---|---|", flush=True)  # noqa: T201
    for job in JOBS:
        with tempfile.TemporaryDirectory() as folder:
            begun = time.monotonic()
            try:
                tried = kill(job, Path(folder), kills)
                words = f"{tried.before} before and {tried.after} after its work was there; all whole"
                seconds = f"{time.monotonic() - begun:.0f} s"
                row = f"| SIGKILL during `{job.name}` | {tried.kills} moments | {words} ({seconds}) |"
            except AssertionError as error:
                failed += 1
                row = f"| SIGKILL during `{job.name}` | | **not survived**: {str(error)[:300]!r} |"
        print(row, flush=True)  # noqa: T201
    for fault in ALL:
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
