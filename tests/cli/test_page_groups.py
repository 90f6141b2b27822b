"""Pages of passages: a search's hits, a family, a player."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from lxml import html as lxml_html

from corpus.lesson.passages import Passages, in_a_row
from corpus.match.exact import Occurrence
from tests.cli.conftest import Run
from tests.corpus.write.seed import abc_line

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")

HOSTILE_TITLE = '<script>alert("1")</script>'
FIRST = abc_line('"C"C2 D2 E2 F2 | "F"G2 A2 B2 c2 | "C"c8 |]')
SECOND = abc_line('"Bb7"z2 B,2 D2 F2 | "Eb"=E2 B6- | B8 |]', key="Bb")


def _tree(path: Path) -> Any:
    return lxml_html.document_fromstring(path.read_text())


def _data(tree: Any) -> Any:
    return json.loads(tree.xpath("//script[@id='playback']")[0].text)


def test_passages_sound_one_after_the_other() -> None:
    """By hand, at 120: one bar of quarters (2 s), then two bars (4 s); numbers of notes never come twice."""
    row = in_a_row([(FIRST, range(1)), (SECOND, range(2))])
    assert row.schedule.tempo == 120
    assert [(bar.name, bar.start, bar.end) for bar in row.schedule.bars] == [("1", 0, 2), ("2", 2, 6)]
    assert [(s.start, s.pitch) for s in row.schedule.sounds] == [
        (0, 60), (0.5, 62), (1, 64), (1.5, 65), (2.5, 58), (3, 62), (3.5, 65), (4, 64), (4.5, 70),
    ]  # fmt: skip
    assert row.schedule.sounds[-1].length == 1.5, "the held note ends with its passage"
    numbers = [sound.note for sound in row.schedule.sounds]
    assert numbers == sorted(set(numbers))
    assert [sound.note - row.shifts[1] for sound in row.schedule.sounds[4:]] == [0, 1, 2, 3, 4]


def test_a_passage_is_told_in_words() -> None:
    """Bar, beat, notes and chords stand in the text: notation is hidden from screen readers."""
    told = Passages().passage(FIRST, Occurrence(2, 5, 0), "1")
    assert told.where == "bar 1, beat 3"
    assert told.words == "E4 F4 G4 A4 over C F"
    assert told.below == {2: "3", 3: "(11)", 4: "(9)", 5: "3"}


@pytest.fixture
def hits_page(filled: Run, tmp_path: Path) -> Any:
    """The page of a search: the opening of the study's first tune, which comes back with doubled notes."""
    (tmp_path / "own.md").write_text("**slowly** <b>x</b>")
    out = filled(
        "find", "--notes", "Bb1 D2 Eb2 E2", "--ignore", "octaves,doubles", "--page", tmp_path / "hits.html",
        "--page-notes", tmp_path / "own.md",
    )  # fmt: skip
    assert out.code == 0, out.err
    assert "Mind the rights" in out.err
    return _tree(tmp_path / "hits.html")


def test_hits_stand_under_each_other_and_sound(hits_page: Any) -> None:
    """Three places, each bracketed and numbered, aligned in frames of one width; marks hold the notes of the figure."""
    tree, data = hits_page, _data(hits_page)
    assert [mark["label"] for mark in data["marks"]] == ["1", "2", "3"]
    assert [bar[0] for bar in data["bars"]] == ["1", "2", "3"]
    pitches = {note[0]: note[3] for note in data["notes"]}
    played = [[pitches[i] for i in range(m["first"], m["last"] + 1)] for m in data["marks"]]
    assert played[0] == [34, 38, 39, 40]
    assert played[2] == [34, 34, 38, 38, 39, 39, 40, 40]
    assert tree.xpath("//button/@data-play") == ["0", "1", "2"]
    frames = [box.split()[2] for box in tree.xpath("//*[local-name()='svg'][@class='notation']/@viewbox")]
    assert len(frames) == 3
    assert len(set(frames)) == 1
    for number in range(3):
        (picture,) = tree.xpath(f"(//ol[@class='passages']/li)[{number + 1}]//*[local-name()='svg']")
        shown = {int(note) for note in picture.xpath(".//@data-note")}
        mark = data["marks"][number]
        assert set(range(mark["first"], mark["last"] + 1)) <= shown <= set(pitches)
        assert set(picture.xpath(".//@data-mark")) == {str(number)}
    assert "slowly" in tree.xpath("//section[@aria-labelledby='own']//strong")[0].text_content()
    assert not tree.xpath("//b")


