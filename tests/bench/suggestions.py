"""Timing: a line over 32 bars suggested from a shelf of 500 figures."""

import random
from dataclasses import replace

from corpus.check import Instrument, instrument_of
from corpus.harmony.analysis import analyse
from corpus.harmony.chart import parse_chart
from corpus.pitch import default_spelling
from corpus.suggest.line import suggest
from corpus.suggest.replace import Replacing
from corpus.suggest.source import Source, UnusableError, source_of_passage
from tests.bench.harmony import charted_line
from tests.bench.timing import median_seconds, report

AIM_SECONDS = 2.0
RHYTHM = (
    "key: Bb\n| Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 | x2\n"
    "| D7 | % | G7 | % | C7 | % | F7 | % |\n"
    "| Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 |"
)


def shelf_of(count: int) -> list[Source]:
    """Passages of generated lines over known chords, a bar to two bars long, as figures of different names."""
    chance = random.Random(1)
    found: list[Source] = []
    seed = 0
    while len(found) < count:
        line = charted_line(seed, 32)
        spans = analyse(line).spans
        for first in range(0, len(line.notes) - 9, 3):
            try:
                last = first + chance.randint(3, 8)
                found.append(source_of_passage(line, spans, first, last, f"figure {len(found)}"))
            except UnusableError:
                continue
        seed += 1
    return found[:count]


def time_suggest(count: int = 500) -> None:
    """The whole search, figures ready."""
    chart, sources, instrument = parse_chart(RHYTHM, "chart"), shelf_of(count), instrument_of("double bass")
    assert instrument is not None
    found = suggest(chart, sources, instrument)
    seconds = median_seconds(lambda: suggest(chart, sources, instrument), 3)
    bars = sum(bar.source is not None for bar in found.bars)
    _time_dull(sources, instrument)
    report(
        f"suggest over 32 bars from a shelf of {count} figures ({bars} bars with a figure)",
        f"{seconds:.2f} s",
        f"{AIM_SECONDS:.0f} s",
        seconds <= AIM_SECONDS,
    )


def _time_dull(sources: list[Source], instrument: Instrument) -> None:
    """Figures for all dull bars of a chorus of roots."""
    line = charted_line(2, 32)
    analysis = analyse(line)
    notes = []
    for note in line.notes:
        span = analysis.span_at(note.onset_ticks)
        root = None if span is None or span.symbol is None else span.symbol.root_pitch_class
        notes.append(note if root is None else note._replace(pitch=36 + root, spelling=default_spelling(36 + root)))
    plain = replace(line, notes=tuple(notes))

    def search() -> int:
        replacing = Replacing(plain, analysis, sources, instrument)
        return sum(bool(replacing.replaced(dull).alternatives) for dull in replacing.dull)

    found, seconds = search(), median_seconds(search, 3)
    report(f"figures for the dull bars of 32 bars of roots ({found} bars with one)", f"{seconds:.2f} s")
