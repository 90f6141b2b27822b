"""Databases in files, for the jobs: copied from templates, asked through sqlite3, and looked at while others write."""

import fcntl
import shutil
import sqlite3
import struct
from collections.abc import Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from tests.faults import materials
from tests.faults.kills import run
from tests.faults.materials import CONTENTS

_LOCK = "hhqqi"
"""``struct flock`` of Linux: type, whence, start, length, process."""
_WRITE_LOCKS = (("lines.db-shm", 120), ("lines.db", 0x40000001))
"""The bytes that a writer holds: with a log beside the file, and without (SQLite's ``wal.c`` and ``os.h``)."""


@cache
def _template(name: str) -> Path:
    """A database made once for this process."""
    file = materials.lasting_folder() / f"{name}.db"
    if name == "old":
        materials.old_database(file, materials.OLD_LINES)
    elif name in ("filled", "other"):
        materials.filled_database(file, materials.LINES if name == "filled" else materials.LINES // 2)
    else:
        shutil.copy(_template("filled"), file)
        assert run(["--db", str(file), "remove", *map(str, range(1, materials.LINES + 1))]) == 0
        materials.close_log(file)
    return file


@cache
def _template_contents(name: str) -> dict[str, list[str]]:
    return materials.contents(_template(name))


class Files:
    """See ``tests.faults.jobs.Home``; the folder's database is its file ``lines.db``."""

    def words(self, folder: Path) -> list[str]:
        """See ``Home``."""
        return ["--db", str(folder / "lines.db")]

    def url(self, folder: Path) -> str:
        """See ``Home``."""
        return materials.url_of(folder / "lines.db")

    def put(self, folder: Path, name: str) -> None:
        """See ``Home``."""
        if name:
            self.copy(name, folder / "lines.db")

    def copy(self, name: str, file: Path) -> None:
        """Copy a template to a file."""
        shutil.copy(_template(name), file)

    def ask(self, folder: Path, sql: str) -> Sequence[tuple[Any, ...]]:
        """See ``Home``."""
        with closing(sqlite3.connect(folder / "lines.db")) as connection:
            return connection.execute(sql).fetchall()

    def schema(self, folder: Path) -> str | None:
        """See ``Home``."""
        file = folder / "lines.db"
        return materials.schema_of(file) if file.exists() else None

    def contents(self, folder: Path, tables: tuple[str, ...] = CONTENTS) -> dict[str, list[str]]:
        """See ``Home``."""
        return materials.contents(folder / "lines.db", tables)

    def template_contents(self, name: str) -> dict[str, list[str]]:
        """See ``Home``."""
        return _template_contents(name)

    def wrongs(self, folder: Path) -> list[str]:
        """See ``Home``."""
        return materials.wrongs(folder / "lines.db")

    def is_writing(self, folder: Path) -> bool:
        """Whether somebody holds SQLite's write lock, or a copy is half-made; asking disturbs nobody."""
        if any(folder.glob(".*.part-*")):
            return True
        for name, byte in _WRITE_LOCKS:
            try:
                with (folder / name).open("rb+") as file:
                    asked = struct.pack(_LOCK, fcntl.F_WRLCK, 0, byte, 1, 0)
                    told = struct.unpack(_LOCK, fcntl.fcntl(file, fcntl.F_GETLK, asked))
            except FileNotFoundError:
                continue
            if told[0] != fcntl.F_UNLCK:
                return True
        return False
