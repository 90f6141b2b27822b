"""The chorus map: bars in rows of the form, chords in them, and figures under them as letters.

Plain text for 80 columns: a row of bars with their chord symbols at the beats where they stand (``%`` where the chord
before goes on), and under it a row for marks: the figure's letter where it begins, hyphens as long as it lasts.
Figures that overlap get rows of their own. Nothing depends on colour.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from textwrap import wrap

from corpus.match.exact import Occurrence
from corpus.model import Bar, Transcription

MAP_WIDTH = 80
_LABEL_WIDTH = 7
_CONTINUED = "%"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Marked:
    """Something on the map: the label where it begins, its name in the legend, and where it stands.

    A figure's label is a letter and its stretches run from the onset of its first note to that of its last, in ticks;
    a progression's label is its name in parentheses.
    """

    label: str
    name: str
    stretches: Sequence[tuple[int, int]]
    occurrences: Sequence[Occurrence] = ()

    @property
    def closing(self) -> str:
        """What stands at the end of a stretch."""
        return ")" if self.label.startswith("(") else "-"


def marked_figure(letter: str, name: str, line: Transcription, occurrences: Sequence[Occurrence]) -> Marked:
    """A figure's mark, from the notes it covers."""
    stretches = [(line.notes[o.first].onset_ticks, line.notes[o.last].onset_ticks) for o in occurrences]
    return Marked(letter, name, stretches, occurrences)


@dataclass(frozen=True, slots=True)
class _Row:
    """Bars that stand beside each other, with the label before them."""

    label: str
    bars: tuple[int, ...]
    heading: str = ""


def bars_a_row(transcription: Transcription) -> int:
    """8 where every bar's symbols fit, else 4."""
    width = cell_width(8)
    fits = all(len(_chord_cell(transcription, index, width)[1]) == 0 for index in range(len(transcription.bars)))
    return 8 if fits else 4


def cell_width(per_row: int) -> int:
    """Columns inside the bar lines of one bar."""
    return (MAP_WIDTH - _LABEL_WIDTH - 1) // per_row - 1


def chorus_map(
    transcription: Transcription,
    marked: Sequence[Marked],
    per_row: int | None = None,
    only: Collection[int] | None = None,
    shares: Sequence[str] = (),
) -> list[str]:
    """The lines of the map, of all choruses or ``only`` of those numbered, without the legend.

    ``shares`` are short texts, one a bar, for a last lane under each row.
    Symbols that do not fit their bar end in ``…`` and are written out below.
    """
    per_row = per_row or bars_a_row(transcription)
    width = cell_width(per_row)
    choruses = sorted({bar.chorus for bar in transcription.bars})
    lines: list[str] = []
    for number in choruses:
        if only is not None and number not in only:
            continue
        if len(choruses) > 1:
            lines += [f"Chorus {number} of {choruses[-1]}", ""]
        rows = list(_rows(transcription, number, per_row))
        for row in rows:
            lines += _draw(transcription, marked, row, width)
            if any(shares[index] for index in row.bars if shares):
                cells = " ".join(f"{shares[index][:width]:<{width}}" for index in row.bars)
                lines.append(f"{' ' * _LABEL_WIDTH} {cells.rstrip()}")
        lines += _written_out(transcription, rows, width)
        lines.append("")
    return lines[:-1]


def _written_out(transcription: Transcription, rows: Sequence[_Row], width: int) -> list[str]:
    """The symbols of bars in which they did not fit."""
    lines: list[str] = []
    for index in (index for row in rows for index in row.bars):
        if _chord_cell(transcription, index, width)[1]:
            bar = transcription.bars[index]
            end = bar.onset_ticks + bar.length_ticks
            symbols = [chord.symbol for chord in transcription.chords_between(bar.onset_ticks, end)]
            lines += wrap(f"bar {_number(bar)}: {'  '.join(symbols)}", MAP_WIDTH, initial_indent="  … ")
    return lines


def _rows(transcription: Transcription, chorus: int, per_row: int) -> Iterator[_Row]:
    """Rows of at most ``per_row`` bars; a section begins a new one, and so does the bar after a pickup.

    The section is named at its first full bar.
    """
    row: list[int] = []
    name = ""
    last_section = None
    for index, bar in enumerate(transcription.bars):
        if bar.chorus != chorus:
            continue
        section = transcription.section_at(bar.onset_ticks)
        is_new = section is not last_section
        after_pickup = bool(row) and transcription.bars[row[-1]].number == 0
        if row and (is_new or len(row) == per_row or after_pickup):
            yield _row(transcription, name, row)
            row = []
        if not row:
            name = section.label if section and (is_new or after_pickup) and bar.number != 0 else ""
        last_section = section
        row.append(index)
    if row:
        yield _row(transcription, name, row)


