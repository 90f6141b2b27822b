"""Passages that are named on the command line: in a stored transcription, or in a file that is not stored."""

from corpus.errors import QueryError, RangeError
from corpus.model import Transcription
from corpus.regions import notes_in, parse_region
from db.catalogue import load
from db.connection import Database

_LARGEST_ID = 2**62


def transcription_at(database: Database | None, place: str) -> Transcription:
    """The transcription of an ID, or the line in a file: ``FILE``, or ``FILE#2`` for the second of several.

    Raises QueryError for a file of several lines without a number, ReadingError for one that cannot be read.
    """
    if place.strip().isdigit() and database is not None:
        identity = int(place)
        if not 1 <= identity <= _LARGEST_ID:
            raise RangeError(f"{place} is no ID: 'wellworn list' shows the IDs")
        with database.asking() as connection:
            return load(connection, identity)[1]
    return _from_file(place)


def _from_file(place: str) -> Transcription:
    # Readers are slow to load, and a search in stored lines must not pay for them.
    from corpus.read.formats import pieces_of, read_piece
    from corpus.read.written import ReadingWishes
    from db.paths import expand

    name, sign, number = place.rpartition("#")
    if not sign or not number.isdigit():
        name, number = place, ""
    files = expand([name])
    if len(files) != 1:
        raise QueryError(f"{name!r} holds {len(files)} files: name one file")
    pieces = pieces_of(files[0].read(), files[0].name)
    if not number and len(pieces) > 1:
        raise QueryError(f"{name} holds {len(pieces)} lines: say which one, as in {name}#1")
    if number and not 1 <= int(number) <= len(pieces):
        raise QueryError(
            f"{name} holds {len(pieces)} line{'s' if len(pieces) > 1 else ''}: there is no number {number}"
        )
    return read_piece(pieces[int(number or 1) - 1], ReadingWishes())


def passage_at(database: Database | None, place: str, bars: str) -> tuple[Transcription, tuple[int, int]]:
    """A transcription and the first and last note of a passage in it; ``all`` is the whole line.

    Raises QueryError or RangeError for a passage that does not exist.
    """
    region = None if bars.strip().lower() == "all" else parse_region(bars)
    transcription = transcription_at(database, place)
    if region is None:
        return transcription, (0, len(transcription.notes) - 1)
    return transcription, notes_in(transcription, region)
