"""``page``: one HTML file, complete, escaped, and free of anything from outside."""

import json
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from lxml import html as lxml_html

from corpus.match.exact import Occurrence
from tests.cli.conftest import Run

HOSTILE = """%abc-2.1
X:1
T:<script>alert("1")</script> & "Steps" <img src=x onerror=alert(2)>
%%wellworn-player </title><b onclick=x>Quist</b>
%%wellworn-instrument Double bass <i>x</i>
%%wellworn-form A4
Q:1/4=120
M:4/4
L:1/4
K:C clef=bass transpose=-12
P:A
"Dm7"D, F, A, C | "G7"B, D F, G, | "Cmaj7"E, G, C B, | "A7"A, G, E, ^C, |
"Dm7"D, F, A, C | "G7"B, D F, G, | "Cmaj7"D, F, A, C | "A7"B, D F, G, |]
"""

_NOTES = """# Head & <script>alert(3)</script>

[bad](javascript:alert(4)) [worse](data:text/html,x) ![picture](https://example.org/a.png) [good](https://example.org/)

<iframe src="https://example.org"></iframe> **slow**
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The hostile line's page with notes, made once."""
    from cli.page_assemble import page_html
    from cli.page_parts import BarRemarks, PageContents, ProfileRow, Stock
    from corpus.lesson.figures import FoundFamily
    from corpus.lesson.lesson import lesson_of
    from corpus.read.formats import pieces_of, read_piece
    from corpus.read.written import ReadingWishes

    (piece,) = pieces_of(HOSTILE.encode(), "study.abc")
    line = read_piece(piece, ReadingWishes())
    family = FoundFamily(
        ["D2", "F2", "A2"], [Occurrence(0, 3, 0), Occurrence(16, 19, 0), Occurrence(24, 27, 0)], 5, 2, 1,
        elsewhere=["<b>Elsewhere</b>: bar 3"],
    )  # fmt: skip
    other = FoundFamily(["B2", "D3"], [Occurrence(4, 7, 0), Occurrence(20, 23, 0)], 2, 1, 1)
    lesson = lesson_of(line, [family, other], range(8))
    told = PageContents(
        lesson,
        (Stock("A", "D2 F2 A2", "", 5, 2, 2, 3),),
        (BarRemarks("2", ("<b>Skip</b>.",)),),
        (ProfileRow("roots", "20 %", "10 % to 30 %", 32),),
        (),
        3,
        99,
    )
    return {"hostile": page_html(line, told, _NOTES)}


@pytest.fixture(scope="module")
def tree(pages: dict[str, str]) -> Any:
    """The hostile page, parsed."""
    return lxml_html.document_fromstring(pages["hostile"])


def test_texts_are_escaped(tree: Any) -> None:
    """Markup in title, player, chord, places and notes is text: no script, element or handler comes of it."""
    assert tree.xpath("//h1")[0].text_content().startswith('<script>alert("1")</script> & "Steps" <img')
    assert tree.xpath("//p[@class='player']")[0].text_content() == "</title><b onclick=x>Quist</b>"
    assert "<i>x</i>" in tree.xpath("//p[@class='facts']")[0].text_content()
    assert "<b>Elsewhere</b>: bar 3" in tree.xpath("//article")[0].text_content()
    assert len(tree.xpath("//script")) == 2, "the data and the page's own script"
    assert not tree.xpath("//i | //b | //img | //iframe")
    assert not tree.xpath("//@*[starts-with(name(), 'on')]")
    assert not tree.xpath("//@style"), "the policy would refuse styles in attributes"


def test_teachers_text(tree: Any) -> None:
    """Markdown becomes HTML below the page's headings; bad links and pictures stay text, good links are links."""
    (own,) = tree.xpath("//section[@aria-labelledby='own']")
    assert own.xpath(".//h3")[0].text_content() == "Head & <script>alert(3)</script>"
    assert own.xpath(".//a/@href") == ["https://example.org/a.png", "https://example.org/"]
    assert own.xpath(".//strong")[0].text_content() == "slow"


def test_nothing_from_outside(pages: dict[str, str], tree: Any) -> None:
    """Besides the teacher's links no address stands in the page, and the policy allows nothing from anywhere."""
    (policy,) = tree.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    loaded = tree.xpath("//@src | //link/@href | //*[local-name()='use']/@href")
    assert all(value.startswith(("#", "data:")) for value in loaded)
    for address in re.findall(r"""(?:url\(|@import|https?:)[^\s"'<)]*""", pages["hostile"]):
        assert address.startswith(("url(data:font", "url(data:application/font", "https://example.org", "https:"))


