"""Engraved notation for ``show``: which bars, what is marked, into which files."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.files import target_of, write_files
from cli.options import chosen, figure_like
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.figure import Figure
    from corpus.model import Transcription
    from corpus.write.below import Below
    from corpus.write.engrave import EngravingOptions, Mark, Paper
    from db.connection import Database
    from db.search import Answer

NOTATION_PANEL = "Notation"

SvgOption = Annotated[
    str | None,
    typer.Option("--svg", metavar="FILE", help="Engrave as SVG, on one endless page.", rich_help_panel=NOTATION_PANEL),
]
PdfOption = Annotated[
    str | None, typer.Option("--pdf", metavar="FILE", help="Engrave as PDF pages.", rich_help_panel=NOTATION_PANEL)
]
PngOption = Annotated[
    str | None, typer.Option("--png", metavar="FILE", help="Engrave as one PNG.", rich_help_panel=NOTATION_PANEL)
]
BarsOption = Annotated[
    str, typer.Option("--bars", metavar="BARS", help="Only these bars (5-8).", rich_help_panel=NOTATION_PANEL)
]
BelowOption = Annotated[
    str,
    typer.Option("--below", metavar="degrees|roles", help="What stands below.", rich_help_panel=NOTATION_PANEL),
]
MarkOption = Annotated[
    list[str] | None,
    typer.Option(
        "--mark",
        metavar="BARS",
        help="Bracket this passage wherever it comes back in the line (9:1-10:1); repeatable.",
        rich_help_panel=NOTATION_PANEL,
    ),
]
FamiliesOption = Annotated[
    bool,
    typer.Option(
        "--families", help="Bracket what comes back in the whole corpus (see 'recur').", rich_help_panel=NOTATION_PANEL
    ),
]
PaperOption = Annotated[
    str, typer.Option("--paper", metavar="A4|Letter", help="Paper of a PDF.", rich_help_panel=NOTATION_PANEL)
]

HitsPdfOption = Annotated[
    str | None,
    typer.Option(
        "--pdf", metavar="FILE", help="Engrave the places under each other as PDF.", rich_help_panel=NOTATION_PANEL
    ),
]
HitsPageOption = Annotated[
    str | None,
    typer.Option(
        "--page", metavar="FILE", help="The places as an HTML page that plays them.", rich_help_panel=NOTATION_PANEL
    ),
]
PageNotesOption = Annotated[
    str | None,
    typer.Option(
        "--page-notes", metavar="FILE", help="Your own text on that page, in Markdown.", rich_help_panel=NOTATION_PANEL
    ),
]

_SNIPPET_BARS = 4
_PAGE_WIDTH_MM = 190.0


def engrave(
    transcription: "Transcription",
    options: "EngravingOptions",
    files: dict[str, str | None],
    *,
    paper: str,
    force: bool,
) -> list[Path]:
    """Write the files that are asked for (by kind: svg, pdf, png), all or none; their paths.

    Up to four bars are a snippet as long as it needs; more are broken into lines.
    """
    from dataclasses import replace

    from corpus.write.engrave import svg_pages
    from corpus.write.paper import pdf_of, png_of

    paths = {kind: target_of(name, force) for kind, name in files.items() if name is not None}
    if len(set(paths.values())) < len(paths):
        raise QueryError("two kinds of picture cannot go into one file: give each a name of its own")
    sheet = sheet_of(paper)
    last = len(transcription.bars) - 1 if options.page.last_bar is None else options.page.last_bar
    is_snippet = last - options.page.first_bar < _SNIPPET_BARS
    screen = options if is_snippet else replace(options, width_mm=_PAGE_WIDTH_MM)
    contents: dict[Path, bytes] = {}
    if "svg" in paths or "png" in paths:
        (svg,) = svg_pages(transcription, screen)
        for kind in ("svg", "png"):
            if kind in paths:
                contents[paths[kind]] = svg.encode("utf-8") if kind == "svg" else png_of(svg)
    if "pdf" in paths:
        on_paper = replace(options, paper=sheet)
        contents[paths["pdf"]] = pdf_of(svg_pages(transcription, on_paper))
    write_files(contents, force)
    return list(contents)


def engraving_of(
    database: "Database",
    identity: int,
    transcription: "Transcription",
    *,
    bars: str,
    below: str,
    marks: Sequence[str],
    families: bool,
    concert: bool,
) -> "EngravingOptions":
    """What the options say should be engraved. Raises QueryError where they make no sense."""
    from corpus.write.below import BELOW, below_texts
    from corpus.write.engrave import EngravingOptions
    from corpus.write.musicxml import Page

    first, last = shown_bars(transcription, bars)
    texts = below_texts(transcription, cast("Below", chosen(below, BELOW, "--below"))) if below else {}
    page = Page(first, last, texts, concert)
    if families:
        from cli.family_brackets import family_brackets

        if marks:
            raise QueryError("--mark and --families both give letters to figures: choose one")
        brackets, legend = family_brackets(database, identity, transcription, first, last, concert=concert)
        return EngravingOptions(page, brackets, legend=legend)
    return EngravingOptions(page, _marks(database, identity, transcription, marks, first, last))


def shown_bars(transcription: "Transcription", bars: str) -> tuple[int, int]:
    """Indexes of the first and last played bar of whole bars (all where none is named). Raises QueryError."""
    from corpus.regions import notes_in, parse_region

    if not bars:
        return 0, len(transcription.bars) - 1
    region = parse_region(bars)
    if region.start.beat is not None or region.end.beat is not None:
        raise QueryError(f"--bars {bars} has beats: name whole bars (5-8)")
    notes_in(transcription, region)  # raises for bars that do not exist
    places = [
        index
        for index, bar in enumerate(transcription.bars)
        for point in (region.start, region.end)
        if (bar.number, bar.pass_number) == (point.bar, point.pass_number)
    ]
    return min(places), max(places)


def _marks(
    database: "Database", identity: int, line: "Transcription", passages: Sequence[str], first: int, last: int
) -> "list[Mark]":
    """Brackets for every place of every passage in the bars that are shown, a letter a passage."""
    from cli.chorus_map import LETTERS
    from corpus.match.figure import Folds
    from corpus.write.engrave import Mark
    from db.search import Question, occurrences_in

    marks: list[Mark] = []
    for kind, passage in enumerate(passages):
        figure = figure_like(database, (str(identity), passage))
        for occurrence in occurrences_in(line, Question(figure, Folds.parse(""), "any")):
            start, end = line.notes[occurrence.first].bar_index, line.notes[occurrence.last].bar_index
            if first <= start and end <= last:
                marks.append(Mark(LETTERS[kind % len(LETTERS)], occurrence.first, occurrence.last, kind))
    return marks


def print_hits_on_paper(answer: "Answer", figure: "Figure | None", asked: str, path: Path, paper: str) -> None:
    """The places of an answer as a PDF. Raises QueryError when there are none."""
    from cli.output import bar_text, tell
    from corpus.write.hits import hits_pages, shared_notes
    from corpus.write.paper import pdf_of
    from corpus.write.rows import Place

    if not answer.hits:
        raise QueryError(f"{asked}: not found, so there is nothing to put on paper")
    heights = None if figure is None else figure.pitches
    places: list[Place] = []
    for hit in answer.hits:
        line, first, last = hit.transcription, hit.occurrence.first, hit.occurrence.last
        details, bar = hit.entry.details, line.bar_of(first)
        facts = [details.title, details.player, f"bar {bar_text(bar.number, bar.pass_number)}"]
        changes = "; ".join(change.words for change in hit.occurrence.changes if change.words)
        caption = ", ".join(fact for fact in facts if fact) + (f": {changes}" if changes else "")
        places.append(Place(line, first, last, caption, shared_notes(heights, line, first, last)))
    pages = hits_pages(places, asked, sheet_of(paper))
    write_files({path: pdf_of(pages)})
    words = [
        f"{count} {what}{'' if count == 1 else 's'}" for count, what in ((len(places), "place"), (len(pages), "page"))
    ]
    tell(f"{path}: {words[0]} on {words[1]}")


def write_hits_page(answer: "Answer", figure: "Figure | None", asked: str, path: Path, notes: str | None) -> None:
    """The places of an answer as an HTML page. Raises QueryError when there are none."""
    from cli.output import tell
    from cli.page_groups import groups_html
    from cli.page_hits import page_of_hits
    from cli.page_parts import read_notes

    page = page_of_hits(answer, figure, asked)
    html = groups_html(page, "" if notes is None else read_notes(notes))
    write_files({path: html.encode("utf-8")})
    count = len(page.groups[0].passages)
    tell(f"{path}: {count} place{'' if count == 1 else 's'}. Mind the rights in the music.")


def sheet_of(paper: str) -> "Paper":
    """The paper that an option names. Raises QueryError for another."""
    return "A4" if chosen(paper, ("a4", "letter"), "--paper") == "a4" else "Letter"
