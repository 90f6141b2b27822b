"""Texts that are code somewhere (terminal, markup, HTML, SQL, full-text search, spreadsheet, shell) are only texts.

They stand in every text field of a database as a file from somebody else may hold them, uncleaned, and are typed into
every option; each command is run over them.
"""

import csv
import io
import json
import re
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from corpus.shelf.kept import KeptFigure, KeptNote, KeptSource
from db.opening import open_database
from db.shelf import change_shelf
from db.store import add_source, prepare
from tests.cli.conftest import Run
from tests.databases import Databases
from tests.db.helpers import source
from tests.generators.lines import walking_line

TEXTS = (
    "\x1b[31mred\x1b]0;title\x07\x1b[2J",
    "\x9b31mred\x9d0;title\x9c\x7f\x08",
    "left \u202ethgir\u2066 \u200fmark",
    "[red]x[/red] [/] [bold",
    "[link=file:///etc/passwd]here[/link]",
    "<script>alert(1)</script> &amp; \"'>",
    "'; DROP TABLE source; --",
    '" OR folded:* NEAR(a b) ^x AND -y',
    "=HYPERLINK(1) %s {0} ${HOME} `id` \\n",
    "@SUM(1+1)*cmd|'/C calc'!A0",
)
_OBEYED = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@pytest.fixture(scope="module")
def hostile(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The URL of a database whose every text is one of ``TEXTS``: line *n* bears text *n*, and the shelf too."""
    url = databases.new(tmp_path_factory.mktemp("hostile") / "lines.db")
    with closing(open_database(url, create=True)) as database:
        for number, text in enumerate(TEXTS):
            line = walking_line(number, 8)
            names = {"title": text, "player": text, "instrument": text, "recording": text}
            sections = tuple(replace(section, label=text) for section in line.sections)
            line = replace(line, details=replace(line.details, **names), sections=sections)  # type: ignore[arg-type]
            add_source(database, source(text), [prepare(line)], text, refused=[(text, text)])
        change_shelf(database, lambda shelf: [*shelf, *map(_kept, TEXTS)])
    return url


def _kept(text: str) -> KeptFigure:
    notes = (KeptNote("Bb2", 0, 10080), KeptNote("C3", 10080, 10080), KeptNote("D3", 20160, 10080))
    where = KeptSource(text, text, text, ("Bb2", "C3", "D3"), 1, 0, 2)
    return KeptFigure(text, notes, tags=(text,), comment=text, family=text, sources=(where,))


def _is_harmless(text: str) -> bool:
    return _OBEYED.search(text) is None and "Traceback" not in text


def _cleaned(text: str) -> str:
    return _OBEYED.sub("", text)


COMMANDS = (
    "list",
    "list --json",
    "list --csv",
    *(f"show {number}" for number in range(1, len(TEXTS) + 1)),
    "show 2 --json",
    "show 2 --csv",
    "find --notes 'B C D'",
    "find --notes 'B C D' --json",
    "find --notes 'B C D' --csv",
    "find --notes 'B2 C3 D3 E3 F3' --near --limit 5",
    "map 2 --contour uuu",
    "harmony 1",
    "shapes 1 --json",
    "recur",
    "recur --json",
    "profile 2",
    "compare 1 --with 2",
    "align 1 1-2 2 1-2",
    "reading 1",
    "shelf list",
    "shelf list --json",
    "shelf export -",
    "practice due",
    "table notes --csv -",
    "table notes --jsonl -",
    "table lines --csv -",
    "table families --csv -",
    "table occurrences --csv -",
    "doctor",
)


@pytest.mark.parametrize("words", COMMANDS)
def test_no_text_of_a_database_is_obeyed_by_a_terminal(run: Run, hostile: str, words: str) -> None:
    """Every command ends well; what it prints holds nothing that a terminal would obey; JSON and CSV are whole."""
    typed = [word.strip("'") for word in re.findall(r"'[^']*'|\S+", words)]
    done = run(*typed, "--db", hostile)
    assert done.code == 0, done.err
    assert _is_harmless(done.out + done.err)
    if "--json" in words.split():
        json.loads(done.out)
    if "--jsonl" in words:
        assert {json.loads(line)["player"] for line in done.out.splitlines()} == {_cleaned(text) for text in TEXTS}
    if "--csv" in words:
        rows = list(csv.reader(io.StringIO(done.out)))
        assert {len(row) for row in rows} == {len(rows[0])}
        assert not [cell for row in rows for cell in row if cell.lstrip(" ").startswith(("=", "@"))]


def test_nothing_in_the_database_has_changed(hostile: str) -> None:
    """After all of this the tables are there, with their rows and texts as they were."""
    with closing(open_database(hostile)) as database, database.reading() as connection:
        names = ("title", "player", "instrument", "recording", "collection")
        for name in names:
            stored = connection.exec_driver_sql(f"SELECT {name} FROM transcription ORDER BY id").all()
            assert [row[0] for row in stored] == list(TEXTS)
        assert connection.exec_driver_sql("SELECT count(*) FROM source").scalar_one() == len(TEXTS)
        assert connection.exec_driver_sql("SELECT count(*) FROM shelf_figure").scalar_one() == len(TEXTS)


def test_filters_look_for_the_text_itself(run: Run, hostile: str) -> None:
    """Each text, as a filter, finds the line that bears it and no other."""
    for number, text in enumerate(TEXTS, start=1):
        option = ("--player", "--tune", "--collection")[number % 3]
        found = run("list", option, text, "--json", "--db", hostile).json
        assert [entry["transcription"] for entry in found] == [number]


FIGURES = ("--notes", "--intervals", "--steps", "--contour", "--roles", "--degrees", "--over", "--first-over")
OTHERS = ("--starts-on", "--ignore", "--tempo", "--year", "--rhythm", "--prices")


@pytest.mark.parametrize("option", [*FIGURES, *OTHERS])
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_what_is_typed_as_a_question_is_refused_in_words(run: Run, hostile: str, option: str) -> None:
    """Not one of the texts is a figure, a range or a level: exit code 2, one harmless message, no traceback."""
    figure = () if option in FIGURES[:6] else ("--notes", "C3 D3")
    for text in TEXTS[len(option) % 3 :: 3]:
        done = run("find", *figure, option, text, "--db", hostile)
        assert done.code == 2, (text, done.out)
        assert done.err
        assert _is_harmless(done.out + done.err)


def test_what_is_edited_is_cleaned_and_shown_as_text(stored: Run) -> None:
    """Through every text option of ``edit``: stored without what a terminal obeys, found again by what is left."""
    options = ("--title", "--player", "--collection", "--instrument", "--recording")
    for text in TEXTS:
        assert stored("edit", "1", *(word for option in options for word in (option, text))).code == 0
        shown = stored("show", "1", "--json").json
        assert _is_harmless("".join(str(shown[option[2:]]) for option in options))
        assert stored("list", "--player", shown["player"], "--json").json[0]["transcription"] == 1
    for number, text in enumerate(TEXTS):
        done = stored("edit", "1", ("--key", "--form")[number % 2], text)
        assert done.code == 2, text
        assert _is_harmless(done.err)
    assert stored("doctor").code == 0


def test_what_a_file_says_is_cleaned(run: Run, tmp_path: Path) -> None:
    """Titles, players, sections, chord symbols, words and the file's own name, as ABC."""
    for number, text in enumerate(TEXTS):
        path = tmp_path / f"{number} {text.replace('/', ' ')}.abc"
        path.write_text(
            f"X:1\nT:{text}\n%%wellworn-player {text}\n%%wellworn-instrument {text}\nD:{text}\nM:4/4\nL:1/4\nK:C\n"
            f'P:A\n"{text.replace(chr(34), "")}"CDEF|"^{text.replace(chr(34), "")}"GABc|\nw:{text}\n',
            encoding="utf-8",
        )
        done = run("add", str(path))
        assert done.code == 0, done.err
        assert _is_harmless(done.out + done.err)
    for words in (("list",), ("list", "--json"), ("find", "--contour", "uuu"), ("table", "notes", "--csv", "-")):
        done = run(*words)
        assert done.code == 0, done.err
        assert _is_harmless(done.out + done.err)
    assert len(run("list", "--json").json) == len(TEXTS)


def test_written_music_holds_the_text_as_text(stored: Run, tmp_path: Path) -> None:
    """A title with markup is one text in MusicXML, as the standard library's parser reads it."""
    text = "<script>alert(1)</script> &amp; \"'>]]>"
    assert stored("edit", "1", "--title", text).code == 0
    file = tmp_path / "line.musicxml"
    assert stored("export", "1", "--musicxml", str(file)).code == 0
    root = ElementTree.parse(file).getroot()
    assert text in {element.text for element in root.iter()}
    assert not list(root.iter("script"))


@pytest.mark.parametrize("words", [("show", "[/red]"), ("list", "--limit", "[/]"), ("[bold]",), ("show", "\x1b[31m")])
def test_words_that_are_no_commands_are_refused(run: Run, words: tuple[str, ...]) -> None:
    """The command line's own errors too: markup in what was typed breaks nothing."""
    done = run(*words)
    assert done.code == 2
    assert "Traceback" not in done.err


def test_names_of_kept_figures_are_cleaned(stored: Run) -> None:
    """Names, tags and comments typed into the shelf, and the shelf file that comes out."""
    for number, text in enumerate(TEXTS):
        words = ("--notes", f"C{number % 4 + 1} D3 E3", "--comment", text)
        done = stored("shelf", "add", f"{text} {number}", *words)
        assert done.code == 0, done.err
        assert _is_harmless(done.out + done.err)
    told = stored("shelf", "list")
    assert (told.code, _is_harmless(told.out)) == (0, True)
    assert len(json.loads(stored("shelf", "export", "-").out)["figures"]) == len(TEXTS)
