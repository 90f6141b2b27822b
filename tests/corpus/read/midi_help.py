"""MIDI files made event by event with mido, and read."""

import io
import struct
from collections.abc import Iterable, Sequence
from typing import Any

import mido

from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.midi_wishes import MidiWishes
from corpus.read.written import ReadingWishes

TICKS = 480
Event = tuple[float, Any]
"""A place in quarters and a mido message."""


def note(at: float, length: float, pitch: int, velocity: int = 90, channel: int = 0) -> list[Event]:
    """A note as two events."""
    return [
        (at, mido.Message("note_on", note=pitch, velocity=velocity, channel=channel)),
        (at + length, mido.Message("note_off", note=pitch, channel=channel)),
    ]


def notes(text: str, length: float = 1.0, start: float = 0.0, **more: int) -> list[Event]:
    """Notes of one length in a row, by MIDI number; ``-`` is a rest."""
    places = enumerate(text.split())
    return [event for i, word in places if word != "-" for event in note(start + i * length, length, int(word), **more)]


def meta(at: float, kind: str, **values: Any) -> Event:
    """A meta event."""
    return at, mido.MetaMessage(kind, **values)


def midi(*tracks: Iterable[Event], kind: int = 1, ticks: int = TICKS) -> bytes:
    """A file of tracks."""
    file = mido.MidiFile(type=kind, ticks_per_beat=ticks, charset="utf-8")
    for events in tracks:
        track = mido.MidiTrack()
        before = 0
        # Ends come before beginnings, as sequencers write them.
        for at, message in sorted(events, key=lambda event: (event[0], event[1].type == "note_on")):
            tick = round(at * ticks)
            track.append(message.copy(time=tick - before))
            before = tick
        file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def raw(*tracks: bytes, kind: int = 0, division: int = TICKS, count: int | None = None) -> bytes:
    """A file of track bytes, whatever they are."""
    head = b"MThd" + struct.pack(">IHHH", 6, kind, len(tracks) if count is None else count, division)
    return head + b"".join(b"MTrk" + struct.pack(">I", len(track)) + track for track in tracks)


def read(data: bytes, part: str | None = None, **midi_wishes: Any) -> Transcription:
    """The line of a file."""
    [piece] = pieces_of(data, "take.mid")
    return read_piece(piece, ReadingWishes(part=part, midi=MidiWishes(**midi_wishes)))


def heads(line: Transcription) -> list[tuple[float, float, int | None]]:
    """Onset and duration in quarters, and pitch, of every note."""
    return [(n.onset_ticks / TICKS_PER_QUARTER, n.duration_ticks / TICKS_PER_QUARTER, n.pitch) for n in line.notes]


def remarks(line: Transcription) -> Sequence[str]:
    """What the reader has to say."""
    return [finding.text for finding in line.findings if finding.kind == "reading"]
