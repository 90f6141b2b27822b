"""The commands that are killed, and what must hold whenever they die; on files and on a server."""

from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, Protocol

from db.opening import SCHEMA, open_database
from db.undo import last_step
from tests.faults import materials
from tests.faults.files import Files
from tests.faults.kills import Job, run
from tests.faults.materials import CONTENTS, NOTES_A_TUNE, abc_file, contents

FILES = 30
"""More than are read ahead, so that some are stored while others are read."""
TUNES = 2


class Home(Protocol):
    """Where databases are kept: to each folder of a test belongs one, on which commands work."""

    def words(self, folder: Path) -> list[str]:
        """The options that name the folder's database to a command."""

    def url(self, folder: Path) -> str:
        """Its URL."""

    def put(self, folder: Path, name: str) -> None:
        """Let the folder's database be a copy of a template (see ``materials``), or none yet (``""``)."""

    def ask(self, folder: Path, sql: str) -> Sequence[tuple[Any, ...]]:
        """Put a question to it, past wellworn."""

    def schema(self, folder: Path) -> str | None:
        """The number of its schema, None where there is none."""

    def contents(self, folder: Path, tables: tuple[str, ...] = CONTENTS) -> dict[str, list[str]]:
        """Every row of some tables, sorted."""

    def template_contents(self, name: str) -> dict[str, list[str]]:
        """The same of a template."""

    def wrongs(self, folder: Path) -> list[str]:
        """What the doctor finds wrong, and the database itself."""

    def is_writing(self, folder: Path) -> bool:
        """Whether anybody is in the middle of a write."""


class Common:
    """The jobs that are the same wherever databases are kept."""

    def __init__(self, home: Home) -> None:
        self.home = home
        self._families: list[str] = []

    def jobs(self) -> tuple[Job, ...]:
        """All of them."""
        writing = self.home.is_writing
        return (
            Job("add", self.add_ready, self.add_words, self._add_check, writing),
            Job("recur", self._copied("filled"), self._recur_words, self._recur_check, writing),
            Job("upgrade", self._copied("old"), self._upgrade_words, self._upgrade_check, writing),
            Job("remove", self._copied("filled"), self._remove_words, self._remove_check, writing),
            Job("undo", self._copied("emptied"), self._undo_words, self._undo_check, writing),
        )

    def _copied(self, name: str) -> Callable[[Path], None]:
        return lambda folder: self.home.put(folder, name)

    def _sound(self, folder: Path) -> None:
        found = self.home.wrongs(folder)
        assert found == [], found

    # add: each file is there whole or not at all, and adding again brings the rest

    def add_ready(self, folder: Path) -> None:
        """Files to add, and no database yet."""
        self.home.put(folder, "")
        (folder / "music").mkdir()
        for number in range(FILES):
            abc_file(folder / "music" / f"{number:02d}.abc", number, TUNES)

    def add_words(self, folder: Path) -> Sequence[str]:
        """Add the files."""
        return [*self.home.words(folder), "add", str(folder / "music"), "--processes", "1"]

    def _add_check(self, folder: Path) -> bool:
        return self.home.schema(folder) is not None and self.check_added(folder) > 0

    def check_added(self, folder: Path) -> int:
        """How many files are stored; what is there is whole, and adding again brings the rest."""
        self._sound(folder)
        stored = self._check_whole_files(folder)
        assert run(self.add_words(folder)) == 0
        self._sound(folder)
        assert self._check_whole_files(folder) == FILES
        return stored

    def _check_whole_files(self, folder: Path) -> int:
        sql = (
            "SELECT s.name, count(t.id), sum(t.note_count), count(l.notes), count(r.interval), "
            "(SELECT count(*) FROM history h WHERE h.words LIKE s.name || ':%') "
            "FROM source s LEFT JOIN transcription t ON t.source_id = s.id LEFT JOIN line l "
            "ON l.transcription_id = t.id LEFT JOIN reading r ON r.transcription_id = t.id GROUP BY s.id, s.name"
        )
        rows = self.home.ask(folder, sql)
        for name, *counts in rows:
            assert counts == [TUNES, TUNES * NOTES_A_TUNE, TUNES, TUNES, 1], (name, counts)
        return len(rows)

    # recur: the corpus is untouched, and what is kept is what discovery finds

    def _recur_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "recur", "--json"]

    def _families_expected(self) -> list[str]:
        if not self._families:
            folder = materials.lasting_folder()
            self.home.put(folder, "filled")
            assert run(self._recur_words(folder)) == 0
            self._families = self.home.contents(folder, ("family",))["family"]
            assert self._families
        return self._families

    def _recur_check(self, folder: Path) -> bool:
        self._sound(folder)
        assert self.home.contents(folder) == self.home.template_contents("filled")
        found = self.home.contents(folder, ("discovery", "family"))
        assert (len(found["discovery"]), found["family"]) in ((0, []), (1, self._families_expected()))
        return bool(found["discovery"])

    # upgrade: the old database or the new one, never something between

    def _upgrade_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "list", "--limit", "1"]

    def _upgrade_check(self, folder: Path) -> bool:
        schema = self.home.schema(folder)
        assert schema in ("0001", SCHEMA)
        is_done = schema == SCHEMA
        if not is_done:
            assert self.home.contents(folder) == self.home.template_contents("old")
            open_database(self.home.url(folder)).close()
        self._sound(folder)
        counts = [
            self.home.ask(folder, f"SELECT count(*) FROM {table}")[0][0]
            for table in ("transcription", "line", "reading")
        ]
        [(harmony,)] = self.home.ask(folder, "SELECT count(DISTINCT transcription_id) FROM harmony")
        lines = materials.OLD_LINES
        assert [*counts, harmony] == [lines + 3, lines + 3, lines + 3, lines + 2]
        return is_done

    # remove and undo: as before, or as after

    def _remove_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "remove", *map(str, range(1, materials.LINES + 1))]

    def _remove_check(self, folder: Path) -> bool:
        self._sound(folder)
        found = self.home.contents(folder)
        is_done = not found["transcription"]
        assert is_done or found == self.home.template_contents("filled")
        return is_done

    def _undo_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "undo", "--yes"]

    def _undo_check(self, folder: Path) -> bool:
        self._sound(folder)
        found = self.home.contents(folder)
        is_done = found == self.home.template_contents("filled")
        assert is_done or not found["transcription"]
        with closing(open_database(self.home.url(folder))) as database, database.reading() as connection:
            step = last_step(connection)
        assert step is not None
        assert step.command == ("edit" if is_done else "remove")
        return is_done


