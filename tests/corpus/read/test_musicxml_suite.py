"""The MusicXML test suite that music21 ships, read whole and in detail.

All expectations in this module were worked out by hand from the XML of the files (and, for the playing order, from
what a musician does with the signs); none is copied from the reader's output.
"""

import importlib.util
import random
from copy import deepcopy
from fractions import Fraction
from pathlib import Path
from xml.etree.ElementTree import fromstring, tostring

import pytest

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.read.assemble import assemble
from corpus.read.musicxml import read_musicxml
from corpus.read.repeats import play_order
from corpus.read.written import ReadingWishes, WrittenLine
from tests.corpus.read.musicxml_help import chords_of, notes_of, order


def _suite() -> list[Path]:
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "musicxml" / "lilypondTestSuite"
    return sorted([*folder.glob("*.xml"), *folder.glob("*.mxl")])


FILES = _suite()


def suite_line(prefix: str, part: str | None = None) -> WrittenLine:
    """The written line of the suite's file whose name starts so."""
    (path,) = [path for path in FILES if path.name.startswith(prefix)]
    return read_musicxml(path.read_bytes(), path.name, ReadingWishes(part=part))


def _check(transcription: Transcription) -> None:
    """What holds for every transcription, whatever it plays."""
    end = 0
    for note in transcription.notes:
        bar = transcription.bars[note.bar_index]
        assert note.duration_ticks > 0
        assert note.onset_ticks >= end
        assert bar.onset_ticks <= note.onset_ticks < bar.onset_ticks + bar.length_ticks
        end = note.end_ticks
    assert transcription.notes


def _refusal(data: bytes, name: str, part: str | None) -> str:
    """Read, assemble and check one part; the message of a refusal, or an empty text."""
    try:
        transcription = assemble(read_musicxml(data, name, ReadingWishes(part=part)))
    except ReadingError as error:
        return str(error)
    _check(transcription)
    return ""


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_reads_or_is_refused_clearly(path: Path) -> None:
    """Each file, and each part of a file with several, assembles or is refused with its reason."""
    data = path.read_bytes()
    parts: list[str | None] = [None]
    while parts:
        part = parts.pop()
        refusal = _refusal(data, path.name, part)
        if part is None and "choose one with --part" in refusal:
            count = int(refusal.split(" has ")[1].split()[0])
            parts = [str(number) for number in range(1, count + 1)]
        else:
            assert refusal in ("", "no notes in this line: nothing to store")


def _damaged(path: Path, source: random.Random) -> bytes:
    """A copy of a file with a few elements emptied, filled with junk, removed or doubled."""
    root = fromstring(path.read_bytes())
    parents = {child: parent for parent in root.iter() for child in parent}
    for element in source.sample(list(parents), k=min(4, len(parents))):
        parent = parents[element]
        choice = source.random()
        if choice < 0.4:
            element.text = source.choice(["", "0", "-1", "1e9", "nan", "inf", "x", "1/2", "9" * 30, "\u0663", " 3 "])
        elif choice < 0.6 and element.attrib:
            element.set(source.choice(list(element.attrib)), source.choice(["", "-1", "x", "9" * 30]))
        elif choice < 0.8 and element in list(parent):
            parent.remove(element)
        else:
            parent.insert(source.randrange(len(parent) + 1), deepcopy(element))
    return tostring(root)


@pytest.mark.parametrize("seed", range(8))
def test_damaged_files_never_crash(seed: int) -> None:
    """Damaged copies of the suite's files read to something whole or are refused; nothing else is raised."""
    source = random.Random(seed)
    for path in source.sample([path for path in FILES if path.suffix == ".xml"], k=60):
        _refusal(_damaged(path, source), path.name, source.choice([None, "1"]))


def test_the_suite_is_there() -> None:
    """The suite holds at least the 143 files that were known when this was written."""
    assert len(FILES) >= 143


@pytest.mark.parametrize(
    ("prefix", "played"),
    [
        ("45a", [1, 1, 1, 1, 1, 2]),  # times="5"
        ("45b", [1, 2, 1, 3, 4]),
        # Without a start sign the second repeat goes back to the end of the first.
        ("45c", [1] + 5 * [2, 3] + 3 * [4, 5, 6, 7] + [8]),
        # Three brackets: three times; brackets 1 and 5: a pass in between would end in the air after bar 9.
        ("45d", [1, 2, 1, 3, 4, 5, 1, 6, 7, 8, 9, 10, 7, 8, 9, 11, 12]),
        ("45e", [1, 2, 1, 3, 4, 5, 5, 6, 7, 6, 8, 9, 8, 9, 10]),
        # Nonsense by intention; the brackets are obeyed: bar 2 in passes 1, 2, 3 and bar 3 in pass 2 only.
        ("45f", [1, 2, 4, 1, 2, 3, 4, 1, 2, 4, 5]),
        ("45g", [1, 2]),
        ("46a", list(range(1, 14))),
        ("46b", [1]),
        ("46c", [1, 2, 2, 3]),
        ("46d", [0, 1, 1, 2]),
        ("46e", [0, 1]),
        ("46f", [1, 2, 3, 4]),
    ],
)
def test_playing_order(prefix: str, played: list[int]) -> None:
    """The bars are played as a musician would play them, and keep their written numbers."""
    assert order(suite_line(prefix)) == played


