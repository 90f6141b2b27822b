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
- ``OPENING`` where the first chord is the tonic chord of its key, ``CLOSING`` where the last is (both negative);
- for every chord outside the home key, ``AWAY`` times its weight. Without a declared key, home is the cheapest of the
  key that a first run, without this cost, gives most of the time to, and the keys of which the first or the last chord
  is the tonic: charts begin and end at home (common practice), so ``HOME_OPENS`` and ``HOME_CLOSES`` speak for those.

A declared key is home from the start, at the higher price ``DECLARED_AWAY``; if even so it gets less than
``LEAST_SHARE`` of the time, it contradicts the chart and is not used. The relative key of a declared one is no
contradiction: a signature alone does not tell major from minor. Church modes count as major or minor by their third.

The best path is found exactly (Viterbi, *IEEE Transactions on Information Theory* 13(2), 1967).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import inf
from operator import add
from typing import Final

from corpus.harmony.functions import costs_in_keys, is_minor_mode
from corpus.harmony.hearing import Heard, hear
from corpus.harmony.symbols import ChordSymbol
from corpus.pitch import Key

CHANGE: Final = 1.3
POWER: Final = 0.7
FIFTH: Final = 0.1
PARALLEL: Final = 0.5
RELATIVE: Final = 0.2
CLOSING: Final = -0.2
HOME_OPENS: Final = -1.0
"""Not tuned on any chart: as much as a change of key costs, or a little less."""
HOME_CLOSES: Final = -1.0
OPENING: Final = -0.75
AFTER_LONG: Final = -0.5
AWAY: Final = 0.08
DECLARED_AWAY: Final = 0.2
LEAST_SHARE: Final = 0.1
WEIGHT_RANGE: Final = (0.7, 2.5)
LONGEST_MEAN: Final = 8.0

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
    chords: Sequence[KeyedChord], declared: Key | None = None, heard: Sequence[Heard | None] | None = None
) -> LocalKeys:
    """The local key of every chord of a chart; chords without a symbol take the key around them.

    ``heard`` is ``hear`` of the symbols where that is at hand.
    """
    heard = hear([chord.symbol for chord in chords]) if heard is None else heard
    places = [index for index, chord in enumerate(heard) if chord is not None]
    present = [chord for chord in heard if chord is not None]
    if not present:
        return LocalKeys((None,) * len(chords), declared)
    # Everything is counted from the first root, so that a tie falls the same way in every transposition.
    first_root = present[0].root
    relative = [chord._replace(root=(chord.root - first_root) % 12) for chord in present]
    search = KeySearch(relative, [chords[index] for index in places])
    wanted = None if declared is None else _moved(_state(declared), -first_root)
    path, home = search.best(wanted)
    is_declared = home == wanted
    contradicts = wanted is not None and not is_declared and _fifths(home) != _fifths(wanted)
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


def _change(one: int, other: int) -> float:
    """What a change from one key to another costs."""
    if one % 12 == other % 12:
        return CHANGE + PARALLEL
    apart = abs(_fifths(one) - _fifths(other))
    cost = CHANGE + FIFTH * min(apart, 12 - apart)
    return cost + RELATIVE if apart == 0 else cost


@cache
def _changes() -> tuple[tuple[tuple[float, ...], ...], float]:
    """What every change costs, and by how much changes differ."""
    table = tuple(tuple(inf if one == other else _change(one, other) for other in range(24)) for one in range(24))
    costs = [cost for row in table for cost in row if cost < inf]
    return table, max(costs) - min(costs)


