"""From a stream of notes and marks to numbered bars.

How bars are counted:

- A bar is what stands between two bar lines and takes time. Nothing between two lines makes no bar.
- A first bar shorter than the meter is a pickup: number 0.
- A bar broken in two by a repeat sign or a double bar (``ABc :|: d |`` in 4/8) is one bar: when two neighbours are
  shorter than the meter and fill it together, a plain double bar between them is forgotten; with a repeat sign,
  bracket or section mark between them both halves stay and bear the same number, the second with its beats counted
  to the bar line. Second brackets that continue such a broken bar bear its number too.
- Without a meter (``M:none``) each bar is its own measure: its meter is its length.

A double bar, a final bar or any repeat sign ends an open bracket.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import Final

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Finding, Meter, Ornament
from corpus.pitch import Key, SpelledPitch, parse_spelling
from corpus.read.abc_fields import transpose_chord, transpose_key, transpose_spelling
from corpus.read.abc_tokens import (
    BarMark,
    ChordMark,
    KeyMark,
    Mark,
    MeterMark,
    NoteMark,
    Remark,
    SectionMark,
    SignMark,
)
from corpus.read.written import Jump, WrittenBar, WrittenChord, WrittenNote

_MOST_TIMES: Final = 100


@dataclass(slots=True)
class _Piece:
    """What stands between two bar lines, while it is being filled. Lengths and offsets in ticks, exact."""

    meter: Meter | None
    key: Key | None
    section: str | None
    starts_repeat: bool
    endings: tuple[int, ...]
    starts_ending: bool
    after_line: str  # what stands before it: "plain", "double", "repeat" or "bracket"
    length: int | Fraction = 0
    notes: list[tuple[int | Fraction, int | Fraction, WrittenNote]] = field(default_factory=list)
    chords: list[tuple[int | Fraction, str]] = field(default_factory=list)
    signs: set[str] = field(default_factory=set)
    jump: Jump | None = None
    times: int = 0
    closes_ending: bool = False
    is_changed: bool = False  # key or meter change at its start


class BarBuilder:
    """Takes notes and marks in time order and returns bars.

    ``meter`` None is free meter; ``semitones`` is how far the sound lies above the writing.
    """

    def __init__(self, meter: Meter | None, key: Key | None, semitones: int) -> None:
        self.meter = meter
        self.key = key
        self.semitones = semitones
        self.pieces: list[_Piece] = []
        self.piece: _Piece | None = None
        self.attached = NoteMark()
        self.section: str | None = None
        self.starts_repeat = False
        self.start_times = 0
        self.endings: tuple[int, ...] = ()
        self.starts_ending = False
        self.after_line = "plain"
        self.is_changed = False
        self.waiting_signs: set[str] = set()
        self.waiting_chords: list[str] = []
        self.remarks: dict[str, tuple[int, int, str]] = {}  # text: first piece, count, example

    # filling ---------------------------------------------------------------------------------------------------

    def _open(self) -> _Piece:
        if self.piece is None:
            self.piece = _Piece(
                meter=self.meter,
                key=self.key,
                section=self.section,
                starts_repeat=self.starts_repeat,
                endings=self.endings,
                starts_ending=self.starts_ending,
                after_line=self.after_line,
                signs=self.waiting_signs | ({"coda at start"} & {f"{sign} at start" for sign in self.waiting_signs}),
                chords=[(0, symbol) for symbol in self.waiting_chords],
                is_changed=self.is_changed,
            )
            self.section = None
            self.starts_repeat = self.starts_ending = self.is_changed = False
            self.after_line = "plain"
            self.waiting_signs = set()
            self.waiting_chords = []
        return self.piece

    def rest(self, ticks: int | Fraction) -> None:
        """Time without a note."""
        self._open().length += ticks

    def note(self, name: str, ticks: int | Fraction, is_tied: bool) -> None:
        """A note with music21's name (``F#4``, ``B-3``).

        Raises ReadingError when it sounds outside the MIDI range.
        """
        piece = self._open()
        try:
            pitch, spelling = _sounding(name, self.semitones)
            ornaments = tuple(_ornament(grace, self.semitones) for grace in self.attached.graces)
        except ReadingError as error:
            raise ReadingError(f"near bar {len(self.pieces) + 1}: {error}") from error
        if self.attached.is_dead:
            written = WrittenNote(0, 0, None, "", ornaments=ornaments)
        else:
            written = WrittenNote(0, 0, pitch, spelling, tied_to_next=is_tied, ornaments=ornaments)
        self.attached = NoteMark()
        piece.notes.append((piece.length, ticks, written))
        piece.length += ticks

    def mark(self, mark: Mark) -> None:
        """Anything but a note, a rest or a plain bar line."""
        match mark:
            case NoteMark():
                self.attached = mark
            case ChordMark(symbol):
                sounding = transpose_chord(symbol, self.semitones)
                if self.piece is None:
                    self.waiting_chords.append(sounding)
                else:
                    self.piece.chords.append((self.piece.length, sounding))
            case BarMark():
                self.bar(mark)
            case KeyMark(key, semitones):
                self.semitones = semitones
                self.key = None if key is None else transpose_key(key, semitones)
                self.is_changed = True
            case MeterMark(meter):
                self.is_changed = self.is_changed or meter != self.meter
                self.meter = meter
            case SectionMark(label):
                self.section = label
            case SignMark(sign):
                if self.piece is not None:
                    self.piece.signs.add(sign)
                else:
                    self.waiting_signs.add(sign)
            case Remark():
                self.remark(mark.text, mark.example)

    def remark(self, text: str, example: str = "") -> None:
        """Count a remark; the first of its kind is shown with its bar."""
        first, count, shown = self.remarks.get(text, (len(self.pieces), 0, example))
        self.remarks[text] = (first, count + 1, shown)

    def bar(self, sign: BarMark) -> None:
        """A bar line or bracket."""
        piece, self.piece = self.piece, None
        if piece is not None:
            self.pieces.append(piece)
        last = self.pieces[-1] if self.pieces else None
        if last is not None and piece is None and not self.starts_repeat:
            self._late_signs(last)
        if sign.ends and last is not None and not self.starts_repeat:
            last.times = min(max(last.times, sign.ends + 1, self.start_times), _MOST_TIMES)
            self.start_times = 0
        is_end = sign.is_strong or bool(sign.ends or sign.starts) or sign.endings is not None
        if is_end and self.endings and not self.starts_ending:
            if last is not None:
                last.closes_ending = True
            self.endings = ()
        if sign.starts:
            self.starts_repeat = True
            self.start_times = sign.starts + 1
        if sign.endings is not None:
            self.endings = sign.endings or (self._next_pass(),)
            self.starts_ending = True
        self._note_line(sign)

    def _note_line(self, sign: BarMark) -> None:
        if sign.endings is not None:
            self.after_line = "bracket"
        elif (sign.ends or sign.starts) and self.after_line != "bracket":
            self.after_line = "repeat"
        elif sign.is_strong and self.after_line == "plain":
            self.after_line = "double"

    def _late_signs(self, last: _Piece) -> None:
        """Signs after a bar line with no note of their own: Fine and jumps belong to the bar before."""
        for sign in self.waiting_signs & {"da capo", "dal segno", "fine", "to coda"}:
            last.signs.add(sign)
            self.waiting_signs.discard(sign)

    def _next_pass(self) -> int:
        return 1 + max((number for piece in self.pieces[-64:] for number in piece.endings), default=0)

    # numbering -------------------------------------------------------------------------------------------------

    def finish(self) -> tuple[tuple[WrittenBar, ...], tuple[Finding, ...]]:
        """The bars, numbered, and the remarks with their bars."""
        self.bar(BarMark(is_strong=True))
        self._settle_codas()
        numbers = self._numbers()
        bars: list[WrittenBar] = []
        merged: list[int] = []
        for index, piece in enumerate(self.pieces):
            number, is_late, merges = numbers[index]
            bar = _written(piece, number, is_late)
            if merges and bars:
                bar = _merged(bars.pop(), bar)
            bars.append(bar)
            merged.append(number)
        findings = []
        for text, (first, count, example) in self.remarks.items():
            where = merged[min(first, len(merged) - 1)] if merged else None
            shown = f", the first {example}" if example and count > 1 else f": {example}" if example else ""
            findings.append(Finding("reading", text + (f" ({count} places{shown})" if count > 1 else shown), bar=where))
        return tuple(bars), tuple(findings)

    def _settle_codas(self) -> None:
        """Two coda signs without a To Coda: the first one, before the jump, is where the line leaves."""
        jumps = [i for i, piece in enumerate(self.pieces) if piece.signs & {"da capo", "dal segno"}]
        codas = [i for i, piece in enumerate(self.pieces) if "coda" in piece.signs]
        if not jumps or len(codas) < 2 or any("to coda" in piece.signs for piece in self.pieces):
            return
        at = codas[0]
        if at > jumps[0]:
            return
        piece = self.pieces[at]
        leaves = self.pieces[at - 1] if "coda at start" in piece.signs and at else piece
        leaves.signs.add("to coda")
        piece.signs.discard("coda")

    def _numbers(self) -> list[tuple[int, bool, bool]]:
        """For each piece: its number, whether its beats count to the bar line, whether it joins the one before."""
        found: list[tuple[int, bool, bool]] = []
        number = 0
        broken: tuple[int, int | Fraction] | None = None  # number and length of a first half that a bracket continues
        joined = False  # whether the piece before is itself a second half
        for index, piece in enumerate(self.pieces):
            if not piece.endings:
                broken = None
            full = piece.meter.bar_ticks if piece.meter else None
            is_short = full is not None and piece.length < full
            before = self.pieces[index - 1] if index else None
            if before is None:
                if is_short and len(self.pieces) > 1:
                    found.append((0, True, False))
                else:
                    number = 1
                    found.append((1, False, False))
                continue
            fills = is_short and before.meter == piece.meter and before.length + piece.length == full
            if fills and not joined and piece.after_line != "plain" and number:
                merges = piece.after_line == "double" and not _has_start_marks(piece) and not _has_end_marks(before)
                found.append((number, True, merges))
                broken = (number, before.length) if piece.starts_ending else broken
                joined = True
                continue
            if broken and is_short and piece.starts_ending and broken[1] + piece.length == full:
                number = broken[0]
                found.append((number, True, False))
                joined = True
                continue
            number += 1
            joined = False
            found.append((number, False, False))
        return found


def _has_start_marks(piece: _Piece) -> bool:
    return bool(piece.section or piece.is_changed or piece.starts_repeat or piece.starts_ending or piece.signs)


def _has_end_marks(piece: _Piece) -> bool:
    return bool(piece.times or piece.closes_ending or piece.signs & {"da capo", "dal segno", "fine", "to coda"})


def _written(piece: _Piece, number: int, is_late: bool) -> WrittenBar:
    length = round(piece.length)
    notes = tuple(
        replace(note, offset_ticks=round(offset), duration_ticks=max(round(offset + ticks) - round(offset), 1))
        for offset, ticks, note in piece.notes
    )
    jumps: Sequence[Jump] = ("da capo", "dal segno")
    return WrittenBar(
        number=number,
        meter=piece.meter or _free_meter(length),
        length_ticks=length,
        notes=notes,
        chords=tuple(WrittenChord(round(offset), symbol) for offset, symbol in piece.chords),
        section=piece.section,
        key=piece.key,
        is_pickup=is_late,
        starts_repeat=piece.starts_repeat,
        times=piece.times,
        endings=piece.endings,
        starts_ending=piece.starts_ending,
        closes_ending=piece.closes_ending,
        segno="segno" in piece.signs,
        coda="coda" in piece.signs,
        fine="fine" in piece.signs,
        to_coda="to coda" in piece.signs,
        jump=next((jump for jump in jumps if jump in piece.signs), None),
    )


def _merged(first: WrittenBar, second: WrittenBar) -> WrittenBar:
    """Two halves of one bar as one."""
    shift = first.length_ticks
    return replace(
        first,
        length_ticks=shift + second.length_ticks,
        notes=first.notes + tuple(replace(note, offset_ticks=note.offset_ticks + shift) for note in second.notes),
        chords=first.chords + tuple(replace(chord, offset_ticks=chord.offset_ticks + shift) for chord in second.chords),
        times=second.times,
        closes_ending=second.closes_ending,
        segno=first.segno or second.segno,
        coda=first.coda or second.coda,
        fine=second.fine,
        to_coda=second.to_coda,
        jump=second.jump,
    )


def _free_meter(length_ticks: int) -> Meter:
    """A meter as long as a bar without one, in the largest note value that fits, quarters first."""
    for denominator in (4, 8, 16, 32, 64):
        beat = 4 * TICKS_PER_QUARTER // denominator
        if length_ticks % beat == 0:
            return Meter(max(length_ticks // beat, 1), denominator)
    return Meter(max(-(-length_ticks // TICKS_PER_QUARTER), 1), 4)


@lru_cache(maxsize=4096)
def _sounding(name: str, semitones: int) -> tuple[int, str]:
    """Sounding pitch and spelling of a note in music21's spelling (``-`` is flat; no octave is negative)."""
    spelled = parse_spelling(name.replace("-", "b"))
    if semitones:
        spelled = transpose_spelling(spelled, semitones)
    pitch = spelled.pitch
    if pitch is None or not 0 <= pitch <= 127 or spelled.octave is None or not -1 <= spelled.octave <= 9:
        raise ReadingError(f"the note {name.replace('-', 'b')} sounds outside the MIDI range 0 to 127")
    return pitch, str(spelled)


def _ornament(grace: SpelledPitch, semitones: int) -> Ornament:
    pitch, spelling = _sounding(str(grace), semitones)
    return Ornament(pitch, spelling)
