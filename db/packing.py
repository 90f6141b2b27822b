"""A transcription as two short byte strings, and back without loss.

*Notes* are columns, one after the other, compressed with zlib: a version byte, then the number of notes *n* (uint32),
then *n* each of onset gaps (int32, ticks since the onset before), durations (int32, ticks), bar gaps (uint16, played
bars since the bar before), pitches (int8, MIDI number, -1 for a dead note), alterations (int8, semitones that the
spelling raises its letter) and flags (uint8, bit 0: ghost note). All little-endian.

*Layout* is compressed JSON: bars, chords, sections, findings and ornaments as lists, with equal neighbours in the bar
columns written once (``[value, times]``).

Measured beside a row a note in ``make bench``; DEVELOPERS.md tells what was chosen and why.
"""

import json
import struct
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, groupby, repeat
from operator import sub
from typing import TYPE_CHECKING, Any, Final, TypeVar

from corpus.errors import CorpusError
from corpus.model import (
    Bar,
    ChordSpan,
    Details,
    Finding,
    Meter,
    Note,
    Ornament,
    Section,
    Transcription,
)
from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch, parse_spelling

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FORMAT_VERSION: Final = 1
_LAYOUTS_KEPT: Final = 512
"""Choruses over one chart have the same layout, and unpacking it costs more than unpacking their notes."""
_DEAD: Final = -1
_GHOST: Final = 1
_IS_GHOST: Final = (False, True).__getitem__
_LETTER_OF_NATURAL: Final = {semitones: letter for letter, semitones in enumerate(LETTER_SEMITONES)}

_Value = TypeVar("_Value")


def pack_notes(transcription: Transcription) -> bytes:
    """The notes of a transcription as compressed columns."""
    notes = transcription.notes
    onsets = [note.onset_ticks for note in notes]
    bars = [note.bar_index for note in notes]
    count = len(notes)
    columns = struct.pack(
        f"<BI{count}i{count}i{count}H{count}b{count}b{count}B",
        FORMAT_VERSION,
        count,
        *map(sub, onsets, [0, *onsets]),
        *(note.duration_ticks for note in notes),
        *map(sub, bars, [0, *bars]),
        *(_DEAD if note.pitch is None else note.pitch for note in notes),
        *(parse_spelling(note.spelling).alteration if note.spelling else 0 for note in notes),
        *(_GHOST if note.is_ghost else 0 for note in notes),
    )
    return zlib.compress(columns, 6)


