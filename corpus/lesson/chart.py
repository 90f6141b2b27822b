"""The chart of a lesson: bars with their chords and functions, a chorus that repeats another told once."""

from collections.abc import Sequence
from dataclasses import dataclass

from corpus.harmony.analysis import Analysis
from corpus.harmony.spans import HarmonySpan
from corpus.lesson.schedule import bar_name
from corpus.lesson.signs import numeral_with_signs, with_signs
from corpus.model import Transcription


@dataclass(frozen=True, slots=True)
class ChartChord:
    """A chord symbol and its function; ``key`` is named where it is not that of the chord before."""

    symbol: str
    numeral: str
    key: str


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar of the chart: its number, the section that begins here, its chords; empty where the chord goes on."""

    index: int
    name: str
    section: str
    chords: tuple[ChartChord, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """The chart of one chorus, and the other choruses that have the same one."""

    chorus: int
    bars: tuple[ChartBar, ...]
    also: tuple[int, ...] = ()


def charts_of(line: Transcription, analysis: Analysis, bars: range) -> list[Chart]:
    """The charts of the choruses among played bars (indexes), each told once. Empty for a line without chords."""
    if not analysis.spans:
        return []
    charts: list[Chart] = []
    by_symbols: dict[tuple[tuple[str, ...], ...], int] = {}
    for chorus in sorted({line.bars[index].chorus for index in bars}):
        inside = [index for index in bars if line.bars[index].chorus == chorus]
        found = Chart(chorus, chart_bars(line, analysis.spans, inside))
        symbols = tuple(tuple(chord.symbol for chord in bar.chords) for bar in found.bars)
        if symbols in by_symbols:
            same = charts[by_symbols[symbols]]
            charts[by_symbols[symbols]] = Chart(same.chorus, same.bars, (*same.also, chorus))
        else:
            by_symbols[symbols] = len(charts)
            charts.append(found)
    return charts


def chart_bars(line: Transcription, spans: Sequence[HarmonySpan], inside: Sequence[int]) -> tuple[ChartBar, ...]:
    """The bars of a chart."""
    found: list[ChartBar] = []
    key = None
    for index in inside:
        bar = line.bars[index]
        end = bar.onset_ticks + max(bar.length_ticks, 1)
        section = next((s.label for s in line.sections if bar.onset_ticks <= s.onset_ticks < end), "")
        chords: list[ChartChord] = []
        here = [span for span in spans if bar.onset_ticks <= span.onset_ticks < end]
        if not found and not here:  # a passage may begin where a chord goes on
            here = [span for span in spans if span.onset_ticks < bar.onset_ticks < span.end_ticks]
        for span in here:
            is_new = span.key is not None and span.key != key
            key = span.key or key
            chords.append(
                ChartChord(
                    with_signs(span.symbol_text),
                    numeral_with_signs(str(span.numeral or "–")),
                    with_signs(f"{span.key.tonic} {span.key.mode}") if is_new and span.key else "",
                )
            )
        found.append(ChartBar(index, bar_name(bar), section, tuple(chords)))
    return tuple(found)
