"""The plain text of a chord chart: bars between bar lines, read and printed.

::

    title: Lamplighter's Round
    key: Bb
    meter: 4/4
    form: A8 A8 B8 A8

    # a comment: # at the start of a line, nowhere else
    [A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |
        | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 | x2
    [B] | D7 | % | G7 | % |
        |: C7 | F7 . . F7alt :| x2

Grammar, line by line:

- Headers ``title:``, ``key:``, ``meter:`` and ``form:`` stand before the first bar, each at most once; ``meter:`` may
  come again between lines of bars and holds from there on. The meter is 4/4 where nothing is said. A form must divide
  the chart.
- ``[name]`` at the start of a line names the section that begins with the next bar.
- Bars stand between bar lines ``|``; ``||`` and ``|]`` are bar lines too. The first and the last one of a line may be
  left out. An empty bar is an error.
- The chords of a bar share it evenly. ``.`` or ``/`` as a chord of its own holds the chord before (also from the bar
  before) for one more share: ``| Bb6 . . G7 |`` in 4/4 changes on beat 4. With such marks the number of shares must
  divide the beats, or be a multiple of them.
- ``%`` alone in a bar repeats the bar before.
- ``x3`` or ``(x3)`` at the end of a line plays its bars, with their section name, three times. ``|: … :|`` plays the
  bars between twice, also over several lines; ``:| x3`` three times. Repeats don't nest, and there are no endings:
  write bars that differ in full.
- Chords are those of ``corpus.harmony.symbols``; text in double quotes is kept as it is, even where it is no chord.

Repeats are written out when read. Every bar of a ``Chart`` has at least one chord, the first at its start.
"""

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, NoReturn

from corpus.errors import QueryError, ReadingError
from corpus.form import parse_form
from corpus.harmony.symbols import SymbolError, parse_symbol, read_symbol
from corpus.model import Form, Meter
from corpus.pitch import Key, parse_key

MOST_BARS: Final = 4096
MOST_REPEATS: Final = 64

_HEADER: Final = re.compile(r"\s*([A-Za-z]+)\s*:(?!\|)\s*(.*?)\s*")
_METER: Final = re.compile(r"([1-9]\d?)\s*/\s*(1|2|4|8|16|32)")
_SECTION: Final = re.compile(r"\s*\[([^\]]*)\]")
_TOKEN: Final = re.compile(
    r"""(?P<space>\s+)
    |(?P<quoted>"[^"]*")
    |(?P<line>:?\|\|?\]?:?)
    |(?P<count>\(?[x×](?P<times>\d{1,4})\)?(?=\s|$))
    |(?P<word>[^\s|":]+)""",
    re.VERBOSE,
)
_PLAIN: Final = re.compile(r'[^\s|":\[x×%#][^\s|":]*')
_HOLDS: Final = (".", "/")
_COMMON_TIME: Final = Meter(4, 4)


@dataclass(frozen=True, slots=True)
class ChartChord:
    """A chord symbol as written, ``offset_beats`` beats after the start of its bar."""

    offset_beats: Fraction
    symbol: str


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar: its chords in order (the first at 0), its meter, and the section that begins with it, if one does."""

    chords: tuple[ChartChord, ...]
    meter: Meter = _COMMON_TIME
    section: str | None = None


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart, repeats written out."""

    bars: tuple[ChartBar, ...]
    title: str = ""
    key: Key | None = None
    form: Form | None = None


def parse_chart(text: str, name: str) -> Chart:
    """Read a chart; ``name`` is the file's, for messages.

    Raises ReadingError with file, line and column (both from 1) and what was expected there.
    """
    reader = _Reader(name)
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text.removeprefix("\ufeff")), start=1):
        reader.line(number, line)
    return reader.chart()


@dataclass(frozen=True, slots=True)
class _Slot:
    column: int
    text: str
    is_quoted: bool = False


