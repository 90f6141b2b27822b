"""Local keys over a whole chart, by dynamic programming over its segmentations into keys.

Functions follow from a segmentation of the chart into key centres, so the keys are the segmentation of least cost, as
Choi does for jazz charts ("Jazz Harmonic Analysis as Optimal Tonality Segmentation", *Computer Music Journal* 35(2),
2011, 49-66; the idea is his, known to us by the abstract; the costs are ours). There are 24 keys, major and minor on
every pitch class. The cost of a segmentation is the sum of

- for every chord, its cost as a function in its key (``corpus.harmony.function_costs``; a V-I is rewarded) times a
  weight for its length: the length over the mean length (which counts for at most ``LONGEST_MEAN`` quarter notes, so
  that long plateaus weigh), to the power ``POWER``, within ``WEIGHT_RANGE``;
- for every change of key, ``CHANGE``, and ``FIFTH`` for each fifth that the two signatures lie apart (at most 6), or
  ``PARALLEL`` for the parallel key, or ``RELATIVE`` for the relative one; ``AFTER_LONG`` (negative: phrases end on
  long chords) times what the weight of the chord before exceeds 1 by;
- ``OPENING`` where the first chord is the tonic chord of its key, ``CLOSING`` where the last is (both negative). Once
  home is known or tried, only it closes. A dominant seventh after its own ii is no tonic chord, nor is a minor chord
  after the major one on its root (IV iv);
- for every chord outside the home key, ``AWAY`` times its weight. Without a declared key, home is the cheapest of the
  key that a first run, without this cost, gives most of the time to, the keys of which the first or the last chord is
  the tonic chord, and those of which the last is the V: charts begin and end at home, or stop on its V (common
  practice), so ``HOME_OPENS`` and ``HOME_CLOSES`` (negative) are added where the first or last chord is the tonic chord
  of the home key and heard in it, and ``HALF_CLOSES`` where the last one is its V and leads elsewhere than to the first
  chord (then it may be any V, for turning round). A last chord over its third is on its way and closes nothing.

A declared key is home from the start, at the higher price ``DECLARED_AWAY``; if even so it gets less than
``LEAST_SHARE`` of the time, it contradicts the chart and is not used. Another key with the signature of the declared
one is no contradiction: a signature alone does not tell which. Church modes count as major or minor by their third; one
that is declared, and whose tonic chord comes first, last or for most of the time, is read with the chords of its own
scale (``corpus.harmony.modes``), at the price ``MODAL_AWAY``.

A new signature in the course of the chart is evidence, not law: chords under it pay ``SIGNATURE_AWAY`` times their
weight outside its two keys (major and relative minor), in place of what they pay outside the home key.

The best path is found exactly (Viterbi, *IEEE Transactions on Information Theory* 13(2), 1967).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import inf
from operator import add
from typing import Final

from corpus.harmony.functions import costs_in_keys
from corpus.harmony.hearing import Heard, hear
from corpus.harmony.modes import CHURCH_MODES, chords_of_mode, is_minor_mode, signature_of
from corpus.harmony.symbols import ChordSymbol
from corpus.pitch import Key

CHANGE: Final = 1.3
POWER: Final = 0.7
FIFTH: Final = 0.1
PARALLEL: Final = 0.5
RELATIVE: Final = 0.2
CLOSING: Final = -0.2
HOME_OPENS: Final = -1.15
"""A little less than a change of key costs; at more, charts that open on a vi or iii are heard in it."""
HOME_CLOSES: Final = -1.15
HALF_CLOSES: Final = -0.6
"""About half of what a close says: a chart may stop on any dominant."""
OPENING: Final = -0.75
AFTER_LONG: Final = -0.5
AWAY: Final = 0.08
DECLARED_AWAY: Final = 0.2
MODAL_AWAY: Final = 0.4
SIGNATURE_AWAY: Final = 0.2
LEAST_SHARE: Final = 0.1
WEIGHT_RANGE: Final = (0.7, 2.5)
LONGEST_MEAN: Final = 8.0
_ROUNDING: Final = 1e-9

_TONIC_NAMES: Final = {
    False: ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    True: ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"),
}
"""The usual name of a key's tonic: the signature with fewer accidentals, flats where equal."""


