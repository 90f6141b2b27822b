"""``shelf export``, ``import`` and ``schema``: shelves as files, for students and colleagues."""

import sys
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from cli.files import target_of, write_files
from cli.options import DatabaseOption, JsonOption, database_at
from cli.shelf import FamilyOption, TagsOption, is_asked, near_duplicates, shelved
from cli.shelf_look import chosen_figures
from corpus.errors import QueryError, ReadingError

if TYPE_CHECKING:
    from corpus.shelf.compare import Choice, Compared
    from corpus.shelf.kept import KeptFigure
    from db.shelf import Shelf

_CHOICES = {"r": "replace", "b": "keep-both", "m": "keep-mine"}


def export(
    context: typer.Context,
    target: Annotated[str, typer.Argument(metavar="FILE", help="The file to write, - for standard output.")],
    names: Annotated[list[str] | None, typer.Argument(metavar="[NAME]…", help="Figures; all unless named.")] = None,
    tag: TagsOption = None,
    family: FamilyOption = None,
    with_practice: Annotated[bool, typer.Option("--with-practice", help="The practice log too.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that exists.")] = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write kept figures to a file: one JSON document ('wellworn shelf schema' describes it).

    Your practice log stays with you unless you say --with-practice.

    Examples:

      wellworn shelf export turns.json --tag turnaround

      wellworn shelf export all.json --with-practice --force
    """
    from cli.output import escaped_json, print_json, tell
    from cli.shelf_words import RIGHTS, count_of
    from corpus.shelf.file import write_shelf
    from corpus.shelf.kept import named

    is_stream = target == "-"
    if is_stream and json:
        raise QueryError("standard output takes the file itself, which is JSON: leave --json out")
    if not is_stream:
        file = target_of(target, force)
    figures = shelved(database_at(context, db))
    if names:
        figures = [named(figures, name) for name in dict.fromkeys(names)]
    figures = chosen_figures(figures, tag, family)
    if not figures:
        raise QueryError("there is no figure to export: 'wellworn shelf list' shows what is kept")
    data = write_shelf(figures, with_practice)
    if is_stream:
        sys.stdout.write(escaped_json(data.decode()))
    else:
        write_files({file: data}, force)
    if json:
        print_json({"file": target, "figures": [figure.name for figure in figures]})
    tell(f"{count_of(len(figures), 'figure')} written{'' if is_stream else f' to {target}'}: {RIGHTS}")


def schema() -> None:
    """Print the JSON Schema of shelf files, for other programs and for the curious.

    Example:

      wellworn shelf schema
    """
    from cli.output import print_json
    from corpus.shelf.schema import shelf_schema

    print_json(shelf_schema())


def import_file(
    context: typer.Context,
    source: Annotated[str, typer.Argument(metavar="FILE", help="A shelf file, - for standard input.")],
    replace: Annotated[bool, typer.Option("--replace", help="In conflicts take the file's figures.")] = False,
    keep_both: Annotated[
        bool, typer.Option("--keep-both", help="In conflicts take both, the file's as NAME (2).")
    ] = False,
    keep_mine: Annotated[bool, typer.Option("--keep-mine", help="In conflicts leave the file's figures out.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only tell what is new, there, in conflict.")] = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Take figures from a shelf file: what is new is added, what is there stays, and conflicts wait for your word.

    A conflict is a figure of a name that is there, with other notes, chords, tags, rating, family or comment. In a
    terminal you are asked about each; elsewhere nothing at all is changed until you choose --replace, --keep-both or
    --keep-mine. Sources and practice entries that are not there yet are added to figures that are.

    Examples:

      wellworn shelf import turns.json --dry-run

      wellworn shelf import turns.json --keep-both
    """
    from cli.output import print_json, tell
    from cli.shelf_words import compared_json, compared_lines, today
    from corpus.shelf.compare import compare
    from corpus.shelf.file import read_shelf

    wanted = _choice(replace, keep_both, keep_mine)
    # A file may come from where the next day has begun already.
    theirs = read_shelf(_bytes(source), _name_of(source), today() + timedelta(days=1))
    database = database_at(context, db, create=True)
    mine = shelved(database)
    compared = compare(mine, theirs)
    for line in compared_lines(compared):
        tell(line)
    choices = {} if dry_run else _choices(compared, wanted, asks=is_asked() and source != "-")
    done, new = ([""] * len(compared), []) if dry_run else _take(database, mine, compared, choices)
    found = {} if dry_run else near_duplicates(mine, new)
    if json:
        print_json([compared_json(one, what) for one, what in zip(compared, done, strict=True)])
    _tell_outcome(done, new, found, dry_run)


def _name_of(source: str) -> str:
    return "standard input" if source == "-" else source


def _choice(replace: bool, keep_both: bool, keep_mine: bool) -> "Choice | None":
    """What the options say about conflicts. Raises QueryError when they contradict each other."""
    options = (("replace", replace), ("keep-both", keep_both), ("keep-mine", keep_mine))
    given = [name for name, is_given in options if is_given]
    if len(given) > 1:
        raise QueryError(f"--{' and --'.join(given)} exclude each other: choose one")
    return cast("Choice", given[0]) if given else None


def _bytes(source: str) -> bytes:
    """The bytes of a file, not more than a shelf file may have and one. Raises ReadingError."""
    from corpus.shelf.file import LARGEST_BYTES

    if source == "-":
        return sys.stdin.buffer.read(LARGEST_BYTES + 1)
    path = Path(source)
    try:
        if not path.is_file():
            raise ReadingError(f"{source} is no file: name a shelf file ('wellworn shelf export' writes one)")
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise ReadingError(f"{source!r} cannot be read: {error}") from error


def _choices(compared: "list[Compared]", wanted: "Choice | None", asks: bool) -> "dict[str, Choice]":
    """What to do about each conflict, by the figure's name as it is told apart by.

    Raises QueryError when there are conflicts, nothing was said and nobody can be asked.
    """
    conflicts = [one for one in compared if one.state == "conflict"]
    if wanted is not None:
        return {one.theirs.id_name: wanted for one in conflicts}
    if conflicts and not asks:
        raise QueryError(
            f"{len(conflicts):,} in conflict, and nothing was changed: choose --replace (take the file's), "
            "--keep-both (the file's get a number) or --keep-mine (leave the file's out)"
        )
    return {one.theirs.id_name: _asked(one) for one in conflicts}


def _asked(one: "Compared") -> "Choice":
    question = f"{one.theirs.name!r}: [r]eplace mine, keep [b]oth, keep [m]ine, [s]top?"
    while True:
        answer = typer.prompt(question, default="m", err=True).strip().lower()[:1]
        if answer == "s":
            raise QueryError("stopped: nothing was changed")
        if answer in _CHOICES:
            return cast("Choice", _CHOICES[answer])


def _take(
    database: Any, mine: "Shelf", compared: "list[Compared]", choices: "dict[str, Choice]"
) -> "tuple[list[str], list[KeptFigure]]":
    """Write what was decided, in one transaction; returns what became of each, and the figures that are new."""
    from corpus.shelf.compare import taken_over
    from db.shelf import change_shelf

    outcome = taken_over(mine, compared, choices)

    def put(figures: "Shelf") -> "Shelf":
        if list(figures) != list(mine):
            raise QueryError("the shelf has changed while you were asked: import again")
        return outcome.shelf

    change_shelf(database, put, "shelf import")
    return list(outcome.done), list(outcome.new)


def _tell_outcome(done: list[str], new: "list[KeptFigure]", found: "dict[str, Any]", dry_run: bool) -> None:
    """What was done, in words, with the near-duplicates of what is new."""
    from cli.output import tell
    from cli.shelf_words import alike_words

    if dry_run:
        tell("nothing was changed (--dry-run)")
        return
    counts = ((word, done.count(word)) for word in ("added", "added to", "replaced", "kept beside", "left"))
    words = {
        "added to": "given more sources or practice",
        "kept beside": "kept beside yours",
        "left": "left as they are",
    }
    tell(", ".join(f"{count:,} {words.get(word, word)}" for word, count in counts if count))
    for figure in new:
        for line in alike_words(figure, found[figure.name]):
            tell(line)
