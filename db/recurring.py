"""Recurring figures as a profile and a reading use them: those that are kept, or found at once where that is quick.

Two scopes: the *corpus* (what ``recur`` finds in all lines) and a *line* (what comes back in one transcription). What
is kept and still fits the lines is used as it is. Of a corpus of at most ``QUICK_NOTES`` notes, and of a single line,
figures are found at once and not kept, so that reading never writes; of a larger corpus only where it is wished for.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import sqlalchemy as sa

from corpus.errors import CorpusError
from corpus.reading.figures import FigureTold, Recurrence, Statement, figures_told
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Selection
from db.families import KeptFamily
from db.profile_lines import SelectedLines, shape_coverage
from db.recur import RecurQuestion, discover, kept
from db.signature import alone_with

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.model import Transcription

Scope = Literal["corpus", "line"]
QUICK_NOTES: Final = 20_000
"""Notes of a corpus in which figures are found without being asked for: one to two seconds."""
QUICK_LINES: Final = 20
"""Lines in which named shapes are counted without being asked for: half a second."""
MOST_PLAYERS: Final = 8
"""Players in whose lines alone figures are looked for: a fifth of a second each in a small corpus."""
POOL: Final = 60
"""Families of the corpus that are looked for; ``recur --common`` looks for as many."""
RECURRING: Final = "recurring figures"
COMMON: Final = "clichés that several players share"
OWN: Final = "figures of this player alone"
_SHARED: Final = 0.5
"""A family of the line is left out where this share of its notes belongs to families of the corpus already."""


@dataclass(frozen=True)
class Recurring:
    """Families and where they were looked for."""

    families: Sequence[KeptFamily]
    scope: Scope


def _corpus_questions() -> tuple[RecurQuestion, ...]:
    """What ``recur --common`` and ``recur`` ask when nothing is set: the one with more families first."""
    return RecurQuestion(settings=DiscoverySettings(limit=POOL)), RecurQuestion()


def corpus_figures(connection: sa.Connection, at_any_cost: bool = False) -> Recurring | None:
    """The families of the corpus; None where none are kept that fit, and finding them would take long."""
    for question in _corpus_questions():
        found = kept(connection, question)
        if found is not None:
            return Recurring(found.families, "corpus")
    if corpus_notes(connection) > QUICK_NOTES and not at_any_cost:
        return None
    try:
        return Recurring(discover(connection, _corpus_questions()[0]).families, "corpus")
    except CorpusError:  # no line is stored
        return Recurring((), "corpus")


def corpus_notes(connection: sa.Connection) -> int:
    """Notes of all lines."""
    return int(connection.execute(sa.text("SELECT coalesce(sum(note_count), 0) FROM transcription")).scalar_one())


def repeat_coverage(
    connection: sa.Connection, lines: SelectedLines, figures: Recurring, with_own: bool
) -> "tuple[dict[str, NDArray[np.bool_]], list[str]]":
    """For each kind of recurring figure which notes of the columns stand in one; and what cannot be told.

    A family is *common* when two players or more hold it, *own* to the notes of a player who alone holds it. With
    ``with_own`` figures are looked for in each player's lines alone too: what comes back there may be lost among all
    lines. Lines without a player count for neither.
    """
    import numpy as np

    size = len(lines.columns)
    found = {name: np.zeros(size, dtype=bool) for name in (RECURRING, COMMON, OWN)}
    starts = np.searchsorted(lines.columns.line, np.arange(len(lines.ids)))
    begins = dict(zip(lines.ids, starts.tolist(), strict=True))
    players = _players(connection)

    def cover(name: str, family: KeptFamily) -> None:
        for place in family.places:
            begin = begins.get(place.transcription)
            if begin is not None:
                found[name][begin + place.first : begin + place.last + 1] = True

    for family in figures.families:
        holders = {players.get(place.transcription, "") for place in family.places if not place.is_replay}
        cover(RECURRING, family)
        if len(holders - {""}) > 1:
            cover(COMMON, family)
        elif holders != {""}:
            cover(OWN, family)
    named = {players[identity] for identity in lines.ids} - {""} if len(set(players.values()) - {""}) > 1 else set()
    for player in sorted(named) if with_own and len(named) <= MOST_PLAYERS else ():
        for family in alone_with(connection, _corpus_questions()[0], player):
            cover(OWN, family)
    found[RECURRING] |= found[OWN]
    untold = list(_untold(players, lines.ids))
    if with_own and len(named) > MOST_PLAYERS:
        untold.append(f"own figures are looked for one by one of at most {MOST_PLAYERS} players: choose some")
    return found, untold


def _untold(players: dict[int, str], ids: Sequence[int]) -> Iterator[str]:
    named = set(players.values()) - {""}
    if len(named) < 2:
        yield "fewer than two players are named in the corpus: common clichés and own figures cannot be told apart"
    elif not any(players.get(identity) for identity in ids):
        yield "no player is named here: nothing can be said about own figures"


def _players(connection: sa.Connection) -> dict[int, str]:
    """The player of every line, in lower case."""
    rows = connection.execute(sa.text("SELECT id, player FROM transcription"))
    return {identity: player.casefold() for identity, player in rows}


@dataclass(frozen=True)
class Coverages:
    """What ``profile_of`` is handed about selected lines besides their notes, and what cannot be told."""

    shapes: "dict[str, NDArray[np.bool_]] | None"
    repeats: "dict[str, NDArray[np.bool_]] | None"
    remarks: tuple[str, ...] = ()


def coverages(
    connection: sa.Connection, sides: Sequence[SelectedLines], shapes: bool | None, repetition: bool | None
) -> list[Coverages]:
    """Named shapes and recurring figures of selections that stand beside each other; None is as long as it is quick."""
    with_shapes = sum(len(side.ids) for side in sides) <= QUICK_LINES if shapes is None else shapes
    figures = None if repetition is False else corpus_figures(connection, bool(repetition))
    with_own = repetition or corpus_notes(connection) <= QUICK_NOTES
    remarks = []
    if shapes is None and not with_shapes:
        remarks.append(f"named shapes are not counted in more than {QUICK_LINES} lines: --shapes counts them")
    elif figures is not None and not with_own:
        remarks.append("own figures are those of the corpus that one player holds: --repetition looks at players alone")
    if repetition is None and figures is None:
        remarks.append("recurring figures are not counted: 'wellworn recur --common' finds them once, or --repetition")
    found = []
    for side in sides:
        repeats, more = (None, []) if figures is None else repeat_coverage(connection, side, figures, with_own)
        found.append(Coverages(shape_coverage(connection, side) if with_shapes else None, repeats, (*remarks, *more)))
    return found


def figures_of_line(
    connection: sa.Connection, identity: int, line: "Transcription", chorus: int | None = None
) -> FigureTold:
    """What a reading of a chorus (or of all) says of the recurring figures of a line.

    They are the kept families of the corpus that stand in the line, and what is kept for the line alone; where there
    are none, what comes back in the line itself, found at once.
    """
    everywhere = next(filter(None, (kept(connection, question) for question in _corpus_questions())), None)
    families = [f for f in everywhere.families if _here(f, identity)] if everywhere is not None else []
    covered = {n for family in families for p in _here(family, identity) for n in range(p.first, p.last + 1)}
    own = RecurQuestion(Selection(ids=(identity,)))
    in_line = kept(connection, own) or (discover(connection, own) if line.notes and not families else None)
    for family in in_line.families if in_line is not None else ():
        notes = [n for place in family.places for n in range(place.first, place.last + 1)]
        if sum(n in covered for n in notes) < _SHARED * len(notes):
            families.append(family)
    return figures_told(line, [_recurrence(connection, family, identity) for family in families], chorus)


def _here(family: KeptFamily, identity: int) -> list[Statement]:
    return [Statement(p.first, p.last, p.is_replay) for p in family.places if p.transcription == identity]


def _recurrence(connection: sa.Connection, family: KeptFamily, identity: int) -> Recurrence:
    """A family as seen from one line: its places there, and who else holds it."""
    others = {place.transcription for place in family.places if place.transcription != identity}
    listed = ", ".join(map(str, sorted(others)[:500])) or "0"
    rows = connection.execute(sa.text(f"SELECT title, player FROM transcription WHERE id IN ({listed}) ORDER BY id"))
    elsewhere = tuple((row.title, row.player) for row in rows)
    own_player = connection.execute(sa.text("SELECT player FROM transcription WHERE id = :id"), {"id": identity})
    return Recurrence(
        family.code, tuple(_here(family, identity)), elsewhere, own_player.scalar_one(), family.count, family.expected
    )
