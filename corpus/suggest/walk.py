"""Walking where no figure fits: chord tones on strong beats, approach notes and scale tones between them.

A cheap way through some beats to a given note is found backwards from that note, for every note it may begin on; to go
back to the last note but one, and to begin a bar or chord without its root, or on a seventh, is dearer. Weak beats
hold chord tones, scale tones a step from what follows, or a half-step approach of a strong note.
"""

from collections.abc import Sequence
from typing import Final

from corpus.suggest.costs import FORBIDDEN, WIDEST_JOINT, Wishes, register_price
from corpus.suggest.ground import Ground, Slot

_PASSING: Final = 1
"""The price of a weak note that is no chord tone, which its step into the next note pays for."""
_TURNING_BACK: Final = 4
_COLOUR: Final = 1
_NO_ROOT: Final = 2
_PLAIN: Final = (0, 3, 4, 6, 7, 8)
"""Semitones above the root of root, third and fifth."""
Table = dict[int, tuple[int, int | None]]
"""For each pitch that may stand in a slot: the price from there on, and the pitch that follows."""


class Walker:
    """Ways through beats; what was found once for beats over the same chords is kept."""

    def __init__(self, ground: Ground, wishes: Wishes) -> None:
        self._lowest, self._highest = ground.instrument.lowest, ground.instrument.highest
        self._wishes = wishes
        self._motion = [wishes.motion(size) for size in range(WIDEST_JOINT + 1)]
        self._known: dict[object, list[Table]] = {}

    def tables(self, slots: Sequence[Slot], target: int | None, is_strong: bool = True) -> list[Table]:
        """For each slot its table, towards a note ``target`` (strong or not) that follows; None for the end."""
        key = (tuple(slot[2:] for slot in slots), target, is_strong)
        if key not in self._known:
            found: list[Table] = []
            following: Table = {} if target is None else {target: (0, None)}
            for slot in reversed(slots):
                following = self._table(slot, following, is_strong)
                is_strong = slot.strong
                found.append(following)
            self._known[key] = found[::-1]
        return self._known[key]

    def _table(self, slot: Slot, following: Table, is_strong: bool) -> Table:
        table: Table = {}
        for pitch in range(self._lowest, self._highest + 1):
            is_tone = pitch % 12 in slot.tones
            if not is_tone and (slot.strong or not following):
                continue
            is_scale = pitch % 12 in slot.scale
            best, way = (0, None) if not following else (FORBIDDEN, None)
            for after, (price, then) in following.items():
                size = abs(after - pitch)
                if size > WIDEST_JOINT:
                    continue
                if not is_tone and not (is_scale and 0 < size <= 2) and not (is_strong and size == 1):
                    continue
                whole = price + self._motion[size] + (_TURNING_BACK if then == pitch else 0)
                if whole < best:
                    best, way = whole, after
            if best < FORBIDDEN:
                table[pitch] = (best + self._price(slot, pitch, is_tone), way)
        return table

    def _price(self, slot: Slot, pitch: int, is_tone: bool) -> int:
        price = register_price(pitch, self._lowest) + (0 if is_tone else _PASSING)
        if slot.new:
            price += self._wishes.root_price(pitch % 12 == slot.root, slot.first)
            price += 0 if (pitch - slot.root) % 12 in _PLAIN else _COLOUR
            # Nobody asked for few roots: a bass that fills in states the chord now and then.
            price += _NO_ROOT if self._wishes.roots != "few" and pitch % 12 != slot.root else 0
        return price

    def after(self, pitch: int, table: Table) -> list[tuple[int, int]]:
        """Prices and first notes of the ways that go on from a note, cheapest first."""
        reached = (
            (price + self._motion[abs(start - pitch)], start)
            for start, (price, _) in table.items()
            if abs(start - pitch) <= WIDEST_JOINT
        )
        return sorted(reached)


def way(tables: Sequence[Table], start: int) -> list[int]:
    """The notes of the cheapest way from a note on."""
    pitches, at = [start], tables[0][start][1]
    for table in tables[1:]:
        assert at is not None
        pitches.append(at)
        at = table[at][1]
    return pitches
