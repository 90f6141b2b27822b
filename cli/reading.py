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
    from cli.chorus_map import chorus_map
    from cli.output import bar_text, say, wrapped
    from cli.show import heading_lines

    for text in [*heading_lines(entry), "", *chorus_map(line, marks(told.implied), 4, [told.chorus]), ""]:
        say(text)
    labels = [bar_text(line.bars[r.bar_index].number, line.bars[r.bar_index].pass_number) for r in told.remarks]
    width = max(map(len, labels), default=1)
    before = -1
    lines: list[str] = []
    for label, remark in zip(labels, told.remarks, strict=True):
        first = "" if remark.bar_index == before else label
        before = remark.bar_index
        lines += _sentence(f"{remark.text[:1].upper()}{remark.text[1:]}.", remark.why if why else "", first, width)
    lines.append("")
    for summed in told.summary:
        lines += wrapped(summed.text) + (wrapped(f"({summed.why})", "  ", "  ") if why else [])
    lines += [text for remark_text in told.cannot_say for text in wrapped(f"! {remark_text}", others="  ")]
    for text in lines:
        say(text)


def _sentence(text: str, why: str, label: str, width: int) -> list[str]:
    """A remark behind the label of its bar, and under it the finding where it is asked for."""
    from cli.output import wrapped

    indent = " " * (width + 2)
    lines = wrapped(text, f"{label:>{width}}  ", indent)
    return lines + (wrapped(f"({why})", f"{indent}  ", f"{indent}  ") if why else [])


def marks(implied: "tuple[Implied, ...]") -> "list[Any]":
    """The implied chords that are not the written ones, as marks of the chorus map."""
    from cli.chorus_map import Marked

    shown = [i for i in implied if i.symbol is not None and i.relation != "agrees"]
    return [Marked(i.symbol or "", i.relation, [(i.onset_ticks, i.end_ticks - 1)]) for i in shown]