def test_policy_allows_the_pages_own_script(pages: dict[str, str]) -> None:
    """The hashes are those of the script and style as they stand in the file (CSP Level 3, SHA-256, base64)."""
    import base64
    import hashlib

    page = pages["hostile"]
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)[-1]
    (style,) = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    for text, kind in ((script, "script"), (style, "style")):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in page


def test_structure(tree: Any) -> None:
    """Landmarks, one h1, headings without gaps, unique ids, references that lead somewhere, labelled controls."""
    for landmark in ("header", "main", "aside", "footer"):
        assert len(tree.xpath(f"//body/{landmark}")) == 1
    levels = [int(tag.tag[1]) for tag in tree.xpath("//h1|//h2|//h3|//h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    ids = tree.xpath("//@id")
    assert len(ids) == len(set(ids))
    pointed = [name for value in tree.xpath("//@aria-labelledby | //label/@for") for name in value.split()]
    pointed += [value[1:] for value in tree.xpath("//@href") if value.startswith("#")]
    assert set(pointed) <= set(ids)
    for control in tree.xpath("//input | //select"):
        assert control.xpath("ancestor::label") or control.get("aria-label")
    assert tree.xpath("//*[@role='status']/@aria-live") == ["polite"]


def test_marks_and_playback(tree: Any) -> None:
    """Every note stands in both widths, and every place of a figure has a bracket, a button, and its notes."""
    data = json.loads(tree.xpath("//script[@id='playback']")[0].text)
    assert [note[0] for note in data["notes"]] == list(range(32))
    assert [note[1] for note in data["notes"]] == [index / 2 for index in range(32)], "a quarter at 120 is 0.5 s"
    assert [mark["label"] for mark in data["marks"]] == ["A", "A", "A", "B", "B"]
    assert [(mark["first"], mark["last"]) for mark in data["marks"]][:2] == [(0, 3), (16, 19)]
    for width in ("wide", "narrow"):
        (shown,) = tree.xpath(f"//div[@class='{width}']")
        assert {int(note) for note in shown.xpath(".//@data-note")} == set(range(32))
        assert {int(mark) for mark in shown.xpath(".//@data-mark")} == set(range(5))
    assert sorted(map(int, tree.xpath("//article//button/@data-play"))) == list(range(5))
    assert set(tree.xpath("//ol[@class='map']//@data-play")) == set("01234")


def test_cautions(tree: Any) -> None:
    """The page warns of loud playback and of pain, and reminds of rights."""
    words = tree.xpath("//footer")[0].text_content()
    assert all(word in words for word in ("loud", "clinician", "rights"))


def test_command_writes_once(filled: Run, tmp_path: Path) -> None:
    """A page is written under the name given, never over another file unasked; wrong bars and notes are told."""
    out = tmp_path / "lesson.html"
    first = filled("page", "1", "--bars", "5-8", "--out", str(out))
    assert first.code == 0
    assert "Mind the rights" in first.err
    before = out.read_bytes()
    assert "Lesson on bars 5 to 8" in before.decode()
    again = filled("page", "1", "--out", str(out))
    assert (again.code, out.read_bytes()) == (2, before)
    assert "--force" in again.err
    assert "stands an octave above what sounds" in before.decode(), "a double bass reads an octave higher"
    assert filled("page", "1", "--out", str(out), "--force", "--chorus", "2", "--concert").code == 0
    assert "stands an octave above what sounds" in out.read_text(), "octaves stay with --concert"
    for words, told in [
        (("--chorus", "9"), "no chorus 9"),
        (("--chorus", "1", "--bars", "1"), "give one of them"),
        (("--notes", str(tmp_path / "none.md")), "cannot be read"),
        (("--bars", "90"), "90"),
    ]:
        refused = filled("page", "1", "--out", str(tmp_path / "x.html"), *words)
        assert refused.code == 2
        assert told in refused.err
        assert not (tmp_path / "x.html").exists()


def test_line_without_chords_or_player(filled: Run, tmp_path: Path) -> None:
    """A waltz without chords has no chart, and a page all the same."""
    assert filled("page", "2", "--out", str(tmp_path / "w.html")).code == 0
    tree = lxml_html.document_fromstring((tmp_path / "w.html").read_text())
    assert not tree.xpath("//ol[@class='chart']")
    assert tree.xpath("//h1")[0].text_content() == "Paper Boats"


def test_notes_must_be_text(filled: Run, tmp_path: Path) -> None:
    """A file that is no UTF-8 is refused with the byte where it stops being one."""
    (tmp_path / "n.md").write_bytes(b"ab\xff")
    refused = filled("page", "1", "--notes", str(tmp_path / "n.md"), "--out", str(tmp_path / "x.html"))
    assert refused.code == 2
    assert "byte 3" in refused.err
