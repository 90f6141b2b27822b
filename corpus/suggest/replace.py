"""What could stand in a dull bar: figures over the functions they are known to fit, joined to the notes on both sides.

A figure begins in the dull bar and ends in it, or on the first beat of the next, from where the line goes on as it was;
two dull bars in a row may be filled by one figure. Beats of the bar that the figure leaves are walked, as in a
suggested line (``walk``). What stands there afterwards must not be dull itself, nor repeat a neighbouring bar.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from corpus.check import Instrument
from corpus.harmony.analysis import Analysis
from corpus.harmony.roles import roles_of
from corpus.model import Note, Transcription
from corpus.suggest.costs import FILLED_BEAT, FORBIDDEN, STRANGER, Wishes
from corpus.suggest.dull import DullBar, dull_bars
from corpus.suggest.ground import Ground
from corpus.suggest.line import spellings
from corpus.suggest.source import Source
from corpus.suggest.units import Candidates, Place, PlacedNote
from corpus.suggest.walk import Walker, way

ALTERNATIVES: Final = 2
_TRIED: Final = 40
"""The cheapest candidates of a bar that are looked at closely."""


@dataclass(frozen=True, slots=True)
class Joint:
    """How a note is reached from the one before: their names, and semitones up or down."""

    before: str
    after: str
    semitones: int


@dataclass(frozen=True, slots=True)
class Alternative:
    """A figure in place of a dull bar: how far it was transposed, and the line as it would be.

    ``first`` to ``last`` are the new notes in ``line``; ``figure`` those of them that the figure gave (the others are
    walked); joints are None where the line begins or ends.
    """

    source: Source
    transposed: int
    price: int
    line: Transcription
    first: int
    last: int
    figure: tuple[int, int]
    before: Joint | None
    after: Joint | None

    @property
    def notes(self) -> tuple[Note, ...]:
        """The new notes."""
        return self.line.notes[self.first : self.last + 1]


@dataclass(frozen=True, slots=True)
class Replaced:
    """A dull bar and what could stand there, the best first."""

    dull: DullBar
    alternatives: tuple[Alternative, ...]


class Replacing:
    """Looks for figures in place of the dull bars of one line."""

    def __init__(
        self,
        line: Transcription,
        analysis: Analysis,
        sources: Sequence[Source],
        instrument: Instrument,
        model: str = "",
    ) -> None:
        """``model`` is a player (lower case) whose figures are preferred."""
        self._line, self._analysis, self._model = line, analysis, model
        self._ground = Ground(line, analysis, instrument)
        self._sources, self._wishes = sources, Wishes()
        self._candidates = Candidates(self._ground, sources, self._wishes)
        self._walker = Walker(self._ground, self._wishes)
        self._bar_onsets = [bar.onset_ticks for bar in line.bars]
        self._onsets = [note.onset_ticks for note in line.notes]
        self.dull = dull_bars(line, roles_of(line, analysis.spans))

    def replaced(self, dull: DullBar) -> Replaced:
        """A dull bar with at most ``ALTERNATIVES`` figures, each of another group. Empty where none fits."""
        found: dict[str, Alternative] = {}
        tried = sorted(self._tries(dull.bar_index), key=lambda item: (item[0], item[1].source, item[1].notes))
        for price, place, notes, resumes in tried[:_TRIED]:
            source = self._sources[place.source]
            if source.group not in found:
                made = self._made(dull, price, place, notes, resumes)
                if made is not None:
                    found[source.group] = made
            if len(found) == ALTERNATIVES:
                break
        return Replaced(dull, tuple(found.values()))

    def _tries(self, bar_index: int) -> Iterator[tuple[int, Place, tuple[PlacedNote, ...], int]]:
        """Price, place, all new notes, and the note of the line that follows them."""
        begin = self._bar_onsets[bar_index]
        before = bisect_left(self._onsets, begin) - 1
        if before >= 0 and self._line.notes[before].end_ticks > begin:
            return
        also_dull = {bar.bar_index for bar in self.dull}
        for place in self._candidates.places(bar_index):
            for price, notes, resumes in self._around(bar_index, place, also_dull):
                price += place.price + self._joint_price(before, notes[0].pitch)
                if self._model and self._model not in self._sources[place.source].players:
                    price += STRANGER
                if price < FORBIDDEN:
                    yield price, place, notes, resumes

    def _joint_price(self, before: int, pitch: int) -> int:
        last = self._line.notes[before].pitch if before >= 0 else None
        return 0 if last is None else self._wishes.motion(pitch - last)

    def _around(
        self, bar_index: int, place: Place, also_dull: Collection[int]
    ) -> Iterator[tuple[int, tuple[PlacedNote, ...], int]]:
        """A figure with the beats around it, price without the figure's own, and the note that follows."""
        slots = self._ground.slots[bar_index]
        lead = [slot for slot in slots if slot.onset_ticks < place.onset]
        if lead:  # a figure may begin off the beat
            room = place.onset - lead[-1].onset_ticks
            lead[-1] = lead[-1]._replace(length_ticks=min(lead[-1].length_ticks, room))
        leads = self._candidates.leads(lead, place.notes[0])
        if not leads:
            return
        lead_price, lead_pitches = leads[0]
        led = tuple(PlacedNote(s.onset_ticks, s.length_ticks, p) for s, p in zip(lead, lead_pitches, strict=True))
        price = lead_price + FILLED_BEAT * len(led)
        last = place.notes[-1]
        end = last.onset_ticks + last.duration_ticks
        if place.last_bar == bar_index or (place.last_bar == bar_index + 1 and place.last_bar in also_dull):
            for more, tail, resumes in self._tail(place, end):
                held = tail[0].onset_ticks if tail else self._bar_end(place.last_bar)
                figure = (*place.notes[:-1], last._replace(duration_ticks=held - last.onset_ticks))
                yield price + more, (*led, *figure, *tail), resumes
        elif place.last_bar == bar_index + 1 and last.onset_ticks == self._bar_onsets[place.last_bar]:
            resumes = bisect_left(self._onsets, end)
            crossing = self._line.notes[resumes - 1] if resumes else None
            if resumes < len(self._onsets) and (crossing is None or crossing.end_ticks <= end):
                held = min(self._onsets[resumes], self._bar_end(place.last_bar))
                figure = (*place.notes[:-1], last._replace(duration_ticks=held - last.onset_ticks))
                yield price + self._leave(last.pitch, resumes), (*led, *figure), resumes

    def _bar_end(self, bar_index: int) -> int:
        bar = self._line.bars[bar_index]
        return bar.onset_ticks + bar.length_ticks

    def _leave(self, pitch: int, resumes: int) -> int:
        following = self._line.notes[resumes].pitch if resumes < len(self._line.notes) else None
        return 0 if following is None else self._wishes.motion(following - pitch)

    def _tail(self, place: Place, end: int) -> Iterator[tuple[int, tuple[PlacedNote, ...], int]]:
        """The beats that a figure leaves of its last bar, walked to the note that follows."""
        resumes = bisect_left(self._onsets, self._bar_end(place.last_bar))
        slots = [slot for slot in self._ground.slots[place.last_bar] if slot.onset_ticks >= end]
        pitch = place.notes[-1].pitch
        if not slots:
            yield self._leave(pitch, resumes), (), resumes
            return
        target = self._line.notes[resumes].pitch if resumes < len(self._line.notes) else None
        tables = self._walker.tables(slots, target)
        for price, start in self._walker.after(pitch, tables[0])[:1]:
            pitches = way(tables, start)
            tail = tuple(PlacedNote(s.onset_ticks, s.length_ticks, p) for s, p in zip(slots, pitches, strict=True))
            yield price + FILLED_BEAT * len(tail), tail, resumes

    def _made(
        self, dull: DullBar, price: int, place: Place, placed: Sequence[PlacedNote], resumes: int
    ) -> Alternative | None:
        """The line with the new notes; None where they are dull too, or as a neighbouring bar is."""
        names = spellings(self._ground, placed)
        new = tuple(
            Note(n.onset_ticks, n.duration_ticks, n.pitch, name, bisect_right(self._bar_onsets, n.onset_ticks) - 1)
            for n, name in zip(placed, names, strict=True)
        )
        first = dull.first
        notes = (*self._line.notes[:first], *new, *self._line.notes[resumes:])
        last_bar = place.last_bar
        beside = tuple(note for note in notes if dull.bar_index - 1 <= note.bar_index <= last_bar + 2)
        around = replace(self._line, notes=beside)
        scores = {bar.bar_index: bar.score for bar in dull_bars(around, roles_of(around, self._analysis.spans))}
        as_it_was = {bar.bar_index: bar.score for bar in self.dull}
        # The bar after may be dull as it was, but no duller: as a repeat of the new one it would be.
        if any(index in scores for index in range(dull.bar_index, last_bar + 1)):
            return None
        if scores.get(last_bar + 1, 0) > as_it_was.get(last_bar + 1, 0):
            return None
        line = replace(self._line, notes=notes)
        last = first + len(new) - 1
        begin = first + sum(n.onset_ticks < place.onset for n in new)
        source = self._sources[place.source]
        figure = (begin, begin + len(place.notes) - 1)
        before, after = _joint(line, first - 1), _joint(line, last)
        return Alternative(source, place.semitones, price, line, first, last, figure, before, after)


