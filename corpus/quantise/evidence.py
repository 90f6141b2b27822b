"""What each beat says: how well groups of notes fit patterns, for every amount of swing.

Notes belong to beats in order; near a beat line a note may be a late one of the beat before or an early one of the
next, so a beat has several *groups* it might hold. ``evidence_of`` prices them all at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from corpus.quantise.patterns import BeatKind, Floats, Table, table_of

_ROWS_AT_ONCE: Final = 400
_OUTLIER_SHARE: Final = 0.02
_OUTLIER_TIMES: Final = 4.0
_OUTLIER_LEAST_MS: Final = 30.0
_WINDOW_DEVIATIONS: Final = 3.5
_GRACE_MS: Final = 90.0
_GRACE_SHARE: Final = 0.002
_SOFT_GRACE_SHARE: Final = 0.1
_SOFT: Final = 0.75
_MOST_GRACES: Final = 3
_MOST_MOVED: Final = 6
"""So many notes may belong to another beat than the one in which they were played: more than any pattern holds."""
_NEVER: Final = -1e30


@dataclass(frozen=True, slots=True)
class Beat:
    """A beat: where it starts and how long it is, in quarters; its kind; whether a bar begins with it.

    ``ms`` is its length in milliseconds at the tempo of the place.
    """

    start: float
    length: float
    kind: BeatKind
    starts_bar: bool
    ms: float


@dataclass(frozen=True, slots=True)
class Timing:
    """How the notes stray: standard deviation and mean lag behind the beat, in milliseconds."""

    deviation_ms: float = 20.0
    lag_ms: float = 0.0


@dataclass(frozen=True, slots=True)
class Group:
    """Notes ``first`` to ``last`` (excluded) in one beat, some of them grace notes."""

    beat: int
    first: int
    last: int
    struck: tuple[int, ...]
    grace_price: float


@dataclass(frozen=True, slots=True)
class Notes:
    """The played notes: onsets in quarters, strength (any unit), in order of time."""

    onsets: Floats
    strengths: Floats


@dataclass(frozen=True)
class Evidence:
    """All groups, the index range of notes that may open each beat, and the price of each group by swing.

    ``opening`` has the lowest and highest first note of each beat and, last, of the end. ``summed`` adds the patterns
    up, ``best`` takes the likeliest of them (both natural logarithms; axes group, amount of swing).
    """

    groups: list[Group]
    opening: list[tuple[int, int]]
    summed: Floats
    best: Floats


def evidence_of(notes: Notes, beats: Sequence[Beat], timing: Timing, long_parts: tuple[float, ...]) -> Evidence:
    """The evidence of every beat under a timing."""
    graces = _grace_prices(notes, beats)
    opening = _openings(notes, beats, timing, graces)
    groups: list[Group] = []
    for index in range(len(beats)):
        (low, high), (next_low, next_high) = opening[index], opening[index + 1]
        for first in range(low, high + 1):
            for last in range(max(first, next_low), next_high + 1):
                groups += _groups(index, first, last, graces)
    summed = np.full((len(groups), len(long_parts)), _NEVER)
    best = np.full_like(summed, _NEVER)
    by_size: dict[tuple[BeatKind, int], list[int]] = {}
    for place, group in enumerate(groups):
        by_size.setdefault((beats[group.beat].kind, len(group.struck)), []).append(place)
    for members in by_size.values():
        for start in range(0, len(members), _ROWS_AT_ONCE):
            rows = members[start : start + _ROWS_AT_ONCE]
            fits, _ = fits_of([groups[row] for row in rows], notes, beats, timing, long_parts)
            best[rows] = fits.max(axis=1)
            summed[rows] = _log_sum(fits, axis=1)
    return Evidence(groups, opening, summed, best)


def _openings(notes: Notes, beats: Sequence[Beat], timing: Timing, graces: dict[int, float]) -> list[tuple[int, int]]:
    """For each beat line, which notes may be the first one after it. Grace notes go with the note they lead to."""
    lag = [timing.lag_ms / beat.ms * beat.length for beat in beats]
    half = [min(max(_WINDOW_DEVIATIONS * timing.deviation_ms / beat.ms, 0.1), 0.45) * beat.length for beat in beats]
    starts = np.array([beat.start for beat in beats])
    low, middle, high = (
        np.maximum.accumulate(np.searchsorted(notes.onsets, starts + share * np.array(half) + lag))
        for share in (-1, 0, 1)
    )
    # Groups grow with the square of what may open a beat: where notes stand this close, the nearest will do.
    low, high = np.maximum(low, middle - _MOST_MOVED), np.minimum(high, middle + _MOST_MOVED)
    found = [(_with_graces(int(a), graces), int(b)) for a, b in zip(low, high, strict=True)]
    return [(0, 0), *found[1:], (len(notes.onsets), len(notes.onsets))]


def _with_graces(index: int, graces: dict[int, float]) -> int:
    for _ in range(_MOST_GRACES):
        index -= index - 1 in graces
    return index


def _grace_prices(notes: Notes, beats: Sequence[Beat]) -> dict[int, float]:
    """For each note so close before another that it may be a grace note: the price of that, as a density."""
    if len(notes.onsets) < 2:
        return {}
    starts = [beat.start for beat in beats]
    places = np.clip(np.searchsorted(starts, notes.onsets[:-1], side="right") - 1, 0, None)
    ms_a_quarter = np.array([beats[int(place)].ms / beats[int(place)].length for place in places])
    gaps = np.diff(notes.onsets) * ms_a_quarter
    found: dict[int, float] = {}
    for index in np.flatnonzero(gaps <= _GRACE_MS):
        beat = beats[int(places[index])]
        is_soft = notes.strengths[index] <= _SOFT * notes.strengths[index + 1]
        share = _SOFT_GRACE_SHARE if is_soft else _GRACE_SHARE
        found[int(index)] = float(np.log(share * beat.ms / _GRACE_MS))
    return found


def _groups(beat: int, first: int, last: int, graces: dict[int, float]) -> list[Group]:
    inside = [index for index in range(first, last - 1) if index in graces][:_MOST_GRACES]
    subsets = chain.from_iterable(combinations(inside, size) for size in range(len(inside) + 1))
    return [
        Group(
            beat,
            first,
            last,
            _without(first, last, subset),
            sum(graces[index] for index in subset),
        )
        for subset in subsets
    ]


def _without(first: int, last: int, subset: Sequence[int]) -> tuple[int, ...]:
    """The numbers from ``first`` to ``last`` (excluded) but those of a subset, which is in order."""
    kept: list[int] = []
    for index in subset:
        kept += range(first, index)
        first = index + 1
    return (*kept, *range(first, last))


def fits_of(
    groups: Sequence[Group], notes: Notes, beats: Sequence[Beat], timing: Timing, long_parts: tuple[float, ...]
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """How well groups of one kind of beat and one size fit its patterns; axes group, pattern, amount of swing.

    Each note strays normally around its place; a small share of outliers strays far. The second array says where a
    pattern is rather played evenly than with the swing.
    """
    count = len(groups[0].struck)
    table = table_of(beats[groups[0].beat].kind, count, long_parts)
    extra = np.array([group.grace_price for group in groups])
    fits = np.broadcast_to(table.prices[None, :, None], (len(groups), len(table.prices), len(long_parts)))
    fits = fits + extra[:, None, None]
    if not count:
        return _by_pattern(fits, table)
    ms = np.array([beats[group.beat].ms for group in groups])
    starts = np.array([beats[group.beat].start for group in groups])
    lengths = np.array([beats[group.beat].length for group in groups])
    onsets = notes.onsets[np.array([group.struck for group in groups])]
    played = (onsets - starts[:, None]) / lengths[:, None] - (timing.lag_ms / ms)[:, None]
    deviation = (timing.deviation_ms / ms)[:, None, None]
    wide = np.maximum(_OUTLIER_TIMES * deviation, _OUTLIER_LEAST_MS / ms[:, None, None])
    scale = np.log(np.sqrt(2 * np.pi) * deviation)
    wide_scale = np.log(np.sqrt(2 * np.pi) * wide) - np.log(_OUTLIER_SHARE)
    for note in range(count):
        square = (played[:, note, None, None] - table.places[None, :, :, note]) ** 2
        # The larger of the two densities stands for their sum: it is never off by more than log 2.
        fits += np.maximum(-square / (2 * deviation**2) - scale, -square / (2 * wide**2) - wide_scale)
    return _by_pattern(fits, table)


def _by_pattern(rows: Floats, table: Table) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """The rows of a table added up by pattern, and where the even way is the likelier one."""
    count = len(table.patterns)
    fits = rows[:, :count].copy()
    is_even = np.zeros(fits.shape, dtype=np.bool_)
    is_even[:, table.evenly] = rows[:, count:] > fits[:, table.evenly]
    fits[:, table.evenly] = np.logaddexp(fits[:, table.evenly], rows[:, count:])
    return fits, is_even


def _log_sum(values: Floats, axis: int) -> Floats:
    top = values.max(axis=axis, keepdims=True)
    total: Floats = np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis)
    return total
