"""What leaves the program: JSON and CSV on standard output alone, words for people through one console.

What the dictionaries hold is made in ``db.fields``.
"""

import csv
import json
import re
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from corpus.errors import QueryError
from corpus.pitch import transposition_name
from corpus.regions import passage_name
from db.fields import (
    ENTRY_COLUMNS,
    HIT_COLUMNS,
    NOTE_COLUMNS,
    all_note_fields,
    change_fields,
    chords_under,
    entry_fields,
    finding_fields,
    hit_fields,
    note_fields,
    number,
    span_fields,
    transcription_fields,
)

# The rest of the commands takes these from here.
__all__ = [
    "ENTRY_COLUMNS",
    "HIT_COLUMNS",
    "NOTE_COLUMNS",
    "all_note_fields",
    "change_fields",
    "chords_under",
    "entry_fields",
    "finding_fields",
    "hit_fields",
    "note_fields",
    "number",
    "span_fields",
    "transcription_fields",
]

if TYPE_CHECKING:
    from rich.console import Console

    from db.search import Hit

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


_LONGEST_MESSAGE = 2_000
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def plain(text: str) -> str:
    """A text without anything that a terminal would obey: control characters and changes of direction."""
    return _CONTROL.sub("", text)


@lru_cache(maxsize=2)
def console(is_error: bool = False) -> "Console":
    """The console for tables and progress: no markup or highlighting, so that titles are only ever text."""
    from rich.console import Console

    return Console(stderr=is_error, markup=False, highlight=False, emoji=False)


def say(text: str = "") -> None:
    """A line on standard output. Plain writing: rich would add a tenth of a second to every search."""
    sys.stdout.write(plain(text) + "\n")


def shortened(text: str) -> str:
    """A message of which the middle is left out where what it quotes is endless: its cure stands at the end."""
    return text if len(text) <= _LONGEST_MESSAGE else f"{text[:1200]} … {text[-400:]}"


def tell(text: str) -> None:
    """A line on standard error, after what has been said on standard output."""
    sys.stdout.flush()
    sys.stderr.write(plain(text) + "\n")


def print_table(headings: Sequence[str], rows: Iterable[Sequence[str]], right: Collection[str] = ()) -> None:
    """A table on standard output that folds long texts; the columns named in ``right`` are flushed right."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="", padding=(0, 2, 0, 0))
    for heading in headings:
        table.add_column(heading, justify="right" if heading in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*map(plain, row))
    console().print(table)


def one_of(as_json: bool, as_csv: bool, as_map: bool = False) -> None:
    """Raises QueryError when more than one way of showing is asked for."""
    asked = [name for name, wanted in (("--json", as_json), ("--csv", as_csv), ("--map", as_map)) if wanted]
    if len(asked) > 1:
        raise QueryError(f"{' and '.join(asked)} exclude each other: choose one")


def print_json(value: Any) -> None:
    """One JSON value on standard output."""
    sys.stdout.write(escaped_json(json.dumps(value, ensure_ascii=False, indent=1)) + "\n")


def escaped_json(text: str) -> str:
    """JSON in which what a terminal would obey is written as escapes: JSON itself escapes only some of it."""
    return _CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def print_csv(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> None:
    """Rows as CSV with a header on standard output.

    A text that a spreadsheet would run as a formula gets an apostrophe before it; lists are joined with spaces.
    """
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([csv_cell(row.get(column)) for column in columns])


def csv_cell(value: Any) -> Any:
    """A value as a cell of CSV, nothing in it that a spreadsheet would run as a formula."""
    if isinstance(value, (list, tuple)):
        # Changes are phrases, all other lists are single words.
        value = ("; " if any(" " in str(item) for item in value) else " ").join(map(str, value))
    if isinstance(value, str):
        value = plain(value)
        # A space before it does not keep a spreadsheet from running it.
        return f"'{value}" if value.lstrip(" ").startswith(_FORMULA_STARTS) else value
    return "" if value is None else value


def transposition_words(transposed: int | None) -> str:
    """How far a hit is transposed, in words; empty where the figure has no pitch of its own."""
    return "" if transposed is None else transposition_name(transposed)


def bar_text(bar: int, pass_number: int) -> str:
    """A bar's number, with the pass where it is not the first: ``6~2``, as passages are typed."""
    return f"{bar}~{pass_number}" if pass_number > 1 else str(bar)


def passage_text(hit: "Hit") -> str:
    """The passage that a hit covers, as ``--like`` takes it: ``57:1-58:3``."""
    return passage_name(hit.transcription, hit.occurrence.first, hit.occurrence.last)


def hit_row(hit: "Hit") -> tuple[str, ...]:
    """A hit for people: chorus, section, bar, beat, how far transposed, notes, chords."""
    fields = hit_fields(hit)
    return (
        str(fields["chorus"]),
        fields["section"] or "",
        bar_text(fields["bar"], fields["pass"]),
        f"{float(fields['beat']):.4g}",
        transposition_words(hit.occurrence.transposed),
        " ".join(spelling or "x" for spelling in fields["notes"]),
        " ".join(fields["chords"]),
    )


def wrapped(text: str, first: str = "", others: str = "") -> list[str]:
    """A text in lines of 80 columns, ``first`` before the first, ``others`` before the rest; 5 % holds together."""
    from textwrap import wrap

    lines = wrap(text.replace(" %", "\u00a0%"), 80, initial_indent=first, subsequent_indent=others)
    return [line.replace("\u00a0", " ") for line in lines]


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of texts as lines, each column as wide as its widest text, two spaces between them."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(f"{text:<{width}}" for text, width in zip(row, widths, strict=True)).rstrip() for row in rows]
