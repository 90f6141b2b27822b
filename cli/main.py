"""The command ``wellworn``: its commands, and the one place where errors become exit codes.

Exit codes: 0 done, 1 the system refused (disk full, database locked), 2 something the user can mend, 130 stopped with
Ctrl-C.
"""

import errno
import gc
import io
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from cli import (
    add,
    align,
    catalogue,
    compare,
    configuration,
    demo,
    doctor,
    export,
    find,
    harmony,
    page,
    play,
    practice,
    profile,
    reading,
    recur,
    safekeeping,
    shapes,
    sheet,
    shelf,
    shelf_exchange,
    shelf_look,
    show,
    suggest,
    table,
    undo,
)
from cli.options import DatabaseOption
from corpus.errors import WellwornError

_NEW_OBJECTS_A_COLLECTION = 50_000
"""Python's own 700 make the collector run hundreds of times while modules load: a fifth of the start."""

app = typer.Typer(
    name="wellworn",
    help="A searchable corpus of transcribed lines: add transcriptions, ask where a figure comes back.",
    epilog="Begin with: wellworn demo",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"wellworn {version('wellworn')}")
        raise typer.Exit


@app.callback()
def settings(
    context: typer.Context,
    db: DatabaseOption = None,
    _version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """A searchable corpus of transcribed lines: add transcriptions, ask where a figure comes back."""
    context.obj = db


app.command("add")(add.add)
app.command("check")(add.check)
app.command("list")(catalogue.list_entries)
app.command("show")(show.show)
app.command("edit")(catalogue.edit)
app.command("remove")(catalogue.remove)
app.command("find")(find.find)
app.command("align")(align.align)
app.command("recur")(recur.recur)
app.command("play")(play.play)
app.command("prices")(configuration.prices)
app.command("map")(show.map_chorus)
app.command("export")(export.export)
app.command("page")(page.page)
app.command("harmony")(harmony.harmony)
app.command("chart")(harmony.chart)
app.command("shapes")(shapes.shapes)
shelf.app.command("list")(shelf_look.list_figures)
shelf.app.command("show")(shelf_look.show)
shelf.app.command("export")(shelf_exchange.export)
shelf.app.command("import")(shelf_exchange.import_file)
shelf.app.command("schema")(shelf_exchange.schema)
app.add_typer(shelf.app, name="shelf")
practice.app.command("sheet")(sheet.sheet)
app.add_typer(practice.app, name="practice")
app.command("profile")(profile.profile)
app.command("compare")(compare.compare)
app.command("table")(table.table)
app.command("reading")(reading.reading)
app.command("suggest")(suggest.suggest)
app.command("undo")(undo.undo)
app.command("backup")(safekeeping.backup)
app.command("restore")(safekeeping.restore)
app.command("doctor")(doctor.doctor)
app.command("demo")(demo.demo)


def _run() -> None:
    """Run the application and write out what it said, so that a full disk is noticed here."""
    try:
        app()
    except SystemExit as exit_:
        # Where the reader of our output has left, the libraries that print exit with 1 on their own.
        if isinstance(exit_.__context__, BrokenPipeError):
            raise exit_.__context__ from None
        raise
    finally:
        sys.stdout.flush()


def main() -> None:
    """Run the command line and map errors to exit codes."""
    gc.set_threshold(_NEW_OBJECTS_A_COLLECTION)
    # A stream that was closed before we started (wellworn list >&-) is one that nobody reads.
    sys.stdout = sys.stdout or Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 (open to the end)
    sys.stderr = sys.stderr or Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without our letters shows ?, not a traceback
    try:
        _run()
    except WellwornError as error:
        from cli.output import shortened, tell

        tell(f"wellworn: {shortened(str(error))}")
        raise SystemExit(error.exit_code) from error
    except UnicodeEncodeError as error:
        print("wellworn: a word of the command line is not in UTF-8: type it again", file=sys.stderr)  # noqa: T201
        raise SystemExit(2) from error
    except BrokenPipeError:
        # The reader of our output has left (head, less): nothing is wrong, and nothing more can be said.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream_number in (1, 2):
            os.dup2(nowhere, stream_number)
        raise SystemExit(0) from None
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        print("wellworn: standard output cannot be written: no space left", file=sys.stderr)  # noqa: T201
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(1) from error
    except KeyboardInterrupt:
        raise SystemExit(130) from None


if __name__ == "__main__":
    main()
