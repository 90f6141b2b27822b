"""``compare``: how one line or player differs from another."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.files import ForceOption
from cli.line_files import MusicXmlOption, PdfOption, targets
from cli.options import (
    LARGEST_ID,
    OUTPUT_PANEL,
    CollectionOption,
    DatabaseOption,
    JsonOption,
    PlayerOption,
    SectionOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    database_at,
    selection_of,
)
from cli.play import MidiOption
from cli.profile import RepetitionOption, ShapesOption
from corpus.errors import QueryError

if TYPE_CHECKING:
    import sqlalchemy as sa

    from corpus.profile.compare import Comparison, Difference
    from corpus.profile.sentences import Sentence, Side
    from db.catalogue import Selection
    from db.dull import DullPlaces

WHOLE_CORPUS = "corpus"
ModelOption = Annotated[
    str,
    typer.Option(
        "--with", metavar="IDS|PLAYER|corpus", help="The other side: IDs (12,14), part of a player's name, or corpus."
    ),
]
SuggestionsOption = Annotated[
    bool,
    typer.Option("--suggestions/--no-suggestions", help="Figures that could stand in the first side's dull bars."),
]
AllOption = Annotated[
    bool, typer.Option("--all", help="All figures, not only clear differences.", rich_help_panel=OUTPUT_PANEL)
]


def compare(
    context: typer.Context,
    ids: Annotated[
        list[int] | None, typer.Argument(metavar="[ID…]", min=1, max=LARGEST_ID, help="The first side: IDs.")
    ] = None,
    model: ModelOption = WHOLE_CORPUS,
    player: PlayerOption = "",
    tune: TuneOption = "",
    section: SectionOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    shapes: ShapesOption = None,
    repetition: RepetitionOption = None,
    suggestions: SuggestionsOption = True,
    show_all: AllOption = False,
    musicxml: MusicXmlOption = None,
    midi: MidiOption = None,
    pdf: PdfOption = None,
    force: ForceOption = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Compare a line or a player with a model player, or with the rest of the corpus.

    The first side is given by IDs or --player, the other by --with; all other filters hold for both. The table shows
    differences that are more than chance (99.9 %) and not tiny, with 95 % intervals and effect sizes (Cohen's h for
    shares, d for means: 0.2 small, 0.5 medium, 0.8 large). For dull bars of the first side (one note, roots, roots and
    fifths, the bar before again) figures of the shelf and the corpus are named that fit the same functions and join the
    notes before and after; --musicxml, --midi and --pdf write the line with the first of each put in.

    Examples:

      wellworn compare 3 --with quist

      wellworn compare --player vey --with corpus --tune blues

      wellworn compare 3 --with quist --pdf livelier.pdf
    """
    from cli import output
    from cli.dull import dull_fields, print_dull, write_dull
    from corpus.profile.compare import compare as compared
    from corpus.profile.sentences import sentences

    if not ids and not player:
        raise QueryError("say what to compare: IDs, or --player; the other side is --with")
    paths = targets({"musicxml": musicxml, "midi": midi, "pdf": pdf}, force)
    shared = selection_of("", tune, collection, section, tempo, year)
    with database_at(context, db).reading() as connection:
        sides = _sides(connection, shared, tuple(dict.fromkeys(ids or ())), player, model, shapes, repetition)
        dull = _dull(connection, sides, bool(repetition)) if suggestions or paths else None
    first, second = sides.first, sides.second
    found = compared(first.profile, second.profile)
    told = sentences(first, second, found)
    if json:
        output.print_json({**_fields(first, second, found, told), **dull_fields(dull, first)})
    else:
        _print_comparison(first, second, found, told, show_all)
        print_dull(dull, first)
    if dull is not None:
        write_dull(dull, paths)


@dataclass(frozen=True)
class _Sides:
    """Both sides, the lines of the first, and the player of the second where it is one."""

    first: "Side"
    second: "Side"
    ids: tuple[int, ...]
    model: str


def _dull(connection: "sa.Connection", sides: _Sides, repetition: bool) -> "DullPlaces":
    from db.dull import dull_places

    return dull_places(connection, sides.ids, sides.model, repetition)


