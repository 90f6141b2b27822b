"""Lines as a player might perform them: MIDI with swung eighths and notes that stray, seeded.

Eighths, and what is written inside them, are moved by the swing; triplets are not. Onsets and ends stray normally; a
note sounds for nine tenths of its value. Dead notes are struck softly and shortly at the pitch before them, as a bass
player's are. This is our own model of playing, without a source; nothing of the reader's code is used.
"""

import io
from collections.abc import Iterator, Sequence
from fractions import Fraction
from random import Random

import mido

from corpus.model import TICKS_PER_QUARTER, Note, Transcription

TICKS = 960
_GATE = 0.9
_DEAD_QUARTERS = 0.125
_LOUD, _SOFT = 92, 46


def swung(quarters: Fraction, ratio: float) -> float:
    """When a written place sounds, in quarters, where the first of two eighths is ``ratio`` times the second."""
    beat, part = divmod(quarters, 1)
    if (part * 3).denominator == 1:
        return float(quarters)
    long_part = ratio / (1 + ratio)
    inside = 2 * part * long_part if part <= Fraction(1, 2) else long_part + (2 * part - 1) * (1 - long_part)
    return float(beat) + float(inside)


def performed(line: Transcription, ratio: float, noise_ms: float, seed: int) -> bytes:
    """The line as a MIDI file of one track, at its own tempo."""
    random = Random(f"{seed} {ratio} {noise_ms}")
    tempo = line.details.tempo_bpm or 120.0
    stray = noise_ms / 60_000 * tempo
    file = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    track = mido.MidiTrack()
    file.tracks.append(track)
    events: list[Event] = [
        (0, 0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo))),
        *_meters(line),
    ]
    events += [event for stroke in _struck(_strokes(line, ratio, stray, random)) for event in stroke]
    before = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - before))
        before = tick
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


Event = tuple[int, int, mido.Message | mido.MetaMessage]


def _strokes(line: Transcription, ratio: float, stray: float, random: Random) -> list[tuple[int, int, int, int]]:
    """Start and end in ticks of the file, pitch and velocity of every note."""
    strokes: list[tuple[int, int, int, int]] = []
    padding = line.bars[0].padding_ticks
    pitch = 40
    for note in line.notes:
        pitch = note.pitch if note.pitch is not None else pitch
        start, end = (
            max(round((swung(Fraction(place + padding, TICKS_PER_QUARTER), ratio) + random.gauss(0, stray)) * TICKS), 0)
            for place in (note.onset_ticks, _end(note))
        )
        start, end = (max(tick - round(padding * TICKS / TICKS_PER_QUARTER), 0) for tick in (start, end))
        velocity = _SOFT if note.is_ghost or note.is_dead else _LOUD
        strokes.append((start, max(end, start + 10), pitch, velocity))
    return strokes


def _struck(strokes: Sequence[tuple[int, int, int, int]]) -> Iterator[tuple[Event, Event]]:
    """The beginning and end of each stroke; nobody holds a note on while striking it again."""
    for index, (start, end, pitch, velocity) in enumerate(strokes):
        again = strokes[index + 1][0] if index + 1 < len(strokes) and strokes[index + 1][2] == pitch else end
        stop = max(min(end, again), start + 1)
        on, off = (mido.Message(kind, note=pitch, velocity=velocity) for kind in ("note_on", "note_off"))
        yield (start, 2, on), (stop, 1, off)


def _end(note: Note) -> int:
    if note.is_dead:
        return note.onset_ticks + round(_DEAD_QUARTERS * TICKS_PER_QUARTER)
    return note.onset_ticks + round(_GATE * note.duration_ticks)


def _meters(line: Transcription) -> list[Event]:
    found: list[Event] = []
    last = (0, 0)
    for bar in line.bars:
        beats = bar.length_ticks // bar.meter.beat_ticks
        meter = (beats, bar.meter.denominator)
        if meter != last:
            tick = round(bar.onset_ticks * TICKS / TICKS_PER_QUARTER)
            found.append((tick, 0, mido.MetaMessage("time_signature", numerator=beats, denominator=meter[1])))
            last = meter
    return found
