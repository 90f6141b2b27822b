"""Whose a family is: what sets one player apart, and what everybody shares."""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from corpus.errors import CorpusError, QueryError
from corpus.match.figure import Figure
from corpus.recur.keyness import SURE, Comparison, Keyness, corrected
from db.compiled import kernels_meanwhile
from db.families import KeptFamily
from db.recur import Discovered, FamilyHits, Progress, RecurQuestion, discover, kept, recur, spread

if TYPE_CHECKING:
    from corpus.recur.gathering import Gatherer
    from corpus.recur.repeats import FindRepeats
    from corpus.recur.settings import DiscoverySettings
    from db.catalogue import Selection
    from db.connection import Database

POOL: Final = 3
"""Families are looked for in so many times the number wanted, and ranked by another measure afterwards."""

Extra = tuple[dict[str, Any], Sequence[str]]
"""Further fields of a family for JSON, and phrases for people."""


def common(
    database: "Database",
    question: RecurQuestion,
    progress: Progress | None = None,
    again: bool = False,
    find_repeats: "FindRepeats | None" = None,
) -> tuple[Discovered, list[Extra]]:
    """The common stock: families by how many players hold them, then how many tunes, then how often they stand."""
    found = recur(database, _wider(question), progress, again, find_repeats)
    with database.reading() as connection:
        all_players, all_tunes = _players_and_tunes(connection, question.selection)
        ranked = []
        for family in found.families:
            lines = [(player, tune) for player, tune, count in spread(connection, family) if count]
            players, tunes = ({name for name in names if name} for names in zip(*lines, strict=True))
            ranked.append((-len(players), -len(tunes), -family.count, family.code, family))
    ranked.sort(key=lambda entry: entry[:4])
    kept = ranked[: question.settings.limit]
    extras: list[Extra] = [
        (
            {"common": {"players": -players, "of_players": all_players, "tunes": -tunes, "of_tunes": all_tunes}},
            [f"held by {-players} of {all_players} players, in {-tunes} of {all_tunes} tunes"],
        )
        for players, tunes, *_ in kept
    ]
    return replace(found, families=[entry[4] for entry in kept]), extras


def _wider(question: RecurQuestion) -> RecurQuestion:
    return replace(question, settings=replace(question.settings, limit=POOL * question.settings.limit))


def _players_and_tunes(connection: sa.Connection, selection: "Selection") -> tuple[int, int]:
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = (
        "SELECT count(DISTINCT nullif(t.player, '')) AS players, count(DISTINCT nullif(t.title, '')) AS tunes "
        f"FROM transcription t{where}"
    )
    row = connection.execute(sa.text(sql), values).one()
    return row.players, row.tunes


def signature(
    database: "Database",
    question: RecurQuestion,
    player: str,
    progress: Progress | None = None,
    again: bool = False,
    find_repeats: "FindRepeats | None" = None,
) -> tuple[Discovered, list[Extra]]:
    """What sets a player apart from all others of the selection, the surest first.

    Families of the player's own lines are counted, disguises included, in everybody else's lines too; probabilities
    are corrected for how many were compared. Raises CorpusError when the player or the others have no lines.
    """
    if {"degree", "role"} & set(question.settings.readings):
        raise QueryError("--signature counts figures of intervals: leave degrees and roles out of --readings")
    own = replace(question, selection=replace(question.selection, player=player))
    try:
        found = recur(database, _wider(own), progress, again, find_repeats)
    except CorpusError as error:
        raise CorpusError(f"no line of a player {player!r} answers: 'wellworn list' shows the players") from error
    with database.reading() as connection:
        others = _Others.of(connection, question, own.selection)
        if not others.notes:
            raise CorpusError(
                f"there is no line of another player to compare {player!r} with: add some, or ask without --signature"
            )
        keys = [
            (Keyness(family.count, found.note_count, others.count(connection, family), others.notes), family)
            for family in found.families
        ]
    compared = [Comparison(len(keys), rate) for rate in corrected([key.probability for key, _ in keys])]
    own_first = [(key, one, family) for (key, family), one in zip(keys, compared, strict=True) if key.log_ratio > 0]
    own_first.sort(key=lambda e: (not _is_sure(e[0], e[1]), -e[0].log_likelihood, e[2].code))
    kept = own_first[: question.settings.limit]
    extras: list[Extra] = [(_key_fields(key, one), [key.words(player, one)]) for key, one, _ in kept]
    return replace(found, families=[family for *_, family in kept]), extras


