"""How the cost of near search grows: with the notes in the corpus, the length of the figure, and the threshold.

``plot_growth`` measures medians and draws them; ``time_others`` does the same work with edlib and with music21's own
search for similar streams; ``make bench-growth`` draws alone. Figures are passages of the lines searched, so that each
is found at least once.
"""

import math
import os
import random
import statistics
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch

import sqlalchemy as sa

from corpus.match.figure import Figure, figure_from_notes_of
from corpus.model import TICKS_PER_QUARTER
from db import near as near_search
from db.catalogue import Selection, load_many
from db.connection import Database
from db.near import NearLines, NearQuestion, search_near
from db.paths import expand
from db.search import Question
from tests.bench.corpora import BENCH_FOLDER, Filled, generated
from tests.bench.edit_distance import pitches_of, text_of, texts_of
from tests.bench.timing import heading, median_seconds, report

LENGTHS: Final = (6, 12, 24, 48)
THRESHOLDS: Final = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6)
LENGTH, THRESHOLD = 12, 0.85
"""What is held while something else grows."""
TRANSPOSITIONS: Final = range(-14, 15)
PLOT: Final = BENCH_FOLDER / "near_growth.png"

NearSearch = Callable[[Figure, float], object]
"""A search that is timed, with its threshold."""

_SHOWN = 40
_FIGURES = 5
_REPEATS = 3
_SAMPLE = 12
_SEED = 12


@dataclass(frozen=True, slots=True)
class Curve:
    """Measured seconds, one of each value on the axis."""

    title: str
    axis: str
    values: Sequence[float]
    seconds: Sequence[float]


def near(connection: sa.Connection) -> NearSearch:
    """Near search with its default prices over all lines, read once; what ``find`` shows unasked is found."""
    lines = NearLines.of(connection, "pitch", Selection())
    return lambda figure, threshold: search_near(connection, NearQuestion(Question(figure), threshold), _SHOWN, lines)


def figures_of(database: Database, length: int, count: int = _FIGURES, seed: int = _SEED) -> list[Figure]:
    """Passages of that many notes from different lines, without dead notes."""
    source = random.Random(seed)
    with database.reading() as connection:
        long_enough = connection.exec_driver_sql(
            f"SELECT id FROM transcription WHERE note_count >= {length} ORDER BY id"
        )
        ids = [row[0] for row in long_enough]
        chosen = source.sample(ids, min(10 * count, len(ids)))
        figures: list[Figure] = []
        for _, line in load_many(connection, chosen):
            first = source.randrange(len(line.notes) - length + 1)
            if all(not note.is_dead for note in line.notes[first : first + length]):
                figures.append(figure_from_notes_of(line, first, first + length - 1))
    return figures[:count]


def seconds_for(database: Database, length: int, threshold: float) -> float:
    """The median over figures of the median time of one search, warm."""
    taken = []
    with database.reading() as connection:
        search = near(connection)
        for figure in figures_of(database, length):
            taken.append(median_seconds(lambda figure=figure: search(figure, threshold), _REPEATS))  # type: ignore[misc]
    return statistics.median(taken)


def curves(corpora: Sequence[Filled]) -> list[Curve]:
    """The three measurements; lengths and thresholds on the second largest corpus (about a million notes)."""
    middle = sorted(corpora, key=lambda filled: filled.notes)[-2:][0]
    within = f"{middle.notes:,} notes"
    by_notes = [seconds_for(filled.database, LENGTH, THRESHOLD) for filled in corpora]
    by_length = [seconds_for(middle.database, length, THRESHOLD) for length in LENGTHS]
    by_threshold = [seconds_for(middle.database, LENGTH, threshold) for threshold in THRESHOLDS]
    return [
        Curve(
            f"{LENGTH} notes, threshold {THRESHOLD:g}",
            "notes in the corpus",
            [filled.notes for filled in corpora],
            by_notes,
        ),
        Curve(f"{within}, threshold {THRESHOLD:g}", "notes in the figure", LENGTHS, by_length),
        Curve(f"{within}, {LENGTH} notes in the figure", "threshold (least likeness)", THRESHOLDS, by_threshold),
    ]


def plot_growth(corpora: Sequence[Filled], file: Path = PLOT) -> None:
    """Measure, print and draw."""
    measured = curves(corpora)
    for curve in measured:
        heading(f"Near search: {curve.title}")
        for value, seconds in zip(curve.values, curve.seconds, strict=True):
            report(
                f"{curve.axis}: {value:,g}" if value < 1_000 else f"{curve.axis}: {value:,.0f}", _milliseconds(seconds)
            )
    _draw(measured, file)


def _milliseconds(seconds: float) -> str:
    return f"{1000 * seconds:,.2f} ms"


def _limits(values: Sequence[float]) -> tuple[float, float]:
    """The powers of ten around values."""
    return 10 ** math.floor(math.log10(min(values))), 10 ** math.ceil(math.log10(max(values)))


