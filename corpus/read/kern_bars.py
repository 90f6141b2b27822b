"""One pass over a Humdrum piece: the bars of one ``**kern`` spine, in order of time.

How time is counted: a note begins where the note before it in its column ends; a line stands where its notes begin.
Lines without a note in any spine (a chord that changes under a long note) share the time to the next line evenly.

How bars are counted: a bar is what stands between two bar lines and takes time; its number is the one on the bar line
before it. A first bar shorter than the meter, before any numbered line, is the pickup, 0. A bar line without a number
inside a bar (a repeat sign in its middle) parts it in two that bear one number.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.pitch import Key, key_from_fifths, parse_key
from corpus.read.kern_chords import chord_text
from corpus.read.kern_notes import KernToken, read_token
from corpus.read.kern_text import Column, Line
from corpus.read.remarks import Remarks
from corpus.text import clean_text

LONGEST_BAR_QUARTERS: Final = 1_024
MOST_BARS: Final = 100_000
_LARGEST_BAR_NUMBER: Final = 99_999
_TIMED: Final = ("kern", "recip")
_MODES: Final = {
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "mix": "mixolydian",
    "aeo": "aeolian",
    "loc": "locrian",
    "ion": "ionian",
}
_SIGNS: Final = {
    "segno": "segno",
    "coda": "coda",
    "tocoda": "to coda",
    "fine": "fine",
    "dacapo": "da capo",
    "dc": "da capo",
    "dalsegno": "dal segno",
    "ds": "dal segno",
}
"""Interpretations that steer the order of play."""
_LONGEST_LABEL: Final = 60


@dataclass(frozen=True, slots=True)
class Head:
    """A note of the spine: place and length in quarters from the start of its bar (length 0: a grace note).

    ``voice`` counts the columns of the spine at that place from 0; ``is_alone`` says that there is no other.
    """

    offset: Fraction
    quarters: Fraction
    token: KernToken
    voice: int
    is_alone: bool


@dataclass(slots=True)
class KernBar:
    """A bar as the file has it; ``number`` is None where the bar line before it bears none."""

    number: int | None
    meter: Meter | None
    key: Key | None
    start: Fraction
    length: Fraction = Fraction(0)
    heads: list[Head] = field(default_factory=list)
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    label: str | None = None
    starts_repeat: bool = False
    ends_repeat: bool = False
    signs: set[str] = field(default_factory=set)


@dataclass(slots=True)
class KernPage:
    """All bars, and what the interpretations say about the whole piece."""

    bars: list[KernBar] = field(default_factory=list)
    order: tuple[str, ...] = ()
    tempo_bpm: float | None = None


@dataclass(frozen=True, slots=True)
class ChordSource:
    """The spine that chords are read from, its kind, and whether ``-`` says minor in it."""

    spine: int
    kind: str
    is_minus_minor: bool


class PageReader:
    """Takes the lines of a piece in order and returns the page of one spine.

    ``wished_key`` is the user's word on the key, which counts where the file names none.
    """

    def __init__(
        self, place: str, spine: int, chords: ChordSource | None, remarks: Remarks, wished_key: Key | None
    ) -> None:
        self.place = place
        self.spine = spine
        self.chord_source = chords
        self.remarks = remarks
        self.wished_key = wished_key
        self.is_mode_guessed = False
        self.page = KernPage()
        self.meter: Meter | None = Meter(4, 4)
        self.key: Key | None = None
        self.bar = KernBar(None, self.meter, None, Fraction(0))
        self.now = Fraction(0)
        self.latest = Fraction(0)  # where the last note ends, of columns that have ended too
        self.waiting: list[str] = []  # chord tokens of lines whose time is not known yet
        self.columns: list[Column] = []

    def read(self, lines: Iterator[Line]) -> KernPage:
        """Read all lines. Raises ReadingError where durations or pitches make no sense."""
        for line in lines:
            self.columns = [column for column, _ in line.cells if column.kind in _TIMED]
            try:
                if line.is_interpretation:
                    self._interpretations(line)
                elif line.is_barline:
                    self._barline(line)
                else:
                    self._data(line)
            except ValueError as error:
                raise ReadingError(f"{self.place}, line {line.number}: {error}: the file is damaged here") from error
            self._check_bounds(line.number)
        self._close(Fraction(0))
        return self.page

    def _check_bounds(self, number: int) -> None:
        length = max((column.reaches for column in self.columns), default=Fraction(0)) - self.bar.start
        if length > LONGEST_BAR_QUARTERS:
            raise ReadingError(f"{self.place}, line {number}: the bar has no end: a bar line (=) is missing")
        if len(self.page.bars) > MOST_BARS:
            raise ReadingError(f"{self.place}, line {number}: more than {MOST_BARS} bars: not one line of music")

    # -- bars ------------------------------------------------------------------------------------------------------

    def _end(self) -> Fraction:
        return max([self.now, self.latest, *(column.reaches for column in self.columns)])

    def _barline(self, line: Line) -> None:
        token = next((token for column, token in line.cells if column.spine == self.spine), line.cells[0][1])
        self._close(self._end())
        if re.search(r":[|!]", token):
            done = self.page.bars[-1:]
            for bar in done:
                bar.ends_repeat = True
        self.bar.starts_repeat = self.bar.starts_repeat or re.search(r"[|!]:", token) is not None
        digits = re.match(r"=+(\d{1,9})", token)
        if digits is not None and int(digits[1]) <= _LARGEST_BAR_NUMBER:
            self.bar.number = int(digits[1])

    def _close(self, end: Fraction) -> None:
        """End the bar; without time it is none, and its marks are the next one's."""
        end = max(end, self._end())
        self._place_waiting(end)
        for column in self.columns:
            if column.reaches != end and column.kind == "kern" and column.reaches > self.bar.start:
                self.remarks.add("the spines differ about the length of a bar", self.bar.number)
            column.reaches = end
        self.now = end
        if end == self.bar.start:
            return
        if self.is_mode_guessed:
            self.remarks.add("the key signature names no mode: read as major", self.bar.number)
        self.bar.length = end - self.bar.start
        self.page.bars.append(self.bar)
        self.bar = KernBar(None, self.meter, self.key, end)

    # -- data ------------------------------------------------------------------------------------------------------

    def _data(self, line: Line) -> None:
        starts: list[tuple[Column, KernToken]] = []
        graces: list[tuple[Column, KernToken]] = []
        for column, text in line.cells:
            if column.kind in _TIMED and text not in (".", ""):
                token = read_token(text)
                if token.quarters is not None:
                    starts.append((column, token))
                elif any(note.is_grace for note in token.notes):
                    graces.append((column, token))
                elif column.spine == self.spine and token.notes:
                    self.remarks.add("notes without a duration are left out", self.bar.number)
        own = [column for column, _ in line.cells if column.spine == self.spine]
        if starts:
            at = max(column.reaches for column, _ in starts)
            if any(column.reaches != at for column, _ in starts):
                self.remarks.add("the spines differ about the time: the later one counts", self.bar.number)
            self._place_waiting(at)
            self.now = at
            for column, token in starts:
                column.reaches = at + (token.quarters or 0)
                self.latest = max(self.latest, column.reaches)
        for column, token in (*graces, *starts):
            if column.spine == self.spine and token.notes:
                at = self.now if token.quarters is not None else max(column.reaches, self.now)
                self._add(
                    Head(at - self.bar.start, token.quarters or Fraction(0), token, own.index(column), len(own) < 2)
                )
        self._chord(line, is_timed=bool(starts))

    def _add(self, head: Head) -> None:
        if head.token.is_hidden:
            self.remarks.add("hidden notes are left out", self.bar.number)
            return
        self.bar.heads.append(head)

    def _chord(self, line: Line, *, is_timed: bool) -> None:
        source = self.chord_source
        texts = [text for column, text in line.cells if source is not None and column.spine == source.spine]
        text = texts[0] if texts else "."
        if not is_timed:
            self.waiting.append(text)
        elif source is not None and text not in (".", ""):
            self._place_chord(self.now, text, source)

    def _place_chord(self, at: Fraction, text: str, source: ChordSource) -> None:
        symbol = chord_text(text, source.kind, self.key, is_minus_minor=source.is_minus_minor)
        if symbol is None:
            self.remarks.add("a token of the chord spine names no chord: left out", self.bar.number)
        else:
            self.bar.chords.append((at - self.bar.start, symbol))

    def _place_waiting(self, until: Fraction) -> None:
        """Lines that no note dates share the time from the last dated one evenly."""
        waiting, self.waiting = self.waiting, []
        source = self.chord_source
        if source is None or all(text in (".", "") for text in waiting):
            return
        if until == self.now and len(waiting) == 1:
            self._place_chord(until, waiting[0], source)
            return
        share = (until - self.now) / (len(waiting) + 1)
        for index, text in enumerate(waiting, start=1):
            if text not in (".", ""):
                self._place_chord(self.now + index * share, text, source)

    # -- interpretations -------------------------------------------------------------------------------------------

    def _interpretations(self, line: Line) -> None:
        for column, token in line.cells:
            if token.startswith("*>"):
                self._label(token[2:].strip())
            elif column.spine == self.spine and token != "*":
                self._interpretation(token)
        names = {token[1:].lower() for _, token in line.cells}
        for name in sorted(names & _SIGNS.keys()):
            at_end = _SIGNS[name] in ("to coda", "fine", "da capo", "dal segno")
            bar = self.bar if not at_end or self._is_inside() or not self.page.bars else self.page.bars[-1]
            bar.signs.add(_SIGNS[name])

    def _is_inside(self) -> bool:
        return self._end() > self.bar.start

    def _label(self, text: str) -> None:
        expansion = re.match(r"([^\[\]]*)\[([^\[\]]{0,4000})\]", text)
        if expansion is not None:
            if not expansion[1] and not self.page.order:
                self.page.order = tuple(filter(None, map(_label_of, expansion[2].split(","))))
            return
        if self._is_inside():
            self._close_for_label()
        self.bar.label = _label_of(text)

    def _close_for_label(self) -> None:
        """A label inside a bar parts it, as a repeat sign does."""
        number = self.bar.number
        self._close(self._end())
        self.bar.number = number

    def _interpretation(self, token: str) -> None:
        if match := re.fullmatch(r"\*M(\d{1,3}(?:\+\d{1,3})*)/(1|2|4|8|16|32|64)", token):
            self.meter = Meter(sum(map(int, match[1].split("+"))), int(match[2]))
            if not self.meter.numerator:
                raise ValueError(f"a meter of {token[2:]!r}")
        elif re.match(r"\*M[X?]", token):
            self.meter = None
        elif match := re.match(r"\*MM(\d{1,4}(?:\.\d{1,4})?)", token):
            self._tempo(float(match[1]))
        elif match := re.fullmatch(r"\*k\[((?:[a-g][#n-]*)*)\]", token):
            self._signature(match[1])
        elif match := re.fullmatch(r"\*([A-Ga-g][#-]?):([a-z]{3})?", token):
            tonic = match[1].replace("-", "b")
            mode = _MODES.get(match[2] or "", "major" if tonic[0].isupper() else "minor")
            self._set_key(parse_key(f"{tonic[0].upper()}{tonic[1:]} {mode}"))
        elif token.startswith("*ITr"):
            self.remarks.add("the spine names a transposing instrument: its pitches are read as sounding ones")
        else:
            return
        if not self._is_inside():
            self.bar.meter = self.meter

    def _tempo(self, bpm: float) -> None:
        if self.page.tempo_bpm is None and 10 <= bpm <= 1000:
            self.page.tempo_bpm = bpm

    def _signature(self, signs: str) -> None:
        fifths = signs.count("#") - signs.count("-")
        if self.wished_key is not None:
            self._set_key(self.wished_key)
            return
        self._set_key(key_from_fifths(fifths))
        self.is_mode_guessed = self.key is not None
        if self.key is None:
            self.remarks.add("a key signature out of the ordinary is left out", self.bar.number)

    def _set_key(self, key: Key | None) -> None:
        self.key = key
        self.is_mode_guessed = False
        if not self._is_inside():
            self.bar.key = key


