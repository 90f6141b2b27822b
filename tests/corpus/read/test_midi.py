"""The MIDI reader on files made event by event; expected notes are written by hand."""

from pathlib import Path

import music21
import pytest

from corpus.errors import QueryError, ReadingError
from corpus.harmony.chart import parse_chart
from corpus.read.formats import pieces_of, read_piece
from corpus.read.midi_wishes import MidiWishes
from corpus.read.written import ReadingWishes
from corpus.write.midi import midi_of
from tests.corpus.read.midi_help import heads, meta, midi, note, notes, read, remarks
from tests.corpus.write.seed import SEED

MUSIC21 = Path(music21.__file__).parent
SHIPPED = sorted([*(MUSIC21 / "midi" / "testPrimitive").glob("*.mid"), *(MUSIC21 / "omr").glob("*.mid")])
SCALE = "60 62 64 65 67 69 71 72"


def test_swung_eighths_are_written_as_eighths_and_the_ratio_is_told() -> None:
    """Off-beats at two thirds of the beat, eight bars long: eighths, 2 : 1, sure; a triplet among them stays one."""
    played = [e for beat in range(31) for e in [*note(beat, 0.6, 60), *note(beat + 2 / 3, 0.3, 64)]]
    triplet = [e for third in range(3) for e in note(31 + third / 3, 0.3, 67)]
    line = read(midi([*played, *triplet]))
    expected = [(beat / 2, 0.5, 64 if beat % 2 else 60) for beat in range(62)]
    assert heads(line) == expected + [(31 + third / 3, 1 / 3, 67) for third in range(3)]
    assert (
        "bars 1 to 8: eighths swung 2.0 : 1, sure (90 % sure of 2.0 to 2.0, by 31 notes between the beats)"
        in remarks(line)
    )


def test_swing_is_estimated_for_each_passage() -> None:
    """Eight swung bars, then eight straight ones."""
    swung = [e for beat in range(32) for e in [*note(beat, 0.7, 60), *note(beat + 0.71, 0.3, 62)]]
    straight = [e for beat in range(32, 64) for e in [*note(beat, 0.5, 60), *note(beat + 0.5, 0.5, 62)]]
    line = read(midi([*swung, *straight]))
    assert heads(line) == [(beat / 2, 0.5, 62 if beat % 2 else 60) for beat in range(128)]
    assert [text.split(",")[0] for text in remarks(line) if "bars" in text] == [
        "bars 1 to 8: eighths swung 2.4 : 1",
        "bars 9 to 16: straight eighths",
    ]


def test_few_off_beats_make_the_swing_unsure_and_none_unknown() -> None:
    """One late off-beat decides little; quarters decide nothing. The user may settle it."""
    quarters = notes("60 62 64 65 67 69 71 72")
    assert any("nothing tells how eighths swing" in text for text in remarks(read(midi(quarters))))
    loose = [
        e
        for i, bend in enumerate((0.03, -0.04, 0.02, -0.03, 0.05, -0.02, 0.04))
        for e in note(i + 0.06 + bend, 0.9, 60 + i)
    ]
    one = midi([*loose, *note(7.0, 0.6, 67), *note(7.66, 0.4, 69)])
    assert any("unsure" in text for text in remarks(read(one)))
    settled = read(midi([*note(0, 0.5, 60), *note(2 / 3, 0.3, 62), *note(1, 1, 64)]), swing=1)
    assert heads(settled)[1][0] == pytest.approx(2 / 3)
    assert any("as you said" in text for text in remarks(settled))


def test_legato_staccato_and_rests() -> None:
    """What overlaps is cut, what is let go early is filled, a silence of a beat is a rest, a bar line is no limit."""
    line = read(midi([*note(0, 1.3, 60), *note(1, 0.4, 62), *note(2, 0.9, 64), *note(4, 6, 65), *note(10, 0.9, 67)]))
    assert heads(line) == [(0, 1, 60), (1, 1, 62), (2, 1, 64), (4, 6, 65), (10, 1, 67)]
    assert [len([n for n in line.notes if n.bar_index == bar]) for bar in range(3)] == [3, 1, 1]


def test_grace_and_ghost_notes() -> None:
    """A soft note 40 ms before another is its grace note; one half as loud as the others is a ghost note."""
    line = read(
        midi(
            [
                *note(0, 0.9, 60),
                *note(0.92, 0.08, 61, velocity=50),
                *note(1, 0.9, 62),
                *note(2, 0.9, 64, velocity=40),
                *note(3, 0.9, 65),
            ]
        )
    )
    assert heads(line) == [(0, 1, 60), (1, 1, 62), (2, 1, 64), (3, 1, 65)]
    assert [[o.pitch for o in n.ornaments] for n in line.notes] == [[], [61], [], []]
    assert [n.is_ghost for n in line.notes] == [False, False, True, False]