@dataclass(frozen=True, slots=True)
class KeyedChord:
    """A chord as the search for keys sees it: its symbol, None if unreadable, and its length in quarter notes."""

    symbol: ChordSymbol | None
    length: float


@dataclass(frozen=True, slots=True)
class LocalKeys:
    """The key of every chord (None only where the chart has no chord at all), and the home key.

    ``contradicts_declared`` is whether the chart, read without it, hardly touches the declared key; the declared key
    was then not used.
    """

    keys: tuple[Key | None, ...]
    home: Key | None
    contradicts_declared: bool = False


def local_keys(
    chords: Sequence[KeyedChord],
    declared: Key | None = None,
    heard: Sequence[Heard | None] | None = None,
    signatures: Sequence[Key | None] | None = None,
) -> LocalKeys:
    """The local key of every chord of a chart; chords without a symbol take the key around them.

    ``heard`` is ``hear`` of the symbols where that is at hand. ``signatures`` are, a chord, the signatures that the
    page changes to in the course of the chart; None where the first one is in force.
    """
    heard = hear([chord.symbol for chord in chords]) if heard is None else heard
    places = [index for index, chord in enumerate(heard) if chord is not None]
    present = [chord for chord in heard if chord is not None]
    if not present:
        return LocalKeys((None,) * len(chords), declared)
    # Everything is counted from the first root, so that a tie falls the same way in every transposition.
    first_root = present[0].root
    relative = [Heard((chord.root - first_root) % 12, *chord[1:]) for chord in present]
    new = [signatures[index] if signatures else None for index in places]
    favoured = [None if key is None else _under_signature(key, -first_root) for key in new]
    search = KeySearch(relative, [chords[index] for index in places], favoured)
    wanted = None if declared is None else _moved(_state(declared), -first_root)
    path, home = search.best(wanted, "major" if declared is None else declared.mode)
    is_declared = home == wanted
    contradicts = declared is not None and not is_declared
    if declared is not None and contradicts:
        contradicts = _fifths(_moved(home, first_root)) not in (signature_of(declared), _fifths(_state(declared)))
    states = [_moved(state, first_root) for state in path]
    named = _named(states, [chords[index].symbol for index in places], declared if is_declared else None)
    keys: list[Key | None] = []
    position = 0
    for index in range(len(chords)):
        if position + 1 < len(places) and index >= places[position + 1]:
            position += 1
        keys.append(named[position])
    home_key = _name_of(_moved(home, first_root), None, declared)
    if not is_declared:
        home_key = next((key for state, key in zip(path, named, strict=True) if state == home), home_key)
    return LocalKeys(tuple(keys), home_key, contradicts)


def _moved(state: int, semitones: int) -> int:
    return (state + semitones) % 12 + (12 if state >= 12 else 0)


def _state(key: Key) -> int:
    return key.tonic_pitch_class + (12 if is_minor_mode(key.mode) else 0)


def _fifths(state: int) -> int:
    """Position of a key's signature on the circle of fifths, 0 to 11."""
    major = state if state < 12 else (state + 3) % 12
    return 7 * major % 12


def _under_signature(key: Key, semitones: int) -> tuple[int, int]:
    """The major and the minor key with the signature of a key, moved."""
    major = (7 * signature_of(key) + semitones) % 12
    return major, (major + 9) % 12 + 12


def _change(one: int, other: int) -> float:
    """What a change from one key to another costs."""
    if one % 12 == other % 12:
        return CHANGE + PARALLEL
    apart = abs(_fifths(one) - _fifths(other))
    cost = CHANGE + FIFTH * min(apart, 12 - apart)
    return cost + RELATIVE if apart == 0 else cost


@cache
def _changes() -> tuple[tuple[tuple[float, ...], ...], float, float]:
    """What every change costs, by how much changes differ, and the cheapest."""
    table = tuple(tuple(inf if one == other else _change(one, other) for other in range(24)) for one in range(24))
    costs = [cost for row in table for cost in row if cost < inf]
    return table, max(costs) - min(costs), min(costs)


