"""``doctor`` as typed."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from cli import doctor
from tests.cli.conftest import Run

pytestmark = pytest.mark.sqlite_only(reason="damage is done to the file; there is db/test_server_doctor")


def test_doctor_tells_what_is_wrong_and_repairs_it(stored: Run, tmp_path: Path) -> None:
    """Sound: exit code 0; damaged: 1, in words, and the way out; repaired: 0 again."""
    told = stored("doctor")
    assert (told.code, told.out) == (0, "everything is as it should be\n")
    assert "2 of 2 transcriptions" in told.err
    with closing(sqlite3.connect(tmp_path / "lines.db")) as connection:
        connection.execute("UPDATE reading SET folded = 'abc' WHERE transcription_id = 2")
        connection.execute("DELETE FROM source")
        connection.commit()
    told = stored("doctor")
    assert told.code == 1
    assert "* wrong: transcriptions whose file is not named: 1, 2" in told.out
    assert "doctor --repair" in told.err
    told = stored("doctor", "--repair")
    assert told.code == 0, told.out
    assert told.out.endswith("repaired; everything is as it should be\n")
    assert stored("doctor").code == 0
    assert [entry["title"] for entry in stored("list", "--json").json] == ["Harbour Steps", "Paper Boats"]


def test_what_cannot_be_repaired_leaves_exit_code_1(stored: Run, tmp_path: Path) -> None:
    """Notes that are gone are not invented: it says to add the file again or restore a backup."""
    with closing(sqlite3.connect(tmp_path / "lines.db")) as connection:
        connection.execute("DELETE FROM line WHERE transcription_id = 2")
        connection.commit()
    told = stored("doctor", "--repair")
    assert told.code == 1
    assert "restore a backup" in told.out


@pytest.mark.sqlite_only
def test_the_index_is_made_again_on_request(stored: Run, tmp_path: Path) -> None:
    """Emptied behind wellworn's back it finds nothing; rebuilt it finds what it found."""
    asked = ("find", "--notes", "Bb1 D2 Eb2 E2", "--json")
    before = stored(*asked).json
    with closing(sqlite3.connect(tmp_path / "lines.db")) as connection:
        for name in ("folded", "letter"):
            connection.execute(f"INSERT INTO {name}_index({name}_index) VALUES ('delete-all')")
        connection.commit()
    assert stored(*asked).json == []
    told = stored("doctor", "--rebuild-index")
    assert (told.code, told.out) == (0, "everything is as it should be\n")
    assert "made again from the readings" in told.err
    assert stored(*asked).json == before


def test_it_is_said_when_only_some_lines_are_compared(stored: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """How many of how many, and what compares all; --all does."""
    monkeypatch.setattr(doctor, "_MOST_LINES", 1)
    assert "1 of 2 transcriptions made again and compared (chosen at random; --all" in stored("doctor").err
    assert stored("doctor", "--all").err == "2 of 2 transcriptions made again and compared\n"
