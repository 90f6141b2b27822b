"""``backup`` and ``restore`` as typed."""

import gc
from pathlib import Path

from tests.cli.conftest import Run


def test_backup_and_restore_as_typed(filled: Run, tmp_path: Path) -> None:
    """Counts on standard error; a second time only with --force; the shelf and the practice log are in it."""
    file = tmp_path / "monday.db"
    assert filled("shelf", "add", "Steps up", "--like", "1", "1-2:1").code == 0
    told = filled("backup", str(file))
    assert (told.code, told.out) == (0, "")
    assert "2 transcriptions, 40 notes, 1 kept figure, 0 practice entries" in told.err
    assert filled("backup", str(file)).code == 2
    assert filled("remove", "1").code == 0
    assert filled("restore", str(file)).code == 2
    # Commands are processes of their own; here their connections are one process's, open until they are collected.
    gc.collect()
    told = filled("restore", str(file), "--force")
    assert told.code == 0, told.err
    assert "before-restore" in told.err
    assert [entry["transcription"] for entry in filled("list", "--json").json] == [1, 2]


def test_what_is_no_backup_is_told_in_words(filled: Run, study: Path) -> None:
    """An ABC file is no backup: exit code 2, one line."""
    told = filled("restore", str(study), "--force")
    assert told.code == 2
    assert "not a wellworn database" in told.err
