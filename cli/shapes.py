"""``shapes``: what stands in a line that has a name in the trade."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import DatabaseOption, IdArgument, JsonOption, LimitOption, SectionOption, database_at
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.model import Transcription
    from corpus.shapes import Shape


def shapes(
    context: typer.Context,
    identity: IdArgument,
    kind: Annotated[
        str | None,
        typer.Option("--kind", metavar="KINDS", help='Only these: "arpeggio,pedal"; beginnings of names will do.'),
    ] = None,
    section: SectionOption = "",
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus.")] = None,
    limit: LimitOption = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Name the shapes of a line: arpeggios, runs, enclosures and other figures that every musician has a word for.

    Kinds: interval cycle (run of fourths), doubled notes, arpeggio, scale run, chromatic run, enclosure, pedal,
    root-only stretch, 5-1 cadence, sequence, call an octave higher.

    Examples:

      wellworn shapes 3

      wellworn shapes 3 --kind arpeggio,pedal --section A
    """
    from cli import output
    from corpus.shapes import parse_kinds, shapes_of
    from db.catalogue import load

    kinds = None if kind is None else parse_kinds(kind)
    with database_at(context, db).reading() as connection:
        _, line = load(connection, identity)
    _check_place(line, section, chorus)
    found = [shape for shape in shapes_of(line) if kinds is None or shape.kind in kinds]
    found = [shape for shape in found if _is_there(line, shape, section, chorus)]
    shown = found[:limit]
    if json:
        output.print_json([_fields(line, shape) for shape in shown])
    elif shown:
        _print(line, shown)
    if len(shown) < len(found):
        output.tell(f"{len(found):,} shapes, {len(shown):,} shown")
    elif not json:
        output.say(f"{len(found):,} shape{'' if len(found) == 1 else 's'}")


def _check_place(line: "Transcription", section: str, chorus: int | None) -> None:
    """Raises QueryError for a section or chorus that the line does not have."""
    labels = sorted({part.label for part in line.sections})
    if section and section.casefold() not in map(str.casefold, labels):
        has = f"it has {', '.join(labels)}" if labels else "it has none"
        raise QueryError(f"the line has no section {section!r}: {has}")
    last = max((bar.chorus for bar in line.bars), default=1)
    if chorus is not None and chorus > last:
        raise QueryError(f"there is no chorus {chorus}: the line has {last}")


def _is_there(line: "Transcription", shape: "Shape", section: str, chorus: int | None) -> bool:
    """Whether a shape begins in a section and chorus."""
    here = line.section_at(line.notes[shape.first].onset_ticks)
    in_section = not section or (here is not None and here.label.casefold() == section.casefold())
    return in_section and chorus in (None, line.bar_of(shape.first).chorus)


def _fields(line: "Transcription", shape: "Shape") -> dict[str, Any]:
    """A shape as ``shapes --json`` tells it; places and notes as in ``find --json``."""
    from cli.output import chords_under, number

    bar = line.bar_of(shape.first)
    section = line.section_at(line.notes[shape.first].onset_ticks)
    return {
        "kind": shape.kind,
        "words": shape.words,
        "chorus": bar.chorus,
        "section": section.label if section else None,
        "bar": bar.number,
        "beat": number(line.beat_of(shape.first)),
        "pass": bar.pass_number,
        "first": shape.first,
        "last": shape.last,
        "notes": [note.spelling for note in line.notes[shape.first : shape.last + 1]],
        "chords": chords_under(line, shape.first, shape.last),
        "details": shape.details,
    }


def _print(line: "Transcription", shapes: "Sequence[Shape]") -> None:
    """A row a shape: where it begins and ends, its kind, its words; a line before each chorus of several."""
    from cli.output import bar_text, print_table

    rows = []
    chorus = 0
    for shape in shapes:
        bar = line.bar_of(shape.first)
        if bar.chorus != chorus and line.bars[-1].chorus > 1:
            rows.append(("", "", f"chorus {bar.chorus}", ""))
        chorus = bar.chorus
        beat = f"{float(line.beat_of(shape.first)):.4g}"
        rows.append((bar_text(bar.number, bar.pass_number), beat, shape.kind, shape.words))
    print_table(("bar", "beat", "kind", "what it is"), rows, ("bar",))
