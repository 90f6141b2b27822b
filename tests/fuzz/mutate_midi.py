"""Altered MIDI files: by events, so that most still are files, and now and then by bytes.

A file is taken apart by the format's grammar (Standard MIDI Files 1.0, from memory): tracks of events, each after a
time; running status is written out. What is put together again has lengths that are right unless bytes are altered.
"""

import random
import struct
from collections.abc import Callable, Iterator, Sequence

from tests.fuzz.mutate import alter_bytes

Event = tuple[int, bytes]
"""Ticks since the event before, and the event's bytes with its status."""
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_TIMES = (0, 1, 7, 60, 120, 240, 480, 479, 5_000, 1 << 14, (1 << 28) - 1)
_DIVISIONS = (0, 1, 7, 24, 96, 480, 960, 10_080, 0x7FFF, 0xE728, 0xE250)
_LONGEST = 2_000
"""Events in a track: what is doubled again and again stays a file that can be read in seconds."""


def _meta(kind: int, content: bytes) -> bytes:
    return bytes((0xFF, kind)) + _variable(len(content)) + content


def _variable(number: int) -> bytes:
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(number & 0x7F | 0x80)
    return bytes(reversed(groups))


ODD_EVENTS = (
    *(_meta(0x51, tempo.to_bytes(3, "big")) for tempo in (0, 1, 60_000, 500_000, 0xFFFFFF)),
    *(
        _meta(0x58, bytes(meter))
        for meter in ((0, 2, 24, 8), (3, 2, 24, 8), (5, 3, 12, 8), (255, 0, 1, 1), (4, 31, 0, 0))
    ),
    *(_meta(0x59, bytes(key)) for key in ((0xF8, 0), (7, 1), (9, 0), (0, 2), (0xFD, 1))),
    *(
        _meta(kind, text)
        for kind in (1, 3, 5, 6)
        for text in (b"", b"Bass", b"Dm7 G7", "♭é".encode(), b"\xff\xfe\x00", b"A" * 300)
    ),
    _meta(0x2F, b""),
    _meta(0x54, bytes((0x60, 0, 0, 0, 0))),
    _meta(0x21, b"\x05"),
    _meta(0x7F, b"\x00\x00\x41"),
    b"\xf0\x05\x7e\x7f\x09\x01\xf7",
    *(bytes((0xB0, control, value)) for control in (0, 1, 64, 120, 123) for value in (0, 127)),
    b"\xe0\x00\x40",
    b"\xe0\x7f\x7f",
    *(bytes((0x90, pitch, 90)) for pitch in (0, 28, 40, 127)),
    b"\x90\x28\x00",
)


def _read_variable(data: bytes, at: int) -> tuple[int, int]:
    number = 0
    while True:
        number = number << 7 | data[at] & 0x7F
        at += 1
        if not data[at - 1] & 0x80:
            return number, at


def events_of(track: bytes) -> Iterator[Event]:
    """The events of a sound track's content."""
    at, status = 0, 0
    while at < len(track):
        time, at = _read_variable(track, at)
        if track[at] & 0x80:
            status = track[at]
            at += 1
        begun = at
        if status == 0xFF:
            begun, at = at, at + 1
        if status >= 0xF0:
            length, at = _read_variable(track, at)
            at += length
        else:
            at += _DATA_BYTES[status & 0xF0]
        yield time, bytes((status,)) + track[begun:at]


def take_apart(data: bytes) -> tuple[int, int, list[list[Event]]]:
    """Format, ticks a quarter, and the tracks of a sound file."""
    kind, _, division = struct.unpack(">HHH", data[8:14])
    at, tracks = 14, []
    while at + 8 <= len(data):
        [length] = struct.unpack(">I", data[at + 4 : at + 8])
        if data[at : at + 4] == b"MTrk":
            tracks.append(list(events_of(data[at + 8 : at + 8 + length])))
        at += 8 + length
    return kind, division, tracks


