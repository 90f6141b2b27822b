"""Read a Standard MIDI File into a ``WrittenLine``: one track or channel, its times quantised.

Stages, each in a module of its own: bytes to notes and marks (``midi_file``), which notes are the line
(``midi_choice``), bars and beats (``midi_bars``), written places under an estimated swing (``corpus.quantise``), bars
with notes, chords and sections (``midi_page``), names of notes once chords are known (``midi_spelling``).

Read: types 0, 1 and 2; notes, time signatures, tempo map, key signatures, markers as sections, texts as chord symbols
where nearly all of them are such, track and instrument names. The file's beats are believed: playing without a click
is told, not cured. Pitches are sounding ones. Soft notes (half as loud as is usual in the line) are ghost notes, notes
a moment before another are its grace notes. Notes that overlap are ended where the next begins, small silences are
filled; how eighths are swung is told for each passage with the ratio, the 90 % that surround it, and how sure that is.

Lost, with a remark where it matters: other tracks, channels and voices; how notes stray, how loud and how long they
really are; pitch bends, pedals, all other controllers, system exclusive messages; tempo changes (the middle one is
kept); dead notes, which MIDI strikes at a pitch (a soft one comes as a ghost note); lyrics and cue points; names of
notes, which are made anew from chords and key. Files that count in seconds (SMPTE) are laid on the beats of one tempo.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from statistics import median
from typing import Final

import numpy as np

from corpus.check import INSTRUMENTS
from corpus.errors import ReadingError
from corpus.model import Details, Finding, Meter
from corpus.quantise.evidence import Beat, Notes
from corpus.quantise.quantise import quantise
from corpus.read.midi_bars import FileBar, TempoMap, beats_of, file_bars, meters_of, tempo_map
from corpus.read.midi_choice import MOST_NOTES, choose_stream, one_at_a_time, slack_of
from corpus.read.midi_file import Mark, MidiSong, MidiTrack, PlayedNote, midi_song
from corpus.read.midi_page import Timeline, WrittenPlace, page_of
from corpus.read.midi_words import playing_remarks
from corpus.read.written import ReadingWishes, WrittenLine, fill_details
from corpus.write.programs import instrument_of_program

_GHOST_SHARE: Final = 0.55
_TEMPO_CHANGE: Final = 0.05
_NO_TITLE: Final = "wellworn"
MOST_IN_BEAT: Final = 64
"""Notes in one beat: sixteen milliseconds each at 60 a minute."""
_LAST_QUARTERS: Final = 16
"""The longest time that the last note may be held past its start: nothing tells when a hanging note should end."""


@dataclass(frozen=True)
class _Marks:
    """The marks that hold for the line, with their places in quarters."""

    tempos: list[tuple[Fraction, int]]
    meters: list[tuple[Fraction, Meter]]
    keys: list[tuple[Fraction, str]]
    markers: list[tuple[Fraction, str]]
    texts: list[tuple[Fraction, str]]


def read_midi(data: bytes, name: str, wishes: ReadingWishes) -> WrittenLine:
    """Read one line of a MIDI file.

    ``data`` is the whole file, ``name`` its name for messages. Raises ReadingError when the file cannot be read, has no
    notes, or none on the track or channel that is asked for.
    """
    song = midi_song(data, name)
    choice = choose_stream(song, wishes.midi, wishes.part, name)
    stream = choice.stream
    if len(stream.notes) > MOST_NOTES:
        raise ReadingError(
            f"{name}: {stream.label} has {len(stream.notes):,} notes; a line of at most {MOST_NOTES:,} is read"
        )
    line, others = one_at_a_time(stream.notes, wishes.voice, slack_of(song))
    remarks = [*choice.remarks, *_losses(stream.track, stream.notes, others)]
    clock = _Clock(song, stream.track, wishes)
    remarks += clock.remarks
    marks, meter_remarks = clock.marks(wishes)
    remarks += meter_remarks
    played = [clock.quarters(note.start) for note in line]
    bars = file_bars(marks.meters, played[-1] + 1, name)
    tempos = tempo_map(marks.tempos)
    # The bar before the first note may hold what was played a moment too early; nothing before it is of use.
    first = max(next(i for i, bar in enumerate(bars) if played[0] < bar.end) - 1, 0)
    beats, homes = beats_of(bars[first:], tempos)
    notes = Notes(np.array([float(place) for place in played]), np.array([float(note.velocity) for note in line]))
    _refuse_crowds(notes, beats, [home + first + 1 for home in homes], name)
    swing = wishes.midi.swing
    quantised = quantise(notes, beats, None if swing is None else swing / (1 + swing))
    timeline = Timeline(bars, first, beats, homes, quantised)
    ends = _ends(line, clock)
    places = [
        WrittenPlace(note.pitch, notes.onsets[i], ends[i], is_soft)
        for i, (note, is_soft) in enumerate(zip(line, _soft(line), strict=True))
    ]
    page = page_of(timeline, places, marks.keys, marks.markers, marks.texts, wishes.midi.first_bar)
    bpm, tempo_remark = _tempo(bars[first:], tempos, is_told=bool(marks.tempos))
    remarks += [*tempo_remark, *page.remarks]
    findings = [*(Finding("reading", text) for text in remarks), *playing_remarks(timeline, page.numbers, swing)]
    details = replace(_details(song, stream.track, stream.channels), tempo_bpm=bpm, meter=page.bars[0].meter)
    key = next((bar.key for bar in page.bars if bar.key is not None), None)
    return WrittenLine(fill_details(replace(details, key=key), wishes.details), page.bars, tuple(findings))


def _refuse_crowds(notes: Notes, beats: Sequence[Beat], numbers: Sequence[int], name: str) -> None:
    """Raises ReadingError where more notes begin in a beat than anybody plays: ``numbers`` are the beats' bars."""
    counts = np.diff(np.searchsorted(notes.onsets, [beat.start for beat in beats]), append=len(notes.onsets))
    most = int(counts.argmax())
    if counts[most] > MOST_IN_BEAT:
        raise ReadingError(
            f"{name}, bar {numbers[most]}: {counts[most]:,} notes begin in one beat: the file's beats are not those of "
            "the music; record it to a click, or mend its tempo and resolution"
        )


