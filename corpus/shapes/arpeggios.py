"""Arpeggios: of the written chord, and of another one."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from itertools import groupby, pairwise
from operator import or_
from typing import Final

from corpus.harmony.roles import degree_in
from corpus.pitch import SpelledPitch
from corpus.shapes.shape import Shape
from corpus.shapes.strokes import NO_METER, Ready, Region, Stroke

_CHORDS: Final = {
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "dim": (0, 3, 6),
    "aug": (0, 4, 8),
    "maj7": (0, 4, 7, 11),
    "7": (0, 4, 7, 10),
    "m7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
    "m(maj7)": (0, 3, 7, 11),
    "7#5": (0, 4, 8, 10),
    "maj7#5": (0, 4, 8, 11),
    "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9),
    "maj9": (0, 2, 4, 7, 11),
    "9": (0, 2, 4, 7, 10),
    "m9": (0, 2, 3, 7, 10),
    "7b9": (0, 1, 4, 7, 10),
}
"""Chords that are told by their notes: suffix and tones in semitones above the root (common practice, no source)."""

_RARE: Final = frozenset({"aug", "7#5", "maj7#5", "m(maj7)", "7b9"})
"""Chords that other notes make by chance: their spelling must agree."""

_LARGEST_OWN: Final = 5
_DEGREES_TOLD: Final = 8


@dataclass(frozen=True, slots=True)
class Arpeggio:
    """Strokes of one chord. ``root`` and ``suffix`` name the chord that they spell.

    ``own`` is the written chord when all of them belong to it; ``over`` the written chords.
    """

    strokes: tuple[Stroke, ...]
    root: SpelledPitch
    suffix: str
    own: Region | None
    over: tuple[Region, ...]

    @property
    def chord(self) -> str:
        """The chord of which it is an arpeggio."""
        return f"{self.root}{self.suffix}" if self.own is None else self.own.symbol.canonical


@cache
def _named() -> dict[int, tuple[tuple[int, str], ...]]:
    """The chords (root, suffix) that a set of pitch classes, bit by bit, is complete for."""
    found: dict[int, list[tuple[int, str]]] = {}
    for suffix, tones in _CHORDS.items():
        for root in range(12):
            found.setdefault(sum(1 << (root + tone) % 12 for tone in tones), []).append((root, suffix))
    return {bits: tuple(chords) for bits, chords in found.items()}


@cache
def _can_become() -> frozenset[int]:
    """The sets of pitch classes that are part of a chord."""
    found: set[int] = set()
    for bits in _named():
        part = bits
        while part:
            found.add(part)
            part = (part - 1) & bits
    return frozenset(found)


def arpeggios(line: Ready) -> Iterator[Shape]:
    """The arpeggios of a line, those of the written chord preferred where stretches compete for notes."""
    for phrase in line.phrases:
        found = _arpeggios_in(phrase, line)
        yield from map(_shape, found)
        yield from _between(found)


def _arpeggios_in(phrase: Sequence[Stroke], line: Ready) -> list[Arpeggio]:
    """No note belongs to two: stretches take their notes one after the other, the best first."""
    own = [(start, end) for start, end in _own_stretches(phrase, line) if end - start >= 3] if line.regions else []
    stretches = [(0, start - end, start, end) for start, end in _triads_between(phrase, line)]
    stretches += [(1, start - end, start, end) for start, end in own]
    stretches += [
        (1 if _holds(start, end, own, phrase) else 2, start - end, start, end)
        for start, end in _stretches(phrase, line)
        if end - start >= 3
    ]
    bits, named = [1 << stroke.pitch % 12 for stroke in phrase], _named()
    # What is complete within a longest stretch that is not. Most is told by its notes to be no chord.
    stretches += [(3, -4, start, start + 4) for start in _leaping(phrase, 4)]
    stretches += [
        (3, -3, start, start + 3)
        for start in _leaping(phrase, 3)
        if bits[start] | bits[start + 1] | bits[start + 2] in named
    ]
    taken = [False] * len(phrase)
    found: list[Arpeggio] = []
    for _, _, start, end in sorted(stretches):
        for low, high in _free(taken, start, end):
            for first, last in ((low, high), *_by_chord(phrase, low, high)):
                if reduce(or_, bits[first:last], 0) not in named or True in taken[first:last]:
                    continue
                arpeggio = _arpeggio(phrase[first:last], line)
                if arpeggio is not None:
                    found.append(arpeggio)
                    taken[first:last] = [True] * (last - first)
    return sorted(found, key=lambda arpeggio: arpeggio.strokes[0].first)


def _leaping(phrase: Sequence[Stroke], size: int) -> Iterator[int]:
    """Where so many notes begin that go by leaps alone."""
    leaps = 0
    for index in range(1, len(phrase)):
        leaps = leaps + 1 if abs(phrase[index].pitch - phrase[index - 1].pitch) > 2 else 0
        if leaps >= size - 1:
            yield index - size + 1


def _holds(start: int, end: int, own: Sequence[tuple[int, int]], phrase: Sequence[Stroke]) -> bool:
    """Whether a stretch adds to one of the written chord: E G Bb D over C7 is one arpeggio."""
    index = bisect_left(own, (start, 0))
    is_one_chord = end > start and phrase[start].region == phrase[end - 1].region
    return is_one_chord and index < len(own) and own[index][1] <= end


def _by_chord(phrase: Sequence[Stroke], start: int, end: int) -> Iterator[tuple[int, int]]:
    """The parts of a stretch over one chord each, where it has several."""
    if len({stroke.region for stroke in phrase[start:end]}) == 1:
        return
    place = start
    for _, group in groupby(stroke.region for stroke in phrase[start:end]):
        length = len(list(group))
        yield place, place + length
        place += length


def _triads_between(phrase: Sequence[Stroke], line: Ready) -> Iterator[tuple[int, int]]:
    """Three triads of three notes over one chord, of which the middle one stands a step above the chord's root."""
    for start in range(len(phrase) - 8 if line.regions else 0):
        parts = [phrase[start + offset : start + offset + 3] for offset in (0, 3, 6)]
        region = line.chord(phrase[start])
        if region is None or not all(_is_close(part) for part in parts):
            continue
        before, middle, after = (_arpeggio(part, line) for part in parts)
        if _is_between(before, middle, after):
            yield from ((start + offset, start + offset + 3) for offset in (0, 3, 6))


