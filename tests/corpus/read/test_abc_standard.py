"""Worked examples of the ABC standard 2.1, the expected notes worked out by hand.

Section numbers are given from memory of the standard's text.
"""

from fractions import Fraction

import pytest

from corpus.read.assemble import assemble
from corpus.read.written import WrittenLine
from tests.corpus.read.abc_help import chords, lengths, names, read


def played(line: WrittenLine) -> list[int]:
    """The written numbers of the bars in the order they are played."""
    return [bar.number for bar in assemble(line).bars]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("^F2 F2 f2 F2|F8|", "F#4 F#4 F#5 F#4 | F4"),
        ("_B2 =B2 B2 _B2|B8|", "Bb4 B4 B4 Bb4 | B4"),
        ("^^F2 F2 __B2 B2|F8|", "F##4 F##4 Bbb4 Bbb4 | F4"),
        ("^F4-F4|F8|", "F#4 F#4 | F4"),
        ("^F8-|F4 F4|", "F#4 | F#4 F4"),
        ("^f8-|f4 F4|", "F#5 | F#5 F4"),
        ("{^f}g4 f4|", "G5 F#5"),
    ],
)
def test_accidentals_hold_to_the_bar_line(body: str, expected: str) -> None:
    """Section 4.2 and 11.3: an accidental holds in all octaves to the bar line, and over a tie for the tied note."""
    assert names(read(body)) == expected


@pytest.mark.parametrize(
    ("how", "expected"), [("not", "F#4 F4 F5"), ("octave", "F#4 F#4 F5"), ("pitch", "F#4 F#4 F#5")]
)
def test_propagation_of_accidentals(how: str, expected: str) -> None:
    """Section 11.3: %%propagate-accidentals not, octave and pitch."""
    assert names(read("^F2 F2 f4|", f"M:4/4\nL:1/8\n%%propagate-accidentals {how}\nK:C\n")) == expected


def test_key_signature_and_naturals() -> None:
    """Section 4.2: the signature applies unless an accidental stands before the note."""
    assert names(read("F2 C2 =F2 F2|F8|", "M:4/4\nL:1/8\nK:D\n")) == "F#4 C#4 F4 F4 | F#4"


def test_octave_marks() -> None:
    """Section 4.1: capitals from middle C up, small letters above; commas and apostrophes shift, and may cancel."""
    assert names(read("C, C c c' c'' C,' C,,|", "M:none\nL:1/8\nK:C\n")) == "C3 C4 C5 C6 C7 C4 C2"


def test_note_lengths() -> None:
    """Section 4.3: multipliers and fractions of the unit note."""
    line = read("A A2 A3 A/2 A/ A// A3/2 A3/ A/4|", "M:none\nL:1/4\nK:C\n")
    assert lengths(line) == [
        1,
        2,
        3,
        Fraction(1, 2),
        Fraction(1, 2),
        Fraction(1, 4),
        Fraction(3, 2),
        Fraction(3, 2),
        Fraction(1, 4),
    ]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("A>B", (Fraction(3, 4), Fraction(1, 4))),
        ("A<B", (Fraction(1, 4), Fraction(3, 4))),
        ("A>>B", (Fraction(7, 8), Fraction(1, 8))),
        ("A<<B", (Fraction(1, 8), Fraction(7, 8))),
        ("A>>>B", (Fraction(15, 16), Fraction(1, 16))),
        ("A2>B2", (Fraction(3, 2), Fraction(1, 2))),
        ("(A>)(B)", (Fraction(3, 4), Fraction(1, 4))),
        ('A>"Am7"B', (Fraction(3, 4), Fraction(1, 4))),
        ("A>{cd}B", (Fraction(3, 4), Fraction(1, 4))),
        ("A > !trill!B", (Fraction(3, 4), Fraction(1, 4))),
        ("[Ac]>[Bd]", (Fraction(3, 4), Fraction(1, 4))),
        ("A>|B", (Fraction(3, 4), Fraction(1, 4))),
    ],
)
def test_broken_rhythm(body: str, expected: tuple[Fraction, Fraction]) -> None:
    """Section 4.4: > dots the note before and halves the next; slurs, chords and graces between do not matter."""
    assert lengths(read(body + "|")) == list(expected)


