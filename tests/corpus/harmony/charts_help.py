"""Charts for the tests: bars between ``|``, chords of a bar of equal length, ``%`` for another bar of the same."""

from corpus.harmony.analysis import Analysis, analyse_chart
from corpus.harmony.numerals import Numeral, parse_numeral
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Meter
from corpus.pitch import Key, parse_key

FOUR = Meter(4, 4)
BAR_TICKS = 4 * TICKS_PER_QUARTER


def bars(count: int, *, meter: Meter = FOUR) -> tuple[Bar, ...]:
    """So many bars as played, numbered from 1."""
    length = meter.bar_ticks
    return tuple(Bar(index + 1, 1, index * length, length, 0, meter) for index in range(count))


def chords(chart: str, bar_ticks: int = BAR_TICKS) -> tuple[tuple[ChordSpan, ...], int]:
    """The chord spans of a chart and its number of bars."""
    spans: list[ChordSpan] = []
    texts = [bar.split() for bar in chart.strip("|").split("|")]
    for index, bar in enumerate(texts):
        onset = index * bar_ticks
        if bar == ["%"]:
            last = spans.pop()
            spans.append(ChordSpan(last.symbol, last.onset_ticks, onset + bar_ticks))
            continue
        step = bar_ticks // len(bar)
        spans += [ChordSpan(text, onset + step * at, onset + step * (at + 1)) for at, text in enumerate(bar)]
    return tuple(spans), len(texts)


def analysed(chart: str, declared: str | None = None) -> Analysis:
    """Our analysis of a chart in 4/4."""
    spans, count = chords(chart)
    return analyse_chart(spans, bars(count), None if declared is None else parse_key(declared))


def numerals(chart: str, declared: str | None = None) -> str:
    """The numerals of a chart in one line, ``-`` for none."""
    return " ".join("-" if span.numeral is None else str(span.numeral) for span in analysed(chart, declared).spans)


def expected(text: str) -> list[tuple[tuple[int, str], Numeral | None]]:
    """``Eb: ii V I g: ii7b5 V i`` as tonic pitch class and mode, and numeral, a chord."""
    key: Key | None = None
    result: list[tuple[tuple[int, str], Numeral | None]] = []
    for word in text.split():
        if word.endswith(":"):
            key = parse_key(word[:-1])
            continue
        assert key is not None
        numeral = None if word == "-" else parse_numeral(word)
        result.append(((key.tonic_pitch_class, key.mode), numeral))
    return result


def found(chart: str, declared: str | None = None) -> list[tuple[tuple[int, str], Numeral | None]]:
    """The same of our analysis of a chart."""
    return [
        ((span.key.tonic_pitch_class, span.key.mode) if span.key else (-1, ""), span.numeral)
        for span in analysed(chart, declared).spans
    ]