class _Clock:
    """Ticks of the file to quarters."""

    def __init__(self, song: MidiSong, home: MidiTrack, wishes: ReadingWishes) -> None:
        self.remarks: list[str] = []
        self.song = song
        self.tracks: Sequence[MidiTrack] = (home,) if song.kind == 2 else song.tracks
        if song.kind == 2 and len(song.tracks) > 1:
            self.remarks.append("the tracks of this file (type 2) are pieces apart: one is read")
        self.rate = Fraction(1, song.ticks_a_quarter) if song.ticks_a_quarter else self._by_seconds(wishes)

    def _by_seconds(self, wishes: ReadingWishes) -> Fraction:
        """Quarters a tick where the file counts in seconds."""
        told = self._raw("tempo")
        tempo = wishes.details.tempo_bpm or (60_000_000 / max(told[0].value, 1) if told else 120.0)
        self.remarks.append(f"the file counts in seconds (SMPTE): its beats are laid at {tempo:g} quarters a minute")
        return Fraction(tempo).limit_denominator(1000) / 60 / self.song.ticks_a_second

    def quarters(self, tick: int) -> Fraction:
        """The place of a tick."""
        return tick * self.rate

    def _raw(self, kind: str) -> list[Mark]:
        found = [mark for track in self.tracks for mark in track.marks_of(kind)]
        return sorted(found, key=lambda mark: mark.tick)

    def _placed(self, kind: str) -> list[tuple[Fraction, object]]:
        return [(self.quarters(mark.tick), mark.value) for mark in self._raw(kind)]

    def marks(self, wishes: ReadingWishes) -> tuple[_Marks, list[str]]:
        """All marks with their places, and remarks on them."""
        raw = self._raw("meter")
        meters, remarks = meters_of(raw, [self.quarters(mark.tick) for mark in raw], wishes.details.meter)
        texts = {
            kind: [(place, str(value)) for place, value in self._placed(kind)] for kind in ("key", "marker", "text")
        }
        tempos = [(place, int(str(value))) for place, value in self._placed("tempo")]
        if not self.song.ticks_a_quarter:
            tempos = [(Fraction(0), round(60_000_000 / float(self.rate * self.song.ticks_a_second * 60)))]
        return _Marks(tempos, meters, texts["key"], texts["marker"], texts["text"]), remarks


def _ends(line: Sequence[PlayedNote], clock: _Clock) -> list[float]:
    last = clock.quarters(line[-1].start)
    ends = [
        float(clock.quarters(note.start)) + 1 if note.end is None else float(clock.quarters(note.end)) for note in line
    ]
    return [*ends[:-1], min(ends[-1], float(last) + _LAST_QUARTERS)]


def _soft(line: Sequence[PlayedNote]) -> list[bool]:
    usual = median(note.velocity for note in line)
    return [note.velocity <= _GHOST_SHARE * usual for note in line]


def _losses(track: MidiTrack, notes: Sequence[PlayedNote], others: int) -> list[str]:
    hanging = sum(note.end is None for note in notes)
    counted = (
        (others, "note sounds|notes sound", "together with or inside another: left out (see --voice)"),
        (hanging, "note is never ended|notes are never ended", "the next note ends it"),
        (track.bends, "pitch bend|pitch bends", "not kept"),
        (track.pedals, "pedal mark|pedal marks", "not kept"),
    )
    return [
        f"{count:,} {words.split('|')[count != 1]}{' ' if what.startswith('together') else ': '}{what}"
        for count, words, what in counted
        if count
    ]


def _tempo(bars: Sequence[FileBar], tempos: TempoMap, *, is_told: bool) -> tuple[float | None, list[str]]:
    """Quarters a minute in the middle bar by speed, and a remark where the tempo changes."""
    if not is_told:
        return None, []
    rates = sorted(
        60_000 * float(bar.length) / max(tempos.ms_between(float(bar.start), float(bar.end)), 1e-3) for bar in bars
    )
    middle = round(rates[len(rates) // 2], 2)
    if rates[-1] / rates[0] <= 1 + _TEMPO_CHANGE:
        return middle, []
    return middle, [f"the tempo changes between {rates[0]:.0f} and {rates[-1]:.0f}: {middle:g} is kept"]


def _details(song: MidiSong, track: MidiTrack, channels: Sequence[int]) -> Details:
    head = song.tracks[0]
    title = head.name if not head.notes and song.kind != 2 and head.name != _NO_TITLE else ""
    words = [word for instrument in INSTRUMENTS for word in instrument.words]
    # Many programs write Device 1 or Inst 1: only what names an instrument is taken for its name.
    named = [name for name in (track.instrument, track.name) if any(word in name.casefold() for word in words)]
    instrument = named[0] if named else ""
    if not instrument and channels[0] - 1 in track.programs:
        instrument = instrument_of_program(track.programs[channels[0] - 1])
    return Details(title=title, instrument=instrument)
