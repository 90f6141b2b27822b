"""``reading``: a chorus told bar by bar, as a teacher would."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import OUTPUT_PANEL, DatabaseOption, IdArgument, JsonOption, database_at

if TYPE_CHECKING:
    from corpus.harmony.implied import Implied
    from corpus.model import Transcription
    from corpus.reading.account import Account
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
    """Tell a chorus bar by bar as a teacher would: implied chords, shapes, register, rhythm, cadences, approaches.

    Under the chart stand the chords that the line spells where they are not the written ones. Only what is worth
    saying is told, at most two remarks a bar; --why gives the finding behind each.

    Examples:

      wellworn reading 3

      wellworn reading 3 --chorus 2 --why
    """
    from cli import output
    from corpus.reading.account import account
    from db.catalogue import load

    with database_at(context, db).reading() as connection:
        entry, line = load(connection, identity)
    told = account(line, chorus)
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
    from textwrap import wrap

    from cli.chorus_map import chorus_map
    from cli.output import bar_text, say
    from cli.show import heading_lines

    for text in [*heading_lines(entry), "", *chorus_map(line, marks(told.implied), 4, [told.chorus]), ""]:
        say(text)
    width = max(
        (len(bar_text(line.bars[r.bar_index].number, line.bars[r.bar_index].pass_number)) for r in told.remarks),
        default=1,
    )
    before = -1
    for remark in told.remarks:
        bar = line.bars[remark.bar_index]
        label = bar_text(bar.number, bar.pass_number) if remark.bar_index != before else ""
        before = remark.bar_index
        indent = f"{label:>{width}}  "
        for text in wrap(
            f"{remark.text[:1].upper()}{remark.text[1:]}.",
            80,
            initial_indent=indent,
            subsequent_indent=" " * (width + 2),
        ):
            say(text)
        for text in (
            wrap(f"({remark.why})", 80, initial_indent=" " * (width + 4), subsequent_indent=" " * (width + 4))
            if why
            else []
        ):
            say(text)
    say()
    for summed in told.summary:
        for text in wrap(summed.text, 80):
            say(text)
        for text in wrap(f"({summed.why})", 80, initial_indent="  ", subsequent_indent="  ") if why else []:
            say(text)
    for remark_text in told.cannot_say:
        for text in wrap(f"! {remark_text}", 80):
            say(text)


def marks(implied: "tuple[Implied, ...]") -> "list[Any]":
    """The implied chords that are not the written ones, as marks of the chorus map."""
    from cli.chorus_map import Marked

    shown = [i for i in implied if i.symbol is not None and i.relation != "agrees"]
    return [Marked(i.symbol or "", i.relation, [(i.onset_ticks, i.end_ticks - 1)]) for i in shown]