def test_one_note_at_a_time() -> None:
    """Of a chord the top note (or the bottom one), and nothing that sounds inside a longer note."""
    data = midi([*note(0, 1, 60), *note(0, 1, 67), *note(1, 1, 64), *note(2, 2, 72), *note(2.5, 0.5, 48)])
    assert heads(read(data)) == [(0, 1, 67), (1, 1, 64), (2, 2, 72)]
    assert "2 notes sound together with or inside another: left out (see --voice)" in remarks(read(data))
    [piece] = pieces_of(data, "take.mid")
    assert [n.pitch for n in read_piece(piece, ReadingWishes(voice="bottom")).notes] == [60, 64, 72]


def test_the_line_is_chosen_with_words() -> None:
    """Of piano, bass, solo and drums the single line with most notes is read; a track, name or channel is another."""
    piano = [meta(0, "track_name", name="Keys"), *notes(SCALE, channel=1), *notes("48 50 52 53 55 57 59 60", channel=1)]
    bass = [meta(0, "track_name", name="Bass"), *notes("36 38 40 41", channel=2)]
    solo = [meta(0, "track_name", name="Solo"), *notes(SCALE, channel=3)]
    drums = [meta(0, "track_name", name="Kit"), *notes(f"{SCALE} {SCALE}", channel=9)]
    data = midi([meta(0, "track_name", name="Slow Ferry Home")], piano, bass, solo, drums)
    line = read(data)
    assert (len(line.notes), line.details.title) == (8, "Slow Ferry Home")
    assert remarks(line)[0] == (
        "3 tracks or channels have notes (track 2 Keys (16 notes), track 3 Bass (4 notes), track 4 Solo (8 notes)): "
        "track 4 Solo is read, the single line with most notes; --track or --channel chooses another"
    )
    for chosen in (read(data, track="3"), read(data, track="bass"), read(data, channel=3), read(data, part="bass")):
        assert [n.pitch for n in chosen.notes] == [36, 38, 40, 41]
    assert [n.pitch for n in read(data, channel=10).notes][:2] == [60, 62]
    with pytest.raises(ReadingError, match=r"no notes on track 'sax'.*track 3 Bass"):
        read(data, track="sax")
    with pytest.raises(QueryError, match="channel 17"):
        MidiWishes(channel=17)


def test_strings_on_channels_of_their_own_are_one_line() -> None:
    """A bass that sends each string on its channel; two instruments in one track stay apart."""
    strings = [*note(0, 1, 40, channel=0), *note(1, 1, 45, channel=1), *note(2, 1, 50, channel=2)]
    assert [n.pitch for n in read(midi(strings, kind=0)).notes] == [40, 45, 50]
    both = [*notes(SCALE, channel=0), *notes("36 38 40 41", length=2, channel=1)]
    line = read(midi(both, kind=0))
    assert len(line.notes) == 8
    assert "track 1 channel 2" in remarks(line)[0]