def _number(bar: Bar) -> str:
    return f"{bar.number}~{bar.pass_number}" if bar.pass_number > 1 else str(bar.number)


def _row(transcription: Transcription, section: str, bars: Sequence[int]) -> _Row:
    """A row with its label; a section's name that does not fit beside the bar's number stands above the row."""
    number = _number(transcription.bars[bars[0]])
    name = f"[{section}]" if section else ""
    if len(name) + len(number) < _LABEL_WIDTH:
        return _Row(f"{name}{number:>{_LABEL_WIDTH - 1 - len(name)}} ", tuple(bars))
    return _Row(f"{number:>{_LABEL_WIDTH - 1}} ", tuple(bars), name[:MAP_WIDTH])


def _column(bar: Bar, tick: int, width: int) -> int:
    """The column inside a bar's cell where a tick falls."""
    length = max(bar.length_ticks + bar.padding_ticks, 1)
    share = Fraction(tick - bar.onset_ticks + bar.padding_ticks, length)
    return min(int(share * width), width - 1)


def _chord_cell(transcription: Transcription, index: int, width: int) -> tuple[str, str]:
    """The symbols of a bar in ``width`` columns, and what did not fit."""
    bar = transcription.bars[index]
    cell = ""
    end = bar.onset_ticks + bar.length_ticks
    for chord in transcription.chords_between(bar.onset_ticks, max(end, bar.onset_ticks + 1)):
        if chord.onset_ticks < bar.onset_ticks:
            if not any(c.onset_ticks == bar.onset_ticks for c in transcription.chords_between(bar.onset_ticks, end)):
                cell = _CONTINUED
            continue
        column = _column(bar, chord.onset_ticks, width)
        gap = max(column - len(cell), 1 if cell else 0)
        cell += " " * gap + chord.symbol
    return f"{cell[:width]:<{width}}", cell[width:]


def _draw(transcription: Transcription, marked: Sequence[Marked], row: _Row, width: int) -> list[str]:
    cells = [_chord_cell(transcription, index, width) for index in row.bars]
    shown = [cell if not rest else f"{cell[:-1]}…" for cell, rest in cells]
    lines = [row.heading] if row.heading else []
    lines.append(f"{row.label}|{'|'.join(shown)}|")
    lines += [f"{' ' * _LABEL_WIDTH} {lane.rstrip()}" for lane in _lanes(transcription, marked, row, width)]
    return lines


def _lanes(transcription: Transcription, marked: Sequence[Marked], row: _Row, width: int) -> list[str]:
    """The rows of marks under a row of bars; marks that overlap go to different lanes."""
    places: list[tuple[int, int, str]] = []
    first_bar, last_bar = transcription.bars[row.bars[0]], transcription.bars[row.bars[-1]]
    row_end = last_bar.onset_ticks + last_bar.length_ticks
    for mark in marked:
        for begin, end in mark.stretches:
            if end < first_bar.onset_ticks or begin >= row_end:
                continue
            begins_here, ends_here = begin >= first_bar.onset_ticks, end < row_end
            start = _place(transcription, row, begin, width) if begins_here else 0
            full = len(row.bars) * (width + 1) - 2
            stop = max(_place(transcription, row, end, width) if ends_here else full, start)
            room = stop - start + 1
            # A figure that comes from the row before repeats its letter after a hyphen, so that it can be told.
            label = mark.label if begins_here else f"-{'' if mark.label.startswith('(') else mark.label}"
            text = f"{label:-<{room}}"[:room]
            places.append((start, stop, text[:-1] + mark.closing if ends_here and room > 1 else text))
    lanes: list[list[str]] = []
    for start, stop, text in sorted(places):
        for lane in lanes:
            if all(symbol == " " for symbol in lane[max(start - 1, 0) : stop + 1]):
                break
        else:
            lane = [" "] * (len(row.bars) * (width + 1))
            lanes.append(lane)
        lane[start : stop + 1] = text
    return ["".join(lane) for lane in lanes]


def _place(transcription: Transcription, row: _Row, tick: int, width: int) -> int:
    """The column of a row at which a tick falls."""
    for column, index in reversed(list(enumerate(row.bars))):
        bar = transcription.bars[index]
        if bar.onset_ticks <= tick:
            return column * (width + 1) + _column(bar, tick, width)
    return 0
