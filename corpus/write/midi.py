"""A transcription as a Standard MIDI File (format 1).

Tracks: 0 holds title, tempo, meters, key signatures, sections as markers and chord symbols as text; 1 the line; then
the chords and the clicks, where they are asked for. Time is exact: 10,080 ticks to a quarter note, as in the model.

- A ghost note is half as loud. A dead note has no pitch of its own: it is struck softly at the pitch of the note
  before it (or after it), an eighth of a quarter long.
- Grace notes take their time from the note or rest before. A first note that nothing precedes sounds without them.
- A count-in is whole bars of clicks in the meter of the first bar; before a pickup the last of them goes on until the
  pickup enters. Clicks stand on channel 10: the high wood block on the first beat, the low one on the others.
- With several tempos the music is played once at each, every time with its count-in.

Texts are UTF-8, cleaned. Sources: Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1996); percussion keys from
General MIDI Level 1; both from memory, checked in the tests with two other readers.
"""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, NamedTuple

from corpus.errors import QueryError
from corpus.harmony.symbols import read_symbol
from corpus.model import TICKS_PER_QUARTER, Bar, Meter, Note, Transcription
from corpus.pitch import Key, fifths_of, key_from_fifths
from corpus.text import clean_text
from corpus.write.programs import PIANO, program_of
from corpus.write.values import beat_ticks
from corpus.write.voicing import voicing_of

if TYPE_CHECKING:
    from mido import MetaMessage, MidiFile

DEFAULT_BPM: Final = 120.0
LEAST_BPM: Final = 10
MOST_BPM: Final = 999
MOST_COUNT_IN_BARS: Final = 16
MOST_TEMPOS: Final = 64

LINE_CHANNEL: Final = 0
CHORD_CHANNEL: Final = 1
CLICK_CHANNEL: Final = 9
"""MIDI's tenth channel: percussion."""
LOUD, SOFT, DEAD, CHORD, ACCENT, CLICK = 92, 46, 50, 50, 100, 74
"""Velocities of a note, a ghost note, a dead note, a chord tone, the click on the first beat, the other clicks."""
HIGH_BLOCK, LOW_BLOCK = 76, 77
_DEAD_TICKS: Final = TICKS_PER_QUARTER // 8
_GRACE_TICKS: Final = TICKS_PER_QUARTER // 12
_CLICK_TICKS: Final = TICKS_PER_QUARTER // 8
_DEAD_PITCH: Final = 40
_LARGEST_FILE_TICKS: Final = 2**28 - 1
"""The longest pause that a MIDI file can write."""


@dataclass(frozen=True, slots=True)
class MidiOptions:
    """What is played. ``first_bar`` and ``last_bar`` are indexes of played bars, both included (None: to the end).

    ``tempos`` are quarters a minute, one for each time through; empty for the line's own tempo (120 where it has
    none). Raises QueryError for tempos or count-ins that nobody can play to.
    """

    tempos: tuple[float, ...] = ()
    count_in_bars: int = 0
    metronome: bool = False
    chords: bool = False
    first_bar: int = 0
    last_bar: int | None = None

    def __post_init__(self) -> None:
        for tempo in self.tempos:
            if not LEAST_BPM <= tempo <= MOST_BPM:
                raise QueryError(f"tempo {tempo:g} cannot be played at: give {LEAST_BPM} to {MOST_BPM} a minute")
        if len(self.tempos) > MOST_TEMPOS:
            raise QueryError(f"{len(self.tempos)} tempos are too many: at most {MOST_TEMPOS}")
        if not 0 <= self.count_in_bars <= MOST_COUNT_IN_BARS:
            raise QueryError(f"a count-in of {self.count_in_bars} bars is none: 0 to {MOST_COUNT_IN_BARS}")


class Stroke(NamedTuple):
    """One sounding note of the file: onset and length in ticks from the first shown bar, pitch and velocity.

    The onset is negative in a count-in.
    """

    onset_ticks: int
    duration_ticks: int
    pitch: int
    velocity: int


def midi_of(transcription: Transcription, options: MidiOptions | None = None) -> bytes:
    """The bytes of the file. Raises QueryError when nothing is there to play or the music is too long for a file."""
    piece = _Piece(transcription, options or MidiOptions())
    if (piece.length + piece.lead) * len(piece.tempos) > _LARGEST_FILE_TICKS:
        raise QueryError("this is too long for a MIDI file: choose fewer bars or tempos")
    buffer = io.BytesIO()
    piece.file().save(file=buffer)
    return buffer.getvalue()


@dataclass
class _Track:
    """Events with the tick at which they stand; ends of notes come before beginnings."""

    events: "list[tuple[int, int, object]]" = field(default_factory=list)

    def add(self, ticks: int, message: object, rank: int = 1) -> None:
        self.events.append((ticks, rank, message))


