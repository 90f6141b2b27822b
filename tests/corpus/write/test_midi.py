"""MIDI files, read back by two other libraries: mido and symusic."""

import io
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from corpus.errors import QueryError
from corpus.harmony.symbols import parse_symbol
from corpus.lesson.schedule import schedule_of
from corpus.model import TICKS_PER_QUARTER, Details, Meter, Transcription
from corpus.pitch import parse_spelling
from corpus.write.midi import MidiOptions, midi_of
from corpus.write.programs import program_of
from corpus.write.voicing import voicing_of
from tests.corpus.write.seed import abc_line, seed_lines

LINES = pytest.mark.parametrize("line", seed_lines(), ids=lambda t: f"{t.details.title}-{t.details.player.split()[0]}")
Q = TICKS_PER_QUARTER

Played = tuple[int, int, int]
"""Onset and length in ticks, and pitch."""


def by_mido(data: bytes, track: int = 1) -> list[Played]:
    """The notes of a track as mido reads them."""
    import mido

    file = mido.MidiFile(file=io.BytesIO(data), charset="utf-8")
    assert file.ticks_per_beat == Q
    at, open_notes, found = 0, {}, []
    for message in file.tracks[track]:
        at += message.time
        if message.type == "note_on" and message.velocity:
            assert message.note not in open_notes
            open_notes[message.note] = at
        elif message.type in ("note_on", "note_off"):
            start = open_notes.pop(message.note)
            found.append((start, at - start, message.note))
    assert not open_notes
    return sorted(found)


def by_symusic(data: bytes, track: int = 0) -> list[Played]:
    """The same as symusic reads them; it leaves out tracks without notes."""
    import symusic

    score: Any = symusic.Score.from_midi(data)
    assert score.ticks_per_quarter == Q
    return sorted((note.time, note.duration, note.pitch) for note in score.tracks[track].notes)


def meta(data: bytes, kind: str, name: str) -> list[tuple[int, Any]]:
    """The messages of a kind in the first track, as ticks and one field."""
    import mido

    at, found = 0, []
    for message in mido.MidiFile(file=io.BytesIO(data), charset="utf-8").tracks[0]:
        at += message.time
        if message.type == kind:
            found.append((at, getattr(message, name)))
    return found


def expected(line: Transcription) -> list[Played]:
    """The pitched notes of a line."""
    return sorted((n.onset_ticks, n.duration_ticks, n.pitch) for n in line.notes if n.pitch is not None)


@LINES
def test_other_libraries_read_the_notes_of_every_seed_line(line: Transcription) -> None:
    """Onset, length and pitch; besides these only ornaments (which may end the note before) and dead notes."""
    data = midi_of(line)
    extra = sum(len(n.ornaments) for n in line.notes) + sum(n.is_dead for n in line.notes)
    for found in (by_mido(data), by_symusic(data)):
        assert {(onset, pitch) for onset, _, pitch in expected(line)} <= {(onset, pitch) for onset, _, pitch in found}
        before_graces = {note.onset_ticks for note, after in pairwise(line.notes) if after.ornaments}
        assert {one for one in expected(line) if one[0] not in before_graces} <= set(found)
        assert len(expected(line)) <= len(found) <= len(expected(line)) + extra
    assert by_mido(data) == by_symusic(data)


@LINES
def test_tempo_sections_and_chords_stand_in_the_first_track(line: Transcription) -> None:
    """Markers and texts at the ticks of the line, the tempo as microseconds a quarter."""
    data = midi_of(line)
    ((_, tempo),) = meta(data, "set_tempo", "tempo")
    assert tempo == pytest.approx(60_000_000 / (line.details.tempo_bpm or 120), abs=1)
    assert meta(data, "marker", "text") == [(s.onset_ticks, s.label) for s in line.sections]
    assert meta(data, "text", "text") == [(c.onset_ticks, c.symbol) for c in line.chords]


