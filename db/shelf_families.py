"""The families of recurring figures that kept figures belong to, told by the places that both have now.

Nothing is stored: families follow from the lines, and so does which of them a figure belongs to. A figure whose family
bears the code of one (``9ded42``) is tied to that.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import sqlalchemy as sa

from corpus.match.near import shares_most
from corpus.regions import passage_name
from corpus.shelf.keeping import from_passage
from corpus.shelf.kept import LONGEST_NAME, KeptFigure
from db.families import FamilyPlace, KeptFamily
from db.family_codes import is_code, kept_family_of
from db.recur import Discovered, FamilyHits, RecurQuestion, kept
from db.shelf import live_sources, occurrences_of

Stretch = tuple[int, int, int]
"""A line's ID and the first and last note of a place in it."""

_LOOKED_AT: Final = 60


@dataclass(frozen=True)
class Tie:
    """A family that a kept figure belongs to: the discovery that holds it, and how many places both have."""

    family: KeptFamily
    discovered: Discovered
    question: RecurQuestion
    shared: int


def tie_of(connection: sa.Connection, figure: KeptFigure) -> Tie | None:
    """The family of a figure among those kept now, None where none has a place in common with it.

    The family whose code the figure bears comes first; else that of most common places, in the discovery over most
    lines, the best ranked of equals. Families are not looked for here: ``db.recur.recur`` does that.
    """
    own = stretches_of(connection, figure)
    if is_code(figure.family):
        found = kept_family_of(connection, figure.family)
        return None if found is None else Tie(*found, _shared(found[0], own))
    for discovered, question in _discoveries(connection):
        ties = [Tie(family, discovered, question, _shared(family, own)) for family in discovered.families]
        best = max(ties, key=lambda tie: tie.shared, default=None)
        if best is not None and best.shared:
            return best
    return None


def _discoveries(connection: sa.Connection) -> Iterator[tuple[Discovered, RecurQuestion]]:
    """What is kept and still true of the lines, the discovery over most lines first."""
    sql = "SELECT asked FROM discovery ORDER BY line_count DESC, id"
    for asked in connection.execute(sa.text(sql)).scalars().all():
        question = RecurQuestion.from_text(asked)
        discovered = kept(connection, question)
        if discovered is not None:
            yield discovered, question


def stretches_of(connection: sa.Connection, figure: KeptFigure) -> list[Stretch]:
    """Where a figure stands now: where it came from, and some of its other places."""
    stretches: list[Stretch] = []
    for live in live_sources(connection, figure):
        source = live.source
        if live.state == "live" and source.transcription is not None:
            first, last = source.first, source.last
            assert first is not None, "a live source has its notes"
            assert last is not None, "a live source has its notes"
            stretches.append((source.transcription, first, last))
    hits = occurrences_of(connection, figure, _LOOKED_AT).hits
    stretches += [(hit.entry.id, hit.occurrence.first, hit.occurrence.last) for hit in hits]
    return list(dict.fromkeys(stretches))


def _shared(family: KeptFamily, own: Sequence[Stretch]) -> int:
    by_line: dict[int, list[FamilyPlace]] = defaultdict(list)
    for place in family.places:
        by_line[place.transcription].append(place)
    return sum(
        any(shares_most((first, last), (place.first, place.last)) for place in by_line[identity])
        for identity, first, last in own
    )


def variants_of(connection: sa.Connection, tie: Tie, figure: KeptFigure, most: int) -> list[KeptFigure]:
    """Other forms that a figure's family has, the nearest to its typical form first, each of its intervals once.

    They are made as if they were kept from their passages, named after these; places of the figure itself, and those
    with a dead note, are none.
    """
    loaded = FamilyHits(connection, tie.question.settings)
    pitches = [note.pitch for note in figure.notes]
    seen = {_intervals(pitches)}
    found: list[KeptFigure] = []
    for place in sorted(tie.family.places, key=lambda place: (place.is_replay, place.parts, place.transcription)):
        if len(found) >= most:
            break
        _, line = loaded.loaded([place.transcription])[place.transcription]
        played = [note.pitch for note in line.notes[place.first : place.last + 1]]
        if None in played:
            continue
        intervals = _intervals([pitch for pitch in played if pitch is not None])
        if intervals in seen:
            continue
        seen.add(intervals)
        name = f"{line.details.title}, {passage_name(line, place.first, place.last)}"
        variant = from_passage(name[:LONGEST_NAME], line, place.first, place.last, place.transcription)
        found.append(replace(variant, family=tie.family.code))
    return found


def _intervals(pitches: Sequence[int]) -> tuple[int, ...]:
    return tuple(after - before for before, after in pairwise(pitches))