def _joint(line: Transcription, index: int) -> Joint | None:
    """From a note to the next one; None where there is none, or one has no pitch."""
    if index < 0 or index + 1 >= len(line.notes):
        return None
    one, two = line.notes[index], line.notes[index + 1]
    if one.pitch is None or two.pitch is None:
        return None
    return Joint(one.spelling, two.spelling, two.pitch - one.pitch)


def put_in(line: Transcription, chosen: Sequence[Alternative]) -> tuple[Transcription, list[tuple[str, int, int]]]:
    """The line with several alternatives at once, and each figure's name with its first and last note.

    Of alternatives that share notes, or stand in neighbouring bars, the earlier one is put in: joints were made to the
    line as it was.
    """
    notes = list(line.notes)
    kept: list[tuple[Alternative, int]] = []
    reached = -1
    for found in sorted(chosen, key=lambda alternative: alternative.first):
        after = len(line.notes) - (len(found.line.notes) - found.last - 1)
        if found.first > reached:
            kept.append((found, after))
            reached = after
    for found, after in reversed(kept):
        notes[found.first : after] = found.notes
    figures, moved = [], 0
    for found, after in kept:
        figures.append((found.source.group, found.figure[0] + moved, found.figure[1] + moved))
        moved += len(found.notes) - (after - found.first)
    return replace(line, notes=tuple(notes)), figures
