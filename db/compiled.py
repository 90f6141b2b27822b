"""Machine code of the kernels, kept in the user's own cache folder, and made ready while other work goes on.

A kept file is code that will run, so it is only taken from a folder and file that belong to the user and that nobody
else may write, and only when its own checksum is right; anything else is made again. A folder that cannot be read or
written costs a tenth of a second, never an answer.
"""

import hashlib
import os
import stat
import tempfile
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from pathlib import Path
from typing import Final

from corpus.match.kernels import Kernels
from db.location import user_cache_folder

_FOLDER: Final = "kernels"
_SUFFIX: Final = ".o"
_MOST_KEPT: Final = 8
_DIGEST_BYTES: Final = hashlib.sha256().digest_size
_OTHERS_WRITE: Final = stat.S_IWGRP | stat.S_IWOTH


class CodeFolder:
    """Code in a folder, a file for each key: the SHA-256 digest of key and code, then the code."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, key: str) -> bytes | None:
        """What was kept under a key; None when nothing was, or when it cannot be trusted or read."""
        try:
            if not _is_own(self._folder) or not _is_own(self._file(key)):
                return None
            kept = self._file(key).read_bytes()
        except OSError:
            return None
        code = kept[_DIGEST_BYTES:]
        return code if kept[:_DIGEST_BYTES] == _digest(key, code) else None

    def put(self, key: str, code: bytes) -> None:
        """Keep code, the newest few of it; without a folder to write into nothing is kept."""
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not _is_own(self._folder):
                return
            handle, name = tempfile.mkstemp(dir=self._folder)
            with os.fdopen(handle, "wb") as file:
                file.write(_digest(key, code) + code)
            # Whoever reads meanwhile sees the old file or the new one, never half of it.
            Path(name).replace(self._file(key))
            self._forget()
        except OSError:
            return

    def _file(self, key: str) -> Path:
        return self._folder / f"{key}{_SUFFIX}"

    def _forget(self) -> None:
        files = sorted(self._folder.iterdir(), key=lambda file: file.stat().st_mtime_ns)
        for file in files[:-_MOST_KEPT]:
            file.unlink(missing_ok=True)


def _is_own(path: Path) -> bool:
    """Whether a file or folder, itself and no link, belongs to this user and nobody else may write it."""
    found = path.lstat()
    if stat.S_ISLNK(found.st_mode):
        return False
    # Where there are no users' numbers (Windows) the folder lies in the user's profile, which keeps others out.
    return not hasattr(os, "getuid") or (found.st_uid == os.getuid() and not found.st_mode & _OTHERS_WRITE)


def _digest(key: str, code: bytes) -> bytes:
    return hashlib.sha256(key.encode() + b"\0" + code).digest()


@cache
def kernels() -> Kernels | None:
    """The kernels, ready to be called; None where llvmlite is missing or does not work, so that numpy must do."""
    found = Kernels(CodeFolder(user_cache_folder() / _FOLDER))
    try:
        found.with_lanes()
    except (ImportError, OSError, RuntimeError):
        return None
    return found


def kernels_meanwhile() -> "Future[Kernels | None]":
    """The same, made ready in a thread of its own: LLVM lets go of the interpreter while it works."""
    pool = ThreadPoolExecutor(1)
    try:
        return pool.submit(kernels)
    finally:
        pool.shutdown(wait=False)
