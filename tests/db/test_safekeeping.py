"""Backup and restore: whole, checked, and never over somebody's work unasked."""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from corpus.errors import CorpusError, QueryError, SystemTroubleError
from db import safekeeping
from db.connection import Database
from db.examine import examine
from db.location import unfinished_prefix
from db.opening import SCHEMA, open_database
from db.safekeeping import backup, restore
from db.store import remove
from tests.db.helpers import is_sound, scalar, store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.sqlite_only(reason="files, their logs, their faults; there is test_server_copy")

ROOT = Path(__file__).parents[2]


def dump(file: Path) -> list[str]:
    """Every row of a database as SQL: sqlite3's own dump, an independent reader of the file."""
    with closing(sqlite3.connect(file)) as connection:
        return sorted(line for line in connection.iterdump() if line.startswith("INSERT"))


@pytest.fixture
def filled(database: Database) -> Database:
    """A database with four lines."""
    store_lines(database, [walking_line(seed, 6) for seed in range(4)])
    return database


def file_of(database: Database) -> Path:
    """The file of a database."""
    assert database.file is not None
    return database.file


def test_a_backup_holds_every_row_and_stands_alone(filled: Database, tmp_path: Path) -> None:
    """Rows still in the write-ahead log are in it, and it needs no file beside it."""
    target = tmp_path / "copy.db"
    held = backup(filled, target)
    assert (held.transcriptions, held.notes) == (4, scalar(filled, "SELECT sum(note_count) FROM transcription"))
    assert dump(target) == dump(file_of(filled))
    assert sorted(path.name for path in tmp_path.iterdir() if "copy" in path.name) == ["copy.db"]
    with closing(sqlite3.connect(target)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_restoring_brings_everything_back_and_keeps_what_was_there(filled: Database, tmp_path: Path) -> None:
    """What is removed after a backup is there again; the state before the restoring is a database of its own."""
    target = tmp_path / "copy.db"
    backup(filled, target)
    wanted = dump(target)
    remove(filled, [1, 2, 3])
    emptied = dump(file_of(filled))
    filled.close()
    restored = restore(target, filled.url, force=True)
    assert dump(file_of(filled)) == wanted
    assert restored.before is not None
    assert dump(restored.before) == emptied
    with closing(open_database(filled.url)) as again:
        assert is_sound(again)
        assert again.schema() == SCHEMA
        with again.reading() as connection:
            assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
    second = restore(restored.before, filled.url, force=True)
    assert dump(file_of(filled)) == emptied
    assert second.before != restored.before


def test_nothing_is_written_over_unasked(filled: Database, tmp_path: Path) -> None:
    """An existing target, a folder, the database itself, and a database in the place of a restore."""
    target = tmp_path / "copy.db"
    target.write_text("mine")
    with pytest.raises(QueryError, match="--force"):
        backup(filled, target)
    with pytest.raises(QueryError, match="folder"):
        backup(filled, tmp_path, force=True)
    with pytest.raises(QueryError, match="itself"):
        backup(filled, file_of(filled), force=True)
    assert target.read_text() == "mine"
    backup(filled, target, force=True)
    with pytest.raises(CorpusError, match="--force"):
        restore(target, filled.url)
    with pytest.raises(QueryError, match="itself"):
        restore(file_of(filled), filled.url, force=True)
    assert scalar(filled, "SELECT count(*) FROM transcription") == 4


def _newer(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()


def _foreign(file: Path) -> None:
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE customer (id INTEGER)")


def _of_another_program(file: Path) -> None:
    _foreign(file)
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE alembic_version (version_num TEXT)")
        connection.execute("INSERT INTO alembic_version VALUES ('0001')")
        connection.commit()


def _with_a_trigger(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TRIGGER hidden AFTER INSERT ON line BEGIN DELETE FROM source; END")


def _damaged(file: Path) -> None:
    data = bytearray(file.read_bytes())
    data[4096 * 3 : 4096 * 9] = random.Random(5).randbytes(4096 * 6)
    file.write_bytes(data)


def _cut(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:9000])


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_newer, "made by a newer wellworn"),
        (_foreign, "not a wellworn database"),
        (_of_another_program, "not a wellworn database"),
        (lambda file: file.write_text("To whom it may concern\n" * 300), "not a wellworn database"),
        (lambda file: file.write_bytes(b""), "not a wellworn database"),
        (_with_a_trigger, "trigger 'hidden' that is not wellworn's"),
        (_damaged, "damaged"),
        (_cut, "damaged"),
        (Path.unlink, "no backup"),
    ],
)
def test_a_file_that_is_no_good_backup_is_refused_and_nothing_changes(
    filled: Database, tmp_path: Path, spoil: Callable[[Path], object], words: str
) -> None:
    """Newer, foreign, no database at all, empty, overwritten, cut off, missing: told in words, the old one stays."""
    target = tmp_path / "copy.db"
    backup(filled, target)
    spoil(target)
    before = dump(file_of(filled))
    with pytest.raises((CorpusError, SystemTroubleError), match=words):
        restore(target, filled.url, force=True)
    assert dump(file_of(filled)) == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".") or "before" in path.name]


def test_a_damaged_database_is_not_backed_up_as_if_it_were_whole(filled: Database, tmp_path: Path) -> None:
    """The error says so, and an older good backup is not written over."""
    target = tmp_path / "copy.db"
    backup(filled, target)
    good = target.read_bytes()
    filled.close()
    _damaged(file_of(filled))
    with pytest.raises(SystemTroubleError, match="damaged"):
        backup(filled, target, force=True)
    assert target.read_bytes() == good
    filled.close()
    # And a restore gets the user out of it: the damaged file is kept as it is.
    damaged = file_of(filled).read_bytes()
    restored = restore(target, filled.url, force=True)
    assert dump(file_of(filled)) == dump(target)
    assert restored.before is not None
    assert restored.before.read_bytes()[4096:] == damaged[4096:]