def test_structure_of_a_hits_page(hits_page: Any) -> None:
    """One h1, unique ids, no style attributes, one font, every place a button with a name, told in words."""
    tree = hits_page
    assert [h.text_content() for h in tree.xpath("//h1")] == ["B♭1 D2 E♭2 E2"]
    ids = tree.xpath("//@id")
    assert len(ids) == len(set(ids))
    assert not tree.xpath("//@style")
    (style,) = tree.xpath("//style")
    assert style.text.count("@font-face") == 1
    assert all("Harbour Steps" in name for name in tree.xpath("//button[@data-play]/@aria-label"))
    told = [p.text_content() for p in tree.xpath("//li/p[@class='unseen']")]
    assert told[0] == "B♭1 D2 E♭2 E2 over B♭6"


def test_find_refuses_before_it_writes(filled: Run, tmp_path: Path) -> None:
    """No hits, one name for two files, notes without a page, a file that is there: told, and nothing is written."""
    out = tmp_path / "x.html"
    for words, told in [
        (("--notes", "C2 C#2 D2 D#2 E2 F2 F#2", "--page", out), "nothing to make a page of"),
        (("--notes", "Bb1 D2", "--page", out, "--pdf", out), "one file"),
        (("--notes", "Bb1 D2", "--page-notes", out), "give --page"),
        (("--notes", "Bb1 D2", "--page", out, "--page-notes", tmp_path / "none"), "cannot be read"),
    ]:
        refused = filled("find", *words)
        assert refused.code == 2
        assert told in refused.err
        assert not out.exists()
    out.write_text("mine")
    assert filled("find", "--notes", "Bb1 D2", "--page", out).code == 2
    assert out.read_text() == "mine"


def test_family_and_player(filled: Run, tmp_path: Path) -> None:
    """A family's page begins with its typical form and tells the changes; a player's has figures, lines, a profile."""
    (family, *_) = filled("recur", "--json").json
    assert filled("page", "--family", family["id"].upper(), "--out", tmp_path / "f.html").code == 0
    tree = _tree(tmp_path / "f.html")
    assert tree.xpath("//h1")[0].text_content() == " ".join(family["figure"]["notes"]).replace("b", "♭")
    places = tree.xpath("//ol[@class='passages']/li")
    assert len(places) == len(family["occurrences"])
    assert "(typical form)" in places[0].text_content()
    changes = sorted(change for place in family["occurrences"] for change in place["changes"])
    shown = sorted(c for p in tree.xpath("//p[@class='changes']") for c in p.text_content().split("; "))
    assert [re.sub("♭", "b", text) for text in shown] == changes
    assert filled("page", "--player", "quist", "--out", tmp_path / "p.html").code == 0
    tree = _tree(tmp_path / "p.html")
    assert tree.xpath("//h1")[0].text_content() == "Orlo Quist"
    assert tree.xpath("//table//th[@scope='row']")[0].text_content() == "Harbour Steps"
    assert tree.xpath("//section[@aria-labelledby='profile']//tbody/tr")
    assert _data(tree)["notes"]


def test_a_player_without_figures(run: Run, tmp_path: Path) -> None:
    """Five notes hold nothing that comes back: the page says so, and has the line and its profile."""
    (tmp_path / "short.abc").write_text(
        "X:1\nT:Hook and Eye\nC:Bo Sedge\nM:4/4\nL:1/4\nK:C clef=bass\nC, E, G, A, | C,4 |]\n"
    )
    assert run("add", tmp_path / "short.abc", "--player", "Bo Sedge").code == 0
    done = run("page", "--player", "bo", "--out", tmp_path / "p.html")
    assert done.code == 0, done.err
    tree = _tree(tmp_path / "p.html")
    assert not tree.xpath("//ol[@class='passages']/li")
    assert tree.xpath("//table//th[@scope='row']")[0].text_content() == "Hook and Eye"
    assert _data(tree)["notes"] == []


def test_page_says_what_is_wrong(filled: Run, tmp_path: Path) -> None:
    """Several subjects, none, an unknown code or player, a name of several players, options of a line."""
    for words, told in [
        ((), "in one way"),
        (("1", "--player", "quist"), "in one way"),
        (("--family", "123456"), "no family '123456'"),
        (("--player", "nobody"), "no line of a player 'nobody'"),
        (("--player", "t"), "several names"),
        (("--player", "quist", "--bars", "1-2"), "page of a line"),
    ]:
        refused = filled("page", *words, "--out", tmp_path / "x.html")
        assert refused.code == 2, words
        assert told in refused.err
        assert not (tmp_path / "x.html").exists()