# backup and restore: one whole database under each name


class Copies:
    """The jobs that copy whole files."""

    def __init__(self, home: Files) -> None:
        self.home = home

    def jobs(self) -> tuple[Job, ...]:
        """Both."""
        return (
            Job("restore", self._ready, self._restore_words, self._restore_check, self.home.is_writing),
            Job("backup", self._ready, self._backup_words, self._backup_check, self.home.is_writing),
        )

    def _ready(self, folder: Path) -> None:
        self.home.put(folder, "filled")
        self.home.copy("other", folder / "backup.db")

    def _restore_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "restore", str(folder / "backup.db"), "--force"]

    def _restore_check(self, folder: Path) -> bool:
        assert materials.wrongs(folder / "lines.db") == []
        found = self.home.contents(folder)
        is_done = found == self.home.template_contents("other")
        assert is_done or found == self.home.template_contents("filled")
        assert contents(folder / "backup.db") == self.home.template_contents("other")
        kept_aside = folder / "lines.db.before-restore"
        assert not is_done or kept_aside.exists()
        if kept_aside.exists():
            assert contents(kept_aside) == self.home.template_contents("filled")
        return is_done

    def _backup_words(self, folder: Path) -> Sequence[str]:
        return [*self.home.words(folder), "backup", str(folder / "backup.db"), "--force"]

    def _backup_check(self, folder: Path) -> bool:
        assert materials.wrongs(folder / "lines.db") == []
        assert materials.wrongs(folder / "backup.db") == []
        assert self.home.contents(folder) == self.home.template_contents("filled")
        found = contents(folder / "backup.db")
        is_done = found == self.home.template_contents("filled")
        assert is_done or found == self.home.template_contents("other")
        return is_done


_FILES = Files()
JOBS = (*Common(_FILES).jobs(), *Copies(_FILES).jobs())
