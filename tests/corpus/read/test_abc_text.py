"""ABC text: decoding, splitting into tunes, headers, voices, text escapes, field values."""

from fractions import Fraction

import pytest

from corpus.errors import ReadingError
from corpus.model import Meter
from corpus.pitch import LETTERS, Key, parse_spelling
from corpus.read.abc_fields import (
    default_length,
    parse_key_field,
    parse_length_field,
    parse_meter_field,
    parse_parts_field,
    parse_tempo_field,
    properties,
    semitones_of,
    transpose_chord,
    transpose_key,
    transpose_spelling,
)
from corpus.read.abc_text import clean, decode, parse_header, split_tunes, voice_texts

TUNE = "X:{0}\nT:Tune {0}\nM:4/4\nK:C\nCDEF GABc|\n"


def tunes(text: str) -> list[str]:
    """The numbers of the tunes in a text."""
    return [tune.number for tune in split_tunes(text.encode(), "t.abc")]


def test_tunes_are_split_at_reference_numbers() -> None:
    """Each X: line begins a tune, with or without a blank line before it."""
    assert tunes(TUNE.format(1) + "\n" + TUNE.format(2) + TUNE.format(7)) == ["1", "2", "7"]


def test_a_file_without_numbers_is_one_tune() -> None:
    """A file that has no X: at all is one tune."""
    assert tunes("T:Lone\nK:C\nCDEF|\n") == [""]


def test_text_before_the_first_number_is_a_tune_when_it_has_a_key() -> None:
    """A first tune without its X: line is not lost."""
    assert tunes("T:First\nK:C\nCDEF|\n\n" + TUNE.format(2)) == ["", "2"]


def test_file_header_applies_to_every_tune() -> None:
    """Fields before the first X: stand in for what a tune does not say."""
    found = split_tunes(f"M:3/4\nL:1/16\n\n{TUNE.format(1)}".encode(), "t.abc")
    header = parse_header(found[0])
    assert header.last("L") == "1/16"
    assert header.last("M") == "4/4"


def test_blank_line_inside_a_tune_does_not_end_it_when_music_follows() -> None:
    """Sloppy files leave blank lines between lines of music."""
    found = split_tunes(b"X:1\nK:C\nCDEF|\n\nGABc|\n\nSome words about it.\nABC abc\n", "t.abc")
    assert "GABc|" in found[0].text
    assert "words" not in found[0].text


@pytest.mark.parametrize(
    "data", [b"", b"Just some prose, with a few words.", b"%PDF-1.7\n1 0 obj <<>>\n", b"X:1\nT:no key\n"]
)
def test_text_without_key_line_is_no_tune(data: bytes) -> None:
    """What has no K: line anywhere is refused as no ABC."""
    with pytest.raises(ReadingError, match=r"t\.abc: no tune found \(no K: line\)"):
        split_tunes(data, "t.abc")


def test_nul_bytes_are_refused() -> None:
    """Binary data is refused by its NUL characters."""
    with pytest.raises(ReadingError, match="NUL"):
        split_tunes(b"X:1\nK:C\nC\0D|\n", "t.abc")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("Jürgen".encode(), "Jürgen"),
        (b"\xef\xbb\xbfX", "X"),
        ("Jürgen".encode("latin-1"), "Jürgen"),
        ("Jürgen".encode("utf-16"), "Jürgen"),
        (b"\x93Hi\x94", "“Hi”"),
        (b"a\r\nb\rc", "a\nb\nc"),
    ],
)
def test_bytes_are_decoded(data: bytes, expected: str) -> None:
    """UTF-8, UTF-16 with BOM, Windows-1252; all line ends become newlines."""
    assert decode(data, "t") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (r"Andr\'e", "André"),
        ("Andr&eacute;", "André"),
        (r"J\"urgen \ss", "Jürgen ß"),
        (r"\u266d", "♭"),
        (r"\/Ore \aa", "Øre å"),
        (r"100\% \& more", "100% & more"),
        ("a\x1b[31m\u202eb\x00", "a[31mb"),
        ("  two\t\twords ", "two words"),
        ("x" * 500, "x" * 200),
    ],
)
def test_texts_are_cleaned(text: str, expected: str) -> None:
    """ABC escapes resolve; control characters go; white space collapses; 200 characters stay."""
    assert clean(text) == expected