def test_restoring_waits_for_nobody_who_has_the_database_open(
    filled: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another reader or writer would go on with a file that is no longer in its place: refused in words."""
    monkeypatch.setattr(safekeeping, "_PATIENCE_SECONDS", 0.1)
    target = tmp_path / "copy.db"
    backup(filled, target)
    with filled.reading() as connection:
        connection.exec_driver_sql("SELECT count(*) FROM source").scalar_one()
        with pytest.raises(SystemTroubleError, match="in use by another process"):
            restore(target, filled.url, force=True)
    assert scalar(filled, "SELECT count(*) FROM transcription") == 4


def test_a_link_stays_a_link(filled: Database, tmp_path: Path) -> None:
    """A database that is reached through a link is restored where it lies; so is a backup written."""
    filled.close()
    link, copy, copy_link = tmp_path / "link.db", tmp_path / "copy.db", tmp_path / "copy_link.db"
    link.symlink_to(file_of(filled))
    copy_link.symlink_to(copy)
    with closing(open_database(f"sqlite:///{link}")) as linked:
        backup(linked, copy_link)
    assert copy_link.is_symlink()
    remove(filled, [1])
    filled.close()
    restored = restore(copy, f"sqlite:///{link}", force=True)
    assert link.is_symlink()
    assert dump(file_of(filled)) == dump(copy)
    assert restored.before == file_of(filled).with_name("lines.db.before-restore")


def test_a_backup_taken_while_others_write_is_one_state(filled: Database, tmp_path: Path) -> None:
    """Each copy taken during an add holds whole lines, and no more than there were."""
    script = (
        "import sys; from db.opening import open_database; from tests.db.helpers import store_lines;"
        "from tests.generators.lines import walking_line; d = open_database(sys.argv[1]);"
        "[store_lines(d, [walking_line(i, 2)], f'more{i}.abc') for i in range(25)]"
    )
    writer = subprocess.Popen([sys.executable, "-c", script, filled.url], cwd=ROOT)
    counts = []
    while writer.poll() is None:
        held = backup(filled, tmp_path / "copy.db", force=True)
        counts.append(held.transcriptions)
        assert held.rows["line"] == held.rows["reading"] == held.transcriptions
        with closing(Database(f"sqlite:///{tmp_path / 'copy.db'}")) as copy:
            assert is_sound(copy)
    assert writer.returncode == 0
    assert counts == sorted(counts)
    assert len(set(counts)) > 1


def test_a_restore_that_is_killed_leaves_one_whole_database(filled: Database, tmp_path: Path) -> None:
    """SIGKILL at random moments of restoring over and over: the old or the new one is there, sound, every time."""
    target = tmp_path / "copy.db"
    backup(filled, target)
    full = dump(target)
    filled.close()
    script = (
        "import sys; from pathlib import Path; from db.safekeeping import restore; print(flush=True)\n"
        "while True: restore(Path(sys.argv[1]), sys.argv[2], force=True)"
    )
    chance = random.Random(8)
    for _ in range(4):
        command = [sys.executable, "-c", script, str(target), filled.url]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(chance.uniform(0.05, 0.5))
            process.send_signal(signal.SIGKILL)
        assert dump(file_of(filled)) == full
        with closing(open_database(filled.url)) as whole:
            assert is_sound(whole)


def test_a_copy_that_was_never_finished_is_told(filled: Database, tmp_path: Path) -> None:
    """What a killed restore leaves beside the database is named by the doctor, and nothing is wrong."""
    assert examine(filled).troubles == ()
    left = tmp_path / f"{unfinished_prefix(file_of(filled))}abc"
    left.write_text("half a copy")
    [trouble] = examine(filled).troubles
    assert left.name in trouble.words
    assert not trouble.is_wrong


def test_a_full_disk_is_told_and_leaves_the_older_backup(
    filled: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's page limit gives the error of a full disk: the file that was there stays as it was."""
    target = tmp_path / "copy.db"
    target.write_text("an older backup")

    def small(*args: object, **options: object) -> sqlite3.Connection:
        connection = sqlite3.Connection(*args, **options)  # type: ignore[arg-type]
        connection.execute("PRAGMA max_page_count = 10")
        return connection

    with monkeypatch.context() as patch:
        patch.setattr(sqlite3, "connect", small)
        with pytest.raises(SystemTroubleError, match="disk is full"):
            backup(filled, target, force=True)
    assert target.read_text() == "an older backup"
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_an_older_schema_is_upgraded_on_its_way(filled: Database, tmp_path: Path) -> None:
    """A backup from before the marks of silence comes back at the newest schema, with its lines; the file stays old."""
    target = tmp_path / "copy.db"
    backup(filled, target)
    with closing(sqlite3.connect(target)) as connection:
        wanted = connection.execute("SELECT * FROM harmony ORDER BY level, transcription_id").fetchall()
        connection.execute("DROP TABLE history")
        connection.execute("ALTER TABLE harmony DROP COLUMN silences")
        connection.execute("UPDATE alembic_version SET version_num = '0005'")
        connection.commit()
    old = dump(target)
    place = tmp_path / "elsewhere" / "new.db"
    assert restore(target, f"sqlite:///{place}").before is None
    with closing(sqlite3.connect(place)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (SCHEMA,)
        assert connection.execute("SELECT * FROM harmony ORDER BY level, transcription_id").fetchall() == wanted
    assert dump(target) == old
