"""Sequences: a figure repeated at once on other degrees.

An occurrence continues another when it begins on the note after its last without a rest as long as a bar, or on its
last note, and stands at another pitch than that one.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from corpus.match.changes import Change
from corpus.match.exact import Occurrence
from corpus.model import Transcription
from corpus.pitch import interval_name


def sequences(line: Transcription, found: Iterable[Occurrence]) -> Iterator[Occurrence]:
    """The sequences among the occurrences in one line, each as one occurrence, in order.

    Of chains that share occurrences the one that begins first and goes on longest is taken. The likeness is that of
    the least like.
    """
    remaining = sorted(found, key=lambda occurrence: (occurrence.first, -occurrence.likeness, occurrence.last))
    chains = _longest_chains(line, remaining)
    end = -1
    for number, begin in enumerate(remaining):
        if begin.first < end:
            continue
        chain = [remaining[index] for index in chains[number]]
        if len(chain) > 1:
            yield _whole(line, chain)
            end = chain[-1].last


def _longest_chains(line: Transcription, found: Sequence[Occurrence]) -> list[list[int]]:
    """The longest chain that begins with each occurrence, from the last to the first; of equal ones the earliest."""
    chains: list[list[int]] = [[] for _ in found]
    beginning: dict[int, list[int]] = {}
    for number in range(len(found) - 1, -1, -1):
        begin = found[number]
        best: list[int] = []
        for place in (begin.last, begin.last + 1):
            for other in reversed(beginning.get(place, [])):
                if len(chains[other]) > len(best) and _continues(line, begin, found[other]):
                    best = chains[other]
        chains[number] = [number, *best]
        beginning.setdefault(begin.first, []).append(number)
    return chains


def _continues(line: Transcription, begin: Occurrence, following: Occurrence) -> bool:
    if following.first not in (begin.last, begin.last + 1) or following.last <= begin.last:
        return False
    rest = line.notes[following.first].onset_ticks - line.notes[begin.last].end_ticks
    is_at_once = rest < line.bar_of(begin.last).meter.bar_ticks
    return is_at_once and _height(line, following) != _height(line, begin)


def _height(line: Transcription, occurrence: Occurrence) -> int:
    for height in (occurrence.moved, occurrence.transposed):
        if height is not None:
            return height
    return line.notes[occurrence.first].pitch or 0


def _whole(line: Transcription, chain: Sequence[Occurrence]) -> Occurrence:
    heights = [_height(line, occurrence) for occurrence in chain]
    steps = tuple(b - a for a, b in pairwise(heights))
    inner = tuple(change for occurrence in chain for change in occurrence.changes)
    return Occurrence(
        chain[0].first,
        chain[-1].last,
        chain[0].transposed,
        min(occurrence.likeness for occurrence in chain),
        (Change("sequence", amounts=steps, words=_words(steps)), *inner),
    )


def _words(steps: Sequence[int]) -> str:
    times = f"sequence: {len(steps) + 1} times"
    if len(set(steps)) == 1:
        return f"{times}, each {_step(steps[0])}"
    return f"{times}: {', then '.join(_step(step) for step in steps)}"


def _step(semitones: int) -> str:
    name = {1: "half-step", 2: "whole step"}.get(abs(semitones)) or interval_name(semitones)
    article = "" if name.startswith("an ") else "a "
    return f"{article}{name} {'higher' if semitones > 0 else 'lower'}"
