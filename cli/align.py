"""``align``: two passages side by side."""

from textwrap import wrap
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import DatabaseOption, IgnoreOption, JsonOption, PricesOption, database_at

if TYPE_CHECKING:
    from corpus.match.side_by_side import SideBySide
    from corpus.model import Transcription

_WIDTH = 80


def align(
    context: typer.Context,
    one: Annotated[str, typer.Argument(metavar="ID|FILE", help="The first line.")],
    bars: Annotated[str, typer.Argument(metavar="BARS", help="Its passage: 1-2, 1:3-2:2, all.")],
    other: Annotated[str, typer.Argument(metavar="ID|FILE", help="The second line.")],
    other_bars: Annotated[str, typer.Argument(metavar="BARS", help="Its passage.")],
    ignore: IgnoreOption = "",
    prices: PricesOption = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Lay two passages side by side, note by note, and say what was changed from the first to the second.

    Example:

      wellworn align 1 1-2 1 5-6
    """
    from cli import output
    from cli.configuration import prices_in_force
    from corpus.match.figure import Folds
    from corpus.match.side_by_side import side_by_side
    from db.passages import passage_at

    folds, table = Folds.parse(ignore), prices_in_force(prices or "figures")
    database = database_at(context, db) if one.isdigit() or other.isdigit() else None
    first, first_notes = passage_at(database, one, bars)
    second, second_notes = passage_at(database, other, other_bars)
    found = side_by_side(first, first_notes, second, second_notes, folds, table)
    if json:
        output.print_json(_fields(found, first, second))
        return
    names = [f"{one} {bars}", f"{other} {other_bars}"]
    for line in _lines(found, (first, second), names):
        output.say(line)


def _fields(found: "SideBySide", first: "Transcription", second: "Transcription") -> dict[str, Any]:
    """Two passages as JSON tells them."""
    from cli.output import change_fields

    def note(line: "Transcription", index: int | None) -> dict[str, Any] | None:
        return None if index is None else {"index": index, "spelling": line.notes[index].spelling}

    return {
        "likeness": found.likeness,
        "price": found.price,
        "transposed": found.transposed,
        "changes": [change.words for change in found.changes if change.words],
        "edits": [change_fields(change) for change in found.changes],
        "notes": [[note(first, left), note(second, right)] for left, right in found.pairs],
    }


def _lines(found: "SideBySide", lines: "tuple[Transcription, Transcription]", names: list[str]) -> list[str]:
    """Two passages for people: notes under each other in rows of the page's width, then the changes."""
    from cli.output import transposition_words

    cells = [
        tuple("." if index is None else line.notes[index].spelling for line, index in zip(lines, pair, strict=True))
        for pair in found.pairs
    ]
    label = max(map(len, names)) + 2
    width = max(max(map(len, cell)) for cell in cells) + 1
    per_row = max((_WIDTH - label) // width, 1)
    printed = []
    for begin in range(0, len(cells), per_row):
        for side, name in enumerate(names):
            notes = "".join(f"{cell[side]:<{width}}" for cell in cells[begin : begin + per_row])
            printed.append(f"{name if begin == 0 else '':<{label}}{notes}".rstrip())
        printed.append("")
    far = transposition_words(found.transposed)
    changes = [change.words for change in found.changes if change.words] or ["no change"]
    printed.append(f"likeness {found.likeness:.2f}" + (f", {far}" if far else ""))
    for change in changes:
        printed += wrap(change, _WIDTH, initial_indent="  ", subsequent_indent="    ")
    return printed
