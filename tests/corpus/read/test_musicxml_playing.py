"""The order in which the bars of MusicXML are played: repeats, endings, jumps, and the marks of sections."""

import pytest

from corpus.read.musicxml_marks import ending_numbers
from tests.corpus.read.musicxml_help import (
    WHOLE,
    barline,
    measure,
    order,
    read,
    remarks_of,
    score,
    sign,
    words,
)

BACKWARD = '<repeat direction="backward"/>'
FORWARD = '<repeat direction="forward"/>'


def bars(*contents: str) -> bytes:
    """A file of bars with one note each; the contents are put behind the note, or before it after ``<``."""
    made = []
    for number, content in enumerate(contents, start=1):
        before, _, behind = content.partition("@")
        made.append(measure(before + WHOLE + behind, number))
    return score(*made)


@pytest.mark.parametrize(
    ("number", "text", "expected"),
    [
        ("1", "", (1,)),
        ("1, 3", "", (1, 3)),
        ("1,2", "", (1, 2)),
        ("1", "2.", (2,)),
        ("1", "1.-3.", (1, 2, 3)),
        ("", "", ()),
        ("0", "", ()),
        ("1", "last time", (1,)),
        ("999", "", ()),
    ],
)
def test_ending_numbers(number: str, text: str, expected: tuple[int, ...]) -> None:
    """Numbers in every form that exporters write; the printed text wins."""
    assert ending_numbers(number, text) == expected


def test_endings_for_several_passes() -> None:
    """|: A |1, 3 B :|2 C :|4 D| is played A B A C A B A D."""

    def ending(number: str) -> str:
        return barline(f'<ending number="{number}" type="start"/>', "left")

    stop = '<ending number="1" type="stop"/>'
    line = read(
        bars(
            barline(FORWARD, "left") + "@",
            ending("1, 3") + "@" + barline(stop + BACKWARD),
            ending("2") + "@" + barline(stop + BACKWARD),
            ending("4") + "@" + barline('<ending number="4" type="discontinue"/>'),
        )
    )
    assert order(line) == [1, 2, 1, 3, 1, 2, 1, 4]


def test_repeat_sign_on_the_next_bar() -> None:
    """A backward repeat at the left of a bar ends the bar before; a forward one at the right begins the next."""
    assert order(read(bars("@", barline(BACKWARD, "left") + "@"))) == [1, 1, 2]
    assert order(read(bars("@" + barline(FORWARD), "@" + barline(BACKWARD)))) == [1, 2, 2]


def test_repeat_in_the_middle_of_a_bar() -> None:
    """It is not played, and reported."""
    line = read(bars("@" + barline(BACKWARD, "middle")))
    assert order(line) == [1]
    assert "middle of the bar" in remarks_of(line)


@pytest.mark.parametrize("jump", [words("D.C. al Fine"), words("Da Capo"), '<sound dacapo="yes"/>'])
@pytest.mark.parametrize(
    "fine",
    [words("Fine"), '<direction><direction-type><words>x</words></direction-type><sound fine="yes"/></direction>'],
)
def test_da_capo_al_fine(jump: str, fine: str) -> None:
    """Back to the top, repeats not taken again, and stop at Fine; by words or by sound attributes."""
    line = read(bars("@" + barline(BACKWARD), "@" + fine, "@", "@" + jump))
    assert order(line) == [1, 1, 2, 3, 4, 1, 2]


@pytest.mark.parametrize(
    "leave", [words("To Coda"), '<direction><direction-type><coda/></direction-type><sound tocoda="x"/></direction>']
)
def test_dal_segno_al_coda(leave: str) -> None:
    """Back to the segno, leave at To Coda, go on at the coda."""
    line = read(bars("@", sign("segno") + "@", "@" + leave, "@" + words("D.S. al Coda"), sign("coda") + "@"))
    assert order(line) == [1, 2, 3, 4, 2, 3, 5]


def test_two_bare_coda_signs() -> None:
    """The first bare sign is where one leaves: behind its note, or at the start of the next bar."""
    behind = bars(sign("segno") + "@", "@" + sign("coda"), "@" + words("D.S."), sign("coda") + "@")
    before = bars(sign("segno") + "@", "@", sign("coda") + "@" + words("D.S."), sign("coda") + "@")
    assert order(read(behind)) == [1, 2, 3, 1, 2, 4]
    assert order(read(before)) == [1, 2, 3, 1, 2, 4]


def test_rehearsal_marks() -> None:
    """Marks name the bar they stand in; one behind the last note names the next bar; text is cleaned."""

    def mark(text: str) -> str:
        return f"<direction><direction-type><rehearsal>{text}</rehearsal></direction-type></direction>"

    line = read(bars(mark(" A\u202e ") + "@" + mark("B"), "@" + mark("C"), "@"))
    assert [bar.section for bar in line.bars] == ["A", None, "C"]
    assert read(bars("@" + mark("B"), "@")).bars[1].section == "B"


def test_unknown_signs_are_reported() -> None:
    """A sign to repeat the beat before is reported with its bar."""
    sim = '<attributes><measure-style><beat-repeat type="start" slashes="1"/></measure-style></attributes>'
    line = read(bars("@", sim + "@"))
    assert [(finding.bar, "repeat a beat" in finding.text) for finding in line.findings] == [(2, True)]