class KeySearch:
    """One chart: the function costs of every chord in every key, computed once for both runs."""

    def __init__(self, heard: Sequence[Heard], chords: Sequence[KeyedChord]) -> None:
        mean = min(sum(chord.length for chord in chords) / len(chords), LONGEST_MEAN) or 1.0
        low, high = WEIGHT_RANGE
        self.weights = [min(max((chord.length / mean) ** POWER, low), high) for chord in chords]
        self.places = [0.0, *(AFTER_LONG * (weight - 1.0) for weight in self.weights[:-1])]
        self.lengths = [chord.length for chord in chords]
        self.costs: list[tuple[float, ...]] = []
        for chord in heard:
            on_c = costs_in_keys(chord._replace(root=0))
            split = (12 - chord.root) % 12
            self.costs.append(on_c[split:12] + on_c[:split] + on_c[12 + split :] + on_c[12 : 12 + split])
        self.weighted = [[weight * cost for cost in row] for row, weight in zip(self.costs, self.weights, strict=True)]
        self.first, self.last = heard[0], heard[-1]
        self.changes, self.spread = _changes()

    def best(self, wanted: int | None) -> tuple[list[int], int]:
        """The best path and its home key: the wanted one unless the path, drawn towards it, hardly touches it."""
        if wanted is not None:
            path = self.solve(wanted, DECLARED_AWAY)
            if self.share(path, wanted) >= LEAST_SHARE:
                return path, wanted
        path = self.solve(None, 0.0)
        home = self.home_of(path)
        candidates = {home, *self.edge_states()}
        if len(candidates) > 1:
            home = min(sorted(candidates), key=self.cost_of_home)
        elif all(state == home for state in path):
            # A path that never leaves home stays the best when leaving becomes dearer.
            return path, home
        return self.solve(home, AWAY), home

    def edge_states(self) -> list[int]:
        """The keys of which the first or the last chord is the tonic chord."""
        edges = ((self.first, OPENING), (self.last, CLOSING))
        return [state for chord, gain in edges for state in range(24) if _edge_cost(chord, state, gain)]

    def cost_of_home(self, home: int) -> float:
        """What a chart costs when a key is its home: the best path drawn towards it, less what speaks for the key."""
        cost = self.total(self.solve(home, DECLARED_AWAY), home, DECLARED_AWAY)
        return cost + _edge_cost(self.first, home, HOME_OPENS) + _edge_cost(self.last, home, HOME_CLOSES)

    def solve(self, home: int | None, away: float) -> list[int]:
        """The states of least total cost; ``away`` is what a chord outside ``home`` pays."""
        totals = [cost + _edge_cost(self.first, state, OPENING) for state, cost in enumerate(self.weighted[0])]
        steps: list[tuple[list[float], list[float]]] = []
        for index in range(len(self.weighted)):
            if index:
                fresh = self._arrivals(totals, self.places[index])
                steps.append((totals, fresh))
                totals = list(map(add, fresh, self.weighted[index]))
            if home is not None:
                totals[home] -= away * self.weights[index]  # the same as charging all others
        state = min(range(24), key=lambda state: totals[state] + _edge_cost(self.last, state, CLOSING))
        path = [state]
        for index in range(len(steps), 0, -1):
            before, fresh = steps[index - 1]
            if fresh[state] < before[state]:
                bases = [total + self.places[index] for total in before]
                state = min(range(24), key=lambda start: bases[start] + self.changes[start][state])
            path.append(state)
        return path[::-1]

    def _arrivals(self, totals: list[float], place: float) -> list[float]:
        """The least cost of arriving in each key before the next chord is counted."""
        # A start that is dearer than the best one by more than changes can differ is never worth leaving from.
        bound = min(totals) + self.spread
        leaving = []
        for start, total in enumerate(totals):
            if total <= bound:
                base = total + place
                leaving.append([base + change for change in self.changes[start]])
        return list(map(min, totals, *leaving))

    def total(self, path: Sequence[int], home: int | None, away: float) -> float:
        """What a path costs, added up step by step: the definition that ``solve`` minimises."""
        cost = _edge_cost(self.first, path[0], OPENING) + _edge_cost(self.last, path[-1], CLOSING)
        for index, state in enumerate(path):
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
    """``gain`` where the first or last chord is the tonic chord of its key."""
    is_tonic_chord = chord.root == state % 12 and chord.kind in ("m5" if state >= 12 else "TMD5")
    return gain if is_tonic_chord else 0.0


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
