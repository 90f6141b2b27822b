"""``export``: a stored line as a file that other programs read."""

from typing import Annotated

import typer

from cli.files import ForceOption, target_of, write_files
from cli.options import OUTPUT_PANEL, DatabaseOption, IdArgument, database_at
from corpus.errors import QueryError

ConcertOption = Annotated[
    bool,
    typer.Option(
        "--concert",
        help="Write transposing instruments at sounding pitch (octaves stay).",
        rich_help_panel=OUTPUT_PANEL,
    ),
]


def export(
    context: typer.Context,
    identity: IdArgument,
    musicxml: Annotated[
        str | None,
        typer.Option("--musicxml", metavar="FILE", help="MusicXML 4.0.", rich_help_panel=OUTPUT_PANEL),
    ] = None,
    concert: ConcertOption = False,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write a transcription to a file: the whole line as played, chord symbols as MusicXML harmony, sections as marks.

    Reading the file again gives the same notes, chords and sections. Mind the rights in the music before you pass a
    file on.

    Examples:

      wellworn export 3 --musicxml line.musicxml

      wellworn export 3 --musicxml line.musicxml --concert --force
    """
    from cli.output import tell
    from corpus.write.musicxml import Page, musicxml_of
    from db.catalogue import load

    if musicxml is None:
        raise QueryError("say what to write: --musicxml FILE")
    path = target_of(musicxml, force)
    with database_at(context, db).reading() as connection:
        _, transcription = load(connection, identity)
    write_files({path: musicxml_of(transcription, Page(concert=concert)).encode("utf-8")})
    tell(f"{path}: {len(transcription.bars)} bars, {len(transcription.notes)} notes")
