"""Humdrum pieces, with what they hold worked out by hand."""

import pytest

from corpus.errors import ReadingError
from corpus.model import Meter
from corpus.pitch import Key
from corpus.read.assemble import assemble
from corpus.read.formats import pieces_of, read_piece
from corpus.read.kern import split_pieces
from corpus.read.repeats import play_order
from corpus.read.written import ReadingWishes
from tests.corpus.read.kern_help import chords_of, kern, notes_of, read, remarks_of

LINE = """
!!!OTL@@EN: Harbour Stairs
!!!MPN: Orlo Quist
!!!RTL: Low Tide Sessions
!!!MRD: 1994/05/02
!!!wellworn-form: A2 B1
**kern  **mxhm  **text
*I"Double bass  *  *
*clefF4  *  *
*k[b-e-]  *  *
*B-:  *  *
*M4/4  *  *
*MM160  *  *
8FF  .  .
=1  =1  =1
4BB-  B- major-sixth  la
4D  .  .
8qE  .  .
4E-  .  .
4En  .  .
=2  =2  =2
1F  F dominant  .
.  C minor-seventh/E-  .
=3  =3  =3
[2BB-  N.C.  .
12BB-]  .  .
12C  .  .
12R  .  .
4r  .  .
==  ==  ==
*-  *-  *-
"""


def test_a_line_with_chords() -> None:
    """Pickup, ties, triplets, a grace note, a note without pitch; the chord under a long note stands in its middle."""
    line = read(LINE)
    assert notes_of(line) == [
        [(0, 0.5, "F2")],
        [(0, 1, "Bb2"), (1, 1, "D3"), (2, 1, "Eb3"), (3, 1, "E3")],
        [(0, 4, "F3")],
        [(0, 2, "Bb2"), (2, 0.3333, "Bb2"), (2.3333, 0.3333, "C3"), (2.6667, 0.3333, "")],
    ]
    assert chords_of(line) == [[], [(0, "Bb6")], [(0, "F7"), (2, "Cm7/Eb")], [(0, "N.C.")]]
    assert [(bar.number, bar.is_pickup, bar.length_ticks) for bar in line.bars] == [
        (0, True, 5_040),
        (1, False, 40_320),
        (2, False, 40_320),
        (3, False, 40_320),
    ]
    assert [ornament.spelling for ornament in line.bars[1].notes[2].ornaments] == ["E3"]
    assert line.bars[3].notes[0].tied_to_next
    assert len(assemble(line).notes) == 9  # two of the ten are tied


def test_details() -> None:
    """Header records, instrument, tempo, key, meter and form."""
    details = read(LINE).details
    assert (details.title, details.player, details.recording) == ("Harbour Stairs", "Orlo Quist", "Low Tide Sessions")
    assert (details.instrument, details.year, details.tempo_bpm) == ("Double bass", 1994, 160)
    assert (details.key, details.meter, str(details.form)) == (Key("Bb", "major"), Meter(4, 4), "A2 B1")


@pytest.mark.parametrize(
    ("token", "quarters", "spelling"),
    [
        ("4c", 1, "C4"),
        ("4cc", 1, "C5"),
        ("4C", 1, "C3"),
        ("4CC", 1, "C2"),
        ("4CCC", 1, "C1"),
        ("8.gg#", 0.75, "G#5"),
        ("2..B--", 3.5, "Bbb3"),
        ("0f##", 8, "F##4"),
        ("12e-", 0.3333, "Eb4"),
        ("3%2d", 2.6667, "D4"),
        ("(8.ccn'L", 0.75, "C5"),
        ("{4b;J)}", 1, "B4"),
        ("4.aX/", 1.5, "A4"),
    ],
)
def test_tokens(token: str, quarters: float, spelling: str) -> None:
    """Lengths and pitches by the definition of **kern, whatever articulation stands around them."""
    line = read(f"**kern\n*MX\n=1\n{token}\n==\n*-")
    assert notes_of(line) == [[(0, quarters, spelling)]]


ROAD = """
**kern
*M2/4
*>[{order}]
=1
*>A
4c
4d
=2
*>A1
4e
4f
=3:|!
*>A2
4g
4a
=4
*>B
4b
4cc
==
*-
"""


@pytest.mark.parametrize(
    ("order", "played"), [("A,A1,A,A2,B", [1, 2, 1, 3, 4]), ("A,B,A", [1, 4, 1]), ("B,Z,A2", [4, 3])]
)
def test_expansion_lists_are_played(order: str, played: list[int]) -> None:
    """The list says what is played, each label as often as it stands there; repeat signs are not played as well."""
    line = read(ROAD.format(order=order))
    assert [bar.number for bar in assemble(line).bars] == played
    assert "repeat signs are not played as well" in remarks_of(line)
    assert ("names 'Z'" in remarks_of(line)) == ("Z" in order)