@pytest.mark.parametrize("line", seed_lines()[::4], ids=lambda line: line.details.title)
def test_a_lesson_page_plays_when_the_file_does(line: Transcription) -> None:
    """The page's schedule beside the seconds that symusic reads from the file: dead and grace notes left out.

    A tick of the file is less than a millisecond at these tempos.
    """
    import symusic

    played: Any = symusic.Score.from_midi(midi_of(line), ttype="second")
    page = [sound for sound in schedule_of(line, 0, len(line.bars) - 1).sounds if sound.pitch is not None]
    theirs = sorted((note.time, note.pitch) for note in played.tracks[0].notes)
    for sound in page:
        assert any(abs(time - sound.start) < 0.002 and pitch == sound.pitch for time, pitch in theirs), sound
    graces = sum(len(note.ornaments) for note in line.notes)
    dead = sum(note.pitch is None for note in line.notes)
    assert len(theirs) == len(page) + graces + dead


def test_a_count_in_shifts_everything_by_whole_bars() -> None:
    """Two bars of 3/4 with clicks on each beat, high on the first; the first chord's text moves too."""
    line = abc_line('"Dm"D2 F2 G2 | "G7"A6 |]', meter="3/4")
    plain, counted = midi_of(line), midi_of(line, MidiOptions(count_in_bars=2))
    assert by_mido(counted) == [(onset + 6 * Q, length, pitch) for onset, length, pitch in by_mido(plain)]
    assert [(at, pitch) for at, _, pitch in by_mido(counted, 2)] == [
        (0, 76), (Q, 77), (2 * Q, 77), (3 * Q, 76), (4 * Q, 77), (5 * Q, 77)
    ]  # fmt: skip
    assert meta(counted, "text", "text") == [(6 * Q, "Dm"), (9 * Q, "G7")]
    assert meta(counted, "time_signature", "numerator") == [(0, 3)]


