"""Which notes of a MIDI file are the line: the track or channel, and one note at a time.

A *stream* is what can be asked for: a track, or one channel of a track that holds several instruments. A stream is a
*single line* when hardly any of its notes sound together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from typing import Final

from corpus.errors import ReadingError
from corpus.read.midi_file import DRUM_CHANNEL, MidiSong, MidiTrack, PlayedNote
from corpus.read.midi_wishes import MidiWishes
from corpus.read.written import Voice

MOST_NOTES: Final = 50_000
"""The longest line that is read: a thousand choruses."""
_MOST_LISTED: Final = 12
_MOST_TOGETHER: Final = 0.05
"""The share of notes inside others that a single line may have: a string that rings on."""


@dataclass(frozen=True, slots=True)
class Stream:
    """Notes that can be the line, with the track and the channels (from 1) they come from."""

    track: MidiTrack
    channels: tuple[int, ...]
    notes: tuple[PlayedNote, ...]
    is_whole_track: bool

    @property
    def label(self) -> str:
        """How messages call it: ``track 2 Bass``, ``track 1 channel 3``."""
        name = f" {self.track.name}" if self.track.name else ""
        channel = "" if self.is_whole_track else f" channel {self.channels[0]}"
        return f"track {self.track.number}{name}{channel}"


@dataclass(frozen=True, slots=True)
class Choice:
    """The stream that is the line, and what there is to say about the choice."""

    stream: Stream
    remarks: tuple[str, ...]


def choose_stream(song: MidiSong, wishes: MidiWishes, part: str | None, name: str) -> Choice:
    """The stream that is asked for, else the single line with most notes, with words when there were others.

    Raises ReadingError when nothing fits, listing what there is.
    """
    streams = _streams(song)
    if not streams:
        if any(track.notes for track in song.tracks):
            raise ReadingError(f"{name} has percussion only (channel {DRUM_CHANNEL}): nothing to store")
        raise ReadingError(f"{name} has no notes: nothing to store")
    wanted = wishes.track if wishes.track is not None else part
    if wanted is None and wishes.channel is None:
        return _default(streams, slack_of(song))
    fitting = [track for track in song.tracks if wanted is None or _is_named(track, wanted)]
    notes = sorted(
        (n for track in fitting for n in track.notes if wishes.channel in (None, n.channel) and _is_pitched(n, wishes)),
        key=lambda note: (note.start, note.pitch),
    )
    if not notes:
        asked = [f"track {wanted!r}"] if wanted is not None else []
        asked += [f"channel {wishes.channel}"] if wishes.channel is not None else []
        raise ReadingError(f"{name} has no notes on {' '.join(asked)}: there is {_listed(streams)}")
    if len({id(track) for track in fitting if any(note in track.notes for note in notes[:1])}) > 1:
        raise ReadingError(f"{name} has several tracks {wanted!r}: give its number, of {_listed(streams)}")
    home = next(track for track in fitting if track.notes)
    channels = tuple(sorted({note.channel for note in notes}))
    return Choice(Stream(home, channels, tuple(notes), wishes.channel is None), ())


def _is_pitched(note: PlayedNote, wishes: MidiWishes) -> bool:
    return note.channel != DRUM_CHANNEL or wishes.channel == DRUM_CHANNEL


def _is_named(track: MidiTrack, wanted: str) -> bool:
    text = wanted.strip()
    if text.isascii() and text.isdecimal():
        return track.number == int(text[:9])
    return bool(text) and track.name.casefold().startswith(text.casefold())


def slack_of(song: MidiSong) -> int:
    """The ticks by which notes of one line may overlap: an eighth of a quarter (a sixteenth of a second)."""
    return int(song.ticks_a_quarter // 8 or song.ticks_a_second / 16)


def _streams(song: MidiSong) -> list[Stream]:
    found: list[Stream] = []
    for track in song.tracks:
        notes = tuple(note for note in track.notes if note.channel != DRUM_CHANNEL)
        channels = tuple(sorted({note.channel for note in notes}))
        # A guitar or bass sends each string on a channel of its own: together they are one line.
        if len(channels) == 1 or (
            channels and len(notes) <= MOST_NOTES and together(notes, slack_of(song)) <= _MOST_TOGETHER
        ):
            found.append(Stream(track, channels, notes, is_whole_track=True))
        else:
            for channel in channels:
                own = tuple(note for note in notes if note.channel == channel)
                found.append(Stream(track, (channel,), own, is_whole_track=False))
    return found


def _listed(streams: Sequence[Stream]) -> str:
    listed = ", ".join(f"{stream.label} ({len(stream.notes):,} notes)" for stream in streams[:_MOST_LISTED])
    return listed + (", …" if len(streams) > _MOST_LISTED else "")


def _default(streams: Sequence[Stream], slack: int) -> Choice:
    if len(streams) == 1:
        return Choice(streams[0], ())
    small = [stream for stream in streams if len(stream.notes) <= MOST_NOTES] or streams
    single = [stream for stream in small if together(stream.notes, slack) <= _MOST_TOGETHER]
    best = max(single or small, key=lambda stream: len(stream.notes))
    why = "the single line with most notes" if single else "the one with most notes, and none is a single line"
    remark = (
        f"{len(streams)} tracks or channels have notes ({_listed(streams)}): {best.label} is read, {why}; "
        "--track or --channel chooses another"
    )
    return Choice(best, (remark,))


def together(notes: Sequence[PlayedNote], slack: int) -> float:
    """The share of notes that sound wholly inside another, or begin at once with another."""
    return len(notes) and 1 - len(_alone(notes, "top", slack)) / len(notes)


def _alone(notes: Sequence[PlayedNote], voice: Voice, slack: int) -> list[PlayedNote]:
    """The notes that no other covers: not begun at once with a higher (or lower) one, nor sounding inside another.

    A note that ends at most ``slack`` ticks before the one around it is the next of the line (grace notes often are).
    """
    sign = 1 if voice == "top" else -1
    kept: list[PlayedNote] = []
    holding: list[PlayedNote] = []
    for note in sorted(notes, key=lambda one: (one.start, -sign * one.pitch)):
        end = inf if note.end is None else note.end
        holding = [other for other in holding if (other.end or other.start) > note.start or other.start == note.start]
        if any(other.start == note.start or (other.end or other.start) > end + slack for other in holding):
            continue
        kept.append(note)
        holding.append(note)
    return kept


def one_at_a_time(notes: Sequence[PlayedNote], voice: Voice, slack: int) -> tuple[list[PlayedNote], int]:
    """The top or bottom line of notes, each ended when the next begins, and how many notes were left out.

    Of notes that begin at once the highest (or lowest) stays; a note that begins and ends inside another one belongs to
    another voice, whichever of them is higher.
    """
    kept = _alone(notes, voice, slack)
    ended = [
        replace(note, end=following.start if note.end is None else min(note.end, following.start))
        for note, following in pairwise(kept)
    ]
    return [*ended, *kept[-1:]], len(notes) - len(kept)
