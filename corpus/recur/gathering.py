"""All places of one figure, in every disguise that still saves something."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from corpus.match.columns import Columns
from corpus.match.figure import Figure
from corpus.match.prices import PARTS
from corpus.match.sought import sought
from corpus.recur.chance import Chance, naming
from corpus.recur.settings import DiscoverySettings, Member

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.match.kernels import Kernels

    Flags = NDArray[np.bool_]

NATS_A_PRICE: Final = 8.0
"""What it takes to say one note's worth of changes: which of some tens of changes, on which of some notes."""


@dataclass(frozen=True)
class Gatherer:
    """Columns in which figures are gathered: ``used`` are places explained already, ``replayed`` those that were there
    before note for note. ``notes`` counts the places looked at. With ``kernels`` near search runs compiled.
    """

    columns: Columns
    settings: DiscoverySettings
    chance: Chance
    used: "Flags"
    replayed: "Flags"
    notes: int
    workers: int = 1
    kernels: "Kernels | None" = None

    def members(self, figure: Figure, information: float, exact: Sequence[Member] = ()) -> list[Member]:
        """All places of a figure that holds so many nats, none of them explained already.

        ``exact`` are places where some reading has it unchanged: they belong to it, also where near search finds them
        too dear.
        """
        from corpus.match.scan import scan
        from corpus.match.verify import Verifier

        asked = sought(figure, self.settings.folds, self.settings.prices)
        place = naming(self.notes, len(exact) + 1)
        worth = (information - place) / NATS_A_PRICE
        most = max(min(asked.most_parts(self.settings.tolerance), int(worth * PARTS)), 0)
        kept = _Kept(self.used)
        endings = scan(self.columns, asked, most, self.workers, self.kernels)
        kernels = self.kernels
        verifier = (
            Verifier(self.columns, asked, most) if kernels is None else kernels.verifier(self.columns, asked, most)
        )
        found = verifier.verify(endings.places, endings.bounds(slice(0, len(endings))))
        for verified in sorted(found, key=lambda verified: (verified.weight, verified.ending)):
            first, last, parts = verified.ending - verified.back, verified.ending, verified.parts
            if self._saves(first, last, parts, information, place):
                is_replay = self.is_replay(first, last - first + 1)
                kept.add(Member(first, last, parts, is_replay, verified.away, verified.letter))
        for member in exact:
            kept.add(replace(member, parts=most))
        return kept.members

    def is_replay(self, first: int, length: int) -> bool:
        """Whether most of a stretch was there before."""
        return int(self.replayed[first : first + length].sum()) > length // 2

    def _saves(self, first: int, last: int, parts: int, information: float, place: float) -> bool:
        """Whether a disguise saves something: what is really played there must be worth more than naming it."""
        if not parts:
            return True
        played = self.chance.played(first + 1, last)
        return min(information, played) - place > NATS_A_PRICE * parts / PARTS


class _Kept:
    """Members so far, none of which shares more than one note with another, or with what is explained already."""

    def __init__(self, used: "Flags") -> None:
        self.members: list[Member] = []
        self._used = used
        self._notes: set[int] = set()

    def add(self, member: Member) -> None:
        """Take a member in, if there is room for it."""
        stretch = range(member.first, member.last + 1)
        shared = int(self._used[member.first : member.last + 1].sum()) + sum(note in self._notes for note in stretch)
        if shared <= 1:
            self.members.append(member)
            self._notes.update(stretch)
