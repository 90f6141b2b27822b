"""Voices, chords, staves and parts of MusicXML: which notes become the line."""

import pytest

from corpus.errors import ReadingError
from tests.corpus.read.musicxml_help import (
    C_MAJOR,
    FOUR_FOUR,
    barline,
    measure,
    note,
    notes_of,
    order,
    read,
    remarks_of,
    rest,
    score,
    voice,
)


def test_top_and_bottom_voice() -> None:
    """Voices are ranked over the whole part, and a bar where the best one rests goes to the next."""
    back = "<backup><duration>4</duration></backup>"
    line = [
        measure(note("C", 3, 4, voice(2)) + back + note("C", 5, 4, voice(1))),
        measure(note("C", 6, 4, voice(2)) + back + note("C", 5, 4, voice(1)), 2),
        measure(note("C", 3, 4, voice(2)) + back + rest(4), 3),
        measure(note("C", 3, 4, voice(2)) + back + note("C", 5, 4, voice(1)), 4),
    ]
    top, bottom = read(score(*line)), read(score(*line), voice="bottom")
    assert [bar.notes[0].spelling for bar in top.bars] == ["C5", "C5", "C3", "C5"]
    assert [bar.notes[0].spelling for bar in bottom.bars] == ["C3", "C6", "C3", "C3"]
    (finding,) = top.findings
    assert (finding.kind, finding.bar) == ("reading", 1)
    assert finding.text == "several voices: the top one is taken (first here, 3 times in all)"


def test_top_and_bottom_of_chords() -> None:
    """Of a chord the top or the bottom note is the line, in whatever order the chord is written."""
    bar = (
        note("E")
        + note("C", extra="").replace("<note>", "<note><chord/>")
        + note("G").replace("<note>", "<note><chord/>")
    )
    top, bottom = read(score(measure(bar + rest(3)))), read(score(measure(bar + rest(3))), voice="bottom")
    assert (notes_of(top, 0), notes_of(bottom, 0)) == ([(0, 1, "G4")], [(0, 1, "C4")])
    assert remarks_of(top) == "chords: the top note is taken"


def test_overlap_inside_a_voice_is_cut() -> None:
    """A note that lasts into the next one of its voice is cut short, with a remark."""
    bar = note("C", duration=4, extra=voice(1)) + "<backup><duration>2</duration></backup>" + note("D", 4, 2, voice(1))
    line = read(score(measure(bar)))
    assert notes_of(line, 0) == [(0, 2, "C4"), (2, 2, "D4")]
    assert "cut short" in remarks_of(line)


def test_cue_notes_are_left_out() -> None:
    """Cue notes leave a gap of their length and a remark."""
    cue = note("C", duration=2).replace("<note>", "<note><cue/>")
    line = read(score(measure(cue + note("D", duration=2))))
    assert notes_of(line, 0) == [(2, 2, "D4")]
    assert "cue notes" in remarks_of(line)


def test_grace_notes_that_lead_nowhere() -> None:
    """A grace note before a rest is left out with a remark; a dead grace note is nothing."""
    grace = note("B").replace("<note>", "<note><grace/>").replace("<duration>1</duration>", "")
    line = read(score(measure(note("C") + grace + rest(1) + grace + note("D", duration=2))))
    assert [[o.spelling for o in n.ornaments] for n in line.bars[0].notes] == [[], ["B4"]]
    assert "grace notes" in remarks_of(line)


def two_parts() -> bytes:
    """A flute with signs, chords and tempo, and a bass without."""
    names = '<part-list><score-part id="A"><part-name>Flute</part-name></score-part>'
    names += '<score-part id="B"><part-name>Bass</part-name></score-part></part-list>'
    attributes = f"<attributes><divisions>1</divisions>{C_MAJOR}{FOUR_FOUR}</attributes>"
    chord = "<harmony><root><root-step>G</root-step></root><kind>dominant</kind></harmony>"
    mark = "<direction><direction-type><rehearsal>A</rehearsal></direction-type><sound tempo='90'/></direction>"
    flute = measure(attributes + mark + chord + note("C", 5, 4) + barline('<repeat direction="backward"/>'))
    bass = measure(attributes + note("C", 2, 4))
    return f'<score-partwise>{names}<part id="A">{flute}</part><part id="B">{bass}</part></score-partwise>'.encode()


def test_several_parts_must_be_chosen() -> None:
    """Without a wish, or with one that fits none, the parts are listed with the cure."""
    listed = r"study.xml has 2 parts \(1 Flute, 2 Bass\): choose one with --part NUMBER or --part NAME"
    with pytest.raises(ReadingError, match=listed):
        read(two_parts())
    for wish in ("3", "0", "Tuba", "", "٣", "9" * 5000):
        with pytest.raises(ReadingError, match="no part"):
            read(two_parts(), part=wish)


@pytest.mark.parametrize("wish", ["2", "Bass", "bass", " BASS ", "ba"])
def test_part_by_number_or_name(wish: str) -> None:
    """A number, a name in any case, or its beginning."""
    assert read(two_parts(), part=wish).details.instrument == "Bass"


def test_marks_of_the_top_part_hold_for_all() -> None:
    """Repeats, rehearsal marks, tempo and chord symbols of the flute hold for the bass."""
    line = read(two_parts(), part="2")
    assert (order(line), line.bars[0].section, line.details.tempo_bpm) == ([1, 1], "A", 90.0)
    assert [chord.symbol for chord in line.bars[0].chords] == ["G7"]
    assert "chord symbols are those of the part Flute" in remarks_of(line)


def test_staves_are_chosen_like_parts() -> None:
    """Each staff of a piano is a choice; a chord over both staves is taken apart."""
    first = f"<divisions>1</divisions>{FOUR_FOUR}<staves>2</staves>"
    low = note("C", 3, 4, "<staff>2</staff>")
    high = note("E", 5, 4, "<staff>1</staff>").replace("<note>", "<note><chord/>")
    data = score(measure(low + high), first=first)
    with pytest.raises(ReadingError, match="1 Vibraphone staff 1, 2 Vibraphone staff 2"):
        read(data)
    with pytest.raises(ReadingError, match="2 parts named 'vib'"):
        read(data, part="vib")
    assert notes_of(read(data, part="1"), 0) == [(0, 4, "E5")]
    assert notes_of(read(data, part="Vibraphone staff 2"), 0) == [(0, 4, "C3")]
