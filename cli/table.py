"""``table``: a selection as rows for notebooks and spreadsheets."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from cli.files import ForceOption
from cli.options import (
    OUTPUT_PANEL,
    CollectionOption,
    DatabaseOption,
    PlayerOption,
    SectionOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    chosen,
    database_at,
    selection_of,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from cli.table_files import Form
    from db.catalogue import Selection
    from db.connection import Database
    from db.rows import Column

_WHAT = ("notes", "lines", "families", "occurrences")


def _target(name: str, words: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(name, metavar="FILE", help=words, rich_help_panel=OUTPUT_PANEL)
    return option


def table(
    context: typer.Context,
    what: Annotated[
        str, typer.Argument(metavar="|".join(_WHAT), help="A row a note, a line, a family, or a place of a family.")
    ],
    csv: Annotated[str | None, _target("--csv", "CSV; - is standard output.")] = None,
    jsonl: Annotated[str | None, _target("--jsonl", "JSON, an object a row; - is standard output.")] = None,
    parquet: Annotated[str | None, _target("--parquet", "Parquet (needs wellworn[parquet]).")] = None,
    columns: Annotated[
        bool, typer.Option("--columns", help="Tell what the columns mean, and stop.", rich_help_panel=OUTPUT_PANEL)
    ] = False,
    force: ForceOption = False,
    player: PlayerOption = "",
    tune: TuneOption = "",
    collection: CollectionOption = "",
    section: SectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    db: DatabaseOption = None,
) -> None:
    """Write a selection as a table: notes with all their roles, lines, families of recurring figures, their places.

    Times are quarters or beats, pitches sounding MIDI numbers: --columns tells each. In CSV, a text that a spreadsheet
    would run as a formula has an apostrophe before it. Mind the rights in the music before you pass a table on.

    Examples:

      wellworn table notes --csv notes.csv --player quist

      wellworn table notes --columns
    """
    from cli.output import tell
    from db.rows import OF_FAMILIES, OF_LINES

    kind = chosen(what, _WHAT, "the table")
    if columns:
        _tell_columns((OF_LINES.get(kind) or OF_FAMILIES[kind])[0])
        return
    given: dict[Form, str | None] = {"csv": csv, "jsonl": jsonl, "parquet": parquet}
    targets = [(form, target) for form, target in given.items() if target is not None]
    if len(targets) != 1:
        raise QueryError("say where the table goes, in one way: --csv FILE, --jsonl FILE or --parquet FILE")
    selection = selection_of(player, tune, collection, section, tempo, year)
    count = _write(database_at(context, db), kind, selection, *targets[0], force)
    tell(f"{count:,} row{'' if count == 1 else 's'}")


def _tell_columns(columns: "Sequence[Column]") -> None:
    from cli.output import print_table

    print_table(("column", "values", "meaning"), [(column.name, column.kind, column.meaning) for column in columns])


def _write(database: "Database", kind: str, selection: "Selection", form: "Form", target: str, force: bool) -> int:
    from cli.families import progress_bar
    from cli.table_files import write_table
    from db.recur import RecurQuestion, recur
    from db.rows import OF_FAMILIES, OF_LINES

    if kind in OF_LINES:
        if kind == "lines" and selection.section:
            raise QueryError("a table of lines cannot be cut to a section: leave --section out")
        columns, rows = OF_LINES[kind]
        with database.reading() as connection:
            return write_table(form, target, columns, rows(connection, selection), force)
    question = RecurQuestion(selection)
    with progress_bar() as progress:
        found = recur(database, question, progress)
    family_columns, family_rows = OF_FAMILIES[kind]
    with database.reading() as connection:
        return write_table(form, target, family_columns, family_rows(connection, question, found), force)
