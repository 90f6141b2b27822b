"""ABC tunes: read again by our reader, and by music21."""

from dataclasses import replace

import music21
import pytest

from corpus.model import Bar, ChordSpan, Details, Form, FormPart, Meter, Note, Ornament, Section, Transcription
from corpus.pitch import Key
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.write.abc import abc_of
from tests.corpus.write.seed import SEED

Q = 10_080
HARD = Transcription(
    details=Details(
        title="100 % \\ & more",
        player="A & B",
        instrument="Double bass",
        recording="R%",
        year=1994,
        tempo_bpm=132.5,
        key=Key("Eb"),
        meter=Meter(3, 4),
        form=Form((FormPart("A", 2),)),
    ),
    bars=(
        Bar(0, 1, 0, Q, 2 * Q, Meter(3, 4), key=Key("Eb")),
        Bar(1, 1, Q, 3 * Q, 0, Meter(3, 4), key=Key("Eb")),
        Bar(2, 1, 4 * Q, 4 * Q, 0, Meter(4, 4), key=Key("E", "dorian")),
        Bar(3, 1, 8 * Q, 4 * Q, 0, Meter(4, 4), chorus=2, key=Key("E", "dorian")),
    ),
    notes=(
        Note(0, Q, 39, "Eb2", 0),
        Note(Q, Q, 40, "E2", 1, ornaments=(Ornament(38, "D2"), Ornament(39, "D#2"))),
        Note(2 * Q, Q // 3, 39, "Eb2", 1),
        Note(2 * Q + Q // 3, Q // 3, 51, "Eb3", 1),
        Note(2 * Q + 2 * Q // 3, Q // 3, 52, "Fb3", 1),
        Note(3 * Q, 2 * Q, 53, "F3", 1),
        Note(5 * Q, Q // 2, None, "", 2),
        Note(5 * Q + Q // 2, 3 * Q // 2, 49, "C#3", 2),
        Note(7 * Q, 4 * Q, 48, "C3", 2),
        Note(11 * Q, Q, 36, "B#1", 3),
    ),
    chords=(
        ChordSpan("Eb6", Q, 3 * Q + Q // 2),
        ChordSpan("Bb7(#9)", 3 * Q + Q // 2, 7 * Q + Q // 2),
        ChordSpan("N.C.", 7 * Q + Q // 2, 9 * Q),
        ChordSpan("A7/C#", 9 * Q, 12 * Q),
    ),
    sections=(Section("A", 0, 4 * Q), Section("Tag 50 %", 4 * Q, 12 * Q)),
)


def back(text: str) -> list[Transcription]:
    """The tunes as our reader reads them."""
    return [read_piece(piece, ReadingWishes()) for piece in pieces_of(text.encode(), "back.abc")]


@pytest.mark.parametrize("name", ["nettle_soup_castlemoor.musicxml", "slow_ferry_home.musicxml", "horn_lines.abc"])
def test_reading_gives_back_what_was_written(name: str) -> None:
    """Notes with spellings and grace notes, chords, sections, bars and details; ghost notes become plain ones."""
    path = SEED / name
    lines = [read_piece(piece, ReadingWishes()) for piece in pieces_of(path.read_bytes(), name)]
    for line, found in zip(lines, back(abc_of(lines)), strict=True):
        assert found.notes == tuple(note._replace(is_ghost=False) for note in line.notes)
        assert (found.chords, found.sections, found.details) == (line.chords, line.sections, line.details)
        shapes = [[(b.length_ticks, b.padding_ticks, b.meter, b.key) for b in one.bars] for one in (line, found)]
        assert shapes[0] == shapes[1]


def test_hard_places() -> None:
    """Escapes, a pickup, changing meters and keys, triplets, chords inside notes, accidentals in doubt, ties."""
    [found] = back(abc_of([HARD]))
    assert found.notes == HARD.notes
    assert found.chords == HARD.chords
    assert [(s.label, s.onset_ticks) for s in found.sections] == [("A", 0), ("Tag 50 %", 4 * Q)]
    assert replace(found.details, form=None) == replace(HARD.details, form=None)
    assert [(b.number, b.length_ticks, b.meter, b.key) for b in found.bars] == [
        (b.number, b.length_ticks, b.meter, b.key) for b in HARD.bars
    ]


def test_the_text_is_the_standards() -> None:
    """Written by hand after the ABC standard 2.1 (sections 3, 4.2, 4.13, 4.18; from memory)."""
    assert abc_of([HARD]).splitlines() == [
        "%abc-2.1",
        "",
        "X:1",
        "T:100 \\% \\\\ \\& more",
        "D:R\\%",
        "M:3/4",
        "L:1/8",
        "Q:1/4=132.5",
        "%%wellworn-player A \\& B",
        "%%wellworn-instrument Double bass",
        "%%wellworn-year 1994",
        "%%wellworn-form A2",
        "K:Eb clef=bass transpose=-12",
        "P:A",
        'E,2 | "Eb6"{D,^D,}=E,2 (3:2:3_E,_E_F =F- "Bb7(#9)"=F- ||',
        "P:Tag 50 \\%",
        '[M:4/4][K:Edor]=F2 !style=x!FC- C2 =C- "N.C."=C- | =C2- "A7/C#"=C4 ^B,,2 |]',
    ]


def test_music21_hears_the_same() -> None:
    """music21 reads our tune: the same onsets and pitches. It knows no ``transpose=``, so a trumpet's line is asked."""
    lines = [
        read_piece(p, ReadingWishes()) for p in pieces_of((SEED / "horn_lines.abc").read_bytes(), "horn_lines.abc")
    ]
    score = music21.converter.parse(abc_of(lines[1:2]), format="abc", forceSource=True)
    found = score.stripTies().flatten().getElementsByClass(music21.note.Note)
    assert [(round(float(n.offset) * Q), n.pitch.midi) for n in found] == [
        (n.onset_ticks, n.pitch) for n in lines[1].notes
    ]