def _sides(
    connection: "sa.Connection",
    shared: "Selection",
    ids: tuple[int, ...],
    player: str,
    model: str,
    shapes: bool | None,
    repetition: bool | None,
) -> _Sides:
    from corpus.profile.profile import profile_of
    from corpus.profile.sentences import Side
    from db.profile_lines import selected_lines
    from db.recurring import coverages

    other, name = _other(shared, model)
    mine = selected_lines(connection, replace(shared, ids=ids, player=player))
    theirs = selected_lines(connection, other, without=mine.ids if other is shared else ())
    ours, others = _players(mine.names), _players(theirs.names)
    first = ours if ours and ours != others else _lines(mine.names)
    second = name or (others if others and ours != others else _lines(theirs.names))
    covered = coverages(connection, [mine, theirs], shapes, repetition)
    one, two = (
        profile_of(lines.columns, more.shapes, more.repeats, more.remarks)
        for lines, more in zip((mine, theirs), covered, strict=True)
    )
    model_player = others if others != ours and not name else ""
    return _Sides(Side(first, one, mine.names), Side(second, two, theirs.names), mine.ids, model_player)


def _other(shared: "Selection", model: str) -> "tuple[Selection, str]":
    """The second side, and what it is called where that is not told by its lines."""
    words = [word.strip() for word in model.split(",")]
    if model.strip().lower() == WHOLE_CORPUS:
        return shared, "the rest of the corpus"
    if all(word.isdecimal() and 0 < int(word) <= LARGEST_ID for word in words):
        return replace(shared, ids=tuple(dict.fromkeys(map(int, words)))), ""
    return replace(shared, player=model.strip()), ""


def _players(names: tuple[str, ...]) -> str:
    """The player of all lines, empty where there are several or none."""
    players = {name.rpartition(", ")[2] if ", " in name else "" for name in names}
    return players.pop() if len(players) == 1 else ""


def _lines(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{len(names)} lines"


def _fields(first: "Side", second: "Side", found: "Comparison", told: "list[Sentence]") -> dict[str, Any]:
    from cli.profile import measure_fields

    return {
        "first": {"name": first.name, "notes": first.profile.note_count, "remarks": list(first.profile.remarks)},
        "second": {"name": second.name, "notes": second.profile.note_count, "remarks": list(second.profile.remarks)},
        "plainness": None if found.plainness is None else round(found.plainness, 6),
        "sentences": [
            {"text": s.text, "key": s.key or None, "bars": [{"line": n, "bar": b, "pass": p} for n, b, p in s.bars]}
            for s in told
        ],
        "differences": [
            {
                "first": measure_fields(d.first),
                "second": measure_fields(d.second),
                "difference": round(d.difference, 6),
                "low": round(d.low, 6),
                "high": round(d.high, 6),
                "method": d.method,
                "effect": None if abs(d.effect) == float("inf") else round(d.effect, 6),
                "effect_size": d.effect_name,
                "clear": d.is_clear,
            }
            for d in found.differences
        ],
    }


def _print_comparison(
    first: "Side", second: "Side", found: "Comparison", told: "list[Sentence]", show_all: bool
) -> None:
    from cli.output import aligned, say, tell, wrapped
    from cli.profile import counted

    for letter, side in (("A", first), ("B", second)):
        counts = counted(side.profile)
        for text in wrapped(f"{letter} = {side.name}: {counts}", others="    "):
            say(text)
        for remark in side.profile.remarks:
            for text in wrapped(f"! {letter}: {remark}", others="  "):
                say(text)
    say()
    for sentence in told:
        for text in wrapped(sentence.text, "- ", "  "):
            say(text)
    shown = found.differences if show_all else found.clear
    if shown:
        say()
        for text in aligned([("", "A", "B", "A - B", "effect", "n"), *map(_row, shown)]):
            say(text)
    tell(f"{len(found.clear)} of {len(found.differences)} figures differ clearly")


def _row(difference: "Difference") -> tuple[str, ...]:
    from corpus.profile.sentences import value_words

    first, second = difference.first, difference.second
    is_share = first.unit == "share"
    ends = [f"{100 * x:+.0f}" if is_share else f"{x:+.1f}" for x in (difference.low, difference.high)]
    return (
        first.words,
        value_words(first, first.value),
        value_words(second, second.value),
        f"{ends[0]} to {ends[1]}",
        f"{difference.effect:+.1f}",
        f"{first.n}/{second.n}",
    )
