"""How long discovery takes and what memory, stage by stage, and how both grow with the notes.

``python -m tests.bench.discovery DATABASE [COLLECTION]`` runs one discovery in a process of its own, so that its peak
memory can be told; ``time_discovery`` does so for music21's tunes, ``plot_discovery`` for generated lines.
"""

import json
import math
import os
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from db.catalogue import Selection
from db.connection import Database
from db.opening import open_database
from db.recur import RecurQuestion, discover
from db.recur_lines import RecurLines
from tests.bench.corpora import BENCH_FOLDER, Filled
from tests.bench.timing import heading, median_seconds, report

PLOT: Final = BENCH_FOLDER / "discovery_growth.png"
_BOOKS: Final = (("oneills1850", 219_000, 6.0, None), ("", 917_000, 25.0, 2000.0))
"""Collection, notes as written, and the aims in seconds and megabytes."""


def measure(file: Path, collection: str = "") -> dict[str, float]:
    """Notes, seconds and peak megabytes of one discovery in a process of its own, reading included."""
    words = [sys.executable, "-m", "tests.bench.discovery", str(file), collection]
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}  # noqa: PTH109 (the checkout is where the bench runs)
    done = subprocess.run(words, check=True, capture_output=True, text=True, env=environment)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def time_discovery(filled: Filled) -> None:
    """Discovery over one book and over all tunes; its first stages beside the suffix array alone."""
    heading("Discovery")
    assert filled.database.file is not None
    for collection, written, aim, most in _BOOKS:
        found = measure(filled.database.file, collection)
        name = collection or "all tunes"
        report(
            f"recur over {name} ({written:,} notes as written, {found['notes']:,.0f} as played)",
            f"{found['seconds']:.1f} s, {found['megabytes']:,.0f} MB",
            f"{aim:g} s" + (f", {most:,.0f} MB" if most else ""),
            found["seconds"] <= aim and (most is None or found["megabytes"] <= most),
        )
    _time_stages(filled.database)


def _time_stages(database: Database) -> None:
    import pydivsufsort

    from corpus.recur.corpus_text import corpus_text
    from corpus.recur.repeats import maximal_repeats, suffixes_and_prefixes

    with database.reading() as connection:
        text = corpus_text(RecurLines.of(connection, Selection(), True).lines.columns, "folded")
    alone = median_seconds(lambda: pydivsufsort.divsufsort(text.symbols), 3)
    both = median_seconds(lambda: suffixes_and_prefixes(text.symbols), 3)
    repeats = median_seconds(lambda: maximal_repeats(text.symbols, text.unbroken, 3, 23), 3)
    report(f"suffix array of {len(text):,} symbols, pydivsufsort alone", f"{alone:.2f} s")
    report("suffix array and common prefixes", f"{both:.2f} s, {both / alone:.2f} times")
    report("all maximal repeats of 3 to 23 symbols", f"{repeats:.2f} s, {repeats / alone:.2f} times")


def plot_discovery(corpora: Sequence[Filled]) -> None:
    """Seconds and memory against notes of generated lines, beside n log n; saved as a picture."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot

    found = [measure(filled.database.file) for filled in corpora if filled.database.file is not None]
    for one in found:
        share = one["seconds"] / (one["notes"] * math.log2(one["notes"]))
        report(
            f"recur over {one['notes']:,.0f} generated notes",
            f"{one['seconds']:.1f} s, {one['megabytes']:,.0f} MB, {1e9 * share:.0f} ns a note and doubling",
        )
    notes = [one["notes"] for one in found]
    last = found[-1]["seconds"] / (notes[-1] * math.log2(notes[-1]))
    figure, axes = pyplot.subplots()
    axes.loglog(notes, [one["seconds"] for one in found], "o-", label="recur")
    axes.loglog(notes, [last * n * math.log2(n) for n in notes], "--", label="n log n through the last")
    axes.set_xlabel("notes")
    axes.set_ylabel("seconds")
    axes.legend()
    figure.savefig(PLOT)
    pyplot.close(figure)


def _run(file: str, collection: str) -> None:
    database = open_database(f"sqlite:///{Path(file).absolute()}")
    begun = time.perf_counter()
    with database.reading() as connection:
        found = discover(connection, RecurQuestion(Selection(collection=collection)))
    seconds = time.perf_counter() - begun
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps({"notes": found.note_count, "seconds": seconds, "megabytes": megabytes}))


if __name__ == "__main__":
    _run(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "")