class _Reader:
    """Collects bars line by line. Columns are positions in the line, from 0, until they are told."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.number = 0
        self.bars: list[ChartBar] = []
        self.meter = _COMMON_TIME
        self.section: tuple[str, int, int] | None = None
        self.headers: dict[str, str] = {}
        self.key: Key | None = None
        self.form: Form | None = None
        self.form_place = (0, 0)
        self.group: tuple[int, int, int] | None = None
        """Of a repeat that is open: its first bar, and the line and column of its sign."""

    def fail(self, column: int, why: str, line: int | None = None) -> NoReturn:
        raise ReadingError(f"{self.name}, line {line or self.number}, column {column + 1}: {why}")

    def line(self, number: int, line: str) -> None:
        self.number = number
        if not line.strip() or line.lstrip().startswith("#"):
            return
        header = _HEADER.fullmatch(line)
        if header is not None:
            self.header(header)
            return
        section = _SECTION.match(line)
        start = 0
        if section is not None:
            label = section[1].strip()
            if not label:
                self.fail(section.start(1), "expected a section name between the brackets: [A]")
            if self.section is not None:
                self.fail(section.start(1) - 1, f"section [{self.section[0]}] has no bar before this one begins")
            self.section = (label, number, section.start(1) - 1)
            start = section.end()
        self.bar_line(line, start)

    def header(self, match: re.Match[str]) -> None:
        word, value, column = match[1].lower(), match[2], match.start(2)
        if word not in ("title", "key", "meter", "form"):
            self.fail(match.start(1), f"unknown header {match[1]!r}: expected title, key, meter or form, or bars")
        if word == "meter":
            meter = _METER.fullmatch(value)
            if meter is None:
                self.fail(column, f"expected a meter such as 4/4 or 3/4, found {value!r}")
            self.meter = Meter(int(meter[1]), int(meter[2]))
            return
        if word in self.headers:
            self.fail(match.start(1), f"a second {word}: each header stands once")
        if self.bars:
            self.fail(match.start(1), f"{word} stands before the first bar")
        self.headers[word] = value
        try:
            if word == "key":
                self.key = parse_key(value)
            elif word == "form":
                self.form, self.form_place = parse_form(value), (self.number, column)
        except QueryError as error:
            raise ReadingError(f"{self.name}, line {self.number}, column {column + 1}: {error}") from error

    def tokens(self, line: str, position: int) -> list[re.Match[str]]:
        found: list[re.Match[str]] = []
        while position < len(line):
            match = _TOKEN.match(line, position)
            if match is None:
                what = "a quote that is never closed" if line[position] == '"' else f"{line[position]!r}"
                self.fail(position, f"expected a chord or a bar line, found {what}")
            if match.lastgroup != "space":
                found.append(match)
            position = match.end()
        return found

    def bar_line(self, line: str, start: int) -> None:
        """A line of bars: slots gathered up to the next bar line, repeats written out as they close."""
        tokens = self.tokens(line, start)
        first_bar, has_repeat, slots = len(self.bars), self.group is not None, list[_Slot]()
        before: re.Match[str] | None = None
        for index, token in enumerate(tokens):
            after = tokens[index + 1] if index + 1 < len(tokens) else None
            if token.lastgroup == "line":
                self.bar_sign(token, before, slots)
                has_repeat = has_repeat or ":" in token.group()
                self.repeat_signs(token, after if after is not None and after.lastgroup == "count" else None)
            elif token.lastgroup == "count":
                if before is None or before.lastgroup != "line":
                    self.fail(token.start(), "expected a bar line before the repeat count")
                if not before.group().startswith(":"):
                    self.line_count(first_bar, token, after, has_repeat=has_repeat)
            else:
                slots.append(_Slot(token.start(), token.group(), token.lastgroup == "quoted"))
            before = token
        if slots:
            self.bar(slots)

    def bar_sign(self, sign: re.Match[str], before: re.Match[str] | None, slots: list[_Slot]) -> None:
        """Close the bar that ends at a bar line; two bar lines with nothing between are an empty bar."""
        if slots:
            self.bar(slots)
            slots.clear()
            return
        is_second = before is not None and before.lastgroup == "line" and not before.group().startswith(":")
        if is_second and not sign.group().endswith(":"):
            self.fail(sign.start(), "an empty bar: expected a chord, % (the bar before), . (held) or N.C. (silence)")

    def line_count(
        self, first_bar: int, count: re.Match[str], after: re.Match[str] | None, *, has_repeat: bool
    ) -> None:
        if after is not None:
            self.fail(after.start(), "a repeat count ends its line")
        if has_repeat:
            self.fail(count.start(), "a count on a line with a repeat sign stands right after :|")
        if first_bar == len(self.bars):
            self.fail(count.start(), "a repeat count without bars")
        self.repeat(first_bar, count)

    def repeat_signs(self, token: re.Match[str], count: re.Match[str] | None) -> None:
        sign = token.group()
        if sign.startswith(":"):
            if self.group is None:
                self.fail(token.start(), "a repeat ends here that |: never began")
            if self.group[0] == len(self.bars):
                self.fail(token.start(), "a repeat without bars")
            self.repeat(self.group[0], count)
            self.group = None
        if sign.endswith(":"):
            if self.group is not None:
                self.fail(token.start(), f"a repeat inside the repeat of line {self.group[1]}: repeats don't nest")
            self.group = (len(self.bars), self.number, token.start())

    def repeat(self, first_bar: int, count: re.Match[str] | None) -> None:
        """Play the bars from ``first_bar`` on several times in all, twice without a count."""
        times = 2 if count is None else int(count["times"])
        if not 1 <= times <= MOST_REPEATS:
            self.fail(count.start() if count else 0, f"expected a count from 1 to {MOST_REPEATS}, found {times}")
        self.bars += self.bars[first_bar:] * (times - 1)
        self.limit()

    def limit(self) -> None:
        if len(self.bars) > MOST_BARS:
            self.fail(0, f"more than {MOST_BARS} bars: a chart is one chorus or a few")

    def bar(self, slots: list[_Slot]) -> None:
        label = self.section[0] if self.section else None
        self.section = None
        self.bars.append(ChartBar(self.chords(slots), self.meter, label))
        self.limit()

    def chords(self, slots: list[_Slot]) -> tuple[ChartChord, ...]:
        before = self.bars[-1] if self.bars else None
        repeated = next((slot for slot in slots if slot.text == "%"), None)
        if repeated is not None:
            if len(slots) > 1:
                self.fail(repeated.column, "% stands alone in its bar: it repeats the whole bar before")
            if before is None:
                self.fail(repeated.column, "% has no bar before it to repeat")
            if before.meter != self.meter:
                self.fail(repeated.column, f"% repeats a bar in {before.meter}, but the meter is {self.meter} here")
            return before.chords
        beats = self.meter.numerator
        has_holds = any(slot.text in _HOLDS for slot in slots)
        if has_holds and len(slots) % beats and beats % len(slots):
            self.fail(
                slots[0].column,
                f"{len(slots)} chords and marks do not fit {beats} beats: expected one for each beat, or for each "
                "part of a beat or of the bar",
            )
        found: list[ChartChord] = []
        for index, slot in enumerate(slots):
            offset = Fraction(index * beats, len(slots))
            if slot.text not in _HOLDS:
                found.append(ChartChord(offset, self.symbol(slot)))
            elif not found:
                if before is None:
                    self.fail(slot.column, f"{slot.text} has no chord before it to hold")
                found.append(ChartChord(offset, before.chords[-1].symbol))
        return tuple(found)

    def symbol(self, slot: _Slot) -> str:
        if slot.is_quoted:
            if not slot.text[1:-1].strip():
                self.fail(slot.column, "expected text between the quotes")
            return slot.text[1:-1]
        if slot.text.startswith("["):
            self.fail(slot.column, "a section name stands at the start of a line")
        try:
            parse_symbol(slot.text)
        except SymbolError as error:
            column = slot.column + min(error.column, len(slot.text) + 1)
            raise ReadingError(
                f"{self.name}, line {self.number}, column {column}: expected a chord, found {slot.text[:40]!r}: "
                f"{error.why}"
            ) from error
        return slot.text

    def chart(self) -> Chart:
        if self.group is not None:
            self.fail(self.group[2], "a repeat begins here that :| never ends", self.group[1])
        if self.section is not None:
            self.fail(self.section[2], f"section [{self.section[0]}] has no bars", self.section[1])
        if not self.bars:
            raise ReadingError(f"{self.name} has no bars: write chords between bar lines, as in | Bb6 G7 | Cm7 F7 |")
        if self.form is not None and len(self.bars) % self.form.bars:
            line, column = self.form_place
            self.fail(
                column, f"form {self.form} has {self.form.bars} bars, which do not divide the {len(self.bars)}", line
            )
        return Chart(tuple(self.bars), self.headers.get("title", ""), self.key, self.form)


def print_chart(chart: Chart, width: int = 80) -> str:
    """The chart as text, four bars to a line where ``width`` columns allow, else two or one; ends with a newline.

    Reading the text gives the same chart back.
    """
    lines = [f"title: {chart.title}"] if chart.title else []
    lines += [f"key: {chart.key}"] if chart.key else []
    lines += [f"form: {chart.form}"] if chart.form else []
    cells = [_cell(bar) for bar in chart.bars]
    body: list[str] = []
    for per_line in (4, 2, 1):
        body = _aligned(_rows(chart.bars, cells, per_line))
        if all(len(line) <= width for line in body):
            break
    return "\n".join(lines + body) + "\n"


@dataclass(slots=True)
class _Row:
    """A line of bars; ``label`` is its section in brackets, ``meter`` is set where a new one begins."""

    label: str
    meter: Meter | None
    cells: list[str]


def _rows(bars: tuple[ChartBar, ...], cells: list[str], per_line: int) -> list[_Row]:
    rows: list[_Row] = []
    for index, (bar, cell) in enumerate(zip(bars, cells, strict=True)):
        before = bars[index - 1] if index else None
        has_new_meter = before is None or before.meter != bar.meter
        if has_new_meter or bar.section is not None or len(rows[-1].cells) == per_line:
            label = "" if bar.section is None else f"[{bar.section}] "
            rows.append(_Row(label, bar.meter if has_new_meter else None, [cell]))
        else:
            rows[-1].cells.append("%" if before is not None and before.chords == bar.chords else cell)
    return rows


def _aligned(rows: list[_Row]) -> list[str]:
    margin = max(len(row.label) for row in rows)
    columns = max(len(row.cells) for row in rows)
    widths = [max(len(row.cells[n]) for row in rows if n < len(row.cells)) for n in range(columns)]
    lines: list[str] = []
    for row in rows:
        if row.meter is not None:
            lines.append(f"meter: {row.meter}")
        padded = (f"{cell:{cell_width}}" for cell, cell_width in zip(row.cells, widths, strict=False))
        lines.append(f"{row.label:{margin}}| {' | '.join(padded)} |")
    return lines


def _cell(bar: ChartBar) -> str:
    """The text of a bar: plain chords where they share it evenly, else the fewest shares with ``.`` for held ones."""
    beats = bar.meter.numerator
    texts = [_symbol_text(chord.symbol) for chord in bar.chords]
    count = len(texts)
    if all(chord.offset_beats == Fraction(index * beats, count) for index, chord in enumerate(bar.chords)):
        return " ".join(texts)
    places = [chord.offset_beats / beats for chord in bar.chords]
    shares = math.lcm(*(place.denominator for place in places))
    if beats % shares:
        shares = math.lcm(shares, beats)
    slots = ["."] * shares
    for place, text in zip(places, texts, strict=True):
        slots[int(place * shares)] = text
    return " ".join(slots)


def _symbol_text(symbol: str) -> str:
    if _PLAIN.fullmatch(symbol) and symbol not in _HOLDS and read_symbol(symbol) is not None:
        return symbol
    return f'"{symbol}"'


def tidy_symbol(symbol: str) -> str:
    """A symbol's text as a chart can hold it: on one line, without double quotes."""
    return " ".join(symbol.replace('"', "'").split()) or "?"


def with_section(bar: ChartBar, label: str | None) -> ChartBar:
    """The bar as the beginning of a section, its name made fit for brackets; as it is without a name."""
    tidy = " ".join((label or "").replace("]", ")").split())
    return replace(bar, section=tidy) if tidy else bar
