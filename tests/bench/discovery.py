"""How long discovery takes and what memory, stage by stage, and how both grow with the notes.

``python -m tests.bench.discovery DATABASE [COLLECTION]`` runs one discovery in a process of its own, so that its peak
memory can be told; ``time_discovery`` does so for music21's tunes, ``plot_discovery`` for generated lines.
``python -m tests.bench.discovery --plot DATABASE…`` draws the growth over databases that are there.
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
from db.near import NearLines
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
    """Seconds and memory against notes of generated lines; saved as a picture."""
    plot_growth([filled.database.file for filled in corpora if filled.database.file is not None])


def plot_growth(files: Sequence[Path], picture: Path = PLOT) -> None:
    """Discovery over each database, beside pydivsufsort alone on the same text and n log n.

    What is drawn is the processor's time, of all threads: wall time tells more of what else the machine does.
    """
    found = [measure(file) for file in files]
    for one in found:
        share = one["cpu"] / (one["notes"] * math.log2(one["notes"]))
        report(
            f"recur over {one['notes']:,.0f} generated notes",
            f"{one['seconds']:.1f} s, processor {one['cpu']:.1f} s, {one['megabytes']:,.0f} MB, "
            f"{1e9 * share:.0f} ns a note and doubling; pydivsufsort {one['suffix_array']:.2f} s",
        )
    _draw_growth(found, picture)
    report("drawn", str(picture))


def _draw_growth(found: Sequence[dict[str, float]], picture: Path) -> None:
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot

    notes = [one["notes"] for one in found]
    last = found[-1]["cpu"] / (notes[-1] * math.log2(notes[-1]))
    figure, (times, memory) = pyplot.subplots(1, 2, figsize=(12, 5), layout="constrained")
    times.loglog(notes, [one["cpu"] for one in found], "o-", label="recur, whole")
    times.loglog(notes, [one["suffix_array"] for one in found], "s-", label="pydivsufsort alone, one reading")
    times.loglog(notes, [last * n * math.log2(n) for n in notes], "--", label="n log n through the last")
    times.set_ylabel("seconds of the processor")
    times.legend()
    memory.loglog(notes, [one["megabytes"] for one in found], "o-")
    memory.set_ylabel("megabytes at the peak")
    for axis in (times, memory):
        axis.set_xlabel("notes")
        axis.grid(visible=True, which="both", alpha=0.3)
    figure.savefig(picture, dpi=120)
    pyplot.close(figure)


def _run(file: str, collection: str) -> None:
    database = open_database(f"sqlite:///{Path(file).absolute()}")
    begun, begun_cpu = time.perf_counter(), time.process_time()
    with database.reading() as connection:
        found = discover(connection, RecurQuestion(Selection(collection=collection)))
    seconds, cpu = time.perf_counter() - begun, time.process_time() - begun_cpu
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = {
        "notes": found.note_count,
        "seconds": seconds,
        "cpu": cpu,
        "megabytes": megabytes,
        "suffix_array": _suffix_array_seconds(database, collection),
    }
    sys.stdout.write(json.dumps(told))


def _suffix_array_seconds(database: Database, collection: str) -> float:
    """What pydivsufsort alone takes of the processor for the folded reading of the same lines."""
    import pydivsufsort

    from corpus.recur.corpus_text import corpus_text

    with database.reading() as connection:
        text = corpus_text(NearLines.of(connection, "pitch", Selection(collection=collection), True).columns, "folded")
    begun = time.process_time()
    pydivsufsort.divsufsort(text.symbols)
    return time.process_time() - begun


if __name__ == "__main__":
    if sys.argv[1] == "--plot":
        plot_growth([Path(name) for name in sys.argv[2:]])
    else:
        _run(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "")
