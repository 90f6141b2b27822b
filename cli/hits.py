"""The hits of ``find`` on the screen and in files: a table, chorus maps, JSON, CSV, sheets and pages."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cli.files import target_of
from cli.near import print_near_hits
from cli.notation import print_hits_on_paper, write_hits_page
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.figure import Figure
    from db.search import Answer, Hit


@dataclass(frozen=True)
class HitsOutput:
    """What the options say about how hits are shown, and into which files they are written besides."""

    json: bool
    csv: bool
    show_map: bool
    pdf: Path | None
    paper: str
    page: Path | None
    page_notes: str | None
    table: str | None
    force: bool

    @property
    def is_for_people(self) -> bool:
        """Whether hits are shown as a table alone, so that a few of them are enough."""
        return not (self.json or self.csv or self.show_map or self.table)

    def show(self, answer: "Answer", figure: "Figure | None", asked: str, is_plain: bool) -> None:
        """Show the hits of a figure, or of a progression; ``asked`` is what was asked, in words."""
        from cli import output

        fields = [output.hit_fields(hit) for hit in answer.hits] if self.json or self.csv else []
        if self.json:
            output.print_json(fields)
        elif self.csv:
            output.print_csv(fields, output.HIT_COLUMNS)
        elif is_plain:
            print_hits(answer)
        else:
            print_near_hits(answer.hits)
        if self.show_map:
            print_maps(answer, asked)
        if self.table is not None:
            _write_table(answer, self.table, self.force)
        if self.pdf is not None:
            print_hits_on_paper(answer, figure, asked, self.pdf, self.paper)
        if self.page is not None:
            write_hits_page(answer, figure, asked, self.page, self.page_notes)


def hits_output(
    json: bool,
    csv: bool,
    show_map: bool,
    pdf: str | None,
    paper: str,
    page: str | None,
    page_notes: str | None,
    table: str | None,
    force: bool,
) -> HitsOutput:
    """The options as one value. Raises QueryError where they contradict each other, as ``target_of`` for files."""
    from cli import output

    output.one_of(json, csv, show_map)
    if table is not None:
        _check_table(table, force)
    path, page_path = (None if name is None else target_of(name, force) for name in (pdf, page))
    if path is not None and path == page_path:
        raise QueryError("--pdf and --page cannot go into one file: give each a name of its own")
    if page_notes is not None and page is None:
        raise QueryError("--page-notes goes onto a page: give --page FILE too")
    return HitsOutput(json, csv, show_map, path, paper, page_path, page_notes, table, force)


def _check_table(target: str, force: bool) -> None:
    """Raises QueryError for a table that cannot be written, before the search begins."""
    from cli.table_files import form_by_name

    form_by_name(target, force)


def _write_table(answer: "Answer", target: str, force: bool) -> None:
    from cli.table_files import write_table_by_name
    from db.rows import FOUND_COLUMNS, hit_rows

    write_table_by_name(target, FOUND_COLUMNS, hit_rows(answer.hits), force)


def by_transcription(answer: "Answer") -> "dict[int, list[Hit]]":
    """The hits by the ID of their transcription."""
    groups: dict[int, list[Hit]] = {}
    for hit in answer.hits:
        groups.setdefault(hit.entry.id, []).append(hit)
    return groups


def heading(hit: "Hit") -> str:
    """A transcription in one line: ID, tune, player."""
    details = hit.entry.details
    return f"{hit.entry.id}  {details.title}" + (f", {details.player}" if details.player else "")


def print_hits(answer: "Answer") -> None:
    """The hits as a table, a heading for each transcription."""
    from cli.output import aligned, hit_row, say

    headings = ("chorus", "section", "bar", "beat", "transposed", "notes", "chords")
    groups = by_transcription(answer)
    rows = iter(aligned([headings, *(hit_row(hit) for hits in groups.values() for hit in hits)]))
    if groups:
        say(f"    {next(rows)}")
    for hits in groups.values():
        say(heading(hits[0]))
        for _ in hits:
            say(f"    {next(rows)}")


def print_maps(answer: "Answer", figure_text: str) -> None:
    """The maps of the choruses that hold hits."""
    from cli.chorus_map import chorus_map, marked_figure
    from cli.output import say

    for hits in by_transcription(answer).values():
        transcription = hits[0].transcription
        choruses = {transcription.bar_of(hit.occurrence.first).chorus for hit in hits}
        marked = marked_figure("A", figure_text, transcription, [hit.occurrence for hit in hits])
        lines = chorus_map(transcription, [marked], only=choruses)
        for line in ["", heading(hits[0]), *lines]:
            say(line)
    if answer.hits:
        say(f"\nA = {figure_text}")