def _spelled(pitch: int, alteration: int) -> SpelledPitch:
    natural = pitch - alteration
    return SpelledPitch(_LETTER_OF_NATURAL[natural % 12], alteration, natural // 12 - 1)


_SPELLINGS: Final = {
    (pitch, alteration): str(_spelled(pitch, alteration))
    for pitch in range(128)
    for alteration in (-2, -1, 0, 1, 2)
    if (pitch - alteration) % 12 in _LETTER_OF_NATURAL
} | {(_DEAD, 0): ""}


def unpack_notes(packed: bytes, ornaments: dict[int, tuple[Ornament, ...]]) -> tuple[Note, ...]:
    """The notes that ``pack_notes`` packed; ``ornaments`` by note index. Raises CorpusError for other bytes."""
    columns = zlib.decompress(packed)
    version, count = struct.unpack_from("<BI", columns)
    if version != FORMAT_VERSION:
        raise CorpusError(f"notes are packed in format {version}; this wellworn reads format {FORMAT_VERSION}")
    values = struct.unpack_from(f"<{count}i{count}i{count}H{count}b{count}b{count}B", columns, 5)
    onsets = accumulate(values[:count])
    durations = values[count : 2 * count]
    bars = accumulate(values[2 * count : 3 * count])
    pitches = values[3 * count : 4 * count]
    alterations = values[4 * count : 5 * count]
    flags = values[5 * count :]
    columns_of_notes = zip(
        onsets,
        durations,
        (None if pitch == _DEAD else pitch for pitch in pitches),
        map(_SPELLINGS.__getitem__, zip(pitches, alterations, strict=True)),
        bars,
        map(_IS_GHOST, flags),
        map(ornaments.get, range(count), repeat(())) if ornaments else repeat((), count),
        strict=True,
    )
    # One bytecode-free loop over the columns, not even a call of Note: this is what showing a hit costs.
    notes: Iterable[Note] = map(tuple.__new__, repeat(Note), columns_of_notes)
    return tuple(notes)


def pitch_of_note(packed: bytes) -> Callable[[int], tuple[int, int]]:
    """Gives MIDI number and staff position (letter names above C0) of notes that ``pack_notes`` packed, by index; dead
    notes have neither.

    Cost: unzipping the columns, and next to nothing a note.
    """
    columns = memoryview(zlib.decompress(packed))
    count = struct.unpack_from("<BI", columns)[1]
    pitches = columns[5 + 10 * count : 5 + 11 * count].cast("b")
    alterations = columns[5 + 11 * count : 5 + 12 * count].cast("b")
    return lambda note: (pitches[note], _spelled(pitches[note], alterations[note]).staff_position)


def _squeeze(values: Iterable[Any]) -> list[Any]:
    """Runs of equal neighbours as ``[value, times]``."""
    return [[value, sum(1 for _ in run)] for value, run in groupby(values)]


def _spread(runs: Iterable[Sequence[Any]]) -> list[Any]:
    return [value for value, times in runs for _ in range(times)]


def pack_layout(transcription: Transcription) -> bytes:
    """Bars, chords, sections, findings and ornaments as compressed JSON."""
    bars = transcription.bars
    onsets = [bar.onset_ticks for bar in bars]
    numbers = [bar.number for bar in bars]
    layout = {
        "version": FORMAT_VERSION,
        "number_gaps": _squeeze(map(sub, numbers, [0, *numbers])),
        "passes": _squeeze(bar.pass_number for bar in bars),
        "onset_gaps": _squeeze(map(sub, onsets, [0, *onsets])),
        "lengths": _squeeze(bar.length_ticks for bar in bars),
        "paddings": _squeeze(bar.padding_ticks for bar in bars),
        "meters": _squeeze([bar.meter.numerator, bar.meter.denominator] for bar in bars),
        "choruses": _squeeze(bar.chorus for bar in bars),
        "keys": _squeeze(None if bar.key is None else [bar.key.tonic, bar.key.mode] for bar in bars),
        "chords": [[chord.symbol, chord.onset_ticks, chord.end_ticks] for chord in transcription.chords],
        "sections": [[section.label, section.onset_ticks, section.end_ticks] for section in transcription.sections],
        "findings": [
            [f.kind, f.text, f.bar, None if f.beat is None else str(f.beat), f.pass_number]
            for f in transcription.findings
        ],
        "ornaments": {
            index: [[ornament.pitch, ornament.spelling] for ornament in note.ornaments]
            for index, note in enumerate(transcription.notes)
            if note.ornaments
        },
    }
    return zlib.compress(json.dumps(layout, separators=(",", ":")).encode(), 6)


def _unpack_bars(layout: dict[str, Any]) -> tuple[Bar, ...]:
    meters = {tuple(value): Meter(*value) for value, _ in layout["meters"]}
    keys = {tuple(value): Key(*value) for value, _ in layout["keys"] if value}
    return tuple(
        Bar(
            number=number,
            pass_number=pass_number,
            onset_ticks=onset,
            length_ticks=length,
            padding_ticks=padding,
            meter=meters[tuple(meter)],
            chorus=chorus,
            key=keys[tuple(key)] if key else None,
        )
        for number, pass_number, onset, length, padding, meter, chorus, key in zip(
            accumulate(_spread(layout["number_gaps"])),
            _spread(layout["passes"]),
            accumulate(_spread(layout["onset_gaps"])),
            _spread(layout["lengths"]),
            _spread(layout["paddings"]),
            _spread(layout["meters"]),
            _spread(layout["choruses"]),
            _spread(layout["keys"]),
            strict=True,
        )
    )


def unpack(details: Details, notes: bytes, layout: bytes) -> Transcription:
    """The transcription that ``pack_notes`` and ``pack_layout`` packed. Raises CorpusError for a newer format."""
    content: dict[str, Any] = json.loads(zlib.decompress(layout))
    if content["version"] != FORMAT_VERSION:
        raise CorpusError(
            f"bars are packed in format {content['version']}; this wellworn reads format {FORMAT_VERSION}"
        )
    ornaments = {
        int(index): tuple(Ornament(pitch, spelling) for pitch, spelling in values)
        for index, values in content["ornaments"].items()
    }
    return Transcription(
        details=details,
        notes=unpack_notes(notes, ornaments),
        bars=_unpack_bars(content),
        chords=tuple(ChordSpan(*values) for values in content["chords"]),
        sections=tuple(Section(*values) for values in content["sections"]),
        findings=tuple(
            Finding(kind, text, bar, None if beat is None else Fraction(beat), pass_number)
            for kind, text, bar, beat, pass_number in content["findings"]
        ),
    )


def pack_indexes(indexes: Sequence[int]) -> bytes:
    """Rising indexes as the gaps between them, each in as many bytes as it has groups of seven bits (LEB128)."""
    packed = bytearray()
    before = 0
    for index in indexes:
        gap, before = index - before, index
        while gap > 127:
            packed.append(gap & 127 | 128)
            gap >>= 7
        packed.append(gap)
    return bytes(packed)


def unpack_indexes(packed: bytes) -> tuple[int, ...]:
    """The indexes that ``pack_indexes`` packed."""
    indexes: list[int] = []
    index = gap = shift = 0
    for byte in packed:
        gap |= (byte & 127) << shift
        shift += 7
        if byte < 128:
            index += gap
            indexes.append(index)
            gap = shift = 0
    return tuple(indexes)


@dataclass(frozen=True)
class NotePlaces:
    """Where the notes of a line stand, as columns, read without making notes of them.

    ``onsets`` are ticks of the line as played, ``in_bar`` ticks from the bar line (of the full bar, in a pickup).
    ``sections`` are label, first tick and last.
    """

    onsets: "NDArray[np.int64]"
    in_bar: "NDArray[np.int64]"
    sections: Sequence[tuple[str, int, int]]

    def in_section(self, label: str) -> "NDArray[np.bool_]":
        """Which notes begin in a section of this name, without regard to case."""
        import numpy as np

        found = np.zeros(len(self.onsets), dtype=bool)
        for name, begin, end in self.sections:
            if name.casefold() == label.casefold():
                found |= (self.onsets >= begin) & (self.onsets < end)
        return found


def note_places(notes: bytes, layout: bytes) -> NotePlaces:
    """The places of the notes that ``pack_notes`` and ``pack_layout`` packed."""
    import numpy as np

    columns = zlib.decompress(notes)
    count = struct.unpack_from("<BI", columns)[1]
    onsets = np.cumsum(np.frombuffer(columns, "<i4", count, 5), dtype=np.int64)
    bars = np.cumsum(np.frombuffer(columns, "<u2", count, 5 + 8 * count), dtype=np.int64)
    begins, sections = _begins_and_sections(layout)
    return NotePlaces(onsets, onsets - begins[bars], sections)


@lru_cache(maxsize=_LAYOUTS_KEPT)
def _begins_and_sections(layout: bytes) -> "tuple[NDArray[np.int64], tuple[tuple[str, int, int], ...]]":
    """Where the (full) bars of a packed layout begin, and its sections."""
    import numpy as np

    content = json.loads(zlib.decompress(layout))
    begins = np.cumsum(_spread(content["onset_gaps"]), dtype=np.int64) - _spread(content["paddings"])
    begins.flags.writeable = False
    return begins, tuple((label, begin, end) for label, begin, end in content["sections"])


def note_columns(notes: bytes) -> "tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]":
    """Onsets, durations (ticks), pitches (-1 for a dead note) and bar indexes of packed notes, as columns."""
    import numpy as np

    columns = zlib.decompress(notes)
    count = struct.unpack_from("<BI", columns)[1]
    onsets = np.cumsum(np.frombuffer(columns, "<i4", count, 5), dtype=np.int64)
    durations = np.frombuffer(columns, "<i4", count, 5 + 4 * count).astype(np.int64)
    bars = np.cumsum(np.frombuffer(columns, "<u2", count, 5 + 8 * count), dtype=np.int64)
    pitches = np.frombuffer(columns, "<i1", count, 5 + 10 * count).astype(np.int64)
    return onsets, durations, pitches, bars


@lru_cache(maxsize=_LAYOUTS_KEPT)
def unpack_layout(layout: bytes) -> tuple[tuple[Bar, ...], tuple[ChordSpan, ...], tuple[Section, ...]]:
    """Bars, chords and sections that ``pack_layout`` packed, without the notes."""
    content: dict[str, Any] = json.loads(zlib.decompress(layout))
    return (
        _unpack_bars(content),
        tuple(ChordSpan(*values) for values in content["chords"]),
        tuple(Section(*values) for values in content["sections"]),
    )