def test_45g_is_reported() -> None:
    """A repeat that is begun and never ended is reported at its bar."""
    (remark,) = play_order(suite_line("45g").bars).remarks
    assert remark[0] == 1
    assert "never ended" in remark[1]


def test_46a_lengths() -> None:
    """No kind of bar line changes the thirteen bars of 4/4."""
    assert {bar.length_ticks for bar in suite_line("46a").bars} == {4 * TICKS_PER_QUARTER}


def test_46b() -> None:
    """A bar line inside a bar leaves the bar whole: C5 A4 F4 C5."""
    assert notes_of(suite_line("46b"), 0) == [(0, 1, "C5"), (1, 1, "A4"), (2, 1, "F4"), (3, 1, "C5")]


def test_46c() -> None:
    """A bar split for a clef is two halves of bar 2; the second counts on at beat 3."""
    played = assemble(suite_line("46c"))
    assert [bar.length_ticks // TICKS_PER_QUARTER for bar in played.bars] == [4, 2, 2, 4]
    assert [played.beat_of(index) for index in range(8)] == [1, 2, 3, 4, 1, 2, 3, 4]
    assert {note.spelling for note in played.notes} == {"C5"}


def test_46d() -> None:
    """A pickup of three eighths starts on the second half of beat 3; the split bar 1 counts through."""
    line = suite_line("46d")
    played = assemble(line)
    assert [bar.is_pickup for bar in line.bars] == [True, False, True, False]
    assert [bar.length_ticks / TICKS_PER_QUARTER for bar in line.bars] == [1.5, 2, 2, 3]
    assert [note.spelling for note in played.notes] == ["E4", "E4", "F4", "G4", "A4", "B4", "C5", "D5"]
    beats = [Fraction(7, 2), Fraction(9, 2), 1, 2, 3, 4, 1, 2]
    assert [played.beat_of(index) for index in range(8)] == beats


def test_46e() -> None:
    """A second voice without a voice number, reached by backup, stays out of the top line."""
    line = suite_line("46e")
    assert [notes_of(line, bar) for bar in (0, 1)] == [
        [(0, 1, "C5")],
        [(0, 1, "C5"), (1, 1, "A4"), (2, 1, "F4"), (3, 1, "C5")],
    ]
    assert line.bars[0].is_pickup
    (finding,) = line.findings
    assert (finding.bar, finding.text) == (1, "several voices: the top one is taken")


def test_46f() -> None:
    """Bars of two quarters in 4/4 keep their two quarters."""
    assert [bar.length_ticks / TICKS_PER_QUARTER for bar in suite_line("46f").bars] == [2, 4, 2, 4]


def test_46g() -> None:
    """Chord names over a pickup and over bar 1, with figured bass in between."""
    line = suite_line("46g")
    assert [chords_of(line, bar) for bar in (0, 1)] == [[(0, "C")], [(0, "C")]]
    assert [bar.number for bar in line.bars] == [0, 1]


def test_72a() -> None:
    """Trumpet in Bb, horn in Eb and piano all sound the C major scale."""
    scale = ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5"]
    for part in ("1", "2", "3"):
        line = suite_line("72a", part)
        assert [note.spelling for bar in line.bars for note in bar.notes] == scale
        assert str(line.bars[0].key) == "C major"


@pytest.mark.parametrize("part", range(1, 12))
def test_72b(part: int) -> None:
    """Every part sounds C5 in G major, also the one displayed as F#1 that transposes by three octaves and more."""
    line = suite_line("72b", str(part))
    assert notes_of(line, 0) == [(0, 4, "C5")]
    assert line.bars[0].notes[0].pitch == 72
    assert str(line.bars[0].key) == "G major"


def test_72c() -> None:
    """A written C sounds Eb on the Eb clarinet and Bb after the change to the Bb clarinet; the piece is in Bb."""
    line = suite_line("72c")
    assert [note.spelling for bar in line.bars for note in bar.notes] == ["Eb4", "Bb3", "Bb3"]
    assert [note.pitch for bar in line.bars for note in bar.notes] == [63, 58, 58]
    assert {str(bar.key) for bar in line.bars} == {"Bb major"}


def test_22d() -> None:
    """A ghost note, a ghostly dead note, a chord whose top is plain, a chord in parentheses, and two rests."""
    line = suite_line("22d")
    assert notes_of(line, 0) == [(0, 1, "A4"), (1, 1, ""), (2, 1, "E5"), (3, 1, "E5")]
    assert [note.is_ghost for note in line.bars[0].notes] == [True, True, False, True]
    assert [note.pitch for note in line.bars[0].notes] == [69, None, 76, 76]
    assert line.bars[0].length_ticks == 6 * TICKS_PER_QUARTER


def test_24a() -> None:
    """Grace notes decorate the note they lead to, also over a bar line; of a chord below the top note is kept."""
    line = suite_line("24a")
    ornaments = [
        [[ornament.spelling for ornament in note.ornaments] for note in bar.notes] for bar in suite_line("24a").bars
    ]
    assert ornaments == [
        [["D5"], ["E5", "D5"], ["D5"], ["D5"]],
        [["D5"], ["E5", "D5"], ["D5"], ["D5"]],
        [["E5", "E5"], ["D#5"], ["Db5", "Ab4"], []],
    ]
    assert notes_of(line, 1) == [(0, 1, "C5"), (1, 2, "C5"), (3, 0.5, "C5"), (3.5, 0.5, "C5")]
    assert len(assemble(line).notes) == 12


def test_33b() -> None:
    """Two tied whole notes are one note of eight quarters."""
    (note,) = assemble(suite_line("33b")).notes
    assert (note.onset_ticks, note.duration_ticks, note.pitch) == (0, 8 * TICKS_PER_QUARTER, 65)


def test_90a() -> None:
    """The compressed file holds four quarters of C#4 (written by hand in its XML) and its title."""
    line = suite_line("90a")
    assert line.details.title == "Compressed MusicXML file"
    assert notes_of(line, 0) == [(beat, 1, "C#4") for beat in range(4)]


def test_71a() -> None:
    """Plain chord names with degrees."""
    line = suite_line("71a")
    assert chords_of(line, 0) == [(0, "C"), (1, "Cmaj7#11"), (2, "B7#5#9"), (3, "Eb(add2)")]
    assert chords_of(line, 1) == [(0, "Gm"), (1, "D#maj7"), (2, "Adim7"), (3, "A+")]


def test_71d() -> None:
    """The symbols of both staves, each once, whichever staff is read."""
    expected = [(0, "C"), (1, "D7"), (2, "Ebm9"), (3, "Cm7(add11)")]
    assert chords_of(suite_line("71d", "1"), 0) == expected
    assert chords_of(suite_line("71d", "2"), 0) == expected


def test_71f() -> None:
    """All chord types, by their lead-sheet names; then inversions, basses and left-out degrees."""
    line = suite_line("71f")
    names = [[name for _, name in chords_of(line, bar)] for bar in range(10)]
    assert names[0] == ["C", "Cm", "C+", "Cdim"]
    assert names[1] == ["C7", "Cmaj7", "Cm7", "Cdim7"]
    assert names[2] == ["C+7", "Cm7b5", "Cm(maj7)", "C6"]
    assert names[3] == ["Cm6", "C9", "Cmaj9", "Cm9"]
    assert names[4] == ["C11", "Cmaj11", "Cm11", "C13"]
    assert names[5] == ["Cmaj13", "Cm13", "Csus2", "Csus4"]
    assert names[8] == ["F#", "Fbb/C", "G#/D#", "C"]
    assert names[9] == ["C(no3,b5)", "C(no1,b6)"]


def test_71g() -> None:
    """Two symbols over each half note change in the middle of it."""
    assert chords_of(suite_line("71g"), 0) == [(0, "C"), (1, "F#m6"), (2, "Dm7"), (3, "G7")]


def test_23d() -> None:
    """Five eighths in the time of two, inside a triplet of quarters-worth: 2/15 of a quarter each, exactly."""
    line = suite_line("23d")
    third, inner = TICKS_PER_QUARTER // 3, 2 * TICKS_PER_QUARTER // 15
    assert [note.duration_ticks for note in line.bars[0].notes] == [third] * 2 + [inner] * 5 + [third] * 2
    assert line.bars[0].length_ticks == 2 * TICKS_PER_QUARTER


def test_other_bars() -> None:
    """Multi-bar rests follow the meter (02d), free bars count in eighths (11h), mixed meters add up (11d)."""
    lengths = [bar.length_ticks // TICKS_PER_QUARTER for bar in suite_line("02d").bars]
    assert lengths == [4, 4, 3, 3, 3, 2, 2, 4, 4, 4]
    assert str(suite_line("11h").bars[0].meter) == "3/8"
    assert [str(bar.meter) for bar in suite_line("11d").bars] == ["11/8", "21/8"]


def test_percussion() -> None:
    """Unpitched notes (73a, cymbals) have rhythm and no pitch."""
    line = suite_line("73a", "Cymbals")
    assert all(note.pitch is None and not note.spelling for bar in line.bars for note in bar.notes)
    assert notes_of(line, 0) == [(0, 3, ""), (3, 1, "")]