def alone_with(connection: sa.Connection, question: RecurQuestion, player: str) -> list[KeptFamily]:
    """The families of a player's lines (the whole name) that stand in nobody else's, disguises counted.

    Those kept for the player are used, else they are found, and not kept. Empty where nobody else is in the selection.
    """
    own = replace(question, selection=replace(question.selection, player=player))
    found = kept(connection, own) or discover(connection, own)
    others = _Others.of(connection, question, own.selection)
    return [family for family in found.families if others.notes and not others.count(connection, family)]


def _is_sure(key: Keyness, compared: Comparison) -> bool:
    return key.is_enough and compared.corrected <= SURE


def _key_fields(key: Keyness, compared: Comparison) -> dict[str, Any]:
    low, high = key.log_ratio_interval
    return {
        "keyness": {
            "count": key.count,
            "notes": key.notes,
            "other_count": key.other_count,
            "other_notes": key.other_notes,
            "log_likelihood": round(key.log_likelihood, 3),
            "log_ratio": round(key.log_ratio, 3),
            "log_ratio_interval": [round(low, 3), round(high, 3)],
            "probability": float(f"{key.probability:.3g}"),
            "probability_corrected": float(f"{compared.corrected:.3g}"),
            "figures_compared": compared.figures,
            "is_exact": key.is_exact,
            "is_enough": key.is_enough,
        }
    }


@dataclass(frozen=True)
class _Others:
    """Everybody else's lines, in which families are counted. ``notes`` counts theirs, repeats included."""

    gatherer: "Gatherer"
    notes: int
    settings: "DiscoverySettings"

    @classmethod
    def of(cls, connection: sa.Connection, question: RecurQuestion, own: "Selection") -> "_Others":
        import numpy as np

        from corpus.recur.chance import Chance
        from corpus.recur.corpus_text import corpus_text
        from corpus.recur.gathering import Gatherer
        from corpus.recur.replays import replayed
        from db.recur_lines import RecurLines

        settings = question.settings
        lines = RecurLines.of(connection, question.selection, settings.folds.doubles)
        conditions, values = own.conditions()
        sql = f"SELECT t.id FROM transcription t WHERE {' AND '.join(conditions)}"
        theirs = set(connection.execute(sa.text(sql), values).scalars())
        columns = lines.lines.columns
        is_note = np.ones(len(columns.classes), dtype=bool)
        is_note[columns.bars] = False
        numbers, _ = columns.line_and_note(np.arange(len(columns.classes)))
        is_own = np.array([identity in theirs for identity in lines.lines.ids], dtype=bool)
        looked_at = is_note & lines.allowed & ~is_own[np.maximum(numbers, 0)]
        text = corpus_text(columns, settings.readings_in_force[0])
        notes = lines.note_share(looked_at)
        gatherer = Gatherer(
            columns,
            settings,
            Chance.of(text),
            ~looked_at,
            replayed(text),
            max(int(looked_at.sum()), 1),
            os.cpu_count() or 1,
            kernels_meanwhile().result(),
        )
        return cls(gatherer, notes, settings)

    def count(self, connection: sa.Connection, family: KeptFamily) -> int:
        """How many places of a family the others have, replays left out."""
        figure: Figure = FamilyHits(connection, self.settings).figure(family).figure
        members = self.gatherer.members(replace(figure, onsets=None), family.information)
        return sum(not member.is_replay for member in members)
