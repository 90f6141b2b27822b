"""Engraving beside its targets: a snippet, a chorus, a page."""

from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.write.below import below_texts
from corpus.write.engrave import EngravingOptions, Mark, svg_pages
from corpus.write.musicxml import Page, musicxml_of
from corpus.write.paper import pdf_of
from tests.bench.timing import median_seconds, report
from tests.corpus.write.seed import SEED


def time_notation() -> None:
    """Two bars with a bracket, 64 bars as SVG, one A4 page as PDF."""
    path = SEED / "quince_jelly_quellenberg.musicxml"
    (piece,) = pieces_of(path.read_bytes(), path.name)
    line = read_piece(piece, ReadingWishes())
    last = max(index for index, note in enumerate(line.notes) if note.bar_index <= 1)
    snippet = EngravingOptions(Page(0, 1), [Mark("A", 0, last)])
    taken = median_seconds(lambda: svg_pages(line, snippet))
    report("a snippet of two bars with a bracket as SVG", f"{1000 * taken:.0f} ms", "30 ms", taken < 0.03)
    report("64 bars as MusicXML", f"{1000 * median_seconds(lambda: musicxml_of(line)):.0f} ms")
    whole = EngravingOptions(Page(0, 63, below_texts(line, "roles")), width_mm=190)
    report("64 bars with roles below as SVG", f"{1000 * median_seconds(lambda: svg_pages(line, whole)):.0f} ms")
    pages = svg_pages(line, EngravingOptions(Page(0, 31), paper="A4"))
    report("a PDF page of 32 bars", f"{1000 * median_seconds(lambda: pdf_of(pages)):.0f} ms")
