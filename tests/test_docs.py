"""README.md and the tool agree: every command in it runs, and prints what the page shows; every command is described.

To write new output into the page after a deliberate change: ``python -m tests.test_docs``.
"""

import doctest
import os
import re
import shlex
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
_WRITTEN = ("--svg", "--pdf", "--png", "--musicxml", "--midi", "--abc", "--table", "--page", "--out")
"""Options that name a file to write."""
_PYTHON = re.compile(r"```pycon\n(.*?)```", re.DOTALL)
_BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def commands(page: str) -> list[tuple[str, str]]:
    """Every command of the page's console blocks, with the output that stands under it."""
    found: list[tuple[str, str]] = []
    for block in _BLOCK.findall(page):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, output = part.partition("\n")
            found.append((line, output))
    return found


def output_of(line: str, folder: Path) -> str:
    """What a command prints, both streams together, with database and configuration in ``folder``."""
    words = shlex.split(line)
    # Files that a command writes go to that folder, not beside the sources.
    words[1:] = [
        str(folder / word) if before in _WRITTEN or (folder / word).is_file() else word
        for before, word in pairwise(words)
    ]
    # A configuration of the reader's own must not change what the page shows.
    own = {"WELLWORN_DB": str(folder / "readme.db"), "WELLWORN_CONFIG": str(folder / "config.toml")}
    environment = {**os.environ, **own, "COLUMNS": "80"}
    if words[0] == "make":
        subprocess.run([*words, "--dry-run"], cwd=ROOT, check=True, capture_output=True)
        return ""
    assert words[0] == "wellworn"
    command = [sys.executable, "-m", "cli.main", *words[1:]]
    done = subprocess.run(
        command, cwd=ROOT, env=environment, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False
    )
    assert done.returncode == 0, done.stdout
    return done.stdout.replace(f"{ROOT}/", "").replace(f"{folder}/", "")


def test_every_command_of_the_readme_prints_what_the_readme_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run in order, as a reader would, and then the Python example on the same database."""
    page = README.read_text(encoding="utf-8")
    for line, shown in commands(page):
        assert output_of(line, tmp_path) == shown, line
    monkeypatch.setenv("WELLWORN_DB", str(tmp_path / "readme.db"))
    examples = doctest.DocTestParser().get_doctest("\n".join(_PYTHON.findall(page)), {}, "README.md", None, None)
    told: list[str] = []
    doctest.DocTestRunner().run(examples, out=told.append)
    assert examples.examples
    assert not told, "".join(told)


def test_every_command_and_option_is_described_with_an_example() -> None:
    """Help pages exist for all commands, each with an example; README names each command."""
    from typer.main import get_command

    from cli.main import app

    group = get_command(app)
    page = README.read_text(encoding="utf-8")
    for name, command in group.commands.items():  # type: ignore[attr-defined]
        assert f"wellworn {name}" in (command.help or ""), name
        assert re.search(rf"\b{name}\b", page), name


@pytest.mark.parametrize(
    "words", [("--help",), ("find", "--help"), ("add", "--help"), ("map", "--help"), ("--version",)]
)
def test_help_loads_nothing_slow(words: tuple[str, ...]) -> None:
    """Neither SQLAlchemy nor music21 nor numpy nor llvmlite is imported for a help page."""
    script = (
        "import sys; from cli.main import main; sys.argv = ['wellworn', *sys.argv[1:]]\n"
        "try: main()\nexcept SystemExit: pass\n"
        "slow = {'sqlalchemy', 'music21', 'numpy', 'alembic', 'matplotlib', 'llvmlite'} & set(sys.modules)\n"
        "assert not slow, slow"
    )
    subprocess.run([sys.executable, "-c", script, *words], cwd=ROOT, check=True, capture_output=True)


def test_searching_loads_neither_music21_nor_sqlalchemy_and_exactly_no_numpy(tmp_path: Path) -> None:
    """Only adding pays for the first two, only near search for numpy and llvmlite."""
    output_of("wellworn add seed_data", tmp_path)
    script = (
        "import sys; from cli.main import main\n"
        "def loaded(*words):\n"
        "    sys.argv = ['wellworn', 'find', '--notes', 'C3 D3 E3 F3', *words]\n"
        "    try: main()\n    except SystemExit: pass\n"
        "    return {'music21', 'numpy', 'alembic', 'sqlalchemy', 'matplotlib', 'llvmlite'} & set(sys.modules)\n"
        "slow = loaded()\nassert not slow, slow\n"
        "slow = loaded('--near') - {'numpy', 'llvmlite'}\nassert not slow, slow"
    )
    environment = {**os.environ, "WELLWORN_DB": str(tmp_path / "readme.db")}
    subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=True, capture_output=True, env=environment)


def _rewrite() -> None:
    page = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:

        def renew(block: re.Match[str]) -> str:
            lines = re.findall(r"^\$ (.*)$", block[1], flags=re.MULTILINE)
            return "```console\n" + "".join(f"$ {line}\n{output_of(line, Path(folder))}" for line in lines) + "```"

        README.write_text(_BLOCK.sub(renew, page), encoding="utf-8")


if __name__ == "__main__":
    _rewrite()