def _draw(measured: Sequence[Curve], file: Path) -> None:
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, len(measured), figsize=(15, 4.5), sharey=True, layout="constrained")
    for axis, curve in zip(axes, measured, strict=True):
        axis.plot(curve.values, [1000 * seconds for seconds in curve.seconds], marker="o")
        axis.set_yscale("log")
        axis.set_title(curve.title)
        axis.set_xlabel(curve.axis)
        axis.grid(visible=True, which="both", alpha=0.3)
    axes[0].set_ylabel("time of one search (ms, median, warm)")
    axes[0].set_xscale("log")
    axes[0].set_xlim(_limits([*measured[0].values, 0.99 * measured[0].values[0]]))
    axes[0].set_ylim(_limits([1000 * seconds for curve in measured for seconds in curve.seconds]))
    axes[1].set_xscale("log", base=2)
    axes[1].set_xticks(measured[1].values, [f"{value:g}" for value in measured[1].values])
    axes[2].invert_xaxis()
    file.parent.mkdir(exist_ok=True)
    figure.savefig(file, dpi=120)
    pyplot.close(figure)
    report("drawn", str(file))


@contextmanager
def in_numpy() -> Iterator[None]:
    """Near search as it is where nothing can be compiled."""
    with patch.object(near_search, "kernels_meanwhile", _no_kernels):
        yield


def _no_kernels() -> "Future[None]":
    done: Future[None] = Future()
    done.set_result(None)
    return done


def edlib_seconds(text: bytes, figure: Figure) -> float:
    """What edlib takes for the nearest stretch in one text of all notes, over 29 transpositions."""
    import edlib

    wanted = [text_of([pitch + shift for pitch in pitches_of(figure)]) for shift in TRANSPOSITIONS]
    return median_seconds(lambda: [edlib.align(one, text, mode="HW", task="distance") for one in wanted], _REPEATS)


def _stream_of(figure: Figure) -> Any:
    """A figure as a stream of music21; its last note as long as the one before."""
    from music21 import note, stream

    assert figure.onsets is not None
    gaps = [(b - a) / TICKS_PER_QUARTER for a, b in zip(figure.onsets, figure.onsets[1:], strict=False)]
    notes = [
        note.Note(midi=pitch, quarterLength=gap)
        for pitch, gap in zip(pitches_of(figure), [*gaps, gaps[-1]], strict=True)
    ]
    return stream.Stream(notes)


def music21_seconds_a_note(figure: Figure) -> float:
    """Seconds a written note of ``music21.search.approximateNoteSearch``, on tunes that are parsed already.

    It compares the figure with whole tunes, at the pitch and pace that are written: one transposition.
    """
    from music21 import converter
    from music21.search import base

    compare: Any = base.approximateNoteSearch
    path = next(file.path for file in expand(["music21:oneills1850"]) if file.path)
    scores = list(converter.parse(path, forceSource=True).getElementsByClass("Score"))[:_SAMPLE]
    notes = sum(len(score.recurse().notes) for score in scores)
    wanted = _stream_of(figure)
    begun = time.perf_counter()
    compare(wanted, scores)
    return (time.perf_counter() - begun) / notes


def written_notes(database: Database) -> int:
    """Notes as written: those of the first pass through each bar."""
    with database.reading() as connection:
        ids = [row[0] for row in connection.exec_driver_sql("SELECT id FROM transcription")]
        return sum(
            line.bars[note.bar_index].pass_number == 1 for _, line in load_many(connection, ids) for note in line.notes
        )


def time_others(filled: Filled) -> None:
    """Near search, edlib and music21 on the tunes of ``music21_tunes``, for figures of 12 and 24 notes."""
    text = b"".join(texts_of(filled.database).pitches.values())
    written = written_notes(filled.database)
    heading(f"Near search beside others: {len(text):,} notes as played, {written:,} written")
    for length in (12, 24):
        ours = seconds_for(filled.database, length, THRESHOLD)
        what = f"near search, {length} notes, threshold {THRESHOLD:g}"
        report(what, _milliseconds(ours), "150 ms", ours <= 0.15)
        with in_numpy():
            plain = seconds_for(filled.database, length, THRESHOLD)
        report(
            f"the same in numpy, without llvmlite, {length} notes", f"{_milliseconds(plain)}, {plain / ours:,.1f} times"
        )
        figures = figures_of(filled.database, length)
        edlib = statistics.median(edlib_seconds(text, figure) for figure in figures)
        report(
            f"edlib, {length} notes, {len(TRANSPOSITIONS)} transpositions, the nearest stretch",
            f"{_milliseconds(edlib)}, {edlib / ours:,.1f} times ours",
        )
        theirs = written * statistics.median(music21_seconds_a_note(figure) for figure in figures[:3])
        report(
            f"music21.search.approximateNoteSearch, {length} notes (extrapolated)",
            f"{theirs:,.0f} s, {theirs / ours:,.0f} times ours",
        )


def main() -> None:
    """The plot alone, on generated lines of a hundredth, a tenth and the whole of ``BENCH_LINES`` (10,000)."""
    lines = int(os.environ.get("BENCH_LINES", "10000"))
    plot_growth([generated(count) for count in (lines // 100, lines // 10, lines)])


if __name__ == "__main__":
    main()
