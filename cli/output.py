"""What leaves the program: JSON and CSV on standard output alone, words for people through one console.

The names in the dictionaries below are a contract with scripts.
"""

import csv
import json
import re
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, Any

from corpus.errors import QueryError
from corpus.model import TICKS_PER_QUARTER, Finding, Note, Transcription
from corpus.pitch import degree_name, transposition_name
from corpus.regions import passage_name

if TYPE_CHECKING:
    from rich.console import Console

    from corpus.harmony.roles import NoteRole
    from corpus.harmony.spans import HarmonySpan
    from corpus.match.changes import Change
    from db.catalogue import Entry
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


def number(value: Any) -> int | float:
    """A fraction as a plain number: whole where it is whole, else rounded to six places."""
    return int(value) if value == int(value) else round(float(value), 6)


def entry_fields(entry: "Entry") -> dict[str, Any]:
    """A transcription as ``list --json`` tells it."""
    details = entry.details
    return {
        "transcription": entry.id,
        "title": details.title,
        "player": details.player or None,
        "collection": entry.collection or None,
        "source": entry.source,
        "notes": entry.note_count,
        "bars": entry.bar_count,
        "key": str(details.key) if details.key else None,
        "meter": str(details.meter) if details.meter else None,
    }


ENTRY_COLUMNS = ("transcription", "title", "player", "collection", "source", "notes", "bars", "key", "meter")


def finding_fields(finding: Finding) -> dict[str, Any]:
    """A finding as JSON tells it."""
    return {
        "kind": finding.kind,
        "bar": finding.bar,
        "beat": None if finding.beat is None else number(finding.beat),
        "pass": finding.pass_number,
        "text": finding.text,
    }


def note_fields(
    transcription: Transcription, index: int, span: "HarmonySpan | None" = None, role: "NoteRole | None" = None
) -> dict[str, Any]:
    """A note as ``show --json`` tells it; onset and duration in quarters.

    ``degree`` counts in the local key (the bar's where no chord tells one), ``chord_degree`` in the chord.
    """
    note: Note = transcription.notes[index]
    bar = transcription.bars[note.bar_index]
    key = span.key if span is not None and span.key is not None else bar.key
    return {
        "index": index,
        "bar": bar.number,
        "beat": number(bar.beat_at(note.onset_ticks)),
        "pass": bar.pass_number,
        "chorus": bar.chorus,
        "onset": round(note.onset_ticks / TICKS_PER_QUARTER, 6),
        "duration": round(note.duration_ticks / TICKS_PER_QUARTER, 6),
        "pitch": note.pitch,
        "spelling": note.spelling or None,
        "chord": None if span is None else span.symbol_text,
        "degree": degree_name(note.spelling, key) if key and note.spelling else None,
        "chord_degree": role.degree if role else None,
        "role": role.kind if role else None,
        "movement": role.movement if role else None,
        "numeral": None if span is None or span.numeral is None else str(span.numeral),
        "key": str(key) if key else None,
        "ghost": note.is_ghost,
        "dead": note.is_dead,
        "grace": [ornament.spelling for ornament in note.ornaments],
    }


def all_note_fields(transcription: Transcription) -> list[dict[str, Any]]:
    """Every note as ``show --json`` tells it."""
    from corpus.harmony.analysis import analyse
    from corpus.harmony.roles import roles_of

    analysis = analyse(transcription)
    roles = roles_of(transcription, analysis.spans)
    return [
        note_fields(transcription, index, analysis.span_at(note.onset_ticks), roles[index])
        for index, note in enumerate(transcription.notes)
    ]


NOTE_COLUMNS = (
    "index",
    "bar",
    "beat",
    "pass",
    "chorus",
    "onset",
    "duration",
    "pitch",
    "spelling",
    "chord",
    "degree",
    "chord_degree",
    "role",
    "movement",
    "numeral",
    "key",
    "ghost",
    "dead",
    "grace",
)


def transcription_fields(entry: "Entry", transcription: Transcription) -> dict[str, Any]:
    """A whole transcription as ``show --json`` tells it."""
    details = entry.details
    return {
        **entry_fields(entry),
        "instrument": details.instrument or None,
        "recording": details.recording or None,
        "year": details.year,
        "tempo": details.tempo_bpm,
        "form": str(details.form) if details.form else None,
        "bars": entry.bar_count,
        "sections": [
            {"label": section.label, **span_fields(transcription, section.onset_ticks, section.end_ticks)}
            for section in transcription.sections
        ],
        "chords": [
            {"symbol": chord.symbol, **span_fields(transcription, chord.onset_ticks, chord.end_ticks)}
            for chord in transcription.chords
        ],
        "findings": [finding_fields(finding) for finding in transcription.findings],
        "notes": all_note_fields(transcription),
    }


def span_fields(transcription: Transcription, onset_ticks: int, end_ticks: int) -> dict[str, Any]:
    """Where a stretch of time begins, and how long it lasts, in quarters."""
    bar = next(bar for bar in reversed(transcription.bars) if bar.onset_ticks <= onset_ticks)
    return {
        "bar": bar.number,
        "beat": number(bar.beat_at(onset_ticks)),
        "pass": bar.pass_number,
        "chorus": bar.chorus,
        "onset": round(onset_ticks / TICKS_PER_QUARTER, 6),
        "duration": round((end_ticks - onset_ticks) / TICKS_PER_QUARTER, 6),
    }


def chords_under(transcription: Transcription, first: int, last: int) -> list[str]:
    """The chord symbols under notes ``first`` to ``last``, in order, one that is only written again told once."""
    start, end = transcription.notes[first].onset_ticks, transcription.notes[last].end_ticks
    chords = transcription.chords_between(start, max(end, start + 1))
    return [symbol for symbol, _ in groupby(chord.symbol for chord in chords)]


def change_fields(change: "Change") -> dict[str, Any]:
    """A change as ``find --json`` tells it: see ``corpus.match.changes`` for what the numbers mean."""
    return {
        "kind": change.kind,
        "notes": list(change.notes),
        "amounts": list(change.amounts),
        "how": change.how or None,
        "words": change.words or None,
    }


def hit_fields(hit: "Hit") -> dict[str, Any]:
    """A hit as ``find --json`` tells it."""
    transcription, occurrence = hit.transcription, hit.occurrence
    first, last = occurrence.first, occurrence.last
    bar = transcription.bar_of(first)
    section = transcription.section_at(transcription.notes[first].onset_ticks)
    return {
        "transcription": hit.entry.id,
        "title": hit.entry.details.title,
        "player": hit.entry.details.player or None,
        "collection": hit.entry.collection or None,
        "source": hit.entry.source,
        "chorus": bar.chorus,
        "section": section.label if section else None,
        "bar": bar.number,
        "beat": number(transcription.beat_of(first)),
        "pass": bar.pass_number,
        "first": first,
        "last": last,
        "transposed": occurrence.transposed,
        "likeness": occurrence.likeness,
        "changes": [change.words for change in occurrence.changes if change.words],
        "edits": [change_fields(change) for change in occurrence.changes],
        "notes": [note.spelling for note in transcription.notes[first : last + 1]],
        "chords": chords_under(transcription, first, last),
    }


HIT_COLUMNS = (
    "transcription",
    "title",
    "player",
    "collection",
    "source",
    "chorus",
    "section",
    "bar",
    "beat",
    "pass",
    "first",
    "last",
    "transposed",
    "likeness",
    "changes",
    "notes",
    "chords",
)


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
