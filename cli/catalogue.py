"""``list``, ``edit`` and ``remove``: the corpus as a catalogue."""

from typing import Annotated, Any

import typer

from cli.options import (
    CollectionOption,
    CsvOption,
    DatabaseOption,
    IdsArgument,
    JsonOption,
    LimitOption,
    PlayerOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    chosen,
    database_at,
    finite,
    selection_of,
)


def list_entries(
    context: typer.Context,
    player: PlayerOption = "",
    tune: TuneOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    limit: LimitOption = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    db: DatabaseOption = None,
) -> None:
    """List the transcriptions, all or filtered.

    Examples:

      wellworn list --player quist

      wellworn list --tempo 180- --json
    """
    from cli import output
    from db.catalogue import entries

    output.one_of(json, csv)
    selection = selection_of(player, tune, collection, "", tempo, year)
    with database_at(context, db).reading() as connection:
        found, total = entries(connection, selection, limit)
    fields = [output.entry_fields(entry) for entry in found]
    if json:
        output.print_json(fields)
    elif csv:
        output.print_csv(fields, output.ENTRY_COLUMNS)
    else:
        _print_entries(fields)
    shown = "" if len(found) == total else f"{len(found):,} of "
    output.tell(f"{shown}{total:,} transcription{'' if total == 1 else 's'}")


def _print_entries(fields: list[dict[str, Any]]) -> None:
    from cli.output import print_table

    names = ("transcription", "title", "player", "collection", "key", "meter", "bars", "notes")
    rows = [["" if entry[name] is None else str(entry[name]) for name in names] for entry in fields]
    print_table(("ID", "tune", *names[2:]), rows, right=("ID", "bars", "notes"))


def edit(
    context: typer.Context,
    ids: IdsArgument,
    title: Annotated[str | None, typer.Option("--title")] = None,
    player: Annotated[str | None, typer.Option("--player")] = None,
    collection: Annotated[str | None, typer.Option("--collection")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument")] = None,
    recording: Annotated[str | None, typer.Option("--recording")] = None,
    year: Annotated[int | None, typer.Option("--year", min=1, max=9999)] = None,
    tempo: Annotated[float | None, typer.Option("--tempo", min=1, max=999, help="Quarters a minute.")] = None,
    key: Annotated[str | None, typer.Option("--key", help="'Bb major'; degrees follow.")] = None,
    form: Annotated[str | None, typer.Option("--form", help="'A8 A8 B8 A8'; choruses and sections follow.")] = None,
    clear: Annotated[list[str] | None, typer.Option("--clear", metavar="year|tempo", help="Forget it.")] = None,
    db: DatabaseOption = None,
) -> None:
    """Set details of transcriptions by hand; they stay when the file is replaced. '' empties a text.

    Example:

      wellworn edit 3 --player "Orlo Quist" --form "A8 A8 B8 A8"
    """
    from cli.output import tell
    from corpus.errors import QueryError
    from corpus.text import clean_text
    from db.editing import edit as edit_details

    texts = {
        "title": title,
        "player": player,
        "collection": collection,
        "instrument": instrument,
        "recording": recording,
    }
    given: dict[str, Any] = {name: None if text is None else clean_text(text) for name, text in texts.items()}
    given |= {"year": year, "tempo_bpm": finite(tempo), "key": key, "form": form}
    changes = {name: value for name, value in given.items() if value is not None}
    for name in clear or []:
        column = chosen(name, ("year", "tempo"), "--clear")
        changes["tempo_bpm" if column == "tempo" else column] = None
    if not changes:
        raise QueryError("nothing to change: give at least one of the options ('wellworn edit --help')")
    count = edit_details(database_at(context, db), ids, changes)
    tell(f"{count} transcription{'' if count == 1 else 's'} edited")


def remove(context: typer.Context, ids: IdsArgument, db: DatabaseOption = None) -> None:
    """Remove transcriptions from the database; the files they came from stay where they are.

    Example:

      wellworn remove 3 4
    """
    from cli.output import tell
    from db import store

    count = store.remove(database_at(context, db), ids)
    tell(f"{count} transcription{'' if count == 1 else 's'} removed")
