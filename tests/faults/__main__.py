"""``python -m tests.faults [KILLS [JOB…]]``: every fault (or some commands), and the table of what was survived.

``FAULTS_URL`` (else ``WELLWORN_TEST_POSTGRES``) names a PostgreSQL server, by the URL of a user who may make databases
on it: then its faults are tried, in databases of their own, and not those of files.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path

from tests.databases import SERVER_VARIABLE
from tests.faults.clocks import clock_set_back, clock_set_within
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


def _print_row(name: str, fault: Callable[[Path], tuple[str, int]]) -> int:
    """Try a fault and print its row of the table; 1 when it was not survived."""
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        try:
            words, count = fault(Path(folder))
            row = f"| {words} | {count} times | nothing lost or half-written, doctor clean |"
        except NotPossibleHereError as error:
            row = f"| {name} | not tried | {error} |"
        except AssertionError as error:
            failed = 1
            row = f"| {name} | | **not survived**: {str(error)[:300]!r} |"
    print(row, flush=True)  # noqa: T201
    return failed


def _print_kills(jobs: Sequence[Job], kills: int) -> int:
    """Kill commands and print the rows; how many were not survived."""
    failed = 0
    for job in jobs:
        for in_writing in (False, True):
            row, is_survived = _killed(job, kills, in_writing)
            failed += not is_survived
            print(row, flush=True)  # noqa: T201
    return failed


def main() -> int:
    """Try everything and print the table; the number of faults that were not survived."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    names = sys.argv[2:]
    load_all()
    print("| fault | tried | afterwards |\n|---|---|---|", flush=True)  # noqa: T201
    url = os.environ.get("FAULTS_URL") or os.environ.get(SERVER_VARIABLE)
    if url:
        return _on_server(url, kills, names)
    failed = _print_kills([job for job in JOBS if not names or job.name in names], kills)
    for fault in () if names else (*ALL, clock_set_back, clock_set_within):
        failed += _print_row(fault.__name__.replace("_", " "), fault)
    return failed


def _on_server(url: str, kills: int, names: Sequence[str]) -> int:
    from tests.faults.server import OnServer, Server, stopped_in_add

    with closing(Server(url)) as home:
        failed = _print_kills([job for job in OnServer(home).jobs() if not names or job.name in names], kills)
        if not names or "stop" in names:
            failed += _print_row("server stopped", lambda folder: stopped_in_add(home, folder, kills))
    return failed


if __name__ == "__main__":
    sys.exit(main())
