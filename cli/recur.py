"""``recur``: what keeps coming back, whose it is, and where."""

from typing import TYPE_CHECKING, Annotated

import typer

from cli.options import (
    MATCHING_PANEL,
    OUTPUT_PANEL,
    CollectionOption,
    DatabaseOption,
    JsonOption,
    PlayerOption,
    PricesOption,
    SectionOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    database_at,
    selection_of,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.recur.settings import DiscoverySettings
    from db.catalogue import Selection

RECUR_PANEL = "What counts as a figure"
_LARGEST_ID = 2**62

IdsOption = Annotated[
    list[int] | None,
    typer.Argument(metavar="[ID…]", min=1, max=_LARGEST_ID, help="Only these transcriptions.", show_default=False),
]
ShortestOption = Annotated[
    int, typer.Option("--shortest", min=3, max=200, help="Fewest notes, repeats aside.", rich_help_panel=RECUR_PANEL)
]
LongestOption = Annotated[
    int, typer.Option("--longest", min=3, max=200, help="Most notes, repeats aside.", rich_help_panel=RECUR_PANEL)
]
LeastOption = Annotated[
    int, typer.Option("--least", min=2, max=1_000_000, help="Fewest places.", rich_help_panel=RECUR_PANEL)
]
ToleranceOption = Annotated[
    float,
    typer.Option(
        "--tolerance",
        metavar="0-1",
        help="Least likeness of a disguise; 1 lets none in.",
        rich_help_panel=MATCHING_PANEL,
    ),
]
IgnoreOption = Annotated[
    str,
    typer.Option(
        "--ignore",
        metavar="octaves,doubles,mode",
        help="What may differ: any of octaves, doubles, mode; none for nothing.",
        rich_help_panel=MATCHING_PANEL,
    ),
]
ReadingsOption = Annotated[
    str,
    typer.Option(
        "--readings",
        metavar="NAMES",
        help="Compare these: interval, folded, step, letter; or degree or role alone.",
        rich_help_panel=RECUR_PANEL,
    ),
]
RunsOption = Annotated[bool, typer.Option("--runs", help="Let pieces of scales through.", rich_help_panel=RECUR_PANEL)]
FamiliesOption = Annotated[
    int, typer.Option("--limit", min=1, max=1000, help="At most so many families.", rich_help_panel=OUTPUT_PANEL)
]
PlacesOption = Annotated[
    int | None,
    typer.Option(
        "--places", min=0, max=1_000_000, help="At most so many places of each family.", rich_help_panel=OUTPUT_PANEL
    ),
]


SignatureOption = Annotated[
    str,
    typer.Option(
        "--signature",
        metavar="PLAYER",
        help="What sets this player apart from the others.",
        rich_help_panel=OUTPUT_PANEL,
    ),
]
CommonOption = Annotated[
    bool, typer.Option("--common", help="What most players share, first.", rich_help_panel=OUTPUT_PANEL)
]
StrainsOption = Annotated[
    bool,
    typer.Option("--strains", help="Passages of 25 notes or more that come back.", rich_help_panel=RECUR_PANEL),
]
MapOption = Annotated[
    bool, typer.Option("--map", help="Draw the chorus maps with the families on them.", rich_help_panel=OUTPUT_PANEL)
]
AgainOption = Annotated[
    bool, typer.Option("--again", help="Look again, even if an answer is kept.", rich_help_panel=OUTPUT_PANEL)
]
DaskOption = Annotated[
    str,
    typer.Option(
        "--dask",
        metavar="ADDRESS|local",
        help="Count repeats on Dask workers: a scheduler's address, or local for two here.",
        rich_help_panel=OUTPUT_PANEL,
    ),
]


def recur(
    context: typer.Context,
    ids: IdsOption = None,
    player: PlayerOption = "",
    tune: TuneOption = "",
    section: SectionOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    signature: SignatureOption = "",
    common: CommonOption = False,
    strains: StrainsOption = False,
    shortest: ShortestOption = 4,
    longest: LongestOption = 24,
    least: LeastOption = 2,
    tolerance: ToleranceOption = 0.75,
    ignore: IgnoreOption = "octaves,doubles",
    readings: ReadingsOption = "",
    runs: RunsOption = False,
    prices: PricesOption = None,
    limit: FamiliesOption = 20,
    places: PlacesOption = None,
    show_map: MapOption = False,
    again: AgainOption = False,
    dask: DaskOption = "",
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Find what keeps coming back: families of recurring figures, with how each is varied, where, and by whom.

    Without filters the whole corpus is read. Nothing need be set: figures of 4 to 24 notes are compared in any key and
    octave, with repeats aside; disguises join their family, and what chance alone would give is left out. Families are
    kept, and found anew when lines have changed.

    Examples:

      wellworn recur

      wellworn recur 6 7 --map

      wellworn recur --player quellenberg --section B

      wellworn recur --signature brakenhoek

      wellworn recur --common --limit 5

      wellworn recur --collection music21 --strains --json

      wellworn recur --again --dask local
    """
    from cli import output
    from cli.families import Asked, show_families

    output.one_of(json, False, show_map)
    if signature and (common or strains):
        raise QueryError("--signature, --common and --strains exclude each other: choose one")
    selection = _selection(ids, selection_of(player, tune, collection, section, tempo, year))
    longest_asked = (25, 200) if strains else (shortest, longest)
    settings = _settings(longest_asked, least, tolerance, ignore, readings, runs, prices, limit)
    asked = Asked(selection, settings, signature, common, strains, again, dask)
    show_families(database_at(context, db), asked, json, show_map, places)


def _selection(ids: list[int] | None, selection: "Selection") -> "Selection":
    from dataclasses import replace

    return replace(selection, ids=tuple(dict.fromkeys(ids or ())))


def _settings(
    lengths: tuple[int, int],
    least: int,
    tolerance: float,
    ignore: str,
    readings: str,
    runs: bool,
    prices: str | None,
    limit: int,
) -> "DiscoverySettings":
    """The settings as one value. Raises QueryError for what makes no sense."""
    from cli.configuration import prices_in_force
    from corpus.match.figure import Folds
    from corpus.recur.settings import DiscoverySettings, parse_readings

    if tolerance != tolerance:
        raise QueryError("--tolerance must be a number from 0 to 1")
    folds = Folds() if ignore.strip().lower() in ("", "none", "nothing") else Folds.parse(ignore)
    return DiscoverySettings(
        folds=folds,
        readings=parse_readings(readings),
        least_notes=lengths[0],
        most_notes=lengths[1],
        least_count=least,
        tolerance=tolerance,
        limit=limit,
        with_runs=runs,
        prices=prices_in_force(prices or "figures"),
    )