def test_directives_are_read_in_both_spellings() -> None:
    """%%name and I:name mean the same, anywhere in the tune."""
    tune = split_tunes(b"X:1\n%%wellworn-player Ann Example\nK:C\nCD|\nI:wellworn-year 1961\n", "t.abc")[0]
    assert parse_header(tune).directives == {"wellworn-player": "Ann Example", "wellworn-year": "1961"}


def test_typeset_text_is_no_music() -> None:
    """Lines between %%begintext and %%endtext are passed over."""
    tune = split_tunes(b"X:1\nK:C\nCD|\n%%begintext\nEF|\n%%endtext\nGA|\n", "t.abc")[0]
    assert parse_header(tune).body.split() == ["CD|", "GA|"]


def test_voices_in_blocks_and_interleaved_are_the_same() -> None:
    """V: lines and inline [V:] collect each voice's music in order."""
    head = "X:1\nV:1 name=High\nV:2 nm=Low\nK:C\n"
    block = voice_texts(parse_header(split_tunes((head + "V:1\nCD|\nEF|\nV:2\nC,D,|\nE,F,|\n").encode(), "t")[0]))
    mixed = voice_texts(
        parse_header(split_tunes((head + "[V:1]CD|\n[V:2]C,D,|\n[V:1]EF|\n[V:2]E,F,|\n").encode(), "t")[0])
    )
    assert [voice.body.split() for voice in block] == [["CD|", "EF|"], ["C,D,|", "E,F,|"]]
    assert [voice.body.split() for voice in block] == [voice.body.split() for voice in mixed]


def test_field_before_a_change_of_voice_holds_for_all() -> None:
    """P:B that heads a system belongs to both voices of it."""
    text = "X:1\nV:1\nV:2\nK:C\nP:A\n[V:1]C|\n[V:2]C,|\nP:B\n[V:1]D|\n[V:2]D,|\n"
    found = voice_texts(parse_header(split_tunes(text.encode(), "t")[0]))
    assert [voice.body.split() for voice in found] == [["P:A", "C|", "P:B", "D|"], ["P:A", "C,|", "P:B", "D,|"]]


SIGNATURES = [
    # ABC standard 2.1, section 3.1.14, the table of modes (from memory): sharps (+) or flats (-) of each key.
    (5, "B", "G#m", "F#mix", "C#dor", "D#phr", "Elyd", "A#loc"),
    (2, "D", "Bm", "Amix", "Edor", "F#phr", "Glyd", "C#loc"),
    (1, "G", "Em", "Dmix", "Ador", "Bphr", "Clyd", "F#loc"),
    (0, "C", "Am", "Gmix", "Ddor", "Ephr", "Flyd", "Bloc"),
    (-1, "F", "Dm", "Cmix", "Gdor", "Aphr", "Bblyd", "Eloc"),
    (-3, "Eb", "Cm", "Bbmix", "Fdor", "Gphr", "Ablyd", "Dloc"),
    (-7, "Cb", "Abm", "Gbmix", "Dbdor", "Ebphr", "Fblyd", "Bbloc"),
]


@pytest.mark.parametrize(("fifths", "name"), [(row[0], name) for row in SIGNATURES for name in row[1:]])
def test_modes_have_their_signatures(fifths: int, name: str) -> None:
    """Every mode of the standard's key table has the signature of its row."""
    signature, remark = parse_key_field(name)
    order = "FCGDAEB" if fifths > 0 else "BEADGCF"
    expected = dict.fromkeys(order[: abs(fifths)], 1 if fifths > 0 else -1)
    assert {letter: alt for letter, alt in zip(LETTERS, signature.alterations, strict=True) if alt} == expected
    assert remark == ""


@pytest.mark.parametrize("name", ["Amin", "A minor", "Am", "A Minor", "AMIN", "Aaeo", "A Aeolian"])
def test_spellings_of_a_mode(name: str) -> None:
    """Modes may be short or long, spaced or not, in any case."""
    key = parse_key_field(name)[0].key
    assert key in (Key("A", "minor"), Key("A", "aeolian"))


