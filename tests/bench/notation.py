"""Engraving beside its targets: a snippet, a chorus, a page of paper, a lesson page, a sheet in 12 keys."""

import sys
import tempfile
from pathlib import Path

from corpus.model import Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.write.below import below_texts
from corpus.write.engrave import EngravingOptions, Mark, svg_pages
from corpus.write.musicxml import Page, musicxml_of
from corpus.write.paper import pdf_of
from tests.bench.timing import median_seconds, process_seconds, report
from tests.corpus.write.seed import SEED

_LARGEST_PAGE = 1_500_000


def time_notation() -> None:
    """Two bars with a bracket, 64 bars as SVG, one A4 page as PDF, a lesson page and a sheet as commands."""
    line = _line("quince_jelly_quellenberg.musicxml")
    last = max(index for index, note in enumerate(line.notes) if note.bar_index <= 1)
    snippet = EngravingOptions(Page(0, 1), [Mark("A", 0, last)])
    taken = median_seconds(lambda: svg_pages(line, snippet))
    report("a snippet of two bars with a bracket as SVG", f"{1000 * taken:.0f} ms", "30 ms", taken < 0.03)
    report("64 bars as MusicXML", f"{1000 * median_seconds(lambda: musicxml_of(line)):.0f} ms")
    whole = EngravingOptions(Page(0, 63, below_texts(line, "roles")), width_mm=190)
    report("64 bars with roles below as SVG", f"{1000 * median_seconds(lambda: svg_pages(line, whole)):.0f} ms")
    pages = svg_pages(line, EngravingOptions(Page(0, 31), paper="A4"))
    report("a PDF page of 32 bars", f"{1000 * median_seconds(lambda: pdf_of(pages)):.0f} ms")
    _time_commands()


def _line(name: str) -> Transcription:
    path = SEED / name
    (piece,) = pieces_of(path.read_bytes(), path.name)
    return read_piece(piece, ReadingWishes())


def _time_commands() -> None:
    """``page`` and ``practice sheet --pdf`` as a user runs them, less the start of Python with its imports."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "cli.main", "--db", str(Path(folder) / "lines.db")]
        process_seconds([[*command, "add", str(SEED)]], times=0)
        process_seconds([[*command, "recur"]], times=0)
        imports = "import cli.main, db.catalogue, db.recur, cli.families, corpus.shapes, verovio, jinja2, numpy"
        out = Path(folder) / "page.html"
        lesson = [*command, "page", "10", "--force", "--out", str(out)]
        figure = ["--notes", "D3 F3 A3 G3 E3", "--key", "F"]
        sheet = [*command, "practice", "sheet", *figure, "--force", "--pdf", str(Path(folder) / "sheet.pdf")]
        start, page, paper = process_seconds([[sys.executable, "-c", imports], lesson, sheet], times=5)
        taken = page - start
        size = out.stat().st_size
        report("a lesson page of 64 bars, besides start-up", f"{taken:.2f} s", "1 s", taken < 1)
        report("its size", f"{size / 1e6:.2f} MB", "1.5 MB", size < _LARGEST_PAGE)
        report("a sheet in 12 keys as PDF, start-up included", f"{paper:.2f} s", "2 s", paper < 2)