@lru_cache(maxsize=8192)
def _costs_of(chord: Heard) -> tuple[float, ...]:
    """What the function of a chord costs in each key, from what it costs on C."""
    on_c = costs_in_keys(Heard(0, *chord[1:]))
    split = (12 - chord.root) % 12
    return on_c[split:12] + on_c[:split] + on_c[12 + split :] + on_c[12 : 12 + split]


class KeySearch:
    """One chart: the function costs of every chord in every key, computed once for both runs."""

    def __init__(
        self,
        heard: Sequence[Heard],
        chords: Sequence[KeyedChord],
        favoured: Sequence[tuple[int, int] | None] | None = None,
    ) -> None:
        mean = min(sum(chord.length for chord in chords) / len(chords), LONGEST_MEAN) or 1.0
        low, high = WEIGHT_RANGE
        self.weights = [min(max((chord.length / mean) ** POWER, low), high) for chord in chords]
        self.places = [0.0, *(AFTER_LONG * (weight - 1.0) for weight in self.weights[:-1])]
        self.lengths = [chord.length for chord in chords]
        self.costs = list(map(_costs_of, heard))
        self.heard = heard
        self.favoured = favoured or [None] * len(heard)
        self.set_costs(self.costs)
        self.first, self.last = heard[0], heard[-1]
        # The V that a chart ends on, to go back to its beginning, is no I7.
        self.turns_around = self.last.kind == "D" and (self.first.root - self.last.root) % 12 == 5
        self.half_closes = self.half_closes_of()
        self.changes, self.spread, self.cheapest_change = _changes()

    def best(self, wanted: int | None, mode: str = "major") -> tuple[list[int], int]:
        """The best path and its home key: the wanted one unless the path, drawn towards it, hardly touches it."""
        if wanted is not None:
            is_modal = mode in CHURCH_MODES and self.stands_out(wanted, mode)
            plain = self.costs
            if is_modal:
                self.set_costs(self.costs_in_mode(wanted, mode))
            path = self.solve(wanted, MODAL_AWAY if is_modal else DECLARED_AWAY)
            if self.share(path, wanted) >= LEAST_SHARE:
                return path, wanted
            self.set_costs(plain)
        path = self.solve(None, 0.0)
        home = self.cheapest_home(path)
        if all(state == home for state in path):
            # A path that never leaves home stays the best when leaving becomes dearer.
            return path, home
        return self.solve(home, AWAY), home

    def set_costs(self, costs: list[tuple[float, ...]]) -> None:
        """The function costs of every chord in every key."""
        self.costs = costs
        self.weighted: list[Sequence[float]] = [
            row if weight == 1.0 else [weight * cost for cost in row]
            for row, weight in zip(costs, self.weights, strict=True)
        ]

    def stands_out(self, state: int, mode: str) -> bool:
        """Whether the tonic chord of a mode is the first chord, the last, or that of most of the time."""
        time: dict[tuple[int, str], float] = {}
        for chord, length in zip(self.heard, self.lengths, strict=True):
            place = ((chord.root - state) % 12, chord.kind)
            time[place] = time.get(place, 0.0) + length
        tonics = {place for place in time if place[0] == 0 and (place in chords_of_mode(mode) or place[1] in "5s")}
        edges = {((chord.root - state) % 12, chord.kind) for chord in (self.first, self.last)}
        return bool(tonics & edges) or max(time, key=time.__getitem__) in tonics

    def costs_in_mode(self, state: int, mode: str) -> list[tuple[float, ...]]:
        """The costs, those in one key cheaper where a chord belongs to a mode on its tonic."""
        chords = chords_of_mode(mode)
        rows = []
        for chord, row in zip(self.heard, self.costs, strict=True):
            modal = chords.get(((chord.root - state) % 12, chord.kind))
            cost = row[state] if modal is None else min(row[state], modal[1])
            rows.append((*row[:state], cost, *row[state + 1 :]))
        return rows

    def edge_states(self) -> list[int]:
        """The keys of which the first or the last chord is the tonic chord, or the last one the V."""
        opening, closing = self.edges(None)
        return [*(state for gains in (opening, closing) for state, gain in enumerate(gains) if gain), *self.half_closes]

    def half_closes_of(self) -> tuple[int, ...]:
        """The keys that the chart stops on the V of: of the mode in which their tonic chord is heard, if it is.

        None where the last chord leads back to the first, or stands on the root of the first.
        """
        if self.last.kind not in "DT" or (self.first.root - self.last.root) % 12 in (0, 5):
            return ()
        tonic = (self.last.root + 5) % 12
        heard = {chord.kind for chord in self.heard if chord.root == tonic}
        modes = [offset for offset, kinds in ((0, "TM"), (12, "m")) if heard & set(kinds)]
        if not modes and self.last.kind == "T":
            return ()
        return tuple(tonic + offset for offset in modes or (0, 12))

    def cost_of_home(self, home: int) -> float:
        """What a chart costs when a key is its home: the best path drawn towards it, less what speaks for the key."""
        return self.total(self.solve(home, DECLARED_AWAY), home, DECLARED_AWAY)

    def cheapest_home(self, path: Sequence[int]) -> int:
        """The cheapest of the key with most of the time and those of the first and last chords.

        ``path`` is the best one without a home. The paths of another home cost no less than it does with that home's
        edges, and more where they leave home; so most homes need not be tried.
        """
        most = self.home_of(path)
        rivals = [state for state in self.edge_states() if state != most]
        if not rivals:
            return most
        never_leaves = all(state == most for state in path)
        costs = {most: self.total(path, most, DECLARED_AWAY) if never_leaves else self.cost_of_home(most)}
        whole = self.total(path, None, 0.0)
        leaving = 0.0 if any(self.favoured) else DECLARED_AWAY * min(self.weights)
        for state in rivals:
            least = min(whole + leaving + sum(self.credits(state)), self.total([state] * len(path), state, 0.0))
            if least <= costs[most] + _ROUNDING:
                costs[state] = self.cost_of_home(state)
        return min(sorted(costs), key=costs.__getitem__)

    def solve(self, home: int | None, away: float) -> list[int]:
        """The states of least total cost; ``away`` is what a chord outside ``home`` pays."""
        opening, closing = self.edges(home)
        totals = list(map(add, self.weighted[0], opening))
        steps: list[tuple[list[float], list[float]]] = []
        for index in range(len(self.weighted)):
            if index:
                fresh = self._arrivals(totals, self.places[index])
                steps.append((totals, fresh))
                totals = list(map(add, fresh, self.weighted[index]))
            favoured = self.favoured[index]
            if favoured is not None:
                for state in favoured:
                    totals[state] -= SIGNATURE_AWAY * self.weights[index]  # the same as charging all others
            elif home is not None:
                totals[home] -= away * self.weights[index]
        state = min(range(24), key=lambda state: totals[state] + closing[state])
        path = [state]
        for index in range(len(steps), 0, -1):
            before, fresh = steps[index - 1]
            if fresh[state] < before[state]:
                bases = [total + self.places[index] for total in before]
                state = min(range(24), key=lambda start: bases[start] + self.changes[start][state])
            path.append(state)
        return path[::-1]

    def edges(self, home: int | None) -> tuple[list[float], list[float]]:
        """What it costs to open and to close in each of the keys."""
        opening = [_edge_cost(self.first, state, OPENING) for state in range(24)]
        closing = [0.0 if self.turns_around else _edge_cost(self.last, state, CLOSING) for state in range(24)]
        if home is not None:
            closing = [gain if state == home else 0.0 for state, gain in enumerate(closing)]
            opens, closes = self.credits(home)
            opening[home] += opens
            closing[home] += closes
        return opening, closing

    def credits(self, home: int) -> tuple[float, float]:
        """What speaks for a home (negative costs) where the chart opens and where it closes in it."""
        closes = 0.0 if self.turns_around or self.last.bass in (3, 4) else _edge_cost(self.last, home, HOME_CLOSES)
        if home in self.half_closes:
            closes += HALF_CLOSES
        return _edge_cost(self.first, home, HOME_OPENS), closes

    def _arrivals(self, totals: list[float], place: float) -> list[float]:
        """The least cost of arriving in each key before the next chord is counted."""
        # A start that is dearer than the best one by more than changes can differ is never worth leaving from; nor is
        # one from which even the cheapest change arrives later than everywhere.
        least, cheapest = min(totals), place + self.cheapest_change
        if least + cheapest >= max(totals):
            return totals
        first = totals.index(least)
        arrivals = self._arriving(totals, least + place, first)
        bound = min(least + self.spread, max(arrivals) - cheapest)
        for start in [start for start, total in enumerate(totals) if total <= bound]:
            if start != first:
                arrivals = self._arriving(arrivals, totals[start] + place, start)
        return arrivals

    def _arriving(self, arrivals: list[float], base: float, start: int) -> list[float]:
        """Arrivals, those from one more start among them."""
        return [
            staying if staying < (coming := base + change) else coming
            for staying, change in zip(arrivals, self.changes[start], strict=True)
        ]

    def total(self, path: Sequence[int], home: int | None, away: float) -> float:
        """What a path costs, added up step by step: the definition that ``solve`` minimises."""
        opening, closing = self.edges(home)
        cost = opening[path[0]] + closing[path[-1]]
        for index, state in enumerate(path):
            favoured = self.favoured[index]
            if favoured is not None:
                outside = 0.0 if state in favoured else SIGNATURE_AWAY
            else:
                outside = 0.0 if home is None or state == home else away
            cost += self.weights[index] * (self.costs[index][state] + outside)
            if index and state != path[index - 1]:
                cost += self.changes[path[index - 1]][state] + self.places[index]
        return cost

    def share(self, path: Sequence[int], state: int) -> float:
        """The share of the time that a path spends in a key, 0 to 1."""
        whole = sum(self.lengths) or 1.0
        return sum(length for length, at in zip(self.lengths, path, strict=True) if at == state) / whole

    def home_of(self, path: Sequence[int]) -> int:
        """The key with most of the time; of equal ones the later to end."""
        time = [0.0] * 24
        for length, state in zip(self.lengths, path, strict=True):
            time[state] += length
        return max(reversed(path), key=time.__getitem__)


