"""The bytes of a Standard MIDI File as played notes and marks, by track. mido parses the events.

Chunks are looked over first: unknown ones are left out, as the standard wants, a RIFF wrapping is taken off, a wrong
number of tracks is put right, and key signatures and SMPTE offsets that no reader understands are blanked. Source:
Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1996), from memory, checked in the tests with other readers.
"""

import io
import re
import struct
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from corpus.errors import ReadingError
from corpus.text import clean_text

if TYPE_CHECKING:
    from mido import MidiFile

LARGEST_MIDI_BYTES: Final = 4 * 1024 * 1024
"""More than a million events, a thousand times what a chorus needs; mido takes about 700 bytes of memory for each."""
DRUM_CHANNEL: Final = 10
_HEAD: Final = b"MThd"
_TRACK: Final = b"MTrk"
_MOST_TRACKS: Final = 1024
_SOUNDING_BEND: Final = 1024
"""A bend of a quarter tone, where the wheel reaches a whole tone each way (its default)."""
_SUSTAIN: Final = 64


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note as it was played: ticks of the file, MIDI number, velocity 1 to 127, channel from 1.

    ``end`` is None for a note that is never ended.
    """

    start: int
    end: int | None
    pitch: int
    velocity: int
    channel: int


@dataclass(frozen=True, slots=True)
class Mark:
    """A tempo (microseconds a quarter), meter (pair), key (mido's name) or text at a tick of the file."""

    tick: int
    value: Any


@dataclass
class MidiTrack:
    """One track: names, notes by start, programs by channel (from 0, as sent), and its marks by kind."""

    number: int
    name: str = ""
    instrument: str = ""
    notes: list[PlayedNote] = field(default_factory=list)
    programs: dict[int, int] = field(default_factory=dict)
    marks: dict[str, list[Mark]] = field(default_factory=dict)
    bends: int = 0
    pedals: int = 0
    end: int = 0

    def marks_of(self, kind: str) -> list[Mark]:
        """The marks of a kind, in order."""
        return self.marks.get(kind, [])


@dataclass(frozen=True, slots=True)
class MidiSong:
    """A file: its type (0 one track, 1 tracks together, 2 tracks apart), and how long a tick is.

    ``ticks_a_quarter`` is 0 where the file counts in seconds: then ``ticks_a_second`` tells.
    """

    kind: int
    tracks: tuple[MidiTrack, ...]
    ticks_a_quarter: int
    ticks_a_second: Fraction = Fraction(0)


def midi_song(data: bytes, name: str) -> MidiSong:
    """The file's content. Raises ReadingError for what is no MIDI file, is cut off, damaged or too large."""
    if len(data) > LARGEST_MIDI_BYTES:
        raise ReadingError(
            f"{name} has {len(data) / 2**20:.1f} MB; of MIDI at most {LARGEST_MIDI_BYTES >> 20} MB are read: "
            "save the line's track alone"
        )
    kind, division, cured = _cured(data, name)
    from mido import MidiFile

    try:
        file = MidiFile(file=io.BytesIO(cured), clip=True)
    except Exception as error:
        # The one place where mido parses: whatever it raises means that this file cannot be read.
        raise ReadingError(f"{name} is damaged: its events cannot be read ({error or type(error).__name__})") from error
    tracks = tuple(_track(number, messages) for number, messages in enumerate(_tracks(file), start=1))
    if division >= 0x8000:
        frames = 256 - (division >> 8)
        # 29 stands for 29.97 frames a second, as television counts.
        rate = Fraction(30_000, 1001) if frames == 29 else Fraction(frames)
        if not division & 0xFF:
            raise ReadingError(f"{name} counts frames of no ticks: its header is damaged")
        return MidiSong(kind, tracks, 0, rate * (division & 0xFF))
    return MidiSong(kind, tracks, division)


def _cured(data: bytes, name: str) -> tuple[int, int, bytes]:
    """Type, division and the bytes for mido: header and tracks alone."""
    if data[:4] == b"RIFF":
        data = data[max(data.find(_HEAD, 0, 256), 0) :]
    if data[:4] != _HEAD or len(data) < 14:
        raise ReadingError(f"{name} is no MIDI file: it does not begin with a MIDI header")
    length, kind, _, division = struct.unpack(">IHHH", data[4:14])
    if kind > 2:
        raise ReadingError(f"{name} is MIDI of type {kind}, which is unknown: save it as type 0 or 1")
    if division == 0:
        raise ReadingError(f"{name} has 0 ticks to a quarter note: its header is damaged")
    at = 8 + length
    tracks: list[bytes] = []
    while at + 8 <= len(data):
        mark, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        body = data[at + 8 : at + 8 + size]
        if mark == _TRACK:
            if len(body) < size:
                raise ReadingError(
                    f"{name} is cut off: track {len(tracks) + 1} should have {size:,} bytes and has {len(body):,}"
                )
            tracks.append(mark + struct.pack(">I", size) + _blanked(body))
        at += 8 + size
    if not tracks:
        raise ReadingError(f"{name} has no track: it is cut off, or no MIDI file")
    if len(tracks) > _MOST_TRACKS:
        raise ReadingError(f"{name} has {len(tracks):,} tracks; at most {_MOST_TRACKS:,} are read")
    # mido is told a plain division: it takes a count of seconds for a negative number of ticks.
    header = _HEAD + struct.pack(">IHHH", 6, kind, len(tracks), division if division < 0x8000 else 480)
    return kind, division, header + b"".join(tracks)


def _blanked(body: bytes) -> bytes:
    """A track without the key signatures and SMPTE offsets that stop mido."""

    def key(found: re.Match[bytes]) -> bytes:
        fifths, mode = struct.unpack("bB", found[1])
        return found[0] if abs(fifths) <= 7 and mode <= 1 else b"\xff\x59\x02\0\0"

    body = re.sub(rb"\xff\x59\x02(..)", key, body, flags=re.DOTALL)
    return re.sub(rb"\xff\x54\x05.", b"\xff\x54\x05\0", body, flags=re.DOTALL)


def _tracks(file: "MidiFile") -> Iterable[Iterable[Any]]:
    tracks: Iterable[Iterable[Any]] = file.tracks
    return tracks


def _text(text: str) -> str:
    """A text of the file: UTF-8 where it is that, else Latin 1, as mido has read it; cleaned."""
    try:
        return clean_text(text.encode("latin-1").decode("utf-8"))
    except (UnicodeDecodeError, UnicodeEncodeError):
        return clean_text(text)


def _track(number: int, messages: Iterable[Any]) -> MidiTrack:
    track = MidiTrack(number)
    sounding: _Sounding = {}
    tick = 0
    for message in messages:
        tick += message.time
        if message.type in ("note_on", "note_off"):
            _note(track, sounding, tick, message)
        elif message.is_meta:
            _meta(track, tick, message)
        elif message.type == "program_change":
            track.programs.setdefault(message.channel, message.program)
        elif message.type == "pitchwheel":
            track.bends += abs(message.pitch) >= _SOUNDING_BEND
        elif message.type == "control_change":
            track.pedals += message.control == _SUSTAIN and message.value >= 64
    track.end = tick
    for (channel, pitch), begun in sounding.items():
        track.notes += [PlayedNote(start, None, pitch, velocity, channel + 1) for start, velocity in begun]
    track.notes.sort(key=lambda note: (note.start, note.pitch))
    return track


_Sounding = dict[tuple[int, int], deque[tuple[int, int]]]
"""Starts and velocities of the notes that sound, by channel and pitch."""


def _note(track: MidiTrack, sounding: _Sounding, tick: int, message: Any) -> None:
    """Begin or end a note; of several of one pitch the one begun first ends first."""
    begun = sounding.setdefault((message.channel, message.note), deque())
    if message.type == "note_on" and message.velocity > 0:
        begun.append((tick, message.velocity))
    elif begun:
        start, velocity = begun.popleft()
        track.notes.append(PlayedNote(start, tick, message.note, velocity, message.channel + 1))


def _meta(track: MidiTrack, tick: int, message: Any) -> None:
    if message.type == "track_name":
        track.name = track.name or _text(message.name)
    elif message.type == "instrument_name":
        track.instrument = track.instrument or _text(message.name)
    elif message.type == "set_tempo":
        track.marks.setdefault("tempo", []).append(Mark(tick, message.tempo))
    elif message.type == "time_signature":
        track.marks.setdefault("meter", []).append(Mark(tick, (message.numerator, message.denominator)))
    elif message.type == "key_signature":
        track.marks.setdefault("key", []).append(Mark(tick, message.key))
    elif message.type in ("marker", "text", "lyrics"):
        text = _text(message.text)
        if text:
            track.marks.setdefault(message.type, []).append(Mark(tick, text))
