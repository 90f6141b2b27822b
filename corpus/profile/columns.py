"""Lines as numpy columns: one entry a note, one a bar, one a chord, several lines one after the other.

All times are ticks of the line as played. ``NO`` (-1) stands where a note has no pitch, role, movement, degree or
chord. Columns are made from the readings of a line, so that stored lines are never analysed again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING, Any, Final, get_args

from corpus.form import bars_of_form
from corpus.harmony.over import FunctionText
from corpus.harmony.roles import Movement
from corpus.harmony.symbols import NO_CHORD, read_symbol
from corpus.model import Bar, ChordSpan, Form, Transcription
from corpus.readings import BREAK

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.harmony.analysis import Analysis

    Numbers = NDArray[np.int64]
    Flags = NDArray[np.bool_]

NO: Final = -1
CHORD_TONE, SCALE_TONE, OUTSIDE = range(3)
MOVEMENTS: Final[tuple[str, ...]] = get_args(Movement)
_ROLES: Final = "abcdefghijklmnopqrstuvwx" + "0yz123456789"
"""Role symbols in the order of kind and semitones (``corpus.harmony.role_symbols``); place 24 is no symbol's."""


@dataclass(frozen=True)
class Columns:
    """Notes, bars and chords of one or many lines.

    Notes: ``line`` (from 0), ``onset``, ``duration``, ``pitch``, ``bar`` and ``chord`` (places in the columns below),
    ``semitones`` above the chord's root, ``kind``, ``movement`` (place in ``MOVEMENTS``), ``degree`` (semitones above
    the local tonic), ``follows`` (a note is before it, without a break), ``inside`` (belongs to what is asked about).

    Bars: ``bar_number``, ``bar_pass``, ``bar_chorus``, ``bar_line``, ``bar_start`` (tick of beat 1), ``bar_length``,
    ``beat_ticks``, ``beats`` (a bar), ``form_bar`` (from 1, 0 for a pickup), ``form_bars`` (0 without form).

    Chords: ``chord_onset``, ``chord_end``, ``chord_root`` (pitch class), ``chord_tones`` (a bit a pitch class),
    ``chord_is_new`` (another chord than the one before), ``function`` (code point in ``FunctionText``, 0 for none).
    """

    line: "Numbers"
    onset: "Numbers"
    duration: "Numbers"
    pitch: "Numbers"
    bar: "Numbers"
    chord: "Numbers"
    semitones: "Numbers"
    kind: "Numbers"
    movement: "Numbers"
    degree: "Numbers"
    follows: "Flags"
    inside: "Flags"
    bar_number: "Numbers"
    bar_pass: "Numbers"
    bar_chorus: "Numbers"
    bar_line: "Numbers"
    bar_start: "Numbers"
    bar_length: "Numbers"
    beat_ticks: "Numbers"
    beats: "Numbers"
    form_bar: "Numbers"
    form_bars: "Numbers"
    chord_onset: "Numbers"
    chord_end: "Numbers"
    chord_root: "Numbers"
    chord_tones: "Numbers"
    chord_is_new: "Flags"
    function: "Numbers"

    def __len__(self) -> int:
        return len(self.onset)

    @property
    def in_bar(self) -> "Numbers":
        """Ticks from beat 1 of the bar to each note."""
        return self.onset - self.bar_start[self.bar]

    @property
    def beat(self) -> "NDArray[np.float64]":
        """The beat of each note, from 1."""
        found: NDArray[np.float64] = 1 + self.in_bar / self.beat_ticks[self.bar]
        return found

    @property
    def has_role(self) -> "Flags":
        """Notes that belong to what is asked about and stand over a known chord."""
        found: Flags = self.inside & (self.kind != NO)
        return found

    @property
    def begins_chord(self) -> "Flags":
        """Notes that start where the chord changes to another one."""
        import numpy as np

        found: Flags = np.asarray(self.chord != NO)
        chord = self.chord[found]
        found[found] = (self.chord_onset[chord] == self.onset[found]) & self.chord_is_new[chord]
        return found

    @property
    def interval(self) -> "Numbers":
        """Semitones from the note before; 0 where no note is before (see ``follows``)."""
        import numpy as np

        found = np.zeros(len(self), dtype=np.int64)
        found[1:] = self.pitch[1:] - self.pitch[:-1]
        found[~self.follows] = 0
        return found


@dataclass(frozen=True, slots=True)
class LineTexts:
    """What the readings say of a line, one symbol a note, and its functions as written (level 0)."""

    interval: str
    role: str
    movement: str
    degree: str
    functions: FunctionText | None


