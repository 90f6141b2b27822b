"""The page of a player: the figures that are the player's own, the lines they stand in, and a short profile."""

from typing import TYPE_CHECKING, Final

from cli.page_groups import Group, GroupPage, LineRow
from cli.page_shell import Heading
from corpus.errors import CorpusError, QueryError

if TYPE_CHECKING:
    from db.catalogue import Entry
    from db.connection import Database
    from db.recur import Discovered
    from db.signature import Extra

_FIGURES: Final = 6
_PLACES: Final = 3


def page_of_player(database: "Database", player: str) -> GroupPage:
    """The page of a player, named by a part of the name.

    Raises CorpusError when no line answers, QueryError when several players do.
    """
    from cli.page_parts import short_profile
    from db.catalogue import Selection, entries

    own = Selection(player=player)
    with database.reading() as connection:
        lines, _ = entries(connection, own)
        name = _one_name(lines, player)
        profile, remarks = short_profile(connection, own)
    groups, has_others = _own_figures(database, name)
    words = f"Figures that set {name} apart from the other players of the corpus, the surest first."
    alone = f"Figures that {name} comes back to; the corpus holds no other player to compare with."
    return GroupPage(
        Heading("A player", name, "", _facts(lines)),
        "Signature figures" if has_others else "Recurring figures",
        f"{words if has_others else alone} Each stands in up to {_PLACES} places, aligned by a note that most share."
        if groups
        else "Nothing comes back in these lines beyond what chance gives.",
        groups,
        tuple(map(_row, lines)),
        profile,
        remarks,
        f"all {len(lines)} lines" if len(lines) > 1 else "the line",
    )


def _one_name(lines: "list[Entry]", player: str) -> str:
    from corpus.text import clean_text

    names = sorted({entry.details.player for entry in lines})
    if not names:
        raise CorpusError(f"no line of a player {player[:60]!r} answers: 'wellworn list' shows the players")
    if len(names) > 1:
        told = ", ".join(repr(clean_text(name)) for name in names[:4])
        raise QueryError(f"--player {player[:60]!r} is a part of several names ({told}): give more of one")
    return clean_text(names[0])


def _own_figures(database: "Database", player: str) -> "tuple[tuple[Group, ...], bool]":
    """The player's figures, and whether there are others to compare them with."""
    from cli.families import Teller
    from cli.page_hits import family_group
    from corpus.lesson.passages import Passages
    from corpus.recur.letters import letter
    from db.recur import RecurQuestion

    discovered, extras, has_others = _discovered(database, player)
    seen = Passages()
    groups: list[Group] = []
    with database.reading() as connection:
        teller = Teller(connection, RecurQuestion().settings, discovered)
        for number, family in enumerate(discovered.families[:_FIGURES]):
            extra, words = extras[number] if extras else ({}, ())
            told = teller.told(family, _PLACES + 1, extra, words)
            groups.append(family_group(teller, told, seen, number, _PLACES, letter(number)))
    return tuple(groups), has_others


def _discovered(database: "Database", player: str) -> "tuple[Discovered, list[Extra], bool]":
    from cli.families import progress_bar
    from db.catalogue import Selection, entries
    from db.recur import RecurQuestion, recur
    from db.signature import signature

    own = RecurQuestion(Selection(player=player))
    with database.reading() as connection:
        has_others = entries(connection, Selection(), 0)[1] > entries(connection, own.selection, 0)[1]
    with progress_bar() as progress:
        if has_others:
            return *signature(database, RecurQuestion(), player, progress), True
        return recur(database, own, progress), [], False


def _facts(lines: "list[Entry]") -> tuple[str, ...]:
    from corpus.text import clean_text

    notes, bars = sum(entry.note_count for entry in lines), sum(entry.bar_count for entry in lines)
    instruments = sorted({clean_text(entry.details.instrument) for entry in lines} - {""})
    years = sorted({entry.details.year for entry in lines if entry.details.year is not None})
    span = "" if not years else str(years[0]) if years[0] == years[-1] else f"{years[0]} to {years[-1]}"
    count = f"{len(lines)} line{'' if len(lines) == 1 else 's'}, {bars:,} bars, {notes:,} notes"
    return tuple(fact for fact in (", ".join(instruments), span, count) if fact)


def _row(entry: "Entry") -> LineRow:
    from corpus.lesson.signs import with_signs
    from corpus.text import clean_text

    details = entry.details
    return LineRow(
        clean_text(details.title) or "Untitled line",
        clean_text(details.recording),
        "" if details.year is None else str(details.year),
        clean_text(details.instrument),
        with_signs(str(details.key or "")),
        entry.bar_count,
        entry.note_count,
    )