def test_passes_and_sections_of_an_expansion() -> None:
    """A bar that is played twice counts its passes; numbered labels are endings, not sections."""
    played = assemble(read(ROAD.format(order="A,A1,A,A2,B")))
    assert [(bar.number, bar.pass_number) for bar in played.bars] == [(1, 1), (2, 1), (1, 2), (3, 1), (4, 1)]
    assert [section.label for section in played.sections] == ["A", "A", "B"]


def test_numbered_labels_without_a_list_are_endings() -> None:
    """Repeat signs with labels A, A1, A2: the first and second ending."""
    text = "\n".join(line for line in ROAD.splitlines() if not line.startswith("*>["))
    line = read(text)
    assert [line.bars[i].number for i in play_order(line.bars).indexes] == [1, 2, 1, 3, 4]


def test_repeats_in_the_middle_of_a_bar() -> None:
    """A repeat sign without a number parts a bar in two with one number; beats of the second count to the bar line."""
    line = read("**kern\n*M4/4\n4c\n=1!|:\n4d\n4e\n4f\n=:|!|:\n4g\n=2\n4a\n4b\n4cc\n=:|!\n*-")
    assert [(bar.number, bar.length_ticks // 10_080) for bar in line.bars] == [(0, 1), (1, 3), (1, 1), (2, 3)]
    assert [line.bars[i].number for i in play_order(line.bars).indexes] == [0, 1, 1, 1, 2, 1, 2]
    assert assemble(line).bars[3].beat_at(assemble(line).bars[3].onset_ticks) == 4


def test_signs_that_steer() -> None:
    """Dal segno al coda by interpretations: 1 2 3 2 4."""
    steps = ["=1", "4c", "=2", "*segno", "4d", "*tocoda", "=3", "4e", "*dalsegno", "=4", "*coda", "4f", "=="]
    line = read("**kern\n*M1/4\n" + "\n".join(steps) + "\n*-")
    assert [bar.number for bar in assemble(line).bars] == [1, 2, 3, 2, 4]


SPLIT = """
**kern  **harm
*C:  *C:
*M4/4  *M4/4
=1  =1
4c  I
*^  *
4e  4G  ii7
4d  4A  V7b
*v  *v  *
4c  I
==  ==
*-  *-
"""


def test_splits_are_voices() -> None:
    """Where a spine splits one voice is taken; where it does not, the notes belong to either."""
    top = read(SPLIT)
    assert notes_of(top) == [[(0, 1, "C4"), (1, 1, "E4"), (2, 1, "D4"), (3, 1, "C4")]]
    assert "several voices: the top one is taken" in remarks_of(top)
    assert notes_of(read(SPLIT, voice="bottom")) == [[(0, 1, "C4"), (1, 1, "G3"), (2, 1, "A3"), (3, 1, "C4")]]
    assert chords_of(top) == [[(0, "C"), (1, "Dm7"), (2, "G7/B"), (3, "C")]]


def test_chords_of_notes() -> None:
    """Of several notes at once the top or the bottom one is the line."""
    text = "**kern\n*M4/4\n=1\n2C G e\n2r\n==\n*-"
    assert notes_of(read(text)) == [[(0, 2, "E4")]]
    assert notes_of(read(text, voice="bottom")) == [[(0, 2, "C3")]]


TWO = """
**kern  **kern
*I"Bass  *I"Horn
*M2/4  *M2/4
=1  =1
2C  4e
.  4f
=2  =2
4D  2g
4E  .
==  ==
*-  *-
"""


def test_the_spine_is_chosen() -> None:
    """By number from the left or by name; without a wish the choice is told."""
    assert notes_of(read(TWO, part="1")) == [[(0, 2, "C3")], [(0, 1, "D3"), (1, 1, "E3")]]
    assert notes_of(read(TWO, part="horn")) == [[(0, 1, "E4"), (1, 1, "F4")], [(0, 2, "G4")]]
    with pytest.raises(ReadingError, match=r"2 \*\*kern spines from the left \(1 Bass, 2 Horn\): choose one"):
        read(TWO)
    with pytest.raises(ReadingError, match="no spine 'flute'"):
        read(TWO, part="flute")


def test_hidden_notes_and_rests() -> None:
    """What the page hides is no part of the line; hidden rests are only time."""
    line = read("**kern\n*M4/4\n=1\n4ryy\n4c\n4eyy\n4r\n==\n*-")
    assert notes_of(line) == [[(1, 1, "C4")]]
    assert "hidden notes are left out" in remarks_of(line)


def test_keys_and_meters_change() -> None:
    """Keys by name and mode, by signature alone, meters, and bars without one."""
    text = """**kern\n*k[b-]\n*d:dor\n*M3/4\n=1\n2.d\n=2\n*k[f#]\n*M2/4\n2g\n=3\n*MX\n4.a\n==\n*-"""
    line = read(text)
    assert [(bar.key, bar.meter) for bar in line.bars] == [
        (Key("D", "dorian"), Meter(3, 4)),
        (Key("G", "major"), Meter(2, 4)),
        (Key("G", "major"), Meter(3, 8)),
    ]
    assert "names no mode" in remarks_of(line)


@pytest.mark.parametrize(
    ("opening", "tokens", "symbols"),
    [
        ("**harte", "A:min7/b3  Eb:maj7(9)  N", ["Am7/C", "Ebmaj7(add9)", "N.C."]),
        ("**harte", "F#:hdim7  B:7(b9,*5)/3  C", ["F#m7b5", "B7(b9,no5)/D#", "C"]),
        ("**jazz", "2B-:maj7  4E-7/G  4F:7(#11)", ["Bbmaj7", "Eb7/G", "F7(#11)"]),
        ("**mxhm", "F# half-diminished  B dominant/D#  E- minor-seventh", ["F#m7b5", "B7/D#", "Ebm7"]),
        ("**chord", "Bb7  B-7  E7alt", ["Bb7", "B-7", "E7alt"]),
        ("**chord", "B-7  E-maj7  F/A", ["Bb7", "Ebmaj7", "F/A"]),
        ("**changes", "Cmaj7  Dm7  G7", ["Cmaj7", "Dm7", "G7"]),
    ],
)
def test_chord_spines(opening: str, tokens: str, symbols: list[str]) -> None:
    """Every kind of chord spine as lead-sheet symbols; - is a flat unless flats are written with b beside it."""
    cells = "\n".join(f"4c  {token}" for token in tokens.split("  "))
    line = read(f"**kern  {opening}\n*M3/4  *\n=1  =1\n{cells}\n==  ==\n*-  *-")
    assert [chord for bar in chords_of(line) for _, chord in bar] == symbols


def test_lyrics_are_no_chords() -> None:
    """A spine of words is left alone, and a chord spine of names wins over numerals."""
    line = read("**kern  **words  **harm  **mxhm\n*C:  *  *  *\n=1  =1  =1  =1\n1c  Oh  V7  C major\n*-  *-  *-  *-")
    assert chords_of(line) == [[(0, "C")]]
    assert chords_of(read("**kern  **words\n=1  =1\n1c  sea\n==  ==\n*-  *-")) == [[]]


def test_several_pieces_in_a_file() -> None:
    """Each time all spines open anew a piece begins; header records between belong to the second."""
    data = kern("!!!OTL: One\n**kern\n1c\n*-\n!!!OTL: Two\n**kern\n1d\n*-")
    pieces = pieces_of(data, "two.krn")
    assert [piece.label for piece in pieces] == ["two.krn piece 1", "two.krn piece 2"]
    lines = [read_piece(piece, ReadingWishes()) for piece in pieces]
    assert [line.details.title for line in lines] == ["One", "Two"]
    assert [line.notes[0].spelling for line in lines] == ["C4", "D4"]


def test_typed_text_is_known_by_its_first_line() -> None:
    """What stands on standard input needs no ending to be read as Humdrum."""
    (piece,) = pieces_of(kern("**kern\n1c\n*-"), "standard input 1234")
    assert read_piece(piece, ReadingWishes()).notes[0].spelling == "C4"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("4c\n*-", "opens no spine"),
        ("**text\nla\n*-", r"no \*\*kern spine"),
        ("**kern  **text\n4c\n*-  *-", "line 2: 1 tokens where 2 columns run"),
        ("**kern\n4c----\n*-", "4 accidentals"),
        ("**kern\n4ccccccc\n*-", "outside what can be played"),
        ("**kern\n0000c\n*-", "line 2: a duration of '0000'"),
        ("**kern\n*M0/4\n4c\n*-", "a meter of '0/4'"),
        ("**kern\n*-\n4c", "line 3: '4c' stands outside any spine"),
        ("**kern\n" + "000c\n" * 40 + "*-", "the bar has no end"),
    ],
)
def test_what_makes_no_sense_is_refused(text: str, message: str) -> None:
    """Refused by file, line and cause."""
    with pytest.raises(ReadingError, match=message):
        read(text)


def test_too_many_columns() -> None:
    """A text that splits without end is refused."""
    splits = "\n".join("  ".join(["*^"] * 2**n) for n in range(9))
    with pytest.raises(ReadingError, match="more than 128 columns"):
        read("**kern\n" + splits + "\n*-")


def test_bytes_that_are_no_utf8() -> None:
    """Old files in Latin-1 are read."""
    (piece,) = split_pieces("!!!OTL: Caf\xe9\n**kern\n1c\n*-".encode("latin-1"), "a.krn")
    assert piece.lines[0][1] == "!!!OTL: Café"
