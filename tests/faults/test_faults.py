"""A few of the faults of ``make faults``, on every run of the tests."""

from pathlib import Path

import pytest

from tests.faults import materials
from tests.faults.jobs import JOBS
from tests.faults.kills import Job, kill
from tests.faults.surroundings import locked

LIGHT = [job for job in JOBS if job.name in ("upgrade", "remove", "undo")]


@pytest.mark.sqlite_only
@pytest.mark.parametrize("job", LIGHT, ids=lambda job: job.name)
def test_a_killed_command_leaves_a_whole_database(job: Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SIGKILL at three moments in which it writes: all of it or nothing, the doctor finds nothing wrong."""
    monkeypatch.setattr(materials, "LINES", 10)
    monkeypatch.setattr(materials, "OLD_LINES", 10)
    assert kill(job, tmp_path, 3, in_writing=True).kills == 3


@pytest.mark.sqlite_only
def test_a_database_that_others_hold_is_read_and_waited_for(tmp_path: Path) -> None:
    """Readers answer at once; writers wait, and say so when they have waited too long."""
    words, tries = locked(tmp_path)
    assert words
    assert tries == 6