def put_together(kind: int, division: int, tracks: Sequence[Sequence[Event]]) -> bytes:
    """A file of these tracks."""
    chunks = [b"MThd" + struct.pack(">IHHH", 6, kind, len(tracks), division)]
    for track in tracks:
        content = b"".join(_variable(time) + event for time, event in track)
        chunks.append(b"MTrk" + struct.pack(">I", len(content)) + content)
    return b"".join(chunks)


def midi_mutator(seeds: Sequence[bytes]) -> Callable[[random.Random], bytes]:
    """Alters MIDI files by their events, tracks and heads; one in eight by its bytes too."""
    files = [take_apart(seed) for seed in seeds]
    pool = sorted({event for _, _, tracks in files for track in tracks for _, event in track} | set(ODD_EVENTS))

    def mutate(source: random.Random) -> bytes:
        kind, division, seed = source.choice(files)
        tracks = [list(track) for track in seed]
        for _ in range(source.choice((1, 1, 2, 4, 8, 20))):
            if source.random() < 0.1:
                _alter_tracks(tracks, files, source)
            elif tracks:
                _alter_events(source.choice(tracks), pool, source)
        if source.random() < 0.1:
            division = source.choice(_DIVISIONS)
        if source.random() < 0.05:
            kind = source.randrange(4)
        data = put_together(kind, division, tracks)
        return alter_bytes(data, source) if source.random() < 0.125 else data

    return mutate


def _alter_tracks(
    tracks: list[list[Event]], files: Sequence[tuple[int, int, list[list[Event]]]], source: random.Random
) -> None:
    match source.randrange(4):
        case 0 if tracks:
            del tracks[source.randrange(len(tracks))]
        case 1 if tracks:
            tracks.append(list(source.choice(tracks)))
        case 2 if len(tracks) > 1:
            moved = tracks.pop(source.randrange(len(tracks)))
            source.choice(tracks).extend(moved)
        case _:
            others = source.choice(files)[2]
            tracks.append(list(source.choice(others)) if others else [])


def _alter_events(track: list[Event], pool: Sequence[bytes], source: random.Random) -> None:
    """One change to a row of events."""
    at = source.randrange(len(track) + 1)
    to = min(at + source.randint(1, 6), len(track))
    if at == len(track):
        track.append((source.choice(_TIMES), source.choice(pool)))
        return
    time, event = track[at]
    match source.randrange(8):
        case 0:
            del track[at:to]
        case 1 if len(track) < _LONGEST:
            track[at:at] = track[at:to] * source.choice((1, 1, 2, 30))
        case 2:
            other = source.randrange(len(track))
            track[at], track[other] = track[other], track[at]
        case 3:
            track[at] = (source.choice((*_TIMES, time * 2, time // 2, time + 1)), event)
        case 4:
            track[at] = (time, _altered(event, source))
        case 5 if event[0] < 0xF0:
            # Another channel, or another kind of event with as many bytes.
            status = source.choice((event[0] & 0xF0 | source.randrange(16), event[0] ^ 0x10))
            track[at] = (time, bytes((status,)) + event[1:]) if len(event) == 3 and status < 0xC0 else (time, event)
        case _:
            track.insert(at, (source.choice(_TIMES[:8]), source.choice(pool)))


def _altered(event: bytes, source: random.Random) -> bytes:
    """An event with one byte of its content changed; it is as long as before, and its data stay data."""
    first = 1 if event[0] < 0xF0 else 1 + len(event) - len(_content(event))
    if first >= len(event):
        return event
    at = source.randrange(first, len(event))
    most = 0x80 if event[0] < 0xF0 else 0x100
    return event[:at] + bytes((source.randrange(most),)) + event[at + 1 :]


def _content(event: bytes) -> bytes:
    """What an event of the file or the system holds behind its length."""
    _, begun = _read_variable(event, 2 if event[0] == 0xFF else 1)
    return event[begun:]
