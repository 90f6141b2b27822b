"""``demo``: the seed data in a fresh database, one finished answer, and what to try next."""

import os
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cli.options import DatabaseOption, database_place
from corpus.errors import CorpusError, ReadingError

if TYPE_CHECKING:
    from db.connection import Database

SEED_FOLDER = Path(__file__).resolve().parent.parent / "seed_data"
SEED_COLLECTION = "seed"
DEMO_FIGURE = "F2 D2 Eb2 E2 F2"
"""The fifth steps down to the third of its chord and climbs back by half-steps."""


def demo(context: typer.Context, db: DatabaseOption = None) -> None:
    """Make a database of invented players and tunes to play with, and answer a first question.

    Without --db the database lies beside your own, as demo.db. An older demo database is made anew; a database that
    holds anything else is left alone.

    Example:

      wellworn demo
    """
    from cli.output import tell
    from db.location import DEMO_NAME, database_url, user_data_folder
    from db.opening import open_database

    url = database_url(database_place(context, db) or str(user_data_folder() / DEMO_NAME))
    database = open_database(url, create=True)
    _empty(database)
    _fill(database)
    tell("")
    _answer(database)


def _empty(database: "Database") -> None:
    """Take the lines of an older demo out. Raises CorpusError when there are others too."""
    from db.catalogue import Selection, entries
    from db.store import remove

    with database.reading() as connection:
        found, _ = entries(connection, Selection())
    if any(entry.collection != SEED_COLLECTION for entry in found):
        raise CorpusError(
            f"{database.name} holds more than the demo: choose another file with --db, nothing is changed"
        )
    remove(database, [entry.id for entry in found])


def _fill(database: "Database") -> None:
    from corpus.read.written import ReadingWishes
    from db.intake import IntakeOptions, add_files
    from db.paths import expand

    files = expand([str(SEED_FOLDER)])
    reports = list(add_files(database, files, IntakeOptions(ReadingWishes(), SEED_COLLECTION)))
    for report in reports:
        if report.reason or any(piece.reason for piece in report.pieces):
            raise ReadingError(f"seed data {report.file.name}: {report.reason or 'a tune was refused'}")


def _answer(database: "Database") -> None:
    """Ask where a figure comes back, draw the map of the line that has it most often, and say what to try next."""
    from cli.hits import by_transcription, print_hits, print_maps
    from cli.output import passage_text, say
    from corpus.match.figure import Folds, figure_from_notes
    from db.search import Answer, Question, search

    question = Question(figure_from_notes(DEMO_FIGURE), Folds(doubles=True))
    with database.reading() as connection:
        answer = search(connection, question)
    say("Where does this figure come back, in any key, plain or with doubled notes?")
    say(f'wellworn find --notes "{DEMO_FIGURE}" --ignore doubles')
    say()
    print_hits(answer)
    most = max(by_transcription(answer).values(), key=len)
    say()
    say("The line that has it most often, as a chorus map:")
    print_maps(Answer(most, len(most)), question.figure.text)
    say()
    say("Try next:")
    program = f"{_program()} --db {shlex.quote(_shortest(database.name))}"
    for words in (
        f'find --notes "{DEMO_FIGURE}" --ignore octaves,doubles,mode',
        f"find --like {most[0].entry.id} {passage_text(most[0])} --ignore doubles --rhythm stretched",
        f"show {most[0].entry.id}",
        "list",
        "add YOUR-FILE.musicxml",
    ):
        say(f"  {program} {words}")


def _program() -> str:
    """How the user called us: by name when that is on the path, else by the way there."""
    called = sys.argv[0]
    return "wellworn" if shutil.which("wellworn") == shutil.which(called) else _shortest(called)


def _shortest(place: str) -> str:
    """A path as seen from here, when that is shorter."""
    return min(place, os.path.relpath(place), key=len)