def _edge_cost(chord: Heard, state: int, gain: float) -> float:
    """``gain`` where the first or last chord is the tonic chord of its key.

    A dominant seventh may be that (a blues), but not where it begins a cycle of fifths; a minor chord is not where a
    dominant seventh a fourth higher follows: it is a ii.
    """
    if chord.root != state % 12 or chord.kind not in ("m5" if state >= 12 else "TMD5"):
        return 0.0
    is_in_a_cycle = chord.kind == "D" and chord.next_step == 5 and chord.after_step == 10
    is_after_its_ii = chord.kind == "D" and chord.last_step == 7 and chord.last_kind in ("m", "h")
    is_ii = chord.kind == "m" and chord.next_step == 5 and chord.next_kind == "D"
    return 0.0 if is_in_a_cycle or is_after_its_ii or is_ii or chord.was_major else gain


def _name_of(state: int, near: ChordSymbol | None, declared: Key | None) -> Key:
    mode = "minor" if state >= 12 else "major"
    if declared is not None and _state(declared) == state:
        return Key(declared.tonic, mode)
    if (
        near is not None
        and near.root is not None
        and near.root_pitch_class == state % 12
        and abs(near.root.alteration) < 2
    ):
        return Key(str(near.root), mode)
    return Key(_TONIC_NAMES[state >= 12][state % 12], mode)


def _named(path: Sequence[int], symbols: Sequence[ChordSymbol | None], declared: Key | None) -> list[Key]:
    """Keys with the tonic spelled as the passage spells its tonic chord, as declared, or as usual."""
    named: list[Key] = []
    start = 0
    while start < len(path):
        end = start
        while end < len(path) and path[end] == path[start]:
            end += 1
        tonics = (s for s in symbols[start:end] if s is not None and s.root_pitch_class == path[start] % 12)
        named += [_name_of(path[start], next(tonics, None), declared)] * (end - start)
        start = end
    return named
