"""Every text option and argument of every command takes texts that are code elsewhere as texts, or refuses them.

The list of commands is the one of ``test_no_network``, which is complete; the texts are those of ``test_hostile``.
"""

import shlex
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import typer.main

from cli.main import app
from tests.cli.conftest import Run
from tests.cli.test_hostile import TEXTS, _is_harmless
from tests.cli.test_no_network import COMMANDS

# Names of files to be written, and commands on a whole database: slow, and their texts are only names.
_FILES = ("--svg", "--pdf", "--png", "--wav", "--ogg", "--midi", "--musicxml", "--out", "--parquet", "--sound-font")
_LEFT_OUT = ("demo", "restore", "backup", "recur")


def _text_options() -> list[tuple[str, str]]:
    """Each line of the list with each option of its command that takes a text.

    Commands share what is done with an option of one name: the first one with it stands for all.
    """
    found: list[tuple[str, str]] = []
    seen: set[str] = set()
    for line in COMMANDS.strip().splitlines():
        words = shlex.split(line)
        command: Any = typer.main.get_command(app)
        depth = 0
        while hasattr(command, "commands"):
            command = command.commands[words[depth]]
            depth += 1
        if words[0] in _LEFT_OUT or "--near" in words:
            continue
        for option in command.params:
            name = option.opts[0]
            is_text = option.param_type_name == "option" and option.type.name.lower() in ("str", "text", "path", "file")
            if is_text and option.nargs == 1 and not option.is_flag and name not in {*seen, *_FILES, "--db"}:
                seen.add(name)
                found.append((line, name))
    return found


OPTIONS = _text_options()


def test_there_are_many() -> None:
    """The commands are found with their options."""
    assert len(OPTIONS) > 50
    names = {option for _, option in OPTIONS}
    assert names >= {"--player", "--tune", "--title", "--collection", "--over", "--comment", "--chart", "--prices"}


@pytest.mark.sqlite_only
@pytest.mark.parametrize("share", range(2))
def test_no_text_is_obeyed(stored: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, share: int) -> None:
    """Exit code 0, 1 or 2, nothing that a terminal would obey, no traceback, and the tables are as they were."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "chart.txt").write_text("key: Bb\n| Bb6 | Cm7 F7 | Bb6 | F7 |\n")
    (tmp_path / "more.abc").write_text("X:1\nT:More\nK:C\nCDEF|\n")
    for number, (line, option) in enumerate(OPTIONS):
        if number % 2 == share:
            text = TEXTS[(number // 2) % len(TEXTS)]
            done = stored(*shlex.split(line.format(folder=tmp_path)), option, text)
            assert done.code in (0, 1, 2), (line, option, text)
            assert _is_harmless(done.out + done.err), (line, option, text)
    with closing(sqlite3.connect(tmp_path / "lines.db")) as connection:
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert {"source", "transcription", "shelf_figure"} <= names
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