def test_meters_tempos_keys_markers_and_chords() -> None:
    """A pickup of one beat, a change to 3/4, a key, sections by markers, chord symbols by texts, the middle tempo."""
    marks = [
        meta(0, "time_signature", numerator=1, denominator=4),
        meta(1, "time_signature", numerator=4, denominator=4),
        meta(9, "time_signature", numerator=3, denominator=4),
        meta(0, "key_signature", key="Bb"),
        meta(0, "set_tempo", tempo=500_000),
        meta(9, "set_tempo", tempo=400_000),
        meta(1, "marker", text="A"),
        meta(9, "marker", text="Bridge"),
        meta(1, "text", text="Bb6"),
        meta(5, "text", text="C♯m7b5"),
        meta(9, "text", text="F7"),
    ]
    line = read(midi([*marks, *notes("58 62 65 63 61 60 58 57 55 53 51 50")]))
    assert [(b.number, str(b.meter), b.length_ticks // 10_080) for b in line.bars] == [
        (0, "4/4", 1),
        (1, "4/4", 4),
        (2, "4/4", 4),
        (3, "3/4", 3),
    ]
    assert [(s.label, s.onset_ticks // 10_080) for s in line.sections] == [("A", 0), ("Bridge", 9)]
    assert [(c.symbol, c.onset_ticks // 10_080) for c in line.chords] == [("Bb6", 1), ("C♯m7b5", 5), ("F7", 9)]
    assert (str(line.details.key), line.details.tempo_bpm) == ("Bb major", 120)
    assert "the tempo changes between 120 and 150: 120 is kept" in remarks(line)
    assert [n.spelling for n in line.notes] == [
        "Bb3",
        "D4",
        "F4",
        "Eb4",
        "Db4",
        "C4",
        "Bb3",
        "A3",
        "G3",
        "F3",
        "Eb3",
        "D3",
    ]


def test_compound_and_uneven_meters() -> None:
    """Eighths of 6/8 are not swung, nor those of 7/8."""
    six = [meta(0, "time_signature", numerator=6, denominator=8), *notes("60 62 64 65 67 69 71 72 74", length=0.5)]
    assert heads(read(midi(six))) == [(i / 2, 0.5, p) for i, p in enumerate((60, 62, 64, 65, 67, 69, 71, 72, 74))]
    seven = [meta(0, "time_signature", numerator=7, denominator=8), *notes("60 62 64 65 67 69 71 72", length=0.5)]
    assert heads(read(midi(seven))) == [(i / 2, 0.5, p) for i, p in enumerate((60, 62, 64, 65, 67, 69, 71, 72))]


def test_where_the_line_begins() -> None:
    """Empty bars before it are left out, a late start after a count-in is a pickup; the user may say the first bar."""
    late = midi(notes("62 64 65 67 69", start=7))
    line = read(late)
    assert [(b.number, b.length_ticks // 10_080) for b in line.bars] == [(0, 1), (1, 4)]
    assert "1 empty bar before the line left out; --first-bar 1 keeps them" in remarks(line)
    assert [b.number for b in read(late, first_bar=1).bars] == [1, 2, 3]
    assert heads(read(late, first_bar=3))[0] == (0, 1, 62)
    assert [b.number for b in read(late, first_bar=2).bars] == [1, 2]
    marked = midi([meta(4, "marker", text="A"), *notes("62 64 65 67 69", start=7)])
    assert [b.number for b in read(marked).bars] == [1, 2]
    with pytest.raises(ReadingError, match="ends before bar 30"):
        read(late, first_bar=30)


def test_a_chart_is_laid_over_and_names_the_notes() -> None:
    """D flat under E flat seven, C sharp under A seven."""
    data = midi([meta(0, "set_tempo", tempo=300_000), *notes("61 63 67 61 61 64 69 61")])
    [piece] = pieces_of(data, "take.mid")
    chart = parse_chart("key: Ab\n| Eb7 | A7 |", "changes")
    line = read_piece(piece, ReadingWishes(chart=chart))
    assert [n.spelling for n in line.notes] == ["Db4", "Eb4", "G4", "Db4", "C#4", "E4", "A4", "C#4"]


def test_playing_behind_the_beat_is_told_and_cured() -> None:
    """Everything 40 ms late at 120 a minute is still on the beat."""
    line = read(midi([e for i in range(16) for e in note(i + 0.08, 0.9, 60 + i % 5)]))
    assert [onset for onset, _, _ in heads(line)] == list(range(16))
    assert any("behind the beat" in text for text in remarks(line))


def test_what_we_write_comes_back() -> None:
    """Every seed line through our MIDI: notes, chords and sections the same; graces too; dead notes as ghost notes."""
    for path in (SEED / "nettle_soup_castlemoor.musicxml",):
        [piece] = pieces_of(path.read_bytes(), path.name)
        line = read_piece(piece, ReadingWishes())
        back = read(midi_of(line))
        for before, after in zip(line.notes, back.notes, strict=True):
            assert (after.onset_ticks, after.duration_ticks) == (before.onset_ticks, before.duration_ticks)
            assert after.pitch == before.pitch or before.is_dead
            assert after.is_ghost == (before.is_ghost or before.is_dead)
            assert [o.pitch for o in after.ornaments] == [o.pitch for o in before.ornaments]
        assert [(c.symbol, c.onset_ticks) for c in back.chords] == [(c.symbol, c.onset_ticks) for c in line.chords]
        assert back.sections == line.sections
        named = sum(a.spelling == b.spelling for a, b in zip(line.notes, back.notes, strict=True))
        assert named >= 0.95 * len(line.notes)
        assert (back.details.title, back.details.instrument) == (line.details.title, line.details.instrument)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_the_files_that_music21_ships_are_read(path: Path) -> None:
    """Pianos, quartets, an orchestra, bends, pickups: each gives notes in bars, and music21 knows every pitch."""
    [piece] = pieces_of(path.read_bytes(), path.name)
    line = read_piece(piece, ReadingWishes())
    assert line.notes
    assert len(line.bars) >= 1
    assert all(note.duration_ticks > 0 for note in line.notes)


def test_music21_hears_the_same_pitches() -> None:
    """A monophonic file that music21 ships, read by both: the same pitches in order, and the same onsets."""
    path = MUSIC21 / "midi" / "testPrimitive" / "test01.mid"
    score = music21.converter.parse(path, forceSource=True)
    theirs = [(float(n.offset), n.pitch.midi) for n in score.flatten().getElementsByClass(music21.note.Note)]
    [piece] = pieces_of(path.read_bytes(), path.name)
    assert [(onset, pitch) for onset, _, pitch in heads(read_piece(piece, ReadingWishes()))] == theirs