def test_a_pickup_enters_in_the_bar_that_its_count_in_leaves_open() -> None:
    """A pickup of one quarter in 4/4: after one bar and three beats; without count-in a bar of its own length."""
    line = abc_line("G2 | c8 |]")
    assert [onset for onset, _, _ in by_mido(midi_of(line, MidiOptions(count_in_bars=1)))] == [7 * Q, 8 * Q]
    clicks = by_mido(midi_of(line, MidiOptions(count_in_bars=1, metronome=True)), 2)
    assert [onset // Q for onset, _, pitch in clicks if pitch == 76] == [0, 4, 8]
    assert [onset // Q for onset, _, _ in clicks] == list(range(12))
    plain = midi_of(line)
    assert meta(plain, "time_signature", "numerator") == [(0, 1), (Q, 4)]


def test_a_metronome_clicks_the_felt_beat() -> None:
    """Two clicks a bar of 6/8, four a bar of 4/4, on channel 10."""
    import mido

    six, four = abc_line("c6 | c6 |]", meter="6/8"), abc_line("c8 |]")
    assert [(at, p) for at, _, p in by_mido(midi_of(six, MidiOptions(metronome=True)), 2)] == [
        (0, 76), (3 * Q // 2, 77), (3 * Q, 76), (9 * Q // 2, 77)
    ]  # fmt: skip
    data = midi_of(four, MidiOptions(metronome=True))
    assert len(by_mido(data, 2)) == 4
    channels = {m.channel for m in mido.MidiFile(file=io.BytesIO(data)).tracks[2] if m.type == "note_on"}
    assert channels == {9}


def test_ghost_notes_are_softer_and_dead_notes_short() -> None:
    """A ghost note keeps its length; a dead one lasts an eighth of a quarter at the pitch before."""
    import mido

    line = abc_line("c2 d2 e2 f2 |]")
    notes = list(line.notes)
    notes[1] = notes[1]._replace(is_ghost=True)
    notes[2] = notes[2]._replace(pitch=None, spelling="")
    data = midi_of(replace(line, notes=tuple(notes)))
    assert by_mido(data) == [(0, Q, 72), (Q, Q, 74), (2 * Q, Q // 8, 74), (3 * Q, Q, 77)]
    strokes = [m.velocity for m in mido.MidiFile(file=io.BytesIO(data)).tracks[1] if m.type == "note_on"]
    assert strokes[1] < strokes[0] == strokes[3]
    assert strokes[2] < strokes[0]


def test_grace_notes_sound_before_their_note_and_take_no_time_from_it() -> None:
    """Two graces before the second note; the main notes stand where they stood."""
    line = abc_line("c4 {de}f4 |]")
    found = by_mido(midi_of(line))
    assert (0, 2 * Q, 72) in found
    assert (2 * Q, 2 * Q, 77) in found
    assert [(at, pitch) for at, _, pitch in found[1:3]] == [(2 * Q - Q // 6, 74), (2 * Q - Q // 12, 76)]


def test_a_pitch_struck_again_before_it_ends_is_ended_there() -> None:
    """Overlapping notes of one pitch, as an import may hold them, stay two notes for other readers."""
    line = abc_line("c4 c4 |]")
    longer = replace(line, notes=(line.notes[0]._replace(duration_ticks=3 * Q), line.notes[1]))
    assert by_mido(midi_of(longer)) == by_symusic(midi_of(longer)) == [(0, 2 * Q, 72), (2 * Q, 2 * Q, 72)]


def test_several_tempos_play_the_music_as_often() -> None:
    """Each time with its count-in and its tempo."""
    line = abc_line("c8 | d8 |]")
    data = midi_of(line, MidiOptions(tempos=(60, 90), count_in_bars=1))
    assert meta(data, "set_tempo", "tempo") == [(0, 1_000_000), (12 * Q, 666_667)]
    assert [(at // Q, pitch) for at, _, pitch in by_mido(data)] == [(4, 72), (8, 74), (16, 72), (20, 74)]


def test_an_excerpt_begins_at_once_under_the_chord_in_force() -> None:
    """Bar 2 alone: its notes from tick 0; a note that rings on is cut at the last bar."""
    line = abc_line('"C"c4 d4- | d4 e4- | e8 |]')
    data = midi_of(line, MidiOptions(first_bar=1, last_bar=1))
    assert by_mido(data) == [(2 * Q, 2 * Q, 76)]
    assert meta(data, "text", "text") == [(0, "C")]


def test_hostile_texts_are_cleaned() -> None:
    """Control characters, changes of direction, a title of a megabyte, letters outside Latin-1."""
    line = abc_line("c8 |]")
    for title in ("\x1b[31mred\x00\r\n", "\u202egnp.exe", "T" * 1_000_000, "Žluťoučký 🎵 ♭", ""):
        data = midi_of(replace(line, details=Details(title=title, instrument=title)))
        ((_, name),) = meta(data, "track_name", "name")
        assert name.isprintable()
        assert 0 < len(name) <= 200
        assert by_mido(data) == by_symusic(data) == [(0, 4 * Q, 72)]


def test_a_bar_of_another_length_gets_the_meter_of_its_length() -> None:
    """Half a bar of 4/4 between two whole ones is 2/4, so that bar lines stay where they are."""
    line = abc_line("c8 | d8 | e8 |]")
    half = replace(line.bars[1], length_ticks=2 * Q)
    last = replace(line.bars[2], onset_ticks=6 * Q)
    notes = (line.notes[0], line.notes[1]._replace(duration_ticks=2 * Q), line.notes[2]._replace(onset_ticks=6 * Q))
    data = midi_of(replace(line, bars=(line.bars[0], half, last), notes=notes))
    assert meta(data, "time_signature", "numerator") == [(0, 4), (4 * Q, 2), (6 * Q, 4)]


@pytest.mark.parametrize(
    ("key", "name"), [("Bb", "Bb"), ("Cm", "Cm"), ("D dorian", "C"), ("F# minor", "F#m"), ("Cb", "Cb")]
)
def test_key_signatures_are_those_of_the_key(key: str, name: str) -> None:
    """Church modes bear the signature of their major key."""
    line = abc_line("c8 |]", key=key)
    assert meta(midi_of(line), "key_signature", "key") == [(0, name)]


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("C", "C4 E4 G4"),
        ("Cm7", "C4 Eb4 G4 Bb4"),
        ("F7", "F3 A3 C4 Eb4"),
        ("Bb6", "Bb3 D4 F4 G4"),
        ("G7(b9)", "G3 B3 D4 F4 Ab4"),
        ("Am7b5", "A3 C4 Eb4 G4"),
        ("C/E", "E3 C4 E4 G4"),
        ("N.C.", ""),
    ],
)
def test_chords_stand_in_root_position_near_middle_c(symbol: str, names: str) -> None:
    """By hand: the octave whose middle is nearest to C4; a slash bass below the root."""
    assert voicing_of(parse_symbol(symbol)) == tuple(parse_spelling(name).pitch for name in names.split())


def test_every_voicing_holds_the_tones_of_its_chord() -> None:
    """The pitch classes of the symbol, none twice in one octave, all within an octave and two thirds of middle C."""
    for root in ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"):
        for suffix in ("", "m", "7", "maj7", "m7b5", "dim7", "7alt", "13", "6/9", "m11", "sus4", "7#11", "/F", "m/D"):
            symbol = parse_symbol(root + suffix)
            pitches = voicing_of(symbol)
            assert {pitch % 12 for pitch in pitches} == symbol.pitch_classes
            assert list(pitches) == sorted(set(pitches))
            assert all(abs(pitch - 60) <= 20 for pitch in pitches), (symbol.text, pitches)


def test_chords_are_held_until_the_next_one() -> None:
    """A chord that cannot be read is silent, and no error."""
    line = abc_line('"C"c4 "F7"d4 | "N.C."e8 |]')
    found = by_mido(midi_of(line, MidiOptions(chords=True)), 2)
    assert found == sorted([(0, 2 * Q, p) for p in (60, 64, 67)] + [(2 * Q, 2 * Q, p) for p in (53, 57, 60, 63)])


@pytest.mark.parametrize(
    ("name", "program"),
    [
        ("Double bass", 32), ("electric bass", 33), ("Tenor saxophone", 66), ("Bass trombone", 57), ("guitar", 26),
        ("Trumpet in Bb", 56), ("bass clarinet", 71), ("Zither", 0),
    ],
)  # fmt: skip
def test_instruments_sound_by_their_names(name: str, program: int) -> None:
    """Programs of General MIDI Level 1, counted from 0 (recalled from memory)."""
    line = abc_line("c8 |]", instrument=name)
    assert program_of(line) == program


@pytest.mark.parametrize(
    "options",
    [{"tempos": (0.0,)}, {"tempos": (float("nan"),)}, {"tempos": (1e9,)}, {"count_in_bars": -1}, {"count_in_bars": 99}],
)
def test_tempos_and_count_ins_that_nobody_can_play_are_refused(options: dict[str, Any]) -> None:
    """With the limits in the message."""
    with pytest.raises(QueryError, match=r"\d+ to \d+"):
        MidiOptions(**options)


def test_five_sevenths_and_thirds_are_exact() -> None:
    """Tuplets that many files round: the sum of a septuplet is its beat."""
    line = abc_line("(7:4:7ccccccc (5:4:5ccccc | c8 |]", unit="1/8")
    onsets: Sequence[int] = [onset for onset, _, _ in by_symusic(midi_of(line))]
    assert onsets[7] == 2 * Q
    assert Fraction(onsets[1], Q) == Fraction(2, 7)
    assert Meter(4, 4).bar_ticks == 4 * Q