def _free(taken: Sequence[bool], start: int, end: int) -> Iterator[tuple[int, int]]:
    """The parts of a stretch whose notes nothing has taken."""
    if start < end and True not in taken[start:end]:
        yield start, end
        return
    place = start
    for is_taken, group in groupby(taken[start:end]):
        length = len(list(group))
        if not is_taken:
            yield place, place + length
        place += length


def _own_stretches(phrase: Sequence[Stroke], line: Ready) -> Iterator[tuple[int, int]]:
    """Stretches of tones of the written chord; at most every fourth movement is a step (from seventh to root)."""
    start = steps = 0
    for index, stroke in enumerate(phrase):
        region = line.chord(stroke)
        belongs = region is not None and _is_tone(stroke, region)
        if not belongs:
            yield start, index
            start, steps = index + 1, 0
            continue
        if index > start:
            step = abs(stroke.pitch - phrase[index - 1].pitch) <= 2
            if stroke.region != phrase[start].region or (step and 4 * (steps + 1) > index - start + 1):
                yield start, index
                start, steps = index, 0
            else:
                steps += step
    yield start, len(phrase)


def _is_tone(stroke: Stroke, region: Region) -> bool:
    tones = region.symbol.tones
    if len(tones) > _LARGEST_OWN:
        tones = tuple(tone for tone in tones if tone not in (1, 2, 5, 9))
    return (stroke.pitch - region.root_pitch_class) % 12 in tones


def _stretches(phrase: Sequence[Stroke], line: Ready) -> Iterator[tuple[int, int]]:
    """Longest stretches without steps whose pitch classes are all part of one chord."""
    bits = [1 << stroke.pitch % 12 for stroke in phrase]
    grows = _can_become()
    start = 0
    counts = [0] * 12
    mask = 0
    for end in range(len(phrase)):
        if end and abs(phrase[end].pitch - phrase[end - 1].pitch) <= 2:
            yield start, end
            start, counts, mask = end, [0] * 12, 0
        if mask | bits[end] not in grows:
            yield start, end
        while mask | bits[end] not in grows:
            pitch_class = phrase[start].pitch % 12
            counts[pitch_class] -= 1
            mask &= ~(0 if counts[pitch_class] else bits[start])
            start += 1
        counts[phrase[end].pitch % 12] += 1
        mask |= bits[end]
    yield start, len(phrase)


def _arpeggio(strokes: Sequence[Stroke], line: Ready) -> Arpeggio | None:
    """The strokes as an arpeggio, None when they are none.

    Three notes must be a triad in close position in one direction, over one chord or from the first beat of a bar;
    one that is not the written chord's must be spelled as a triad (Eb B G# over Cm7 only leads to A). Four or more
    must have at least the tones of a triad, and go in one direction where the chord changes under them.
    """
    if len(strokes) < 3:
        return None
    chords = _named().get(reduce(or_, (1 << stroke.pitch % 12 for stroke in strokes)))
    if chords is None:
        return None
    regions = tuple(line.regions[index] for index, _ in groupby(s.region for s in strokes) if index is not None)
    is_one = len({stroke.region for stroke in strokes}) == 1
    if len(strokes) == 3 and not (_is_close(strokes) and (is_one or strokes[0].strength == 3)):
        return None
    if not is_one and not _goes_one_way(strokes):
        return None
    root, suffix = _read(chords, strokes, regions)
    name = next(stroke.name for stroke in strokes if stroke.pitch % 12 == root)
    is_own = len(regions) == 1 and all(_is_tone(stroke, regions[0]) for stroke in strokes)
    if len(strokes) == 3 and regions and not is_own and not _is_in_thirds(strokes, name):
        return None
    if suffix in _RARE and not is_own and not _is_spelled(strokes):
        return None
    return Arpeggio(tuple(strokes), name, suffix, regions[0] if is_own else None, regions)


