"""Shapes that stand on chords and beats: enclosures, pedals, root-only stretches, 5-1 cadences."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Final

from corpus.harmony.modes import MODE_STEPS
from corpus.harmony.roles import degree_in, scale_of_the_moment
from corpus.harmony.symbols import Family
from corpus.shapes.shape import Shape
from corpus.shapes.strokes import NO_METER, Ready, Region, Stroke

_STRONG: Final = 2
_GOALS: Final = frozenset({"1", "3", "b3"})
_FEWEST_STRIKES: Final = 4
_LEADING: Final = frozenset({Family.DOMINANT, Family.SUSPENDED, Family.MAJOR, Family.AUGMENTED})


def enclosures(line: Ready) -> Iterator[Shape]:
    """A strong chord tone that two weaker notes close in on, one above and one below, one of them a half-step away.

    One side may take two notes that follow each other by half-step.
    """
    for phrase in line.phrases:
        for index in range(2, len(phrase)):
            first, second, target = phrase[index - 2 : index + 1]
            far, near = first.pitch - target.pitch, second.pitch - target.pitch
            if far * near >= 0 or max(abs(far), abs(near)) > 2 or 1 not in (abs(far), abs(near)):
                continue
            if not _is_target(target, (first, second), line):
                continue
            before = phrase[index - 3] if index >= 3 else None
            double = before is not None and abs(far) == 1 and before.pitch - target.pitch == 2 * far
            start = before if before is not None and double else first
            way = "above and below" if far > 0 else "below and above"
            region = line.chord(target)
            words = f"enclosure of {target.name} from {way}"
            if region is not None:
                words += f" (the {_degree(target, region)} of {region.symbol.canonical})"
            yield Shape(
                "enclosure",
                start.first,
                target.first,
                words,
                {
                    "target": str(target.name),
                    "approach": [far, near] if start is first else [2 * far, far, near],
                    "degree": None if region is None else _degree(target, region),
                },
            )


def _degree(stroke: Stroke, region: Region) -> str:
    return degree_in(region.symbol, _semitones(stroke, region))


def _semitones(stroke: Stroke, region: Region) -> int:
    return (stroke.pitch - region.root_pitch_class) % 12


def _is_target(target: Stroke, closing_in: Sequence[Stroke], line: Ready) -> bool:
    """Whether a note is strong, stronger than what leads to it, and worth the trouble.

    Worth it is any chord tone when a note before it is outside the scale, and root and third anyhow. Where no chord is
    known, the key's scale tells what is outside; where no key is known either, both notes must be a half-step away.
    """
    first, second = closing_in
    if target.strength != NO_METER and not (
        target.strength >= _STRONG and first.strength <= target.strength and second.strength < target.strength
    ):
        return False
    region = line.chord(target)
    outside = [_is_outside(note, line) for note in closing_in]
    if region is not None:
        is_tone = _semitones(target, region) in region.symbol.tones
        return is_tone and (any(outside) or _degree(target, region) in _GOALS)
    if None in outside:
        return abs(first.pitch - target.pitch) == abs(second.pitch - target.pitch) == 1
    return any(outside) and not _is_outside(target, line)


def _is_outside(stroke: Stroke, line: Ready) -> bool | None:
    """Whether a note is outside the scale of its chord, else of the key; None where there is neither."""
    region = line.chord(stroke)
    if region is not None:
        return stroke.pitch % 12 not in scale_of_the_moment(region.symbol, region.key)
    if line.key is None or line.key.mode not in MODE_STEPS:
        return None
    return (stroke.pitch - line.key.tonic_pitch_class) % 12 not in MODE_STEPS[line.key.mode]


def pedals(line: Ready) -> Iterator[Shape]:
    """One pitch class, in whatever octave, held or struck while chords change, or for two bars."""
    for passage in line.passages:
        for run in _stretches(passage, lambda before, after: (after.pitch - before.pitch) % 12 == 0):
            shape = _pedal(run, line)
            if shape is not None:
                yield shape


def _stretches(passage: Sequence[Stroke], joins: Callable[[Stroke, Stroke], bool]) -> Iterator[Sequence[Stroke]]:
    start = 0
    for index in range(1, len(passage) + 1):
        if index == len(passage) or not joins(passage[index - 1], passage[index]):
            yield passage[start:index]
            start = index


def _pedal(run: Sequence[Stroke], line: Ready) -> Shape | None:
    """A stretch of one pitch class as a pedal, None when it is none.

    It lasts two bars or more, or one bar or more over two changes of chord, in at least four strikes, or held over a
    change; and it is no stretch of roots alone.
    """
    strikes = run[-1].last - run[0].first + 1
    onset, end = run[0].onset_ticks, run[-1].end_ticks
    if end - onset < line.bar_ticks or (strikes < _FEWEST_STRIKES and not line.regions):
        return None
    regions = line.regions[slice(*_regions_between(line, onset, end))]
    pitch_class = run[0].pitch % 12
    if regions and all(region.root_pitch_class == pitch_class for region in regions):
        return None
    if line.bar_ticks == 0:
        lasts = strikes >= _FEWEST_STRIKES
    else:
        bars = (end - onset) / line.bar_ticks
        lasts = bars >= 2 and (strikes >= _FEWEST_STRIKES or len(regions) > 1)
        lasts |= bars >= 1 and strikes >= _FEWEST_STRIKES and len(regions) > 2
    if not lasts:
        return None
    key = next((region.key for region in regions), line.key)
    name = {0: "tonic pedal", 7: "dominant pedal"}.get(
        -1 if key is None else (pitch_class - key.tonic_pitch_class) % 12, "pedal"
    )
    words = f"{name} on {run[0].name}"
    if regions:
        chords = list(dict.fromkeys(region.symbol.canonical for region in regions))
        words += f" under {' '.join(chords[:4])}{' …' if len(chords) > 4 else ''}"
    return Shape("pedal", run[0].first, run[-1].last, words, {"note": str(run[0].name), "strikes": strikes})


def _regions_between(line: Ready, onset: int, end: int) -> tuple[int, int]:
    low = bisect_right(line.regions, onset, key=lambda region: region.end_ticks)
    return low, bisect_left(line.regions, end, key=lambda region: region.onset_ticks)


def root_stretches(line: Ready) -> Iterator[Shape]:
    """Four notes and more, over two bars and more, that are all the root of their chord, or its written bass."""

    def is_root(stroke: Stroke) -> bool:
        region = line.chord(stroke)
        return region is not None and stroke.pitch % 12 in (region.root_pitch_class, region.symbol.bass_pitch_class)

    for passage in line.passages if line.regions else ():
        for run in _stretches(passage, lambda before, after: is_root(before) and is_root(after)):
            strikes = run[-1].last - run[0].first + 1
            long_enough = line.bar_ticks and run[-1].end_ticks - run[0].onset_ticks >= 2 * line.bar_ticks
            if not is_root(run[0]) or strikes < _FEWEST_STRIKES or not long_enough:
                continue
            chords = list(dict.fromkeys(line.regions[s.region].symbol.canonical for s in run if s.region is not None))
            words = f"roots only: {' '.join(chords[:6])}{' …' if len(chords) > 6 else ''}"
            yield Shape("root-only stretch", run[0].first, run[-1].last, words, {"chords": chords})


def cadences(line: Ready) -> Iterator[Shape]:
    """The root of a dominant as its last note, then the root of the chord a fourth up as its first: 5 and 1."""
    for passage in line.passages:
        for before, after in pairwise(passage):
            if before.region is None or after.region != before.region + 1:
                continue
            five, one = line.regions[before.region], line.regions[after.region]
            leads = five.symbol.family in _LEADING and (one.root_pitch_class - five.root_pitch_class) % 12 == 5
            if not leads or before.pitch % 12 != five.root_pitch_class or after.pitch % 12 != one.root_pitch_class:
                continue
            is_home = one.key is not None and one.key.tonic_pitch_class == one.root_pitch_class
            if five.symbol.family is Family.MAJOR and not is_home:
                continue
            goal = f"in {one.key}" if is_home else f"to {one.symbol.canonical}"
            yield Shape(
                "5-1 cadence",
                before.first,
                after.first,
                f"5-1 cadence {goal}: {before.name} {after.name}",
                {"chords": [five.symbol.canonical, one.symbol.canonical], "home": is_home},
            )
