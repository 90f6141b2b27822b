"""MIDI files that no sequencer should write: read, or refused in words."""

import random
import struct
from contextlib import suppress

import mido
import pytest

from corpus.errors import ReadingError, WellwornError
from tests.corpus.read.midi_help import heads, meta, midi, note, notes, raw, read, remarks

GOOD = midi(notes("60 62 64 65"))
END = b"\0\xff\x2f\0"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"MThd\0\0\0\x06\0\0", "does not begin with a MIDI header"),
        (b"RIFF\0\0\0\0WAVEdata", "does not begin with a MIDI header"),
        (GOOD[:14], "has no track"),
        (GOOD[:-5], "is cut off: track 1 should have"),
        (raw(b"\0\x90\x3c", kind=0), "is damaged"),
        (raw(END, division=0), "0 ticks to a quarter"),
        (raw(END, division=0xE700), "frames of no ticks"),
        (raw(END, kind=3), "type 3"),
        (raw(END), "has no notes"),
        (midi(notes("36 38", channel=9)), "percussion only"),
        (raw(*[END] * 1025), "1,025 tracks"),
        (b"MThd" + b"\0" * (5 << 20), "of MIDI at most 4 MB"),
        (raw(b"\x8f\xff\xff\x7f\x90\x3c\x40" * 9 + b"\x60\x80\x3c\0" + END, division=1), "cut out the silence"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(data: bytes, words: str) -> None:
    """Cut off, empty, endless, of unknown type: each has its own words and never a traceback."""
    with pytest.raises(ReadingError, match=words):
        read(data)


def test_odd_files_that_can_be_read() -> None:
    """A wrong count of tracks, unknown chunks, RIFF wrapping, unknown keys, signatures and frame rates."""
    track = midi([*notes("60 62 64 65")])[14:]
    alien = b"XFIH" + struct.pack(">I", 4) + b"abcd"
    head = b"MThd" + struct.pack(">IHHH", 6, 1, 7, 480)
    assert len(read(head + alien + track).notes) == 4
    wrapped = b"RIFF" + struct.pack("<I", 30) + b"RMIDdata" + struct.pack("<I", 20)
    assert len(read(wrapped + head + track).notes) == 4
    strange = b"\0\xff\x59\x02\x55\x07" + b"\0\xff\x54\x05\xff\0\0\0\0" + b"\0\xff\x58\x04\x04\x09\x18\x08"
    line = read(raw(strange + b"\0\x90\x3c\x40\x83\x60\x80\x3c\0" + END))
    assert heads(line) == [(0, 1, 60)]
    assert "a time signature that cannot be is left out" in remarks(line)


def test_notes_that_are_never_ended() -> None:
    """The next note ends them; the last one lasts a quarter."""
    events = [(at, mido.Message("note_on", note=60 + at, velocity=90)) for at in range(4)]
    line = read(midi(events))
    assert heads(line) == [(0, 1, 60), (1, 1, 61), (2, 1, 62), (3, 1, 63)]
    assert "4 notes are never ended: the next note ends it" in remarks(line)


def test_a_file_that_counts_in_seconds() -> None:
    """SMPTE, 25 frames of 40 ticks: a thousand ticks a second, half a second a quarter at 120."""
    body = b"".join(b"\0\x90" + bytes([60 + i, 90]) + b"\x83\x74\x80" + bytes([60 + i, 0]) for i in range(4))
    line = read(raw(body + END, division=0xE728))
    assert heads(line) == [(0, 1, 60), (1, 1, 61), (2, 1, 62), (3, 1, 63)]
    assert any("SMPTE" in text for text in remarks(line))


def test_pieces_apart() -> None:
    """Type 2: each track has its own meters and tempos."""
    one = [meta(0, "time_signature", numerator=3, denominator=4), *notes("60 62 64")]
    two = [meta(0, "time_signature", numerator=5, denominator=4), *notes("60 62 64 65 67")]
    line = read(midi(one, two, kind=2))
    assert (str(line.details.meter), len(line.notes)) == ("5/4", 5)
    assert any("pieces apart" in text for text in remarks(line))


def test_a_burst_of_notes_is_read() -> None:
    """Forty notes in a beat, and notes of no length at all."""
    burst = [e for i in range(40) for e in note(i / 40, 0.02, 40 + i)]
    assert [pitch for _, _, pitch in heads(read(midi(burst)))][-1] == 79
    assert len(read(midi([*note(0, 0, 60), *note(1, 0, 62)])).notes) == 2


def test_too_many_notes_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """More than a line has; the limit is lowered here, as a million events take a while to parse."""
    monkeypatch.setattr("corpus.read.midi.MOST_NOTES", 20)
    monkeypatch.setattr("corpus.read.midi_choice.MOST_NOTES", 20)
    body = b"\x10\x90\x3c\x40\x10\x90\x3c\0" + b"\x10\x3c\x40\x10\x3c\0" * 20
    with pytest.raises(ReadingError, match="21 notes; a line of at most 20"):
        read(raw(body + END))


def test_damaged_bytes_never_break_the_reader() -> None:
    """Forty files with random bytes changed, cut or added, seeded: music, or words."""
    source = random.Random(8)
    whole = midi(
        [
            meta(0, "key_signature", key="Bb"),
            meta(0, "time_signature", numerator=3, denominator=4),
            meta(0, "marker", text="A"),
        ],
        notes("60 62 64 65 67 69"),
    )
    for _ in range(40):
        data = bytearray(whole)
        for _ in range(source.randint(1, 4)):
            place = source.randrange(len(data))
            what = source.choice(("change", "cut", "add"))
            if what == "change":
                data[place] = source.randrange(256)
            elif what == "cut":
                del data[place : place + source.randint(1, 9)]
            else:
                data[place:place] = bytes(source.randrange(256) for _ in range(3))
        with suppress(WellwornError):
            assert read(bytes(data)).notes


def test_more_notes_in_a_beat_than_anybody_plays_are_refused() -> None:
    """A file whose ticks are not those of its music: 64 notes in a beat are read, 65 are refused, with the bar."""

    def crowd(count: int) -> bytes:
        # A bar of silence, then so many notes of four ticks, one every seven, in the first beat of bar 2.
        strokes = [b"\0" + bytes((0x90, 40 + i % 9, 80)) + b"\4" + bytes((0x80, 40 + i % 9, 0)) for i in range(count)]
        gaps = [b"\x90\0\xff\x01\0", *[b"\3\xff\x01\0"] * (count - 1)]
        return raw(b"".join(gap + stroke for gap, stroke in zip(gaps, strokes, strict=True)) + END, division=512)

    assert read(crowd(64)).notes
    with pytest.raises(ReadingError, match=r"bar 2: 65 notes begin in one beat.*record it to a click"):
        read(crowd(65))
