"""From lengths in ticks to written note values: dots, ties, tuplets and beams inside one bar.

Rules (common practice, no source): a note that starts on a beat may last as long as one value says, but in 4/4 only
from the first beat, or as a half note from the second, does it reach over the middle of the bar; a note that starts
between beats reaches over one beat line at most, as a quarter does in a syncopation, and not over the middle. What
asks for more is tied. Rests show every beat, but two on one half of a 4/4 bar become one. A tuplet takes the shortest
stretch (half a beat to two beats) whose parts all fit 3, 5, 7 … equal notes.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from corpus.model import TICKS_PER_QUARTER, Bar, Meter

VALUE_TICKS: Final = {
    "breve": 8 * TICKS_PER_QUARTER,
    "whole": 4 * TICKS_PER_QUARTER,
    "half": 2 * TICKS_PER_QUARTER,
    "quarter": TICKS_PER_QUARTER,
    "eighth": TICKS_PER_QUARTER // 2,
    "16th": TICKS_PER_QUARTER // 4,
    "32nd": TICKS_PER_QUARTER // 8,
    "64th": TICKS_PER_QUARTER // 16,
    "128th": TICKS_PER_QUARTER // 32,
}
"""Ticks of each note value, by the names that MusicXML gives them."""

FLAGS: Final = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
"""Beams or flags of the short values."""

_GRID: Final = VALUE_TICKS["128th"]
_TUPLETS: Final = (3, 5, 7, 6, 9)


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes in the time of ``normal`` notes of the value ``kind``; where the bracket opens and closes."""

    actual: int
    normal: int
    kind: str
    starts: bool = False
    stops: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One written sign: a note head or a rest.

    ``source`` is the index of the note it belongs to, None for a rest; ``offset_ticks`` counts from the bar line,
    ``ticks`` is its true length. ``kind`` is empty where no written value says the length.
    """

    source: int | None
    offset_ticks: int
    ticks: int
    kind: str = ""
    dots: int = 0
    tuplet: Tuplet | None = None
    tied_from: bool = False
    tied_to: bool = False
    beams: tuple[str, ...] = ()


Span = tuple[int | None, int, int]
"""Index of a note (None: a rest), start and end in ticks of the bar."""


def written_bar(bar: Bar, sounding: Sequence[tuple[int, int, int]]) -> list[Piece]:
    """The signs of one bar.

    ``sounding`` holds index, start and end of each note inside the bar, in order, in ticks from the bar's start as
    played; the rest of the bar is silence. Offsets of the result count from the bar line that a pickup lacks.
    """
    if not sounding and not bar.padding_ticks:
        return [Piece(None, 0, bar.length_ticks)]
    spans = [(source, start + bar.padding_ticks, end + bar.padding_ticks) for source, start, end in sounding]
    spans_with_rests = list(_with_rests(spans, bar.padding_ticks, bar.padding_ticks + bar.length_ticks))
    pieces: list[Piece] = []
    tuplets = _tuplet_places({edge for _, start, end in spans_with_rests for edge in (start, end)}, bar)
    for source, start, end in spans_with_rests:
        own: list[Piece] = []
        for cut_start, cut_end, place in _cut_at_tuplets(start, end, tuplets):
            if place is None:
                own += _plain(source, cut_start, cut_end, bar.meter)
            else:
                own += _in_tuplet(source, cut_start, cut_end, place)
        pieces += _tied(own)
    return _beamed(_bracketed(pieces, tuplets), bar.meter)


def _with_rests(spans: Iterable[Span], start: int, end: int) -> Iterable[Span]:
    at = start
    for source, first, last in spans:
        if first > at:
            yield None, at, first
        yield source, first, last
        at = last
    if at < end:
        yield None, at, end


# -- tuplets -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Place:
    start: int
    end: int
    tuplet: Tuplet


def _tuplet_places(edges: set[int], bar: Bar) -> list[_Place]:
    """The stretches of a bar that are tuplets, in order."""
    places: list[_Place] = []
    last = bar.padding_ticks + bar.length_ticks
    for edge in sorted(edges):
        if edge % _GRID == 0 or (places and edge < places[-1].end):
            continue
        fitting = [p for p in _candidates(edge, bar) if p.end <= last and _holds(p, edges)]
        # A tuplet that begins and ends with notes is read at a glance; others need ties at their ends.
        whole = (p for p in fitting if p.start in edges and p.end in edges)
        place = next(whole, fitting[0] if fitting else None)
        if place is not None and (not places or place.start >= places[-1].end):
            places.append(place)
    return places


def _candidates(edge: int, bar: Bar) -> Iterable[_Place]:
    beat = VALUE_TICKS["quarter"] if bar.meter.denominator <= 4 else VALUE_TICKS["eighth"]
    for size in (beat // 2, beat, 2 * beat, 4 * beat):
        start = edge // size * size
        if start < bar.padding_ticks:
            continue
        for actual in _TUPLETS:
            normal = 1 << (actual.bit_length() - 1)
            if actual == 6:
                normal = 4
            kind = next((name for name, ticks in VALUE_TICKS.items() if ticks * normal == size), "")
            if kind:
                yield _Place(start, start + size, Tuplet(actual, normal, kind))


def _holds(place: _Place, edges: set[int]) -> bool:
    """Whether every edge inside falls on a note of the tuplet, or on a half or quarter of one."""
    size, parts = place.end - place.start, place.tuplet.actual * 4
    return all((edge - place.start) * parts % size == 0 for edge in edges if place.start < edge < place.end)


def _cut_at_tuplets(start: int, end: int, places: list[_Place]) -> Iterable[tuple[int, int, _Place | None]]:
    at = start
    for place in places:
        if place.end <= at or place.start >= end:
            continue
        if place.start > at:
            yield at, place.start, None
            at = place.start
        stop = min(end, place.end)
        yield at, stop, place
        at = stop
    if at < end:
        yield at, end, None


def _in_tuplet(source: int | None, start: int, end: int, place: _Place) -> list[Piece]:
    ratio = Fraction(place.tuplet.actual, place.tuplet.normal)
    pieces: list[Piece] = []
    at = start
    for kind, dots, value in _greedy(int((end - start) * ratio)):
        ticks = int(value / ratio)
        pieces.append(Piece(source, at, ticks, kind, dots, place.tuplet))
        at += ticks
    return pieces or [Piece(source, start, end - start)]


def _bracketed(pieces: list[Piece], places: list[_Place]) -> list[Piece]:
    result = list(pieces)
    for place in places:
        inside = [i for i, piece in enumerate(result) if place.start <= piece.offset_ticks < place.end and piece.tuplet]
        if inside:
            for index, mark in ((inside[0], "starts"), (inside[-1], "stops")):
                tuplet = result[index].tuplet
                assert tuplet is not None
                opened = replace(tuplet, starts=True) if mark == "starts" else replace(tuplet, stops=True)
                result[index] = replace(result[index], tuplet=opened)
    return result


# -- plain values --------------------------------------------------------------------------------------------------


def _single(ticks: int) -> tuple[str, int] | None:
    """The value and dots (up to one) that last so long, or None."""
    for kind, value in VALUE_TICKS.items():
        if ticks == value:
            return kind, 0
        if 2 * ticks == 3 * value:
            return kind, 1
    return None


def _greedy(ticks: int) -> list[tuple[str, int, int]]:
    """Values that add up to a length, the longest first; empty when the grid is too coarse."""
    found: list[tuple[str, int, int]] = []
    for kind, value in VALUE_TICKS.items():
        while ticks >= value:
            if 2 * ticks == 3 * value:
                return [*found, (kind, 1, ticks)]
            found.append((kind, 0, value))
            ticks -= value
    return found if ticks == 0 else []


def beat_ticks(meter: Meter) -> int:
    """Ticks of a felt beat: a dotted value in 6/8, 9/8 and 12/8."""
    is_compound = meter.denominator >= 8 and meter.numerator % 3 == 0 and meter.numerator > 3
    return meter.beat_ticks * (3 if is_compound else 1)


def _plain(source: int | None, start: int, end: int, meter: Meter) -> list[Piece]:
    pieces: list[Piece] = []
    at = start
    while at < end:
        stop = _stop(at, end, meter, is_rest=source is None)
        single = _single(stop - at)
        if single is not None:
            pieces.append(Piece(source, at, stop - at, *single))
        else:
            values = _greedy(stop - at)
            place = at
            for kind, dots, ticks in values:
                pieces.append(Piece(source, place, ticks, kind, dots))
                place += ticks
            if not values:
                pieces.append(Piece(source, at, stop - at))
        at = stop
    return pieces


def _stop(at: int, end: int, meter: Meter, *, is_rest: bool) -> int:
    """Where the sign that starts at a place must end at the latest."""
    beat = beat_ticks(meter)
    middle = meter.bar_ticks // 2 if meter.numerator == 4 and meter.denominator in (2, 4) else None
    beat_line = (at // beat + 1) * beat
    if end <= beat_line:
        return end
    single = _single(end - at) is not None
    if at % beat == 0:
        # A short value may not hide inside a long one: on the beat, only whole beats (or their dots) are one sign.
        if is_rest:
            return end if middle is None and single and at % meter.bar_ticks == 0 else _rest_stop(at, end, beat, middle)
        if middle is not None and at < middle < end:
            is_allowed = single and ((at == 0 and (end - at) % beat == 0) or (end - at == 2 * beat))
            return end if is_allowed else middle
        return end if single else beat_line if (end - beat_line) % beat else _longest(at, end, beat)
    crosses_middle = middle is not None and at < middle < end
    if not is_rest and single and end - at <= beat and not crosses_middle:
        return end
    return beat_line


def _rest_stop(at: int, end: int, beat: int, middle: int | None) -> int:
    if middle is not None and at % middle == 0 and end >= at + middle:
        return at + middle
    return at + beat


def _longest(at: int, end: int, beat: int) -> int:
    """The longest single value of whole beats from a beat."""
    stop = end
    while stop > at + beat and _single(stop - at) is None:
        stop -= beat
    return stop


def _tied(pieces: list[Piece]) -> list[Piece]:
    if len(pieces) < 2 or pieces[0].source is None:
        return pieces
    last = len(pieces) - 1
    return [replace(piece, tied_from=i > 0, tied_to=i < last) for i, piece in enumerate(pieces)]


# -- beams ---------------------------------------------------------------------------------------------------------


def _beamed(pieces: list[Piece], meter: Meter) -> list[Piece]:
    """The pieces with beams: by beat, and plain eighths of half a 4/4 bar together."""
    groups: dict[int, list[int]] = {}
    for index, piece in enumerate(pieces):
        groups.setdefault(_group(piece, pieces, meter), []).append(index)
    result = list(pieces)
    for members in groups.values():
        run: list[int] = []
        stops: list[int | None] = [*members, None]
        for member in stops:
            if member is not None and pieces[member].source is not None and pieces[member].kind in FLAGS:
                run.append(member)
                continue
            if len(run) > 1:
                for place, beams in zip(run, _beams([FLAGS[pieces[i].kind] for i in run]), strict=True):
                    result[place] = replace(result[place], beams=beams)
            run = []
    return result


def _group(piece: Piece, pieces: list[Piece], meter: Meter) -> int:
    beat = max(beat_ticks(meter), TICKS_PER_QUARTER)
    if meter.numerator == 4 and meter.denominator == 4:
        half = 2 * beat
        start = piece.offset_ticks // half * half
        inside = [p for p in pieces if start <= p.offset_ticks < start + half]
        if all(p.kind == "eighth" and not p.tuplet and p.source is not None for p in inside):
            return start
    return piece.offset_ticks // beat * beat


def _beams(flags: list[int]) -> list[tuple[str, ...]]:
    """MusicXML's beam words of a run of notes, by level."""
    result: list[tuple[str, ...]] = []
    for i, count in enumerate(flags):
        words = []
        for level in range(1, count + 1):
            before = i > 0 and flags[i - 1] >= level
            after = i + 1 < len(flags) and flags[i + 1] >= level
            if before and after:
                words.append("continue")
            elif after:
                words.append("begin")
            elif before:
                words.append("end")
            else:
                words.append("backward hook" if i > 0 else "forward hook")
        result.append(tuple(words))
    return result
