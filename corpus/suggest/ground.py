"""The chart under a suggested line: bars, chords with functions, and the beats on which a walking line steps."""

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from corpus.check import Instrument
from corpus.errors import QueryError
from corpus.harmony.analysis import Analysis, analyse
from corpus.harmony.chart import Chart, apply_chart
from corpus.harmony.roles import scale_of_the_moment
from corpus.harmony.spans import HarmonySpan
from corpus.model import Bar, Details, Transcription
from corpus.write.values import beat_ticks


class Slot(NamedTuple):
    """A beat to be filled: onset and length in ticks; what may sound, as pitch classes.

    ``root``, ``tones`` and ``scale`` are those of its chord. ``strong`` slots stand on the first or middle beat, or
    where the chord changes; ``first`` on the first; ``new`` there or where a chord begins.
    """

    onset_ticks: int
    length_ticks: int
    root: int
    tones: frozenset[int]
    scale: frozenset[int]
    strong: bool
    first: bool
    new: bool


@dataclass(frozen=True)
class Ground:
    """A chart as a line without notes, with its analysis, for an instrument."""

    line: Transcription
    analysis: Analysis
    instrument: Instrument

    @cached_property
    def _onsets(self) -> list[int]:
        return [span.onset_ticks for span in self.analysis.spans]

    def span_at(self, tick: int) -> HarmonySpan | None:
        """The chord at a tick; None where there is none that has a root."""
        index = bisect_right(self._onsets, tick) - 1
        if index < 0:
            return None
        span = self.analysis.spans[index]
        return span if tick < span.end_ticks and span.symbol is not None and span.symbol.root is not None else None

    def is_strong(self, bar: Bar, tick: int) -> bool:
        """Whether a note at a tick stands on the first or middle beat, or where a chord begins."""
        beats = bar.meter.numerator
        middle = 1 + beats // 2 if beats in (4, 6, 12) else 1
        return bar.beat_at(tick) in (1, middle) or tick in self._onset_set

    @cached_property
    def _onset_set(self) -> frozenset[int]:
        return frozenset(self._onsets)

    @cached_property
    def slots(self) -> tuple[tuple[Slot, ...], ...]:
        """For each bar its beats over a known chord."""
        return tuple(tuple(self._slots(bar)) for bar in self.line.bars)

    def _slots(self, bar: Bar) -> list[Slot]:
        step = beat_ticks(bar.meter)
        found = []
        for tick in range(bar.onset_ticks, bar.onset_ticks + bar.length_ticks, step):
            span = self.span_at(tick)
            if span is None or span.symbol is None or span.symbol.root is None:
                continue
            symbol = span.symbol
            length = min(step, bar.onset_ticks + bar.length_ticks - tick)
            scale = scale_of_the_moment(symbol, span.key)
            # A power chord and its like would leave nothing to walk on.
            tones = symbol.pitch_classes if len(symbol.tones) > 2 else symbol.pitch_classes | scale
            is_strong = self.is_strong(bar, tick)
            root = symbol.root_pitch_class or 0
            is_first = tick == bar.onset_ticks
            is_new = is_first or tick in self._onset_set
            found.append(Slot(tick, length, root, tones, scale, is_strong, is_first, is_new))
        return found


def ground_of(chart: Chart, instrument: Instrument) -> Ground:
    """The ground of a chart. Raises QueryError when no chord of it can be read."""
    bars, onset = [], 0
    for number, chart_bar in enumerate(chart.bars, start=1):
        bars.append(Bar(number, 1, onset, chart_bar.meter.bar_ticks, 0, chart_bar.meter, 1, chart.key))
        onset += chart_bar.meter.bar_ticks
    details = Details(
        title=chart.title or "Suggested line",
        instrument=instrument.name,
        key=chart.key,
        meter=bars[0].meter,
        form=chart.form,
    )
    line = apply_chart(Transcription(details, (), tuple(bars)), chart)
    ground = Ground(line, analyse(line), instrument)
    if not any(ground.slots):
        raise QueryError("no chord of the chart can be read: without chords nothing can be suggested")
    return ground
