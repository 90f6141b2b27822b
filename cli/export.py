"""``export``: stored lines as files that other programs read."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.files import ForceOption
from cli.options import (
    LARGEST_ID,
    OUTPUT_PANEL,
    CollectionOption,
    DatabaseOption,
    PlayerOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    database_at,
    selection_of,
)
from corpus.errors import QueryError, SystemTroubleError

if TYPE_CHECKING:
    from corpus.model import Transcription
    from db.api import Corpus
    from db.catalogue import Entry, Selection

ConcertOption = Annotated[
    bool,
    typer.Option(
        "--concert",
        help="Write transposing instruments at sounding pitch (octaves stay).",
        rich_help_panel=OUTPUT_PANEL,
    ),
]
_AT_ONCE = 200


def _target(name: str, words: str, metavar: str = "TARGET") -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(name, metavar=metavar, help=words, rich_help_panel=OUTPUT_PANEL)
    return option


def export(
    context: typer.Context,
    ids: Annotated[
        list[int] | None, typer.Argument(metavar="ID…", min=1, max=LARGEST_ID, help="IDs of transcriptions.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every line.")] = False,
    player: PlayerOption = "",
    tune: TuneOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    musicxml: Annotated[str | None, _target("--musicxml", "MusicXML 4.0.")] = None,
    midi: Annotated[str | None, _target("--midi", "Standard MIDI File.")] = None,
    abc: Annotated[str | None, _target("--abc", "ABC 2.1; several lines may share a file.")] = None,
    csv: Annotated[str | None, _target("--csv", "Notes as CSV, a row a note; - is standard output.", "FILE")] = None,
    jsonl: Annotated[str | None, _target("--jsonl", "Notes as JSON, an object a row.", "FILE")] = None,
    parquet: Annotated[str | None, _target("--parquet", "Notes as Parquet (needs wellworn[parquet]).", "FILE")] = None,
    concert: ConcertOption = False,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write transcriptions to files: music for notation programs, or their notes as a table.

    Choose lines by IDs, filters or --all. TARGET is a file for one line, or a folder (its name ends in /) that gets a
    file a line. Music is written whole, as played, with chord symbols and sections; reading it again gives the same
    notes. For other tables (lines, families, places) see 'wellworn table', for places of a figure 'wellworn find
    --table'. Mind the rights in the music before you pass a file on.

    Examples:

      wellworn export 3 --musicxml line.musicxml

      wellworn export --player quist --midi takes/ --abc quist.abc

      wellworn export 3 5 --csv notes.csv
    """
    from cli.output import tell
    from corpus.write.musicxml import Page, musicxml_of
    from db.api import Corpus

    selection = _chosen(ids or [], everything, selection_of(player, tune, collection, "", tempo, year))
    corpus = Corpus.of(database_at(context, db))
    lines = corpus.entries(selection)
    tables = {"csv": csv, "jsonl": jsonl, "parquet": parquet}
    if not any((musicxml, midi, abc, *tables.values())):
        raise QueryError("say what to write: --musicxml, --midi, --abc, --csv, --jsonl or --parquet TARGET")
    writers: list[tuple[str | None, str, Callable[[Transcription], bytes]]] = [
        (musicxml, "musicxml", lambda line: musicxml_of(line, Page(concert=concert)).encode("utf-8")),
        (midi, "mid", _midi),
        (abc, "abc", _abc),
    ]
    for target, suffix, write in writers:
        if target is not None:
            tell(_write_music(corpus, lines, target, suffix, write, force))
    for form, target in tables.items():
        if target is not None:
            tell(_write_notes(corpus, selection, form, target, force))


def _chosen(ids: Sequence[int], everything: bool, filters: "Selection") -> "Selection":
    """The lines that are meant. Raises QueryError when nothing says which."""
    if not (ids or everything or filters.conditions()[0]):
        raise QueryError("say which lines: IDs, filters such as --player, or --all")
    return replace(filters, ids=tuple(dict.fromkeys(ids)))


def _midi(line: "Transcription") -> bytes:
    from corpus.write.midi import midi_of

    return midi_of(line)


def _abc(line: "Transcription") -> bytes:
    from corpus.write.abc import abc_of

    return abc_of([line]).encode("utf-8")


def _write_music(
    corpus: "Corpus",
    lines: "Sequence[Entry]",
    target: str,
    suffix: str,
    write: "Callable[[Transcription], bytes]",
    force: bool,
) -> str:
    """Write lines to a file or into a folder; returns what was written, in words."""
    from cli.files import target_of, write_files
    from corpus.write.abc import abc_of

    if not target.endswith(("/", "\\")):
        path = target_of(target, force)
        if len(lines) > 1 and suffix != "abc":
            raise QueryError(f"{len(lines):,} lines are chosen, and {target} holds one: name a folder, {target}/")
        found = [line for _, line in corpus.transcriptions(lines)]
        write_files({path: write(found[0]) if len(found) == 1 else abc_of(found).encode("utf-8")}, force)
        if len(found) == 1:
            return f"{path}: {len(found[0].bars)} bars, {len(found[0].notes)} notes"
        return f"{path}: {len(found):,} lines"
    folder = Path(target).expanduser()
    if not folder.exists() and not folder.parent.is_dir():
        raise QueryError(f"{target} cannot be made: there is no folder {folder.parent}")
    names = {entry.id: folder / f"{_file_name(entry)}.{suffix}" for entry in lines}
    if folder.exists():
        for path in names.values():
            target_of(str(path), force)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise SystemTroubleError(f"{target} cannot be made ({error.strerror}): choose another place") from error
    # Every file is whole; of very many lines only some hundred are in memory.
    for start in range(0, len(lines), _AT_ONCE):
        part = corpus.transcriptions(lines[start : start + _AT_ONCE])
        write_files({names[entry.id]: write(line) for entry, line in part}, force)
    return f"{folder}: {len(lines):,} file{'s' * (len(lines) != 1)}"


def _file_name(entry: "Entry") -> str:
    """A file name that every system takes: ID, tune and player in plain letters."""
    import re
    import unicodedata

    words = f"{entry.details.title} {entry.details.player}"
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    return "_".join([f"{entry.id:03d}", *re.findall(r"[a-z0-9]+", plain)])[:80]


def _write_notes(corpus: "Corpus", selection: "Selection", form: str, target: str, force: bool) -> str:
    from cli.table_files import Form, write_table
    from db.rows import NOTE_COLUMNS, note_rows

    forms: dict[str, Form] = {"csv": "csv", "jsonl": "jsonl", "parquet": "parquet"}
    with corpus.database.reading() as connection:
        count = write_table(forms[form], target, NOTE_COLUMNS, note_rows(connection, selection), force)
    return f"{target}: {count:,} row{'s' * (count != 1)}"
