"""``find --near`` stopped with Ctrl-C: what was found is shown, and nothing is a traceback."""

import sys
from collections.abc import Iterator
from types import ModuleType
from typing import NoReturn

import pytest
import sqlalchemy as sa

import db.near
from cli import start
from db.near import NearLines, NearQuestion, near_hits
from db.search import Hit
from tests.cli.conftest import Run

FIGURE = ("--notes", "Bb2 D3 Eb3 E3", "--near")


def interrupted(connection: sa.Connection, asked: NearQuestion, lines: NearLines | None = None) -> Iterator[Hit]:
    """Near search whose user stops it after two hits."""
    for count, hit in enumerate(near_hits(connection, asked, lines)):
        if count == 2:
            raise KeyboardInterrupt
        yield hit


def test_what_was_found_is_shown_when_the_search_is_stopped(filled: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two places, the word on standard error, exit 130; JSON stays one value."""
    monkeypatch.setattr(db.near, "near_hits", interrupted)
    done = filled("find", *FIGURE)
    assert [line[:4] for line in done.out.splitlines() if not line.startswith(" ")] == ["1.00", "1.00"]
    assert done.err == "Bb2 D3 Eb3 E3: stopped; 2 places so far\n"
    assert done.code == 130
    again = filled("find", *FIGURE, "--json")
    assert ([hit["bar"] for hit in again.json], again.code) == ([1, 5], 130)


def test_a_search_for_sequences_that_is_stopped(filled: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """It has nothing to show, and says so without a traceback."""
    monkeypatch.setattr(db.near, "near_hits", interrupted)
    done = filled("find", *FIGURE, "--sequence")
    assert (done.out, done.code) == ("", 130)
    assert "stopped" in done.err


class _Stopped(ModuleType):
    """A module that Ctrl-C keeps from being loaded."""

    def __getattr__(self, name: str) -> NoReturn:
        raise KeyboardInterrupt


def test_the_command_is_stopped_while_it_is_being_loaded(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As later: exit 130, and no word."""
    monkeypatch.setitem(sys.modules, "cli.main", _Stopped("cli.main"))
    with pytest.raises(SystemExit) as stopped:
        start.main()
    assert (stopped.value.code, *capsys.readouterr()) == (130, "", "")