@pytest.mark.parametrize(
    ("p", "meter", "ratio"),
    [
        (2, "4/4", Fraction(3, 2)),
        (3, "4/4", Fraction(2, 3)),
        (4, "4/4", Fraction(3, 4)),
        (5, "4/4", Fraction(2, 5)),
        (5, "6/8", Fraction(3, 5)),
        (6, "4/4", Fraction(2, 6)),
        (7, "4/4", Fraction(2, 7)),
        (7, "9/8", Fraction(3, 7)),
        (8, "4/4", Fraction(3, 8)),
        (9, "4/4", Fraction(2, 9)),
        (9, "12/8", Fraction(3, 9)),
    ],
)
def test_tuplet_defaults(p: int, meter: str, ratio: Fraction) -> None:
    """Section 4.13: (p puts p notes into the time of q; n is 3 in compound meters, else 2."""
    line = read(f"({p}{'A' * p}A|", f"M:{meter}\nL:1/4\nK:C\n")
    assert lengths(line) == [ratio] * p + [1]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("(3:2:2A2BA", [Fraction(4, 3), Fraction(2, 3), 1]),
        ("(3:2:4AABBA", [Fraction(2, 3)] * 4 + [1]),
        ("(3::2AAA", [Fraction(2, 3), Fraction(2, 3), 1]),
        ("(3::AAAA", [Fraction(2, 3)] * 3 + [1]),
        ("(5:4AAAAAA", [Fraction(4, 5)] * 5 + [1]),
        ("(3A{g}BcA", [Fraction(2, 3)] * 3 + [1]),
        ('(3"Am"A"B"Bc A', [Fraction(2, 3)] * 3 + [1]),
        ("((3ABc) A", [Fraction(2, 3)] * 3 + [1]),
        ("(3zAz A", [Fraction(2, 3), 1]),
        ("(3A>BcA", [Fraction(2, 3) * Fraction(3, 2), Fraction(2, 3) * Fraction(1, 2), Fraction(2, 3), 1]),
    ],
)
def test_tuplets_spelled_out(body: str, expected: list[Fraction]) -> None:
    """Section 4.13: (p:q:r, with parts left out; rests count, grace notes do not."""
    assert lengths(read(body + "|", "M:none\nL:1/4\nK:C\n")) == expected


@pytest.mark.parametrize(
    ("body", "order"),
    [
        ("|:A8|B8:|c8|", [1, 2, 1, 2, 3]),
        ("A8|B8:|c8|", [1, 2, 1, 2, 3]),
        ("|:A8::B8:|", [1, 1, 2, 2]),
        ("|:A8:||:B8:|", [1, 1, 2, 2]),
        ("|::A8::|B8|", [1, 1, 1, 2]),
        ("|:A8|1 B8:|2 c8||d8|", [1, 2, 1, 3, 4]),
        ("|:A8|[1 B8:|[2 c8|]d8|", [1, 2, 1, 3, 4]),
        ("|:A8|1,3 B8:|2 c8:|d8|", [1, 2, 1, 3, 1, 2, 4]),
        ("|:A8|[1-3 B8:|[4 c8|]", [1, 2, 1, 2, 1, 2, 1, 3]),
        ('|:A8|["1st" B8:|["2nd" c8|]', [1, 2, 1, 3]),
        ("|:A8|1 B8|c8:|2 d8||", [1, 2, 3, 1, 4]),
        ("|: A8 | | B8 :|\n|: c8 :|", [1, 2, 1, 2, 3, 3]),
    ],
)
def test_repeats_and_variant_endings(body: str, order: list[int]) -> None:
    """Sections 4.8 to 4.10: repeats, multiple repeats and endings, with lists and ranges of passes."""
    assert played(read(body)) == order


def test_parts() -> None:
    """Section 3.1.9: the header's P: gives the order, P: in the body begins a part."""
    line = read("P:A\nA8|\nP:B\nB8|c8|", "M:4/4\nL:1/8\nP:A2(BA)2\nK:C\n")
    assert [bar.section for bar in line.bars] == ["A", "B", None]
    assert played(line) == [1, 1, 2, 3, 1, 2, 3, 1]