class _Piece:
    """The bars that are shown and what sounds in them, in ticks from their start."""

    def __init__(self, line: Transcription, options: MidiOptions) -> None:
        last = len(line.bars) - 1 if options.last_bar is None else options.last_bar
        self.line, self.options = line, options
        self.bars: Sequence[Bar] = line.bars[options.first_bar : last + 1]
        if not self.bars:
            raise QueryError("there is no bar to play")
        self.start = self.bars[0].onset_ticks
        self.length = self.bars[-1].onset_ticks + self.bars[-1].length_ticks - self.start
        padding = self.bars[0].padding_ticks if options.count_in_bars else 0
        self.lead = options.count_in_bars * self.bars[0].meter.bar_ticks + padding
        self.tempos = options.tempos or (line.details.tempo_bpm or DEFAULT_BPM,)

    def file(self) -> "MidiFile":
        from mido import MidiFile, MidiTrack

        strokes: list[tuple[str, int, int | None, Sequence[Stroke]]] = [
            (clean_text(self.line.details.instrument) or "Line", LINE_CHANNEL, program_of(self.line), self.notes())
        ]
        if self.options.chords:
            strokes.append(("Chords", CHORD_CHANNEL, PIANO, list(self.chords())))
        if self.options.metronome or self.options.count_in_bars:
            strokes.append(("Clicks", CLICK_CHANNEL, None, list(self.clicks())))
        tracks = [self._conductor(), *(self._played(*one) for one in strokes)]
        file = MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
        for track in tracks:
            file.tracks.append(MidiTrack(_in_deltas(track, self._times()[-1] + self.lead + self.length)))
        return file

    def _times(self) -> list[int]:
        """The tick of the file at which each time through begins, its count-in included."""
        return [index * (self.lead + self.length) for index in range(len(self.tempos))]

    # -- what sounds -----------------------------------------------------------------------------------------------

    def notes(self) -> list[Stroke]:
        """The notes that begin in the bars shown, ends cut at the last bar and at the next note of the same pitch."""
        end = self.start + self.length
        shown = [note for note in self.line.notes if self.start <= note.onset_ticks < end]
        strokes: list[Stroke] = []
        free = -self.lead  # where the note before began: grace notes take at most the second half of it
        for index, note in enumerate(shown):
            onset = note.onset_ticks - self.start
            strokes += _graces(note, onset, (onset - free) // 2)
            length = min(note.duration_ticks, end - note.onset_ticks)
            pitch, velocity = note.pitch, SOFT if note.is_ghost else LOUD
            if pitch is None:
                pitch, velocity, length = _dead_pitch(shown, index), DEAD, min(length, _DEAD_TICKS)
            strokes.append(Stroke(onset, max(length, 1), pitch, velocity))
            free = onset
        return _without_overlaps(sorted(strokes))

    def chords(self) -> Iterator[Stroke]:
        """The tones of every chord that can be read, held until the next chord."""
        end = self.start + self.length
        for chord in self.line.chords:
            first, last = max(chord.onset_ticks, self.start), min(chord.end_ticks, end)
            symbol = read_symbol(chord.symbol)
            if symbol is not None and last > first:
                for pitch in voicing_of(symbol):
                    yield Stroke(first - self.start, last - first, pitch, CHORD)

    def clicks(self) -> Iterator[Stroke]:
        """The clicks of the count-in and, with a metronome, of every bar."""
        first = self.bars[0]
        if self.options.count_in_bars:
            yield from _beats(first.meter, -self.lead, -self.lead, 0)
        if self.options.metronome:
            for bar in self.bars:
                onset = bar.onset_ticks - self.start
                yield from _beats(bar.meter, onset - bar.padding_ticks, onset, onset + bar.length_ticks)

    # -- tracks ----------------------------------------------------------------------------------------------------

    def _played(self, name: str, channel: int, program: int | None, strokes: Sequence[Stroke]) -> _Track:
        from mido import Message, MetaMessage

        track = _Track()
        track.add(0, MetaMessage("track_name", name=name), 0)
        if program is not None:
            track.add(0, Message("program_change", channel=channel, program=program), 0)
        for time in self._times():
            for onset, length, pitch, velocity in strokes:
                at = time + self.lead + onset
                track.add(at, Message("note_on", channel=channel, note=pitch, velocity=velocity), 3)
                track.add(at + length, Message("note_off", channel=channel, note=pitch, velocity=0), 2)
        return track

    def _conductor(self) -> _Track:
        from mido import MetaMessage, bpm2tempo

        track = _Track()
        track.add(0, MetaMessage("track_name", name=clean_text(self.line.details.title) or "wellworn"), 0)
        for time, tempo in zip(self._times(), self.tempos, strict=True):
            track.add(time, MetaMessage("set_tempo", tempo=bpm2tempo(tempo)))
            for ticks, message in self._marks():
                track.add(time + max(self.lead + ticks, 0), message)
        return track

    def _marks(self) -> "Iterator[tuple[int, MetaMessage]]":
        """Meters, keys, sections and chords with their ticks from the first shown bar."""
        from mido import MetaMessage

        written: object = None
        key: Key | None = None
        for index, bar in enumerate(self.bars):
            at = bar.onset_ticks - self.start
            if index == 0 and self.lead:
                at = -self.lead
            length = bar.meter.bar_ticks if index == 0 and self.lead else bar.length_ticks
            meter = _meter_of(length, bar.meter)
            if meter is not None and meter != written:
                written = meter
                yield at, MetaMessage("time_signature", numerator=meter.numerator, denominator=meter.denominator)
            if bar.key is not None and bar.key != key:
                key = bar.key
                name = _signature_name(key)
                if name:
                    yield at, MetaMessage("key_signature", key=name)
        end = self.start + self.length
        for section in self.line.sections:
            if section.onset_ticks < end and section.end_ticks > self.start and clean_text(section.label):
                at = max(section.onset_ticks - self.start, 0)
                yield at, MetaMessage("marker", text=clean_text(section.label))
        for chord in self.line.chords:
            if chord.onset_ticks < end and chord.end_ticks > self.start and clean_text(chord.symbol):
                yield max(chord.onset_ticks - self.start, 0), MetaMessage("text", text=clean_text(chord.symbol))


def _in_deltas(track: _Track, end: int) -> "list[object]":
    from mido import MetaMessage

    messages: list[object] = []
    before = 0
    for ticks, _, message in sorted(track.events, key=lambda event: event[:2]):
        messages.append(message.copy(time=ticks - before))  # type: ignore[attr-defined]
        before = ticks
    return [*messages, MetaMessage("end_of_track", time=max(end - before, 0))]


def _beats(meter: Meter, bar_line: int, start: int, end: int) -> Iterator[Stroke]:
    """Clicks on the beats from ``start`` to ``end``, counted from a bar line at or before the start."""
    beat = beat_ticks(meter)
    for at in range(bar_line, end, beat):
        if at >= start:
            is_first = (at - bar_line) % meter.bar_ticks == 0
            pitch, velocity = (HIGH_BLOCK, ACCENT) if is_first else (LOW_BLOCK, CLICK)
            yield Stroke(at, min(_CLICK_TICKS, beat), pitch, velocity)


def _graces(note: Note, onset: int, room: int) -> list[Stroke]:
    """The grace notes before a note, in at most so many ticks."""
    count = len(note.ornaments)
    length = min(_GRACE_TICKS, room // count) if count else 0
    if length <= 0:
        return []
    first = onset - count * length
    return [Stroke(first + i * length, length, one.pitch, SOFT) for i, one in enumerate(note.ornaments)]


def _dead_pitch(notes: Sequence[Note], index: int) -> int:
    """Where a dead note is struck: at the pitch before it, else after it."""
    order = [*range(index - 1, -1, -1), *range(index + 1, len(notes))]
    return next((pitch for i in order if (pitch := notes[i].pitch) is not None), _DEAD_PITCH)


def _without_overlaps(strokes: list[Stroke]) -> list[Stroke]:
    """The same strokes, each ended where its pitch is struck again: a MIDI file cannot hold one pitch twice."""
    ended: list[Stroke] = []
    following: dict[int, int] = {}
    for stroke in reversed(strokes):
        room = following.get(stroke.pitch, stroke.onset_ticks + stroke.duration_ticks) - stroke.onset_ticks
        following[stroke.pitch] = stroke.onset_ticks
        if room > 0:
            ended.append(stroke._replace(duration_ticks=min(stroke.duration_ticks, room)))
    return ended[::-1]


def _meter_of(length: int, meter: Meter) -> Meter | None:
    """The meter of a bar of so many ticks, in the note value of its own meter or a shorter one."""
    if length == meter.bar_ticks:
        return meter
    denominator = meter.denominator
    while denominator <= 64:
        one = Meter(1, denominator).beat_ticks
        if length > 0 and length % one == 0 and length // one < 256:
            return Meter(length // one, denominator)
        denominator *= 2
    return None


def _signature_name(key: Key) -> str:
    """A key as MIDI files name signatures: ``Bb``, ``Cm``; church modes by their major key; empty beyond seven."""
    fifths = fifths_of(key)
    is_minor = key.mode in ("minor", "aeolian")
    named = key_from_fifths(fifths, "minor" if is_minor else "major") if abs(fifths) <= 7 else None
    return "" if named is None else named.tonic + ("m" if is_minor else "")
