from xml.etree.ElementTree import fromstring

import pytest

from corpus.read.musicxml_chords import KIND_SUFFIXES, chord_texts
from corpus.transposition import Transposition
from tests.corpus.read.musicxml_help import FOUR_FOUR, chords_of, measure, note, read, score

ROOT = "<root><root-step>C</root-step></root>"
AT_PITCH = Transposition()


def texts(content: str, transposition: Transposition = AT_PITCH) -> list[str]:
    """The chord texts of a ``<harmony>`` with this content."""
    return chord_texts(fromstring(f"<harmony>{content}</harmony>"), transposition.sounding_name)


def degree(value: object, alter: object, kind: str, attributes: str = "") -> str:
    """One ``<degree>``."""
    return (
        f"<degree {attributes}><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{kind}</degree-type></degree>"
    )


@pytest.mark.parametrize(("kind", "suffix"), sorted(KIND_SUFFIXES.items()))
def test_kinds(kind: str, suffix: str) -> None:
    """Every kind of MusicXML 4.0 has its standard suffix."""
    assert texts(f"{ROOT}<kind>{kind}</kind>") == [f"C{suffix}"]


def test_the_table_is_complete() -> None:
    """MusicXML 4.0 has 33 kinds, one of them for no chord."""
    assert len(KIND_SUFFIXES) == 32
    assert texts(f"{ROOT}<kind>none</kind>") == ["N.C."]


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (f"{ROOT}<kind text='mi7'>minor-seventh</kind>", "Cmi7"),
        (f"{ROOT}<kind text='7alt'>dominant</kind>{degree(9, -1, 'add')}{degree(5, 1, 'alter')}", "C7alt"),
        (f"{ROOT}<kind text='7b9'>dominant</kind>{degree(9, -1, 'add')}", "C7b9"),
        (f"{ROOT}<kind text='7(♭9)'>dominant</kind>{degree(9, -1, 'add')}", "C7(♭9)"),
        (f"{ROOT}<kind text='7-9'>dominant</kind>{degree(9, -1, 'add')}", "C7-9"),
        (f"{ROOT}<kind text='7'>dominant</kind>{degree(9, -1, 'add')}", "C7b9"),
        (
            f"{ROOT}<kind text='7'>dominant</kind>{degree(9, -1, 'add', 'print-object=' + chr(34) + 'no' + chr(34))}",
            "C7",
        ),
        (f"{ROOT}<kind text='7sus4'>dominant</kind>{degree(4, 0, 'add')}{degree(3, 0, 'subtract')}", "C7sus4"),
        (f"{ROOT}<kind>dominant</kind>{degree(9, 1, 'add')}{degree(5, -1, 'alter')}", "C7#9b5"),
        (f"{ROOT}<kind>major</kind>{degree(9, -1, 'add')}", "C(b9)"),
        (f"{ROOT}<kind>major</kind>{degree(9, 0, 'add')}", "C(add9)"),
        (f"{ROOT}<kind>minor</kind>{degree(9, 0, 'add')}", "Cm(add9)"),
        (f"{ROOT}<kind>dominant</kind>{degree(3, 0, 'subtract')}", "C7(no3)"),
        (f"{ROOT}<kind>dominant</kind>{degree(5, 0, 'alter')}", "C7"),
        (f"{ROOT}<kind>dominant</kind>{degree('x', 1, 'add')}", "C7"),
        (f"{ROOT}<kind text=''>major</kind>", "C"),
        (f"{ROOT}<kind>no-such-kind</kind>", "C"),
        (f"{ROOT}<kind text='N.C.'>other</kind>", "N.C."),
        ("<root><root-step text=''>C</root-step></root><kind text='N.C.'>none</kind>", "N.C."),
        ("<kind>none</kind>", "N.C."),
        ("<root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>half-diminished</kind>", "Bbm7b5"),
        (f"{ROOT}<kind>major</kind><bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>", "C/F#"),
        (f"{ROOT}<kind>major</kind><bass><bass-step>?</bass-step></bass>", "C"),
        ("<function>V</function><kind>dominant</kind>", "V7"),
        ("<function>ii</function><kind>minor-seventh</kind>", "ii7"),
        ("<numeral><numeral-root text='IV'>4</numeral-root></numeral><kind>major</kind>", "IV"),
        (
            "<numeral><numeral-root>6</numeral-root><numeral-alter>-1</numeral-alter></numeral>"
            "<kind>major-seventh</kind>",
            "bVImaj7",
        ),
        ("<function>V</function><kind>dominant</kind><function>II</function><kind>minor</kind>", "V7/IIm"),
    ],
)
def test_spellings(content: str, text: str) -> None:
    """Printed text wins, degrees are added once, basses and functions follow."""
    assert texts(content) == [text]


def test_nothing_to_name() -> None:
    """An element without a usable root yields no symbol."""
    assert texts("<kind>major</kind>") == []
    assert texts("<root><root-step>H</root-step></root><kind>major</kind>") == []


def test_several_chords_in_one_element() -> None:
    """Several rooted chords in one element come in order."""
    other = "<root><root-step>F</root-step></root><kind>dominant</kind>"
    assert texts(f"{ROOT}<kind>minor</kind>{other}") == ["Cm", "F7"]


def test_transposed() -> None:
    """Root and bass sound where the instrument sounds: an alto saxophone's D7/F# is F7/A."""
    content = "<root><root-step>D</root-step></root><kind>dominant</kind>"
    bass = "<bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>"
    assert texts(content + bass, Transposition(-5, -9)) == ["F7/A"]


def harmony(step: str, kind: str = "major", extra: str = "") -> str:
    """A ``<harmony>`` element."""
    return f"<harmony><root><root-step>{step}</root-step></root><kind>{kind}</kind>{extra}</harmony>"


def test_places() -> None:
    """A symbol stands at the note behind it, moved by its offset; a symbol on a rest counts too."""
    first = f"<divisions>2</divisions>{FOUR_FOUR}"
    bar = (
        harmony("C")
        + note("C", duration=2)
        + harmony("D", extra="<offset>1</offset>")
        + note("C", duration=2)
        + harmony("E")
        + "<note><rest/><duration>4</duration></note>"
        + harmony("F", extra="<offset>-1</offset>")
    )
    assert chords_of(read(score(measure(bar), first=first)), 0) == [(0, "C"), (1.5, "D"), (2, "E"), (3.5, "F")]


def test_two_symbols_on_one_note_share_it() -> None:
    """Symbols that stand together before a whole note divide it; a symbol that stands twice counts once."""
    line = read(score(measure(harmony("C") + harmony("F") + note("C", duration=4))))
    twice = read(score(measure(harmony("C") + harmony("C") + note("C", duration=4))))
    assert chords_of(line, 0) == [(0, "C"), (2, "F")]
    assert chords_of(twice, 0) == [(0, "C")]


def test_symbols_of_the_second_staff_are_not_repeated() -> None:
    """A symbol that both staves of a part bear is kept once."""
    first = f"<divisions>1</divisions>{FOUR_FOUR}<staves>2</staves>"
    bar = harmony("C") + note("C", duration=4) + "<backup><duration>4</duration></backup>" + harmony("C")
    bar += note("C", octave=3, duration=4, extra="<staff>2</staff>")
    assert chords_of(read(score(measure(bar), first=first), part="2"), 0) == [(0, "C")]