def test_rests_of_many_bars() -> None:
    """Section 4.5: Z rests whole bars, x is an invisible rest."""
    line = read("A8|Z3|x4 A4|")
    assert [(bar.number, len(bar.notes)) for bar in line.bars] == [(1, 1), (2, 0), (3, 0), (4, 0), (5, 1)]
    assert line.bars[4].notes[0].offset_ticks == 2 * 10_080


def test_overlays_are_left_out_with_a_remark() -> None:
    """Section 7.4: & lays a second voice over the bar; the first one is read."""
    line = read("A4 B4 & c8|d8|")
    assert names(line) == "A4 B4 | D5"
    assert "laid over" in line.findings[0].text
    assert names(read("(&A8|B8 & c8|d8&)|e8|")) == "A4 | B4 | E5"


def test_grace_notes() -> None:
    """Section 4.12: notes in braces take no time and belong to the note after them."""
    note = read("{/ga}b8|").bars[0].notes[0]
    assert (note.spelling, [grace.spelling for grace in note.ornaments]) == ("B5", ["G5", "A5"])


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('"Am7"A4 "D7(b9)"B4|', [(1, "Am7", 0), (1, "D7(b9)", 2)]),
        ('"^above""_below""<left"">right""@5,5 x""Am"A8|', [(1, "Am", 0)]),
        ('"1st""C"A8|', [(1, "C", 0)]),
        ('A4"G7" z4|', [(1, "G7", 2)]),
        ('A4 z4 "G7"|B8|', [(1, "G7", 4)]),
        ('"C"A4|"F" | B8|', [(0, "C", 0), (1, "F", 0)]),
        ('"(C)"A4 "N.C."B4|', [(1, "(C)", 0), (1, "N.C.", 2)]),
        ('"^N.C."A8|', []),
        ('"Bbmaj7#11"[Ac]8|', [(1, "Bbmaj7#11", 0)]),
        ('"Bb6/9" "C|D"A8|', [(1, "Bb6/9", 0), (1, "C|D", 0)]),
        ('"unpaired A8|"C"B8|', [(2, "C", 0)]),
    ],
)
def test_chord_symbols(body: str, expected: list[tuple[int, str, float]]) -> None:
    """Sections 4.18 and 4.19: chord symbols stand at their note or rest, annotations are none."""
    assert chords(read(body)) == expected


def test_inline_fields() -> None:
    """Section 3.2: fields in brackets change key, meter and unit note in mid-line."""
    line = read("F8|[K:G]F8|[M:3/4]F6|[L:1/4]F3|[K:Bb][M:4/4] B4|")
    assert names(line) == "F4 | F#4 | F#4 | F#4 | Bb4"
    assert [str(bar.meter) for bar in line.bars] == ["4/4", "4/4", "3/4", "3/4", "4/4"]
    assert [bar.length_ticks // 10_080 for bar in line.bars] == [4, 4, 3, 3, 4]
    assert [str(bar.key) for bar in line.bars] == ["C major", "G major", "G major", "G major", "Bb major"]


def test_line_ends_and_comments_mean_nothing() -> None:
    """Section 2.2.3 and 6.1: comments, continuations and old line breaks end no bar."""
    assert names(read("AB\\\ncd % a comment | with a bar\nefga!\n|AB!\ncd efga|")) == (
        "A4 B4 C5 D5 E5 F5 G5 A5 | A4 B4 C5 D5 E5 F5 G5 A5"
    )


def test_words_and_texts_in_the_body_are_no_music() -> None:
    """Section 5: w:, W:, s: and text fields in the body are passed over, and +: with them."""
    assert names(read("A8|\nw: a bad cab|\n+: a bad\ns: * *\nN: a note\nT: ABC\nr: abc\nB8|\nW: abc")) == "A4 | B4"


def test_spacers_and_decorations_are_no_music() -> None:
    """Sections 4.14 and 6.1.2: decorations, shorthand symbols, backticks and y leave the notes alone."""
    assert names(read("~A2 .B2 y2 !trill!c+accent+d Tuv`e2|")) == "A4 B4 C5 D5 E5"


def test_user_defined_symbols() -> None:
    """Section 4.16: U: gives a letter the meaning of a decoration."""
    assert names(read("nA4 B4|", "M:4/4\nL:1/8\nU: n = !style=x!\nK:C\n")) == "x B4"