def tick(quarters: Fraction, remarks: Remarks, bar: int | None) -> int:
    """A time in ticks, rounded with a remark where it lies between two."""
    exact = quarters * TICKS_PER_QUARTER
    if exact.denominator != 1:
        remarks.add("durations finer than the time grid are rounded", bar)
    return round(exact)


@dataclass(frozen=True, slots=True)
class Numbered:
    """A bar with what follows from its neighbours: its number, meter, and whether its beats count to the bar line."""

    bar: KernBar
    number: int
    meter: Meter
    length_ticks: int
    is_pickup: bool


def numbered(bars: list[KernBar], remarks: Remarks) -> list[Numbered]:
    """Bars with their numbers, by the rules at the head of this module."""
    found: list[Numbered] = []
    for index, bar in enumerate(bars):
        length = tick(bar.length, remarks, bar.number)
        meter = bar.meter or _own_meter(length)
        before = found[-1] if found else None
        completes = before is not None and before.meter == meter and before.length_ticks + length == meter.bar_ticks
        is_part = completes and (bar.number is None or (before is not None and bar.number == before.number))
        if bar.number is not None:
            number = bar.number
        elif before is None:
            number = 0 if length < meter.bar_ticks and len(bars) > 1 else _number_before(bars[index + 1 :])
        else:
            number = before.number if is_part else before.number + 1
        is_pickup = is_part or (before is None and number == 0)
        found.append(Numbered(replace(bar), number, meter, length, is_pickup))
    return found


def _number_before(bars: list[KernBar]) -> int:
    following = bars[0].number if bars else None
    return 1 if following is None else max(following - 1, 0)


def _own_meter(length: int) -> Meter:
    for denominator in (4, 8, 16):
        beat = 4 * TICKS_PER_QUARTER // denominator
        if length and length % beat == 0:
            return Meter(length // beat, denominator)
    return Meter(4, 4)


def _label_of(text: str) -> str:
    return clean_text(text)[:_LONGEST_LABEL].rstrip()