def line_columns(
    notes: "tuple[Numbers, Numbers, Numbers, Numbers]",
    texts: LineTexts,
    bars: Sequence[Bar],
    chords: Sequence[ChordSpan],
    form: Form | None,
) -> Columns:
    """The columns of one line; ``notes`` are onsets, durations, pitches (-1 for a dead note) and bar indexes."""
    import numpy as np

    onset, duration, pitch, bar = notes
    role = _codes(texts.role, _ROLES)
    return Columns(
        line=np.zeros(len(onset), dtype=np.int64),
        onset=onset,
        duration=duration,
        pitch=pitch,
        bar=bar,
        semitones=np.where(role == NO, NO, role % 12),
        kind=np.where(role == NO, NO, role // 12),
        movement=_codes(texts.movement, "abcdefghij"),
        degree=_codes(texts.degree, "abcdefghijkl"),
        follows=np.frombuffer(texts.interval.encode(), dtype=np.uint8) != ord(BREAK),
        inside=np.ones(len(onset), dtype=bool),
        **_bar_columns(bars, form),
        **_chord_columns(chords, onset, texts.functions),
    )


def columns_of(transcription: Transcription, analysis: "Analysis | None" = None) -> Columns:
    """The columns of a transcription that is not stored: its harmony is analysed here, unless it is given."""
    import numpy as np

    from corpus.harmony.analysis import analyse
    from corpus.harmony.role_symbols import harmonic_columns
    from corpus.harmony.roles import roles_of
    from corpus.readings import line_of, read

    analysis = analysis or analyse(transcription)
    harmony = harmonic_columns(transcription, analysis.spans, roles_of(transcription, analysis.spans))
    line = line_of(transcription, harmony if transcription.chords else None)
    functions = FunctionText.of(analysis.levels[0]) if transcription.chords else None
    texts = LineTexts(
        read(line, "interval"), read(line, "role"), read(line, "movement"), read(line, "degree"), functions
    )
    columns = [
        [note.onset_ticks for note in transcription.notes],
        [note.duration_ticks for note in transcription.notes],
        [NO if note.pitch is None else note.pitch for note in transcription.notes],
        [note.bar_index for note in transcription.notes],
    ]
    onset, duration, pitch, bar = (np.array(column, dtype=np.int64) for column in columns)
    return line_columns(
        (onset, duration, pitch, bar), texts, transcription.bars, transcription.chords, transcription.details.form
    )


def join(parts: Sequence[Columns]) -> Columns:
    """The columns of several lines as one; lines, bars and chords are counted on."""
    import numpy as np

    shifted: dict[str, list[Any]] = {field.name: [] for field in fields(Columns)}
    lines = bars = chords = 0
    for part in parts:
        for name, values in shifted.items():
            column = getattr(part, name)
            if name in ("line", "bar_line"):
                column = column + lines
            elif name == "bar":
                column = column + bars
            elif name == "chord":
                column = np.where(column == NO, NO, column + chords)
            values.append(column)
        lines += 1 + int(part.bar_line.max(initial=0))
        bars += len(part.bar_number)
        chords += len(part.chord_onset)
    return Columns(**{name: _concatenated(name, values) for name, values in shifted.items()})


def _concatenated(name: str, values: list[Any]) -> Any:
    import numpy as np

    if values:
        return np.concatenate(values)
    return np.zeros(0, dtype=bool if name in ("follows", "inside", "chord_is_new") else np.int64)


def _codes(text: str, symbols: str) -> "Numbers":
    """The place of each symbol of a text in ``symbols``, -1 for others."""
    import numpy as np

    table = np.full(128, NO, dtype=np.int64)
    for place, symbol in enumerate(symbols):
        if symbol != BREAK:
            table[ord(symbol)] = place
    found: Numbers = table[np.frombuffer(text.encode(), dtype=np.uint8)]
    return found


def _bar_columns(bars: Sequence[Bar], form: Form | None) -> "dict[str, Any]":
    import numpy as np

    count = len(bars)
    rows = [
        (bar.number, bar.pass_number, bar.chorus, bar.onset_ticks - bar.padding_ticks, bar.length_ticks,
         bar.meter.beat_ticks, bar.meter.numerator)
        for bar in bars
    ]  # fmt: skip
    columns = np.array(rows, dtype=np.int64).reshape(count, 7).T
    names = ("bar_number", "bar_pass", "bar_chorus", "bar_start", "bar_length", "beat_ticks", "beats")
    return {
        **dict(zip(names, columns, strict=True)),
        "bar_line": np.zeros(count, dtype=np.int64),
        "form_bar": np.array(bars_of_form(bars, form), dtype=np.int64),
        "form_bars": np.full(count, 0 if form is None else form.bars, dtype=np.int64),
    }


@cache
def _chord(symbol: str) -> tuple[int, int, str]:
    """Root (-1 for none), tones as bits of pitch classes, and the canonical spelling of a chord symbol."""
    read = read_symbol(symbol)
    if read is None or read.root_pitch_class is None:
        return NO, 0, NO_CHORD
    root = read.root_pitch_class
    return root, sum(1 << (root + tone) % 12 for tone in read.tones), read.canonical


def _chord_columns(chords: Sequence[ChordSpan], onset: "Numbers", functions: FunctionText | None) -> "dict[str, Any]":
    import numpy as np

    starts = np.array([chord.onset_ticks for chord in chords], dtype=np.int64)
    ends = np.array([chord.end_ticks for chord in chords], dtype=np.int64)
    known = [_chord(chord.symbol) for chord in chords]
    names = [name for _, _, name in known]
    at = np.searchsorted(starts, onset, side="right") - 1
    over = at >= 0
    over[over] = onset[over] < ends[at[over]]
    codes = np.zeros(len(chords), dtype=np.int64)
    if functions is not None and functions.text:
        points = np.array([ord(symbol) for symbol in functions.text], dtype=np.int64)
        place = np.searchsorted(np.array(functions.chord_indexes), np.arange(len(chords)), side="right") - 1
        codes = np.where(place >= 0, points[np.maximum(place, 0)], 0)
    return {
        "chord": np.where(over, at, NO),
        "chord_onset": starts,
        "chord_end": ends,
        "chord_root": np.array([root for root, _, _ in known], dtype=np.int64),
        "chord_tones": np.array([tones for _, tones, _ in known], dtype=np.int64),
        "chord_is_new": np.array([i == 0 or names[i] != names[i - 1] for i in range(len(names))], dtype=bool),
        "function": codes,
    }
