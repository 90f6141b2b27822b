"""Nothing leaves the machine: no command connects anywhere, and no test beyond the loopback."""

import shlex
import socket
from pathlib import Path

import pytest
import typer.main

from cli.main import app
from tests.cli.conftest import STUDY, Run
from tests.network import NetworkUsedError, only_this_machine

COMMANDS = """
add {folder}/more.abc --processes 1
check {folder}/more.abc
list
show 1
show 1 --svg {folder}/line.svg
edit 1 --title Steps
find --notes 'C D E'
find --notes 'C D E F' --near
align 1 1-2 1 3-4
recur
play 1 --midi {folder}/line.mid
prices
map 1 --contour uuu
export 1 --musicxml {folder}/line.musicxml
page 1 --out {folder}/line.html
harmony 1
chart 1
shapes 1
profile 1
compare 1 --with 2
table notes --csv -
reading 1
shelf add steps --notes 'Bb2 C3 D3'
shelf list
shelf show steps
shelf edit steps --comment slowly
shelf tag steps blues
shelf add other --notes 'C3 D3 E3 F3'
suggest {folder}/chart.txt
practice sheet steps --midi {folder}/sheet.mid
practice log steps --bpm 120 --grade 4
practice due
practice progress steps
shelf merge steps other
shelf export {folder}/shelf.json
shelf import {folder}/shelf.json
shelf schema
shelf remove steps --force
backup {folder}/copy.db
restore {folder}/copy.db --force
doctor
remove 2
undo --yes
demo
"""


def _names(group: object, before: tuple[str, ...] = ()) -> set[str]:
    commands = getattr(group, "commands", None)
    if commands is None:
        return {" ".join(before)}
    return {name for word, command in commands.items() for name in _names(command, (*before, word))}


def test_every_command_is_run() -> None:
    """The list above names all commands there are."""
    known = _names(typer.main.get_command(app))
    first_words = {" ".join(shlex.split(line)[:2]) for line in COMMANDS.strip().splitlines()}
    run = {name for name in known if name in first_words or name in {words.split()[0] for words in first_words}}
    assert run == known


@pytest.mark.sqlite_only
def test_no_command_connects(stored: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All commands in turn, where any connection of an internet socket is an error that nothing catches."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "more.abc").write_text(STUDY.replace("Harbour", "Other"))
    (tmp_path / "chart.txt").write_text("key: Bb\n| Bb6 | Cm7 F7 | Bb6 | F7 |\n")
    failed = []
    for line in COMMANDS.strip().splitlines():
        words = shlex.split(line.format(folder=tmp_path))
        database = ("--db", str(tmp_path / "demo.db")) if words[0] == "demo" else ()
        with only_this_machine(allows_loopback=False):
            done = stored(*database, *words)
        failed += [(line, done.err)] if done.code else []
    assert failed == []


def test_the_guards_hold() -> None:
    """What the tests' guards are for: connections and names beyond the loopback, sockets of internet families."""
    with socket.socket() as outgoing, pytest.raises(NetworkUsedError):
        outgoing.connect(("192.0.2.1", 80))  # an address for documentation (RFC 5737)
    with socket.socket() as outgoing, pytest.raises(NetworkUsedError):
        outgoing.connect_ex(("example.org", 80))
    with pytest.raises(NetworkUsedError):
        socket.getaddrinfo("example.org", 80)
    with socket.create_server(("127.0.0.1", 0)) as server:
        with socket.create_connection(server.getsockname()):
            pass
        with only_this_machine(allows_loopback=False), pytest.raises(NetworkUsedError):
            socket.create_connection(server.getsockname())
