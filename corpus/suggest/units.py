"""The candidates: units of whole bars that hold one figure, the beats around it filled in, or are filled in altogether.

A figure may stand where each of its notes has the function it had, in the chart's local key, transposed alike; on the
beat on which it began, or in a bar of four beats half a bar away; in bars of its meter. It is tried in every octave of
the instrument's range. A last note that would sound over the bar line ends there.

At most ``MOST_PLACES`` places of figures (the cheapest a beat) and ``MOST_UNITS`` units begin in one bar; among those
the search is exact.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from corpus.model import TICKS_PER_QUARTER, Bar, Meter
from corpus.pitch import parse_key
from corpus.rework import moved_spelling
from corpus.suggest.costs import FILLED_BEAT, STRANGER, STRONG_OUTSIDE, Wishes, register_price
from corpus.suggest.ground import Ground, Slot
from corpus.suggest.source import Source
from corpus.suggest.walk import Walker, way

MOST_PLACES: Final = 80
MOST_UNITS: Final = 300
_WAYS: Final = 3
_TARGETS_A_START: Final = 4
_NEAR: Final = 9
Signature = tuple[tuple[int, int], ...]


class PlacedNote(NamedTuple):
    """A note in its place, in ticks of the line; ``spelling`` is empty for one that was filled in."""

    onset_ticks: int
    duration_ticks: int
    pitch: int
    spelling: str = ""


@dataclass(frozen=True, slots=True)
class Unit:
    """``count`` whole bars from bar ``first_bar`` (from 0) on; ``source`` is an index, or None without a figure.

    ``transposed`` is in semitones; ``opening`` and ``closing`` tell the first and the last bar's notes, to compare
    neighbours with. ``price`` is the unit's own, without joints.
    """

    first_bar: int
    count: int
    notes: tuple[PlacedNote, ...]
    price: int
    source: int | None = None
    transposed: int = 0
    opening: Signature = ()
    closing: Signature = ()

    @property
    def end_bar(self) -> int:
        """The bar after the last one."""
        return self.first_bar + self.count


Way = tuple[int, list[int]]
"""The price of a way through some beats, and its notes."""


class Place(NamedTuple):
    """A figure where it may stand: its price, its length in beats, the index of its source, its notes."""

    price: int
    beats: int
    source: int
    onset: int
    semitones: int
    last_bar: int
    notes: tuple[PlacedNote, ...]


class Candidates:
    """All units over a ground."""

    def __init__(self, ground: Ground, sources: Sequence[Source], wishes: Wishes) -> None:
        self._ground, self._sources, self._wishes = ground, sources, wishes
        self._bars = ground.line.bars
        self._bar_onsets = [bar.onset_ticks for bar in self._bars]
        self._walker = Walker(ground, wishes)
        self._beginnings: dict[Meter, dict[int, dict[str, list[int]]]] = {}
        self._tails_known: dict[tuple[int, int, int], list[Way]] = {}
        self._leads_known: dict[tuple[int, int, int], list[Way]] = {}

    def units(self) -> list[list[Unit]]:
        """For each bar the units that begin in it, cheapest a bar first; at least one."""
        return [self._units_from(bar_index) for bar_index in range(len(self._bars))]

    def _units_from(self, bar_index: int) -> list[Unit]:
        filled = list(self._filled(bar_index))
        places = sorted(self.places(bar_index), key=lambda place: (place.price / place.beats, place))[:MOST_PLACES]
        units = [unit for place in places for unit in self._around(bar_index, place)]
        units.sort(key=lambda unit: unit.price / unit.count)
        return filled + units[: MOST_UNITS - len(filled)]

    def _targets(self, bar_index: int) -> list[int | None]:
        """Notes that a bar may begin with, as aims for the bar before; None where nothing follows."""
        slots = self._ground.slots[bar_index] if bar_index < len(self._bars) else ()
        if not slots or not slots[0].first:
            return [None]
        instrument = self._ground.instrument
        return [p for p in range(instrument.lowest, instrument.highest + 1) if p % 12 in slots[0].tones]

    def _filled(self, bar_index: int) -> Iterator[Unit]:
        slots = self._ground.slots[bar_index]
        if not slots:
            yield Unit(bar_index, 1, (), 0)
            return
        found: dict[int, list[tuple[int, tuple[int, ...]]]] = defaultdict(list)
        for target in self._targets(bar_index + 1):
            tables = self._walker.tables(slots, target)
            for start, (price, _) in tables[0].items():
                found[start].append((price, tuple(way(tables, start))))
        for ways in found.values():
            for price, pitches in sorted(set(ways))[:_TARGETS_A_START]:
                notes = tuple(map(_filling, slots, pitches))
                unit = self._unit(bar_index, 1, notes, price + FILLED_BEAT * len(slots))
                if unit is not None:
                    yield unit

    def places(self, bar_index: int) -> Iterator[Place]:
        """Where figures may begin in a bar, in every octave."""
        bar = self._bars[bar_index]
        for offset, by_function in self._beginnings_in(bar).items():
            span = self._ground.span_at(bar.onset_ticks + offset)
            if span is not None and span.numeral is not None and offset < bar.length_ticks:
                for index in by_function.get(str(span.numeral), ()):
                    yield from self._octaves(index, bar.onset_ticks + offset)

    def _beginnings_in(self, bar: Bar) -> dict[int, dict[str, list[int]]]:
        """Where in a bar figures may begin, in ticks, and which, by the function under their first note."""
        if bar.meter not in self._beginnings:
            found: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
            for index, source in enumerate(self._sources):
                if source.meter in (None, bar.meter):
                    for offset in _own_offsets(source, bar.meter):
                        found[offset][source.notes[0].numeral].append(index)
            self._beginnings[bar.meter] = dict(sorted(found.items()))
        return self._beginnings[bar.meter]

    def _octaves(self, index: int, onset: int) -> Iterator[Place]:
        source = self._sources[index]
        semitones = self._transposition(source, onset)
        last_bar = bisect_right(self._bar_onsets, onset + source.notes[-1].onset_ticks) - 1
        if semitones is None or onset + source.notes[-1].onset_ticks >= self._ground.line.end_ticks:
            return
        first_bar = bisect_right(self._bar_onsets, onset) - 1
        touched = self._bars[first_bar : last_bar + 1]
        if source.meter is not None and any(bar.meter != source.meter for bar in touched):
            return
        instrument = self._ground.instrument
        pitches = [note.pitch for note in source.notes]
        low, high = instrument.lowest - min(pitches), instrument.highest - max(pitches)
        for moved in range(low + (semitones - low) % 12, high + 1, 12):
            yield self._place(index, onset, moved, last_bar)

    def _transposition(self, source: Source, onset: int) -> int | None:
        """Semitones (0 to 11) by which a figure has to be moved to fit at a tick; None where it does not fit."""
        away: int | None = None
        for note in source.notes:
            span = self._ground.span_at(onset + note.onset_ticks)
            if span is None or span.key is None or str(span.numeral) != note.numeral:
                return None
            here = (span.key.tonic_pitch_class - note.tonic) % 12
            if away is not None and here != away:
                return None
            away = here
        return away

    def _place(self, index: int, onset: int, semitones: int, last_bar: int) -> Place:
        source = self._sources[index]
        span = self._ground.span_at(onset)
        assert span is not None
        assert span.key is not None
        steps = _steps(source.key.tonic, span.key.tonic, semitones)
        bar_end = self._bars[last_bar].onset_ticks + self._bars[last_bar].length_ticks
        notes = tuple(
            PlacedNote(
                onset + note.onset_ticks,
                min(note.duration_ticks, bar_end - onset - note.onset_ticks),
                note.pitch + semitones,
                moved_spelling(note.pitch, note.spelling, semitones, steps),
            )
            for note in source.notes
        )
        price = sum(self._note_price(note) for note in notes)
        habits = self._wishes.habits
        if habits is not None and not any(habits.player in player for player in source.players):
            price += STRANGER
        beats = max((notes[-1].onset_ticks + notes[-1].duration_ticks - onset) // TICKS_PER_QUARTER, 1)
        return Place(price, beats, index, onset, semitones, last_bar, notes)

    def _note_price(self, note: PlacedNote) -> int:
        bar = self._bars[bisect_right(self._bar_onsets, note.onset_ticks) - 1]
        span = self._ground.span_at(note.onset_ticks)
        assert span is not None
        assert span.symbol is not None
        price = register_price(note.pitch, self._ground.instrument.lowest)
        if self._ground.is_strong(bar, note.onset_ticks) and note.pitch % 12 not in span.symbol.pitch_classes:
            price += STRONG_OUTSIDE
        is_first = note.onset_ticks == bar.onset_ticks
        if is_first or note.onset_ticks == span.onset_ticks:
            price += self._wishes.root_price(note.pitch % 12 == span.symbol.root_pitch_class, is_first)
        return price

    def _around(self, bar_index: int, place: Place) -> Iterator[Unit]:
        """A figure in its place with the beats before and after it filled in, in the cheapest few ways."""
        before = [slot for slot in self._ground.slots[bar_index] if slot.onset_ticks < place.onset]
        if before:
            last = before[-1]
            before[-1] = last._replace(length_ticks=min(last.length_ticks, place.onset - last.onset_ticks))
        notes, after = self._prolonged(place)
        count = place.last_bar - bar_index + 1
        for lead_price, lead in self.leads(before, notes[0]):
            for tail_price, tail in self._tails(after, notes[-1], place.last_bar + 1):
                price = place.price + lead_price + tail_price + FILLED_BEAT * (len(lead) + len(tail))
                whole = (*map(_filling, before, lead), *notes, *map(_filling, after, tail))
                unit = self._unit(bar_index, count, whole, price, place.source, place.semitones)
                if unit is not None:
                    yield unit

    def _prolonged(self, place: Place) -> tuple[tuple[PlacedNote, ...], list[Slot]]:
        """The figure, its last note held up to the next beat, and the beats of its last bar that are left."""
        bar, last = self._bars[place.last_bar], place.notes[-1]
        end = last.onset_ticks + last.duration_ticks
        after = [slot for slot in self._ground.slots[place.last_bar] if slot.onset_ticks >= end]
        stop = after[0].onset_ticks if after else bar.onset_ticks + bar.length_ticks
        if 0 < stop - end < bar.meter.beat_ticks:
            last = last._replace(duration_ticks=stop - last.onset_ticks)
        return (*place.notes[:-1], last), after

    def leads(self, slots: Sequence[Slot], first: PlacedNote) -> list[Way]:
        """The cheapest ways through the beats of a bar before a figure."""
        if not slots:
            return [(0, [])]
        key = (slots[0].onset_ticks, first.onset_ticks, first.pitch)
        if key in self._leads_known:
            return self._leads_known[key]
        bar = self._bars[bisect_right(self._bar_onsets, first.onset_ticks) - 1]
        tables = self._walker.tables(slots, first.pitch, self._ground.is_strong(bar, first.onset_ticks))
        starts = sorted((price, start) for start, (price, _) in tables[0].items())[:_WAYS]
        self._leads_known[key] = [(price, way(tables, start)) for price, start in starts]
        return self._leads_known[key]

    def _tails(self, slots: Sequence[Slot], last: PlacedNote, next_bar: int) -> list[Way]:
        if not slots:
            return [(0, [])]
        key = (slots[0].onset_ticks, last.pitch, next_bar)
        if key in self._tails_known:
            return self._tails_known[key]
        found: list[Way] = []
        for target in self._targets(next_bar):
            if target is not None and abs(target - last.pitch) > _NEAR + 2 * len(slots):
                continue
            tables = self._walker.tables(slots, target)
            found += [(price, way(tables, start)) for price, start in self._walker.after(last.pitch, tables[0])[:1]]
        self._tails_known[key] = sorted(found)[:_WAYS]
        return self._tails_known[key]

    def _unit(
        self,
        bar_index: int,
        count: int,
        notes: tuple[PlacedNote, ...],
        price: int,
        source: int | None = None,
        transposed: int = 0,
    ) -> Unit | None:
        """A unit, unless two of its own neighbouring bars are the same."""
        signatures = self._signatures(notes, bar_index, count)
        if any(signatures[i] and signatures[i] == signatures[i + 1] for i in range(count - 1)):
            return None
        return Unit(bar_index, count, notes, price, source, transposed, signatures[0], signatures[-1])

    def _signatures(self, notes: Sequence[PlacedNote], bar_index: int, count: int) -> list[Signature]:
        """For each bar its notes: onset from the bar line and pitch."""
        found: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        at, onsets = bar_index, self._bar_onsets
        for onset, _, pitch, _ in notes:
            while at + 1 < bar_index + count and onset >= onsets[at + 1]:
                at += 1
            found[at - bar_index].append((onset - onsets[at], pitch))
        return [tuple(bar) for bar in found]


def _filling(slot: Slot, pitch: int) -> PlacedNote:
    return PlacedNote(slot.onset_ticks, slot.length_ticks, pitch)


def _own_offsets(source: Source, meter: Meter) -> tuple[int, ...]:
    """Where in a bar a figure may begin, in ticks from its start."""
    own, whole = 0 if source.beat is None else round((source.beat - 1) * meter.beat_ticks), meter.bar_ticks
    return tuple(sorted({own % whole, (own + whole // 2) % whole})) if meter.numerator == 4 else (own,)


def _steps(old: str, new: str, semitones: int) -> int:
    """Letter names from one tonic to another that lie so many semitones apart."""
    letters = (parse_key(new).tonic_spelling.letter - parse_key(old).tonic_spelling.letter) % 7
    return letters + 7 * round((semitones * 7 / 12 - letters) / 7)
