"""The system's clock set back and forth under running commands, with the library libfaketime (Debian: faketime).

Its steady (monotonic) clock goes on, as a real machine's does when somebody sets the time.
"""

import datetime as real_datetime
import json
import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.faults.files import Files
from tests.faults.jobs import Common
from tests.faults.materials import abc_file, contents, filled_database, wrongs
from tests.faults.surroundings import NotPossibleHereError, held

_COMMAND = "from cli.main import main; main()"
_PLACES = ("/usr/lib/*/faketime", "/usr/lib/faketime", "/usr/local/lib/faketime", "/opt/homebrew/lib/faketime")
_LIBRARY = "libfaketime.so.1"


class Clock:
    """A clock that stands where it is set, and goes on from there; processes that run see it jump."""

    def __init__(self, folder: Path) -> None:
        found = [path for place in _PLACES for path in Path("/").glob(f"{place[1:]}/{_LIBRARY}")]
        if not found:
            raise NotPossibleHereError(f"there is no {_LIBRARY} here (Debian: apt-get install faketime)")
        self._file = folder / "clock"
        self._environment = {
            **os.environ,
            "LD_PRELOAD": str(found[0]),
            "FAKETIME_TIMESTAMP_FILE": str(self._file),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
            "TZ": "UTC",
        }
        self.set("2031-03-10")
        day = subprocess.run(
            [sys.executable, "-c", "import datetime; print(datetime.date.today())"],
            env=self._environment,
            capture_output=True,
            text=True,
            check=True,
        )
        if day.stdout != "2031-03-10\n":
            raise NotPossibleHereError(f"{found[0]} does not change the time here: {day.stdout} {day.stderr}")

    def set(self, day: str) -> None:
        """Noon of a day."""
        noon = real_datetime.datetime.fromisoformat(f"{day}T12:00:00+00:00")
        self._file.write_text(f"{(noon - real_datetime.datetime.now(real_datetime.UTC)).total_seconds():+.0f}\n")

    def start(self, words: Sequence[str], **more: Any) -> "subprocess.Popen[str]":
        """A command under this clock."""
        command = [sys.executable, "-c", _COMMAND, *words]
        return subprocess.Popen(
            command, env=self._environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more
        )

    def run(self, *words: str) -> str:
        """What a command under this clock prints; it must do its work."""
        return finished(self.start(words))


def finished(process: "subprocess.Popen[str]") -> str:
    """What a process has printed at its end; it must have done its work."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, (process.args, out, err)
    return out


def clock_set_back(folder: Path) -> tuple[str, int]:
    """A day back between commands: days due by SM-2, by hand; the history and undo go by what was done last."""
    clock = Clock(folder)
    file = folder / "lines.db"
    filled_database(file, 10)
    base = ("--db", str(file))
    abc_file(folder / "one.abc", 1)
    changes: tuple[tuple[str, Sequence[str]], ...] = (
        ("2031-03-10", ("shelf", "add", "Other", "--notes", "C3 D3 E3")),
        # Remembered for the first time: due after one day.
        ("2031-03-10", ("practice", "log", "Other", "--bpm", "96", "--grade", "5")),
        ("2031-03-09", ("add", str(folder / "one.abc"))),
        # The day before becomes the first repetition, and that of the 10th, when it was due, the second: six days.
        ("2031-03-09", ("practice", "log", "Other", "--bpm", "90", "--grade", "4")),
        ("2031-03-08", ("edit", "2", "--player", "Tamsin Vey")),
        ("2031-03-12", ("remove", "1")),
    )
    states = [contents(file)]
    for day, words in changes:
        clock.set(day)
        clock.run(*base, *words)
        states.append(contents(file))
    dues: Mapping[str, tuple[str, int] | None] = {
        "2031-03-09": None,
        "2031-03-15": None,
        "2031-03-16": ("2031-03-16", 0),
        "2031-03-18": ("2031-03-16", 2),
    }
    for day, wanted in dues.items():
        clock.set(day)
        told = {one["name"]: one for one in json.loads(clock.run(*base, "practice", "due", "--json"))}
        found = told.get("Other")
        assert (found and (found["due"], found["days_late"])) == wanted, (day, found)
    clock.set("2031-03-01")
    done = [step["made_at"][:10] for step in json.loads(clock.run(*base, "undo", "--list", "--json"))]
    assert done[: len(changes)] == [day for day, _ in reversed(changes)], done
    for number, state in enumerate(reversed(states[:-1])):
        clock.set(f"2031-02-{20 - number}")
        clock.run(*base, "undo", "--yes")
        assert contents(file) == state, number
    clock.run(*base, "doctor")
    assert wrongs(file) == []
    return "the clock a day back between commands (libfaketime): add, edit, practice, remove, undo", 2 * len(
        changes
    ) + 6


def clock_set_within(folder: Path) -> tuple[str, int]:
    """The clock jumps while a command runs: in an add of thirty files, and while a writer waits for another."""
    clock = Clock(folder)
    home = Files()
    common = Common(home)
    tries = 0
    for days in (("2031-03-10", "2031-03-09"), ("2031-03-10", "2041-03-10"), ("2031-03-10", "1975-01-01")):
        place = folder / days[1]
        place.mkdir()
        common.add_ready(place)
        clock.set(days[0])
        adding = clock.start(common.add_words(place))
        while adding.poll() is None and not _days(home, place):
            time.sleep(0.005)
        clock.set(days[1])
        finished(adding)
        assert _days(home, place) == set(days), "the clock did not jump in the middle"
        assert common.check_added(place) > 0
        tries += 1
    file = folder / "lines.db"
    filled_database(file, 10)
    clock.set("2031-03-10")
    with held(file) as let_go:
        waiting = clock.start(("--db", str(file), "edit", "1", "--year", "1990"))
        for day in ("2031-03-11", "2031-03-09"):
            clock.set(day)
            try:
                waiting.wait(1.5)
            except subprocess.TimeoutExpired:
                tries += 1
        assert waiting.poll() is None, "a writer stopped waiting when the clock was set"
        let_go()
        finished(waiting)
    assert wrongs(file) == []
    return "the clock set a day back, years on and decades back while `add` runs and while a writer waits", tries


def _days(home: Files, folder: Path) -> set[str]:
    """The days on which files were added, as the database has them."""
    if not home.schema(folder):
        return set()
    return {str(day) for (day,) in home.ask(folder, "SELECT DISTINCT substr(added_at, 1, 10) FROM source")}
