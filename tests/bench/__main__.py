"""``make bench``: search, storing and start-up beside plain alternatives, each figure with its target.

``make bench`` takes about half an hour, most of it for making ten million notes and for edit distance over all tunes;
``BENCH_LINES`` sets another number of generated lines (100,000 lines are ten million notes).
"""

import os
import sys
from pathlib import Path

from corpus.match.figure import Figure, figure_from_intervals, figure_from_notes_of
from corpus.read.written import ReadingWishes
from db.catalogue import load
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.paths import expand
from db.search import Question, search
from tests.bench import alternatives, analyses, discovery_scores, growth, implied, retrieval
from tests.bench.corpora import Filled, _fresh, file_bytes, generated, music21_tunes
from tests.bench.discovery import plot_discovery, time_discovery
from tests.bench.harmony import time_harmony
from tests.bench.notation import time_notation
from tests.bench.profiles import time_profile
from tests.bench.quantiser import report_quantiser
from tests.bench.server import time_server
from tests.bench.suggestions import time_suggest
from tests.bench.timing import heading, median_seconds, process_seconds, report

_PARSED_FILES = 6


def time_search(filled: Filled, target_ms: float) -> None:
    """Warm exact search in process, beside a buffer in memory, for figures with few and with many hits."""
    database = filled.database
    buffer = alternatives.buffer_of(database)
    for name, figure in _figures(database):
        with database.reading() as connection:
            seconds = median_seconds(lambda figure=figure: search(connection, Question(figure), 20))  # type: ignore[misc]
            total = search(connection, Question(figure), 20).total
        in_memory = median_seconds(lambda figure=figure: alternatives.count_in(buffer, figure))  # type: ignore[misc]
        is_few = total <= 200
        report(
            f"find {name} ({total:,} hits), warm",
            f"{1000 * seconds:.2f} ms, {seconds / in_memory:.2f} times bytes.find in memory",
            f"{target_ms:g} ms" if is_few else "",
            1000 * seconds <= target_ms if is_few else None,
        )


def _figures(database: Database) -> list[tuple[str, Figure]]:
    with database.reading() as connection:
        count = connection.exec_driver_sql("SELECT max(id) FROM transcription").scalar_one()
        _, line = load(connection, count // 2)
    return [
        ("an opening of 8 notes", figure_from_notes_of(line, 0, 7)),
        ("an opening of 14 notes", figure_from_notes_of(line, 0, 13)),
        ("+4 +1 +1 -3 +2", figure_from_intervals("+4 +1 +1 -3 +2")),
        ("+2 +2 +1", figure_from_intervals("+2 +2 +1")),
    ]


def time_music21(filled: Filled) -> None:
    """The same question asked with music21's own interval lists, extrapolated from a sample."""
    figure = _figures(filled.database)[0][1]
    a_note = alternatives.music21_interval_seconds_a_note(figure)
    with filled.database.reading() as connection:
        ours = median_seconds(lambda: search(connection, Question(figure), 20))
    theirs = a_note * filled.notes
    report(
        "the same with music21's melodicIntervals (extrapolated)", f"{theirs:.0f} s, {theirs / ours:,.0f} times ours"
    )


def time_import() -> None:
    """Adding files beside music21's own parsing of the same files on two cores."""
    files = expand(["music21:oneills1850"])[:_PARSED_FILES]
    theirs = alternatives.music21_parse_seconds([str(file.path) for file in files])
    database = _fresh("import.db")
    import time

    begun = time.perf_counter()
    notes = sum(r.notes for r in add_files(database, files, IntakeOptions(ReadingWishes(), processes=2)))
    ours = time.perf_counter() - begun
    report(
        f"add {len(files)} files ({notes:,} notes) on two cores",
        f"{ours:.1f} s, {ours / theirs:.2f} times music21's own parsing",
        "1.2 times",
        ours <= 1.2 * theirs,
    )


def time_processes(database: Database) -> None:
    """Whole processes beside one that only imports what any such program must."""
    wellworn = str(Path(sys.executable).with_name("wellworn"))
    bare = [sys.executable, "-c", "import sqlalchemy, typer, rich"]
    question = [wellworn, "--db", str(database.file), "find", "--intervals", "+4 +1 +1 -3 +2", "--limit", "20"]
    near = [*question[:3], "find", "--intervals", "+2 +2 -4 +4 +1 +2 -3 +1 -1 -2 -2 +4", "--near"]
    base, found, helped, disguised, cold = process_seconds(
        [bare, question, [wellworn, "--help"], near, near],
        # A cache that cannot be written: the kernels are compiled every time.
        settings=[{}, {}, {}, {}, {"WELLWORN_CACHE": os.devnull}],
    )
    report("a process that imports SQLAlchemy, typer and rich", f"{1000 * base:.0f} ms")
    report("wellworn find", f"{1000 * found:.0f} ms, {found / base:.2f} times", "1.5 times", found <= 1.5 * base)
    report("wellworn find --near", f"{1000 * disguised:.0f} ms", "1,200 ms", disguised <= 1.2)
    report("wellworn find --near, nothing compiled kept", f"{1000 * cold:.0f} ms, {cold / disguised:.2f} times kept")
    report("wellworn --help", f"{1000 * helped:.0f} ms, {helped / base:.2f} times", "1 time", helped <= base)


def time_storage(filled: Filled) -> None:
    """Bytes a note and notes a second, beside a row for each note."""
    size = file_bytes(filled.database) / filled.notes
    rate = filled.notes / filled.seconds
    report("bytes a note, readings and indexes included", f"{size:.1f}", "64", size < 64)
    report("notes stored a second", f"{rate:,.0f}", "50,000", rate >= 50_000)
    row_size, row_rate = alternatives.row_a_note(2_000)
    report("a row for each note, one index: bytes a note", f"{row_size:.1f}")
    report("a row for each note, one index: notes a second", f"{row_rate:,.0f}")


def main() -> None:
    """Run everything."""
    lines = int(os.environ.get("BENCH_LINES", "100000"))
    heading("Import")
    time_import()
    tunes = music21_tunes()
    heading(f"All ABC tunes that music21 ships: {tunes.notes:,} notes as played, added in {tunes.seconds:.0f} s")
    time_search(tunes, 5)
    time_music21(tunes)
    time_processes(tunes.database)
    time_server(tunes, "music21's tunes", has_chords=False)
    heading("Harmony")
    time_harmony()
    time_profile()
    time_suggest()
    for line in implied.report():
        sys.stdout.write(f"  {line}\n")
    for line in analyses.report():
        sys.stdout.write(f"  {line}\n")
    heading("Notation")
    time_notation()
    report_quantiser()
    growth.time_others(tunes)
    time_discovery(tunes)
    retrieval.report_retrieval(tunes)
    discovery_scores.report_scores(discovery_scores.through_database)
    smaller = [generated(count) for count in (100, 1_000, 10_000) if count < lines]
    made = generated(lines)
    heading(f"Generated lines: {made.notes:,} notes")
    time_storage(made)
    time_search(made, 20)
    time_server(smaller[-1] if smaller else made, "generated lines", has_chords=True)
    growth.plot_growth([*smaller, made])
    plot_discovery([*smaller, generated(lines // 2)])


if __name__ == "__main__":
    main()
