"""The best reading of a whole line, and how sure it is: dynamic programming over beats.

The hidden state at a beat line is which note comes next and how eighths are swung; swing changes at bar lines only, and
rarely. ``best_path`` is Viterbi's algorithm (1967), ``surenesses`` the forward-backward algorithm; both as Rabiner
tells them (*Proceedings of the IEEE* 77(2), 1989; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from corpus.quantise.evidence import Beat, Evidence
from corpus.quantise.patterns import Floats

_CHANGE: Final = 0.02
"""How likely swing is to change at a bar line."""
_STRAIGHT: Final = 0.2
"""How likely straight eighths are before anything is heard; the other amounts of swing share the rest."""
_NEVER: Final = -1e30
Indexes = npt.NDArray[np.intp]


def swing_prior(long_parts: Sequence[float]) -> Floats:
    """The logarithms of how likely each amount of swing is before anything is heard."""
    if len(long_parts) == 1:
        return np.zeros(1)
    shares = np.full(len(long_parts), (1 - _STRAIGHT) / (len(long_parts) - 1))
    shares[0] = _STRAIGHT
    logs: Floats = np.log(shares)
    return logs


@dataclass(frozen=True)
class Step:
    """One beat: prices by first note, note after the last, and swing; which group is behind each best price."""

    low: int
    next_low: int
    best: Floats
    summed: Floats
    members: dict[tuple[int, int], list[int]]


@dataclass(frozen=True, slots=True)
class Chosen:
    """The group that a beat holds, and the amount of swing there (an index)."""

    group: int
    swing: int


def steps_of(evidence: Evidence, beats: Sequence[Beat], amounts: int) -> list[Step]:
    """The beats' prices, laid out for the two algorithms."""
    steps: list[Step] = []
    for index in range(len(beats)):
        (low, high), (next_low, next_high) = evidence.opening[index], evidence.opening[index + 1]
        shape = (high - low + 1, next_high - next_low + 1, amounts)
        steps.append(Step(low, next_low, np.full(shape, _NEVER), np.full(shape, _NEVER), {}))
    for place, group in enumerate(evidence.groups):
        step = steps[group.beat]
        at = group.first - step.low, group.last - step.next_low
        step.best[at] = np.maximum(step.best[at], evidence.best[place])
        step.summed[at] = np.logaddexp(step.summed[at], evidence.summed[place])
        step.members.setdefault(at, []).append(place)
    return steps


def best_path(
    steps: Sequence[Step], evidence: Evidence, beats: Sequence[Beat], long_parts: Sequence[float]
) -> list[Chosen]:
    """The group and swing of every beat on the likeliest path."""
    prior = swing_prior(long_parts)
    state = prior[None, :]
    from_first: list[Indexes] = []
    from_swing: list[Indexes] = []
    for step, beat in zip(steps, beats, strict=True):
        state, jumped = _changed(state, prior) if beat.starts_bar else (state, None)
        totals = state[:, None, :] + step.best
        first = totals.argmax(axis=0)
        state = totals.max(axis=0)
        from_first.append(first)
        from_swing.append(jumped if jumped is not None else np.zeros((0, 0), dtype=np.intp))
    last, swing = 0, int(state[0].argmax())
    chosen: list[Chosen] = []
    for index in range(len(beats) - 1, -1, -1):
        step = steps[index]
        first = int(from_first[index][last, swing])
        place = max(step.members[first, last], key=lambda one: float(evidence.best[one, swing]))
        chosen.append(Chosen(place, swing))
        if from_swing[index].size:
            swing = int(from_swing[index][first, swing])
        last = first
    return chosen[::-1]


def _changed(state: Floats, prior: Floats) -> tuple[Floats, Indexes]:
    """A state after a bar line, and from which swing each one came."""
    stay = state + np.log1p(-_CHANGE)
    best = state.argmax(axis=1)
    jump = state.max(axis=1, keepdims=True) + np.log(_CHANGE) + prior
    own = np.arange(state.shape[1])[None, :]
    return np.maximum(stay, jump), np.where(stay >= jump, own, best[:, None])


def _log_sum(values: Floats, axis: int | tuple[int, ...]) -> Floats:
    top = values.max(axis=axis, keepdims=True)
    total: Floats = np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis)
    return total


def _mixed(state: Floats, prior: Floats) -> Floats:
    jump = _log_sum(state, 1)[:, None] + np.log(_CHANGE) + prior
    mixed: Floats = np.logaddexp(state + np.log1p(-_CHANGE), jump)
    return mixed


def _mixed_back(state: Floats, prior: Floats) -> Floats:
    jump = _log_sum(state + prior, 1)[:, None] + np.log(_CHANGE)
    mixed: Floats = np.logaddexp(state + np.log1p(-_CHANGE), jump)
    return mixed


def surenesses(
    steps: Sequence[Step],
    evidence: Evidence,
    beats: Sequence[Beat],
    path: Sequence[Chosen],
    long_parts: Sequence[float],
) -> list[float]:
    """How sure each beat of a path is, 0 to 1: its group among all ways to divide the notes, its pattern within it."""
    found: list[float] = []
    for step, joint, chosen in zip(steps, _group_shares(steps, beats, swing_prior(long_parts)), path, strict=True):
        group = evidence.groups[chosen.group]
        at = group.first - step.low, group.last - step.next_low
        within = float(np.exp(evidence.best[chosen.group, chosen.swing] - step.summed[*at, chosen.swing]))
        found.append(float(joint[at]) * min(within, 1.0))
    return found


def _group_shares(steps: Sequence[Step], beats: Sequence[Beat], prior: Floats) -> list[Floats]:
    """For each beat, how likely each pair of first note and note after the last is, all else summed up."""
    forward: list[Floats] = []
    state: Floats = prior[None, :]
    for step, beat in zip(steps, beats, strict=True):
        state = _mixed(state, prior) if beat.starts_bar else state
        forward.append(state)
        state = _log_sum(state[:, None, :] + step.summed, 0)
    whole = float(_log_sum(state, (0, 1)))
    found: list[Floats] = []
    after: Floats = np.zeros_like(state)
    for step, beat, before in zip(reversed(steps), reversed(beats), reversed(forward), strict=True):
        joint = before[:, None, :] + step.summed + after[None, :, :]
        found.append(np.exp(_log_sum(joint, 2) - whole))
        after = _log_sum(step.summed + after[None, :, :], 1)
        after = _mixed_back(after, prior) if beat.starts_bar else after
    return found[::-1]
