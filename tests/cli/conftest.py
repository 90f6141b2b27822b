"""Running commands in this process, as ``wellworn`` would."""

import io
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from cli.main import main
from tests.databases import Databases

STUDY = """%abc-2.1
X:1
T:Harbour Steps
%%wellworn-player Orlo Quist
%%wellworn-instrument Double bass
%%wellworn-year 1994
%%wellworn-form A4
D:Low Tide Sessions
Q:1/4=160
M:4/4
L:1/4
K:Bb clef=bass transpose=-12
P:A
"Bb6"B,, D, E, =E, | "F7"F, A,, C, E, | "Bb6"D, F, _A, G, | "Eb7"_G, F, E, D, |
"Bb6"B, D E =E | "F7"F C A, F, | "Bb6"B,,/B,,/ D,/D,/ E,/E,/ =E,/E,/ | "F7"F,4 |]

X:2
T:Paper Boats
%%wellworn-player Tamsin Vey
Q:1/4=120
M:3/4
L:1/4
K:Dm
D F G | ^G A c | d3 |]
"""


@dataclass(frozen=True)
class Outcome:
    """What a command left: exit code, standard output, standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as one JSON value."""
        return json.loads(self.out)


Run = Callable[..., Outcome]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path, new_url: str) -> Run:
    """Runs ``wellworn`` with the given words on a database of this test's own."""
    monkeypatch.setenv("WELLWORN_DB", new_url)
    # The configuration of whoever runs the tests must not change prices.
    monkeypatch.setenv("WELLWORN_CONFIG", str(tmp_path / "config.toml"))

    def call(*words: str, typed: str = "") -> Outcome:
        monkeypatch.setattr(sys, "argv", ["wellworn", *map(str, words)])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(typed.encode())))
        with pytest.raises(SystemExit) as stopped:
            main()
        captured = capsys.readouterr()
        code = stopped.value.code
        return Outcome(code if isinstance(code, int) else int(code is not None), captured.out, captured.err)

    return call


def stored_lines(run: Run) -> list[str]:
    """The titles of what is stored: nothing where there is no database yet."""
    done = run("list", "--json")
    return [entry["title"] for entry in done.json] if done.code == 0 else []


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """An ABC file with two invented tunes."""
    path = tmp_path / "study.abc"
    path.write_text(STUDY)
    return path


@pytest.fixture
def filled(run: Run, study: Path) -> Run:
    """A run whose database holds the study's two tunes, as 1 and 2."""
    assert run("add", study, "--collection", "practice room").code == 0
    return run


@pytest.fixture(scope="session")
def _study_database(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The URL of a database that holds the study's two tunes, made once."""
    folder = tmp_path_factory.mktemp("study")
    (folder / "study.abc").write_text(STUDY)
    url = databases.new(folder / "lines.db")
    words = ["add", str(folder / "study.abc"), "--collection", "practice room", "--db", url]
    command = [sys.executable, "-m", "cli.main", *words]
    subprocess.run(command, check=True, capture_output=True, cwd=Path(__file__).parents[2])
    return url


@pytest.fixture
def stored(run: Run, databases: Databases, new_url: str, _study_database: str) -> Run:
    """As ``filled``, on a copy of a database made once: for tests that add no file."""
    databases.copy(_study_database, new_url)
    return run