def _is_close(strokes: Sequence[Stroke]) -> bool:
    leaps = [after.pitch - before.pitch for before, after in pairwise(strokes)]
    return all(3 <= leap <= 5 for leap in leaps) or all(-5 <= leap <= -3 for leap in leaps)


def _is_spelled(strokes: Sequence[Stroke]) -> bool:
    """Whether every note has a letter of its own (F and F# belong to no one chord)."""
    letters = {stroke.position % 7 for stroke in strokes}
    return strokes[0].strength == NO_METER or len(letters) == len({stroke.pitch % 12 for stroke in strokes})


def _is_in_thirds(strokes: Sequence[Stroke], root: SpelledPitch) -> bool:
    return {(stroke.position - root.letter) % 7 for stroke in strokes} == {0, 2, 4}


def _goes_one_way(strokes: Sequence[Stroke]) -> bool:
    return len({after.pitch > before.pitch for before, after in pairwise(strokes)}) == 1


def _read(chords: Sequence[tuple[int, str]], strokes: Sequence[Stroke], regions: Sequence[Region]) -> tuple[int, str]:
    """Which of the chords with the same notes is meant: the written one's root, else the lowest note's, else a seventh.

    A6 and F#m7 have the same notes, as have the turns of diminished sevenths and augmented triads.
    """
    written = {region.root_pitch_class for region in regions}
    lowest = min(stroke.pitch for stroke in strokes) % 12
    return min(
        chords,
        key=lambda chord: (
            chord[0] not in written,
            chord[0] != lowest,
            chord[1] in ("6", "m6"),
            (chord[0] - lowest) % 12,
        ),
    )


def _shape(arpeggio: Arpeggio) -> Shape:
    strokes, over = arpeggio.strokes, list(dict.fromkeys(region.symbol.canonical for region in arpeggio.over))
    words = f"arpeggio of {arpeggio.chord}"
    if over and arpeggio.own is None:
        words += f" over {' '.join(over)}"
    degrees = _degrees(arpeggio)
    if degrees:
        words += f": {' '.join(degrees[:_DEGREES_TOLD])}{' …' if len(degrees) > _DEGREES_TOLD else ''}"
    details = {
        "chord": arpeggio.chord,
        "spelled": f"{arpeggio.root}{arpeggio.suffix}",
        "over": over,
        "own": arpeggio.own is not None,
        "quality": arpeggio.suffix,
        "on": _degree(arpeggio, arpeggio.root.pitch_class) if degrees else None,
        "degrees": degrees,
    }
    return Shape("arpeggio", strokes[0].first, strokes[-1].last, words, details)


def _degrees(arpeggio: Arpeggio) -> list[str]:
    """The notes as degrees of the one written chord; none over several."""
    if len(arpeggio.over) != 1:
        return []
    return [_degree(arpeggio, stroke.pitch) for stroke in arpeggio.strokes]


def _degree(arpeggio: Arpeggio, pitch: int) -> str:
    """A pitch as a degree of the first written chord."""
    region = arpeggio.over[0]
    return degree_in(region.symbol, (pitch - region.root_pitch_class) % 12)


def _is_between(before: Arpeggio | None, middle: Arpeggio | None, after: Arpeggio | None) -> bool:
    """Whether a triad a step above the chord's root stands between two arpeggios of the chord, all joined."""
    if before is None or middle is None or after is None or before.own is None or after.own is None:
        return False
    joined = middle.strokes[0].first == before.strokes[-1].last + 1
    joined &= after.strokes[0].first == middle.strokes[-1].last + 1
    same = before.own.symbol.canonical == after.own.symbol.canonical and middle.own is None and len(middle.over) == 1
    above = (middle.root.pitch_class - before.own.root_pitch_class) % 12
    return joined and same and above in (1, 2) and middle.suffix in ("", "m", "dim", "aug")


def _between(found: Sequence[Arpeggio]) -> Iterator[Shape]:
    """Each triad a step above the root between two arpeggios of the chord, as one shape."""
    for before, middle, after in zip(found, found[1:], found[2:], strict=False):
        if not _is_between(before, middle, after) or before.own is None:
            continue
        is_half = (middle.root.pitch_class - before.own.root_pitch_class) % 12 == 1
        yield Shape(
            "arpeggio",
            before.strokes[0].first,
            after.strokes[-1].last,
            f"{middle.chord} triad, a {'half-step' if is_half else 'step'} above the root,"
            f" between two arpeggios of {before.chord}",
            {
                "chord": before.chord,
                "between": middle.chord,
                "over": [before.chord],
                "own": False,
                "parts": [[part.strokes[0].first, part.strokes[-1].last] for part in (before, middle, after)],
            },
        )