@pytest.mark.parametrize(
    ("value", "altered", "key"),
    [
        ("D =c", {"F": 1}, Key("D")),
        ("D exp _b _e ^f", {"B": -1, "E": -1, "F": 1}, Key("D")),
        ("exp ^f", {"F": 1}, None),
        ("none", {}, None),
        ("", {}, None),
        ("HP", {}, None),
        ("Hp", {"F": 1, "C": 1}, Key("A", "mixolydian")),
        ("D phr ^f", {"B": -1, "E": -1, "F": 1}, Key("D", "phrygian")),
        ("G clef=bass octave=-1", {"F": 1}, Key("G")),
        ("nonsense", {}, None),
    ],
)
def test_key_fields(value: str, altered: dict[str, int], key: Key | None) -> None:
    """Explicit accidentals change or make up a signature; clefs are no part of it."""
    signature, _ = parse_key_field(value)
    assert {letter: alt for letter, alt in zip(LETTERS, signature.alterations, strict=True) if alt} == altered
    assert signature.key == key


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("C", Meter(4, 4)),
        ("C|", Meter(2, 2)),
        ("none", None),
        ("", None),
        ("6/8", Meter(6, 8)),
        ("2+3/8", Meter(5, 8)),
        ("(2+2+3)/8", Meter(7, 8)),
        ("4/5", None),
        ("0/4", None),
        ("9999999/4", None),
    ],
)
def test_meters(value: str, expected: Meter | None) -> None:
    """Common, cut, free, plain and added meters; nonsense is free meter with a remark."""
    assert parse_meter_field(value)[0] == expected


def test_default_unit_note() -> None:
    """ABC standard 2.1, section 3.1.7 (from memory): below 3/4 a sixteenth, else an eighth."""
    assert default_length(Meter(2, 4)) == Fraction(1, 16)
    assert default_length(Meter(6, 8)) == Fraction(1, 8)
    assert default_length(None) == Fraction(1, 8)
    assert parse_length_field("1/4") == Fraction(1, 4)
    assert parse_length_field("1/0") is None


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("1/4=180", 180),
        ("180", 180),
        ('"Allegro" 3/8=60', 90),
        ("1/4 3/8 1/4 3/8=40", 200),
        ('"Slow"', None),
        ("1/0=60", None),
        ("1/4=99999999", None),
    ],
)
def test_tempos(value: str, expected: float | None) -> None:
    """Tempos count quarter notes, whatever the beat they are written in."""
    assert parse_tempo_field(value) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [("AABA", "AABA"), ("A2B2", "AABB"), ("(AB)3C", "ABABABC"), ("((AB)2.C)2", "ABABCABABC"), ("A A.B", "AAB")],
)
def test_orders_of_parts(value: str, expected: str) -> None:
    """ABC standard 2.1, section 3.1.9 (from memory): numbers repeat a part or a group, dots only separate."""
    assert parse_parts_field(value) == tuple(expected)


def test_orders_of_parts_are_bounded() -> None:
    """Repeats of repeats and deep nesting are refused before they are written out."""
    for value in ("A9999999", "((((A99)99)99)99)99", "(" * 500 + "A" + ")" * 500):
        with pytest.raises(ValueError, match="order of parts"):
            parse_parts_field(value)
    assert parse_parts_field("Verse") is None
    assert parse_parts_field("(A") is None


def test_shifts_of_pitch() -> None:
    """octave=, transpose= and an 8 at the clef add up; a clef alone shifts nothing."""
    assert semitones_of(properties("C clef=bass transpose=-12")) == -12
    assert semitones_of(properties("C octave=1 transpose=-2")) == 10
    assert semitones_of(properties("clef=treble-8")) == -12
    assert semitones_of(properties("Bass bass")) == 0
    assert semitones_of(properties("transpose=-99")) == 0


@pytest.mark.parametrize(
    ("name", "semitones", "expected"),
    [("C4", -2, "Bb3"), ("F#4", -9, "A3"), ("E4", 3, "G4"), ("B4", 1, "C5"), ("G#4", 10, "F#5"), ("Cb4", -12, "Cb3")],
)
def test_transposed_spellings(name: str, semitones: int, expected: str) -> None:
    """Transposing keeps the usual interval, so the spelling moves with the pitch."""
    assert str(transpose_spelling(parse_spelling(name), semitones)) == expected


def test_transposed_keys_and_chords() -> None:
    """Keys and chord symbols move with the notes; keys beyond seven accidentals are respelled."""
    assert transpose_key(Key("G"), -2) == Key("F")
    assert transpose_key(Key("C#"), 2) == Key("Eb")
    assert transpose_chord("Dm7/G", -2) == "Cm7/F"
    assert transpose_chord("N.C.", -2) == "N.C."
    assert transpose_chord("C6/9", 2) == "D6/9"
