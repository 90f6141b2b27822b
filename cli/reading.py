"""``reading``: a chorus told bar by bar, as a teacher would."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import OUTPUT_PANEL, DatabaseOption, IdArgument, JsonOption, database_at

if TYPE_CHECKING:
    from corpus.harmony.implied import Implied
    from corpus.model import Transcription
    from corpus.reading.account import Account
    from corpus.reading.figures import NamedFigure
    from corpus.reading.remarks import Remark
    from db.catalogue import Entry


def reading(
    context: typer.Context,
    identity: IdArgument,
    chorus: Annotated[int, typer.Option("--chorus", min=1, help="Which chorus.")] = 1,
    why: Annotated[
        bool, typer.Option("--why", help="The finding behind every sentence.", rich_help_panel=OUTPUT_PANEL)
    ] = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Tell a chorus bar by bar as a teacher would: figures that come back, implied chords, shapes, register, rhythm.

    Under the chart stand the letters of recurring figures, and the chords that the line spells where they are not the
    written ones. Only what is worth saying is told, at most two lines a bar; --why gives the finding behind each. The
    figures are those of the corpus that stand in the line, once 'wellworn recur' has found them, else those that come
    back in the line itself.

    Examples:

      wellworn reading 3

      wellworn reading 3 --chorus 2 --why
    """
    from cli import output
    from corpus.reading.account import account
    from db.catalogue import load
    from db.recurring import figures_of_line

    with database_at(context, db).reading() as connection:
        entry, line = load(connection, identity)
        figures = figures_of_line(connection, identity, line, chorus)
    told = account(line, chorus, figures)
    if json:
        output.print_json(reading_fields(identity, line, told))
    else:
        _print_reading(entry, line, told, why)


def reading_fields(identity: int, line: "Transcription", told: "Account") -> dict[str, Any]:
    """An account as ``reading --json`` tells it."""
    from cli.output import span_fields

    return {
        "transcription": identity,
        "chorus": told.chorus,
        "cannot_say": list(told.cannot_say),
        "summary": [{"text": s.text, "why": s.why, "bars": list(s.bars)} for s in told.summary],
        "figures": [
            {
                "letter": figure.letter,
                "family": figure.code,
                "places": [{"first": p.first, "last": p.last, "replay": p.is_replay} for p in figure.places],
            }
            for figure in told.figures
        ],
        "remarks": [_remark_fields(line, remark) for remark in told.remarks],
        "implied": [
            {
                **span_fields(line, i.onset_ticks, i.end_ticks),
                "written": i.written,
                "relation": i.relation,
                "implied": i.symbol,
                "probability": round(i.probability, 4),
                "favour": round(min(i.favour, 1e9), 4),
                "detail": i.detail or None,
                "rootless": i.is_rootless,
                "cadence": i.cadence,
                "notes": i.note_count,
            }
            for i in told.implied
        ],
    }


def _remark_fields(line: "Transcription", remark: "Remark") -> dict[str, Any]:
    bar = line.bars[remark.bar_index]
    return {
        "bar": bar.number,
        "pass": bar.pass_number,
        "kind": remark.kind,
        "text": remark.text,
        "why": remark.why,
        "first": remark.first,
        "last": remark.last,
    }


def _print_reading(entry: "Entry", line: "Transcription", told: "Account", why: bool) -> None:
    from cli.chorus_map import chorus_map
    from cli.output import say, wrapped
    from cli.show import heading_lines

    marked = [*marks(told.implied), *figure_marks(line, told.figures)]
    for text in [*heading_lines(entry), "", *chorus_map(line, marked, 4, [told.chorus]), ""]:
        say(text)
    for text in _bars(line, told.remarks, why):
        say(text)
    say()
    for summed in told.summary:
        for text in wrapped(summed.text) + (wrapped(f"({summed.why})", "  ", "  ") if why else []):
            say(text)
    for remark_text in told.cannot_say:
        for text in wrapped(f"! {remark_text}", others="  "):
            say(text)


def _bars(line: "Transcription", remarks: "tuple[Remark, ...]", why: bool) -> list[str]:
    """The remarks of each bar behind its number: in one paragraph, or each with the finding behind it."""
    from itertools import groupby

    from cli.output import bar_text, wrapped

    labels = {r.bar_index: bar_text(line.bars[r.bar_index].number, line.bars[r.bar_index].pass_number) for r in remarks}
    width = max(map(len, labels.values()), default=1)
    indent = " " * (width + 2)
    lines: list[str] = []
    for index, group in groupby(remarks, key=lambda remark: remark.bar_index):
        label = f"{labels[index]:>{width}}  "
        told = list(group)
        if not why:
            lines += wrapped(" ".join(_sentence(remark) for remark in told), label, indent)
            continue
        for remark in told:
            lines += wrapped(_sentence(remark), label, indent)
            lines += wrapped(f"({remark.why})", f"{indent}  ", f"{indent}  ")
            label = indent
    return lines


def _sentence(remark: "Remark") -> str:
    return f"{remark.text[:1].upper()}{remark.text[1:]}."


def marks(implied: "tuple[Implied, ...]") -> "list[Any]":
    """The implied chords that are not the written ones, as marks of the chorus map."""
    from cli.chorus_map import Marked

    shown = [i for i in implied if i.symbol is not None and i.relation != "agrees"]
    return [Marked(i.symbol or "", i.relation, [(i.onset_ticks, i.end_ticks - 1)]) for i in shown]


def figure_marks(line: "Transcription", figures: "tuple[NamedFigure, ...]") -> "list[Any]":
    """Recurring figures as marks of the chorus map: the letter in brackets, to tell it from a chord."""
    from cli.chorus_map import Marked

    return [
        Marked(
            f"[{figure.letter}]",
            figure.code,
            [(line.notes[place.first].onset_ticks, line.notes[place.last].onset_ticks) for place in figure.places],
        )
        for figure in figures
    ]
