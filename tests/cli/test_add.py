"""``add`` and ``check`` at the command line: what is told, what is kept, and every kind of bad file."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from tests.cli.conftest import STUDY, Run, stored_lines

ROOT = Path(__file__).parents[2]


def test_adding_tells_files_transcriptions_and_notes(run: Run, study: Path) -> None:
    """The summary goes to standard error, nothing to standard output."""
    done = run("add", study)
    assert done.code == 0
    assert done.out == ""
    assert "added  1      2               40" in done.err


def test_adding_twice_is_a_no_op_under_any_name(run: Run, study: Path, tmp_path: Path) -> None:
    """Same bytes: skipped, also from a copy and in one call."""
    copy = tmp_path / "copy.abc"
    copy.write_bytes(study.read_bytes())
    assert run("add", study, copy).code == 0
    again = run("add", study)
    assert (again.code, "skipped  1" in again.err) == (0, True)
    assert len(run("list", "--json").json) == 2


def test_a_changed_file_is_offered_as_a_replacement(filled: Run, study: Path) -> None:
    """Without --replace nothing changes and the message says how; with it the IDs stay."""
    study.write_text(STUDY.replace("T:Harbour Steps", "T:Harbour Stairs"))
    refused = filled("add", study)
    assert (refused.code, "--replace" in refused.err) == (2, True)
    assert filled("list", "--json").json[0]["title"] == "Harbour Steps"
    assert filled("add", study, "--replace").code == 0
    assert [(e["transcription"], e["title"]) for e in filled("list", "--json").json] == [
        (1, "Harbour Stairs"),
        (2, "Paper Boats"),
    ]


DUO = """%abc-2.1
X:1
T:Two Lamps
M:4/4
L:1/4
K:C
V:1 name="Horn"
V:2 name="Bass" clef=bass
[V:1] c d e f | g4 |]
[V:2] C, E, G, B, | C4 |]
"""


@pytest.mark.parametrize(("first", "second"), [("2", "bass"), ("Bass", "2"), ("Bass", "BASS")])
def test_a_part_is_stored_once_however_it_is_called(run: Run, tmp_path: Path, first: str, second: str) -> None:
    """By number or by name: skipped, also in a copy of the file; offered for replacement when changed; another part
    of the same file is another line.
    """
    path, copy = tmp_path / "duo.abc", tmp_path / "copy.abc"
    path.write_text(DUO)
    copy.write_text(DUO)
    assert run("add", path, "--part", first).code == 0
    for again in (path, copy):
        outcome = run("add", again, "--part", second)
        assert outcome.code == 0
        assert "skipped" in outcome.err
    path.write_text(DUO.replace("C, E, G, B,", "C, D, E, G,"))
    assert "--replace" in run("add", path, "--part", second).err
    assert run("add", path, "--part", second, "--replace").code == 0
    assert [line["notes"] for line in run("list", "--json").json] == [5]
    assert run("add", path, "--part", "horn").code == 0
    assert [line["notes"] for line in run("list", "--json").json] == [5, 5]


def test_the_only_part_of_a_score_is_stored_once_named_or_not(run: Run) -> None:
    """A score with one part, added without and with --part."""
    score = Path(__file__).parents[2] / "seed_data" / "brass_thimble_quellenberg.musicxml"
    assert run("add", score).code == 0
    assert "skipped" in run("add", score, "--part", "1").err
    assert len(run("list", "--json").json) == 1


def test_details_come_from_the_file_and_else_from_options(run: Run, study: Path) -> None:
    """The file's player stays, its missing instrument and recording are the option's."""
    run("add", study, "--player", "Somebody", "--instrument", "Cello", "--form", "A2", "--year", "2001")
    first, second = run("show", "1", "--json").json, run("show", "2", "--json").json
    assert (first["player"], first["instrument"], first["year"]) == ("Orlo Quist", "Double bass", 1994)
    assert (first["recording"], first["tempo"], first["form"]) == ("Low Tide Sessions", 160, "A4")
    assert (second["player"], second["instrument"], second["year"]) == ("Tamsin Vey", "Cello", 2001)


def test_typed_abc_is_read_from_standard_input(run: Run) -> None:
    """``-`` reads ABC; another text typed later is another source."""
    assert run("add", "-", typed="X:1\nT:Typed\nL:1/4\nK:C\nCDEF|\n").code == 0
    assert run("add", "-", typed="X:1\nT:Typed again\nL:1/4\nK:C\nCDEG|\n").code == 0
    assert [e["title"] for e in run("list", "--json").json] == ["Typed", "Typed again"]


def test_humdrum_comes_from_files_and_from_standard_input(run: Run, tmp_path: Path) -> None:
    """A spine is chosen with --part, its chords come from the chord spine; what is lost is told with the file."""
    text = "!!!OTL: Stairs\n**kern\t**kern\t**mxhm\n*M4/4\t*M4/4\t*\n=1\t=1\t=1\n1C G\t1e\tC major\n*-\t*-\t*-\n"
    (tmp_path / "stairs.krn").write_text(text)
    refused = run("add", tmp_path / "stairs.krn")
    assert (refused.code, "choose one with --part" in refused.err) == (2, True)
    done = run("add", tmp_path / "stairs.krn", "--part", "1")
    assert done.code == 0
    assert "chords: the top note is taken" in done.err
    shown = run("show", "1", "--json").json
    assert (shown["title"], shown["notes"][0]["spelling"]) == ("Stairs", "G3")
    assert run("add", "-", "--part", "2", typed=text).code == 0


def test_folders_and_globs_are_searched(run: Run, study: Path, tmp_path: Path) -> None:
    """A folder is read through; a pattern picks files; other kinds of files in a folder are left alone."""
    (tmp_path / "notes.txt").write_text("buy strings")
    deep = tmp_path / "deep"
    deep.mkdir()
    (deep / "other.abc").write_text("X:1\nT:Other\nL:1/4\nK:C\nCDEF|\n")
    assert run("add", tmp_path).code == 0
    assert len(run("list", "--json").json) == 3
    assert "skipped  1" in run("add", str(tmp_path / "*.abc")).err


def test_one_bad_file_or_tune_never_loses_the_others(run: Run, study: Path, tmp_path: Path) -> None:
    """The good ones are stored, each bad one is named with its reason, the exit code is 2."""
    (tmp_path / "bad.musicxml").write_text("<svg/>")
    study.write_text(STUDY + "\nX:3\nT:Silence\nK:C\n\n")
    done = run("add", study, tmp_path / "bad.musicxml")
    assert done.code == 2
    assert "bad.musicxml" in done.err
    assert "Silence" in done.err
    assert len(run("list", "--json").json) == 2


def _bomb() -> bytes:
    entities = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10))
    return (
        f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a0 "ha">{entities}]><score-partwise>&a9;</score-partwise>'.encode()
    )


BAD_FILES = {
    "empty.abc": (b"", "is empty"),
    "empty.musicxml": (b"", "is empty"),
    "prose.abc": (b"Dear diary, today I practised.\n", "no tune"),
    "silent.abc": (b"X:1\nT:Silence\nL:1/4\nK:C\nz4|\n", "no notes"),
    "bomb.xml": (_bomb(), "entit"),
    "paper.xml": (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "PDF"),
    "cut.mxl": (b"PK\x03\x04\x14\x00", "archive|zip"),
    "prose.krn": (b"Dear diary, today I practised.\n", "opens no spine"),
    "torn.krn": (b"**kern\t**mxhm\n1c\n*-\t*-\n", "line 2: 1 tokens where 2 columns run"),
    "picture.musicxml": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not MusicXML"),
    "song.mid": (b"MThd\x00\x00\x00\x06", "no MIDI file"),
    "song.wav": (b"RIFF\x00\x00\x00\x00WAVE", "of no kind that is read"),
}


@pytest.mark.parametrize("name", BAD_FILES)
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_bad_files_are_refused_in_a_line_or_two(run: Run, tmp_path: Path, name: str) -> None:
    """Exit 2, no traceback, the file named, the likely cause told, nothing stored."""
    content, words = BAD_FILES[name]
    path = tmp_path / name
    path.write_bytes(content)
    done = run("add", path)
    assert done.code == 2
    reasons = [line for line in done.err.splitlines() if "failed:" in line or "refused:" in line]
    assert len(reasons) == 1
    assert name in reasons[0]
    assert any(word.lower() in reasons[0].lower() for word in words.split("|")), reasons[0]
    assert "Traceback" not in done.err
    assert run("list", "--json").json == []


def test_a_truncated_archive_is_refused(run: Run, tmp_path: Path) -> None:
    """A compressed score that broke off while copying."""
    path = tmp_path / "score.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", "<score-partwise/>" * 1000)
    path.write_bytes(path.read_bytes()[:-30])
    done = run("add", path)
    assert (done.code, "score.mxl" in done.err, "Traceback" in done.err) == (2, True, False)


def test_a_huge_file_is_refused_unread(run: Run, tmp_path: Path) -> None:
    """200 MB (sparse) are refused by size, without being read."""
    path = tmp_path / "huge.musicxml"
    with path.open("wb") as file:
        file.truncate(200 * 1024 * 1024)
    done = run("add", path)
    assert (done.code, "200 MB" in done.err) == (2, True)


def test_places_that_do_not_exist_are_named(run: Run, tmp_path: Path) -> None:
    """A missing file, an empty folder, an unknown collection with what there is."""
    (tmp_path / "void").mkdir()
    assert "no such file" in run("add", tmp_path / "missing.abc").err
    assert "no such user" in run("add", "~nobody-of-that-name/x.abc").err
    assert run("add", "").code == 2
    assert "holds no file" in run("add", tmp_path / "void").err
    unknown = run("add", "music21:oneils1850")
    assert (unknown.code, "oneills1850" in unknown.err) == (2, True)
    assert run("add", "music21:../../etc").code == 2


def test_a_line_of_one_note_is_stored(run: Run, tmp_path: Path) -> None:
    """One note is a line, if a short one."""
    path = tmp_path / "one.abc"
    path.write_text("X:1\nT:One\nM:4/4\nL:1/1\nK:C\nC|\n")
    assert run("add", path).code == 0
    assert run("show", "1", "--json").json["notes"][0]["pitch"] == 60


def test_findings_are_told_and_block_only_when_strict(run: Run, tmp_path: Path) -> None:
    """A bar of three beats in 4/4: added with a remark, refused with --strict, shown by check."""
    path = tmp_path / "short.abc"
    path.write_text("X:1\nT:Short\nM:4/4\nL:1/4\nK:C\nCDEF|CDE|CDEF|\n")
    strict = run("add", path, "--strict")
    assert (strict.code, "bar 2" in strict.err) == (2, True)
    assert run("list", "--json").json == []
    loose = run("add", path)
    assert (loose.code, "bar 2" in loose.err) == (0, True)
    assert run("show", "1", "--json").json["findings"][0]["bar"] == 2


def test_check_shows_findings_without_adding(run: Run, tmp_path: Path) -> None:
    """No database is made; the exit code is 0 unless --strict."""
    path = tmp_path / "low.abc"
    path.write_text("X:1\nT:Low\nM:4/4\nL:1/4\nK:C\nC,,,DEF|\n")
    done = run("check", path, "--instrument", "double bass", "--form", "2")
    assert done.code == 0
    assert "beat 1: C1 (sounding) lies below the range" in done.out
    assert "[form]" in done.out
    assert run("check", path, "--strict", "--instrument", "double bass").code == 2
    assert not (tmp_path / "lines.db").exists()


@pytest.mark.parametrize(
    "options",
    [
        ("--key", "H"),
        ("--meter", "4/5"),
        ("--form", "AABA"),
        ("--voice", "middle"),
        ("--year", "0"),
        ("--tempo", "fast"),
    ],
)
def test_bad_options_are_refused_before_anything_is_read(run: Run, study: Path, options: tuple[str, str]) -> None:
    """Exit 2 and nothing stored."""
    assert run("add", study, *options).code == 2
    assert stored_lines(run) == []


@pytest.mark.sqlite_only(reason="a file opened read-only; there is db/test_server for users who may only read")
def test_a_read_only_database_is_said(filled: Run, tmp_path: Path) -> None:
    """A message with what to do and exit 1; searching still works."""
    other = tmp_path / "other.abc"
    other.write_text("X:1\nT:Other\nL:1/4\nK:C\nCDEF|\n")
    read_only = f"sqlite:///file:{tmp_path / 'lines.db'}?mode=ro&uri=true"
    done = filled("add", other, "--db", read_only)
    assert (done.code, "is read-only" in done.err, "Traceback" in done.err) == (1, True, False)
    assert len(filled("find", "--contour", "uuu", "--db", read_only, "--json").json) > 0


def test_pipes_and_devices_are_refused_and_never_waited_for(run: Run, tmp_path: Path) -> None:
    """A pipe that nobody writes to, and a device that never ends."""
    pipe = tmp_path / "pipe.abc"
    os.mkfifo(pipe)
    for place in (pipe, "/dev/zero"):
        done = run("add", place)
        assert (done.code, "is no file" in done.err) == (2, True)


def test_a_file_name_that_is_no_utf8_is_read_like_any_other(run: Run, study: Path, tmp_path: Path) -> None:
    """The name is kept with escapes; the other files are not lost."""
    odd = os.fsdecode(os.fsencode(tmp_path) + b"/z\xff.abc")
    Path(odd).write_text("X:1\nT:Odd\nM:4/4\nL:1/4\nK:C\nCDEF|\n")
    assert run("add", study, odd).code == 0
    assert "\\xff" in run("list", "--json").json[2]["source"]
    assert run("list", "--player", "\udcff").code == 2


def test_what_was_refused_is_told_again_when_the_file_is_skipped(run: Run, study: Path) -> None:
    """A tune that could not be read stays unread, and is not forgotten."""
    study.write_text(STUDY + "\nX:3\nT:Silence\nK:C\n\n")
    first, again = run("add", study), run("add", study)
    assert (first.code, again.code) == (2, 2)
    assert "skipped  1" in again.err
    assert "Silence" in again.err


def test_two_processes_that_add_the_same_files_at_once_lose_none(tmp_path: Path) -> None:
    """On a database that neither has made yet: each file is stored once, none is refused."""
    folder, database = tmp_path / "many", tmp_path / "lines.db"
    _many_files(folder, 60)
    command = [sys.executable, "-m", "cli.main", "--db", str(database), "add", str(folder), "--processes", "1"]
    running = [subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    told = [process.communicate(timeout=120)[1] for process in running]
    assert [process.returncode for process in running] == [0, 0], told
    assert _count(database, "transcription") == 60


@pytest.mark.no_sql(reason="streams of a process")
def test_closed_and_full_outputs_are_no_tracebacks(filled: Run, new_url: str) -> None:
    """Standard streams that are closed, a device that is full, numbers beyond any ID."""
    base = f'"{sys.executable}" -m cli.main --db "{new_url}"'
    for words, codes in (
        ("list >&-", {0}),
        ("list 2>&-", {0}),
        ("add - <&-", {2}),
        ("list >/dev/full", {1}),
        ("find --contour uu --json >/dev/full", {1}),
        ("list --limit 99999999999999999999", {2}),
        ("remove 99999999999999999999999", {2}),
        ("edit 1 --tempo nan", {2}),
    ):
        done = subprocess.run(f"{base} {words}", shell=True, cwd=ROOT, capture_output=True, text=True, check=False)
        assert done.returncode in codes, (words, done.returncode, done.stderr)
        assert "Traceback" not in done.stderr, words


@pytest.mark.sqlite_only(reason="the database is named by its file; how output ends is the same everywhere")
@pytest.mark.parametrize("words", [["list"], ["show", "1"], ["--help"]])
def test_a_reader_that_leaves_early_is_no_failure(filled: Run, tmp_path: Path, words: list[str]) -> None:
    """As with ``| head``: exit 0 and no word, whether plain lines, a table or a help page is being written."""
    command = [sys.executable, "-m", "cli.main", "--db", str(tmp_path / "lines.db"), *words]
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, cwd=ROOT, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr.decode().replace("2 transcriptions\n", "")) == (0, "")


def _many_files(folder: Path, count: int) -> None:
    folder.mkdir()
    for number in range(count):
        notes = " ".join("CDEFGABcdefgab"[(number + i) % 14] for i in range(40))
        (folder / f"{number:03}.abc").write_text(f"X:1\nT:Study {number}\nM:4/4\nL:1/4\nK:C\n{notes}|\n")


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs Unix signals")
@pytest.mark.parametrize("blow", ["SIGKILL", "SIGINT"])
def test_a_blow_in_the_middle_of_500_files_leaves_whole_files(tmp_path: Path, blow: str) -> None:
    """Killed or stopped with Ctrl-C: the database is sound, holds whole files only, and the rest can be added."""
    folder, database = tmp_path / "many", tmp_path / "lines.db"
    _many_files(folder, 500)
    command = [sys.executable, "-m", "cli.main", "--db", str(database), "add", str(folder), "--processes", "2"]
    process = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True, start_new_session=True)
    begun = time.monotonic()
    while time.monotonic() - begun < 60 and (not database.exists() or _count(database, "source") < 20):
        time.sleep(0.01)
    os.killpg(process.pid, getattr(signal, blow)) if blow == "SIGINT" else process.kill()
    _, told = process.communicate(timeout=60)
    stored = _count(database, "source")
    assert 20 <= stored <= 500
    assert {_count(database, table) for table in ("transcription", "line", "reading")} == {stored}
    with sqlite3.connect(database) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    if blow == "SIGINT" and process.returncode == 130:
        assert "finished and kept" in told
    subprocess.run(command, cwd=ROOT, check=True, stderr=subprocess.DEVNULL)
    assert _count(database, "transcription") == 500


def _count(database: Path, table: str) -> int:
    with sqlite3.connect(database, timeout=30) as connection:
        try:
            return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
        except sqlite3.OperationalError:
            return 0  # the tables are still being made
