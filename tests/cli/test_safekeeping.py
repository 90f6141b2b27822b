"""``backup`` and ``restore`` as typed."""

import gc
from pathlib import Path

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.sqlite_only(reason="copies of a file; there is db/test_server_copy")


def test_backup_and_restore_as_typed(stored: Run, tmp_path: Path) -> None:
    """Counts on standard error; a second time only with --force; the shelf and the practice log are in it."""
    file = tmp_path / "monday.db"
    assert stored("shelf", "add", "Steps up", "--like", "1", "1-2:1").code == 0
    told = stored("backup", str(file))
    assert (told.code, told.out) == (0, "")
    assert "2 transcriptions, 40 notes, 1 kept figure, 0 practice entries" in told.err
    assert stored("backup", str(file)).code == 2
    assert stored("remove", "1").code == 0
    assert stored("restore", str(file)).code == 2
    # Commands are processes of their own; here their connections are one process's, open until they are collected.
    gc.collect()
    told = stored("restore", str(file), "--force")
    assert told.code == 0, told.err
    assert "before-restore" in told.err
    assert [entry["transcription"] for entry in stored("list", "--json").json] == [1, 2]


def test_what_is_no_backup_is_told_in_words(stored: Run, study: Path) -> None:
    """An ABC file is no backup: exit code 2, one line."""
    told = stored("restore", str(study), "--force")
    assert told.code == 2
    assert "not a wellworn database" in told.err
