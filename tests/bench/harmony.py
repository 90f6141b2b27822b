"""Timings of harmony: reading a symbol, analysing a chart, finding lines over a progression in 10,000 choruses."""

import random
from dataclasses import replace

from corpus.harmony.analysis import analyse_chart
from corpus.harmony.over import parse_progression
from corpus.harmony.symbols import parse_symbol
from corpus.match.context import Context
from corpus.model import ChordSpan, Transcription
from db.catalogue import Selection
from db.search import search_over
from db.store import add_source, prepare
from tests.bench.corpora import _fresh
from tests.bench.timing import median_seconds, report
from tests.db.helpers import source
from tests.generators.lines import walking_line

_CHARTS = (
    "Bb6 G7 Cm7 F7 Dm7 G7 Cm7 F7 Fm7 Bb7 Eb6 Edim7 Bb6 G7 Cm7 F7",
    "F7 Bb7 F7 F7 Bb7 Bdim7 F7 D7 Gm7 C7 F7 C7",
    "Am7b5 D7b9 Gm6 Gm6 Cm7 F7 Bbmaj7 Ebmaj7 Am7b5 D7b9 Gm6 D7",
    "Cmaj7 Ebdim7 Dm7 G7 Em7 A7 Dm7 Db7 Gm7 C7 Fmaj7 Bb7 Em7 A7 Dm7 G7",
)


def charted_line(seed: int, bars: int) -> Transcription:
    """A generated line over one of a few charts, two chords a bar."""
    line = walking_line(seed, bars)
    symbols = random.Random(seed).choice(_CHARTS).split()
    half = line.bars[0].length_ticks // 2
    spans = [ChordSpan(symbols[i % len(symbols)], i * half, (i + 1) * half) for i in range(2 * bars)]
    return replace(line, chords=tuple(spans), details=replace(line.details, key=None))


def time_harmony(choruses: int = 10_000) -> None:
    """All three."""
    spellings = [f"{root}{suffix}" for root in ("C", "Db", "F#", "Bb") for suffix in ("7b9#11", "m7b5", "maj7", "13")]

    def read_all() -> None:
        parse_symbol.cache_clear()
        for text in spellings:
            parse_symbol(text)

    seconds = median_seconds(read_all, 51) / len(spellings)
    report("reading a chord symbol", f"{1e6 * seconds:.0f} µs", "50 µs", seconds <= 50e-6)
    for kind, seed in (("in one key", 1), ("of a minor tune that moves to its relative major", 5)):
        chart = charted_line(seed, 64)
        # Not ``analyse``, which keeps its answers.
        seconds = median_seconds(lambda chart=chart: analyse_chart(chart.chords, chart.bars), 21)  # type: ignore[misc]
        name = f"analysing a 64-bar chart of 128 chords {kind}"
        report(name, f"{1e3 * seconds:.1f} ms", "10 ms", seconds <= 10e-3)
    database = _fresh("charted.db")
    distinct = [prepare(charted_line(seed, 32)) for seed in range(500)]
    for start in range(0, choruses, len(distinct)):
        add_source(database, source(f"charted-{start}.abc"), distinct, "charted")
    for text in ("ii V I", "V/IV IV", "ii subV I"):
        context = Context(over=parse_progression(text))
        with database.reading() as connection:
            seconds = median_seconds(lambda context=context: search_over(connection, context, Selection(), 20))  # type: ignore[misc]
            total = search_over(connection, context, Selection(), 20).total
        report(
            f"find --over {text!r} in {choruses:,} charted choruses ({total:,} places), warm",
            f"{1e3 * seconds:.1f} ms",
            "50 ms",
            seconds <= 50e-3,
        )
