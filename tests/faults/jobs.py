"""The commands that are killed, and what must hold whenever they die."""

import shutil
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from db.opening import SCHEMA, open_database
from db.undo import last_step
from tests.faults.kills import Job, run
from tests.faults.materials import (
    NOTES_A_TUNE,
    abc_file,
    close_log,
    contents,
    filled_database,
    old_database,
    schema_of,
    url_of,
    wrongs,
)

FILES = 30
"""More than are read ahead, so that some are stored while others are read."""
TUNES = 2
LINES = 40
OLD_LINES = 60


def _sound(file: Path) -> None:
    found = wrongs(file)
    assert found == [], found


def _copied(made: Callable[[], Path]) -> Callable[[Path], None]:
    def ready(folder: Path) -> None:
        shutil.copy(made(), folder / "lines.db")

    return ready


@cache
def _template(name: str) -> Path:
    """A database made once for this process: ``filled``, ``old`` or ``other``."""
    file = Path(mkdtemp(prefix="wellworn-faults-")) / f"{name}.db"
    if name == "old":
        old_database(file, OLD_LINES)
    else:
        filled_database(file, LINES if name == "filled" else LINES // 2)
    return file


@cache
def _template_contents(name: str) -> dict[str, list[str]]:
    return contents(_template(name))


def _filled() -> Path:
    return _template("filled")


# add: each file is there whole or not at all, and adding again brings the rest


def _add_ready(folder: Path) -> None:
    (folder / "music").mkdir()
    for number in range(FILES):
        abc_file(folder / "music" / f"{number:02d}.abc", number, TUNES)


def _add_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "add", str(folder / "music"), "--processes", "1"]


def _add_check(folder: Path) -> bool:
    file = folder / "lines.db"
    if not file.exists() or schema_of(file) is None:
        return False
    _sound(file)
    _check_whole_files(file)
    with closing(sqlite3.connect(file)) as connection:
        [(stored,)] = connection.execute("SELECT count(*) FROM source").fetchall()
    assert run(_add_words(folder)) == 0
    _sound(file)
    assert _check_whole_files(file) == FILES
    return bool(stored)


def _check_whole_files(file: Path) -> int:
    sql = (
        "SELECT s.name, count(t.id), sum(t.note_count), count(l.notes), count(r.interval), "
        "(SELECT count(*) FROM history h WHERE h.words LIKE s.name || ':%') "
        "FROM source s LEFT JOIN transcription t ON t.source_id = s.id "
        "LEFT JOIN line l ON l.transcription_id = t.id LEFT JOIN reading r ON r.transcription_id = t.id GROUP BY s.id"
    )
    with closing(sqlite3.connect(file)) as connection:
        rows = connection.execute(sql).fetchall()
    for name, *counts in rows:
        assert counts == [TUNES, TUNES * NOTES_A_TUNE, TUNES, TUNES, 1], (name, counts)
    return len(rows)


# recur: the corpus is untouched, and what is kept is what discovery finds


def _recur_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "recur", "--json"]


@cache
def _families_expected() -> list[str]:
    file = Path(mkdtemp(prefix="wellworn-faults-")) / "lines.db"
    shutil.copy(_filled(), file)
    assert run(_recur_words(file.parent)) == 0
    return contents(file, ("family",))["family"]


def _recur_check(folder: Path) -> bool:
    file = folder / "lines.db"
    _sound(file)
    assert contents(file) == _template_contents("filled")
    found = contents(file, ("discovery", "family"))
    assert (len(found["discovery"]), found["family"]) in ((0, []), (1, _families_expected()))
    return bool(found["discovery"])


# upgrade: the old database or the new one, never something between


def _upgrade_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "list", "--limit", "1"]


def _upgrade_check(folder: Path) -> bool:
    file = folder / "lines.db"
    schema = schema_of(file)
    assert schema in ("0001", SCHEMA)
    is_done = schema == SCHEMA
    if not is_done:
        assert contents(file) == _template_contents("old")
        open_database(url_of(file)).close()
    _sound(file)
    with closing(sqlite3.connect(file)) as connection:
        counts = [
            connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("transcription", "line", "reading")
        ]
        harmony = connection.execute("SELECT count(DISTINCT transcription_id) FROM harmony").fetchone()[0]
    assert [*counts, harmony] == [OLD_LINES + 3, OLD_LINES + 3, OLD_LINES + 3, OLD_LINES + 2]
    return is_done


# backup and restore: one whole database under each name


def _restore_ready(folder: Path) -> None:
    shutil.copy(_filled(), folder / "lines.db")
    shutil.copy(_template("other"), folder / "backup.db")


def _restore_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "restore", str(folder / "backup.db"), "--force"]


def _restore_check(folder: Path) -> bool:
    file = folder / "lines.db"
    _sound(file)
    found = contents(file)
    is_done = found == _template_contents("other")
    assert is_done or found == _template_contents("filled")
    assert contents(folder / "backup.db") == _template_contents("other")
    kept_aside = folder / "lines.db.before-restore"
    assert not is_done or kept_aside.exists()
    if kept_aside.exists():
        assert contents(kept_aside) == _template_contents("filled")
    return is_done


def _backup_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "backup", str(folder / "backup.db"), "--force"]


def _backup_check(folder: Path) -> bool:
    _sound(folder / "lines.db")
    _sound(folder / "backup.db")
    assert contents(folder / "lines.db") == _template_contents("filled")
    found = contents(folder / "backup.db")
    is_done = found == _template_contents("filled")
    assert is_done or found == _template_contents("other")
    return is_done


# remove and undo: as before, or as after


def _remove_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "remove", *map(str, range(1, LINES + 1))]


def _remove_check(folder: Path) -> bool:
    file = folder / "lines.db"
    _sound(file)
    found = contents(file)
    is_done = not found["transcription"]
    assert is_done or found == _template_contents("filled")
    return is_done


def _undo_ready(folder: Path) -> None:
    shutil.copy(_emptied(), folder / "lines.db")


@cache
def _emptied() -> Path:
    file = Path(mkdtemp(prefix="wellworn-faults-")) / "emptied.db"
    shutil.copy(_filled(), file)
    assert run(["--db", str(file), "remove", *map(str, range(1, LINES + 1))]) == 0
    close_log(file)
    return file


def _undo_words(folder: Path) -> Sequence[str]:
    return ["--db", str(folder / "lines.db"), "undo", "--yes"]


def _undo_check(folder: Path) -> bool:
    file = folder / "lines.db"
    _sound(file)
    found = contents(file)
    is_done = found == _template_contents("filled")
    assert is_done or not found["transcription"]
    with closing(open_database(url_of(file))) as database, database.reading() as connection:
        step = last_step(connection)
    assert step is not None
    assert step.command == ("edit" if is_done else "remove")
    return is_done


JOBS = (
    Job("add", _add_ready, _add_words, _add_check),
    Job("recur", _copied(_filled), _recur_words, _recur_check),
    Job("upgrade", _copied(lambda: _template("old")), _upgrade_words, _upgrade_check),
    Job("restore", _restore_ready, _restore_words, _restore_check),
    Job("backup", _restore_ready, _backup_words, _backup_check),
    Job("remove", _copied(_filled), _remove_words, _remove_check),
    Job("undo", _undo_ready, _undo_words, _undo_check),
)
