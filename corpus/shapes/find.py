"""All shapes of a line, in a stretch of it, or of a figure that is known by its intervals alone."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate

from corpus.harmony.analysis import analyse
from corpus.harmony.roles import Harmony
from corpus.model import Transcription
from corpus.pitch import default_spelling, parse_spelling
from corpus.shapes.arpeggios import arpeggios
from corpus.shapes.cycles import interval_cycles
from corpus.shapes.grounded import cadences, enclosures, pedals, root_stretches
from corpus.shapes.repeated import doubled_notes, octave_calls, sequences
from corpus.shapes.shape import KINDS, Kind, Shape
from corpus.shapes.stepwise import stepwise_runs
from corpus.shapes.strokes import NO_METER, Ready, Stroke, ready

_FINDERS = (
    stepwise_runs,
    interval_cycles,
    arpeggios,
    enclosures,
    doubled_notes,
    sequences,
    octave_calls,
    pedals,
    root_stretches,
    cadences,
)


def shapes_of(transcription: Transcription, harmony: Sequence[Harmony] | None = None) -> list[Shape]:
    """The shapes of a line in order of their first notes, the longer first.

    ``harmony`` are its chords in order of time, as ``corpus.harmony.analysis.analyse`` gives them, which is asked
    when it is None. Cost: near linear in notes.
    """
    spans = analyse(transcription).spans if harmony is None else harmony
    return _shapes(ready(transcription, spans))


def _shapes(line: Ready) -> list[Shape]:
    found = [shape for finder in _FINDERS for shape in finder(line)]
    kept = [shape for kind in KINDS for shape in _outer(shape for shape in found if shape.kind == kind)]
    cycles = [shape for shape in kept if shape.kind == "interval cycle"]
    # A run of thirds names its chord itself.
    spoken_for = set(_inside((shape for shape in kept if shape.kind == "arpeggio"), cycles))
    kept = [shape for shape in kept if (shape.kind, shape.first, shape.last) not in spoken_for]
    return sorted(kept, key=lambda shape: (shape.first, -shape.last, KINDS.index(shape.kind)))


def _outer(shapes: Iterable[Shape]) -> Iterator[Shape]:
    """Shapes of one kind without those that lie within another."""
    furthest = -1
    for shape in sorted(shapes, key=lambda shape: (shape.first, -shape.last)):
        if shape.last > furthest:
            furthest = shape.last
            yield shape


def _inside(shapes: Iterable[Shape], wider: Sequence[Shape]) -> Iterator[tuple[Kind, int, int]]:
    """Which shapes lie within one of others that are in order and not within each other."""
    place = 0
    for shape in sorted(shapes, key=lambda shape: shape.first):
        while place < len(wider) and wider[place].last < shape.last:
            place += 1
        if place < len(wider) and wider[place].first <= shape.first:
            yield shape.kind, shape.first, shape.last


def shapes_in(shapes: Iterable[Shape], first: int, last: int) -> list[Shape]:
    """What notes ``first`` to ``last`` can be called: shapes that lie within them or hold them all, longest first."""
    fits = [
        shape
        for shape in shapes
        if (first <= shape.first and shape.last <= last) or (shape.first <= first and last <= shape.last)
    ]
    return sorted(fits, key=lambda shape: (-min(shape.notes, last - first + 1), shape.first, KINDS.index(shape.kind)))


def shape_density(shapes: Iterable[Shape], notes: int) -> Mapping[Kind, float]:
    """The share of ``notes`` notes that shapes of each kind cover, 0 to 1, for all kinds.

    A note that two shapes of one kind share counts once. All shares are 0 for no notes.
    """
    covered: dict[Kind, int] = dict.fromkeys(KINDS, 0)
    reached: dict[Kind, int] = dict.fromkeys(KINDS, -1)
    for shape in sorted(shapes, key=lambda shape: (shape.first, shape.last)):
        covered[shape.kind] += max(shape.last - max(shape.first - 1, reached[shape.kind]), 0)
        reached[shape.kind] = max(reached[shape.kind], shape.last)
    return {kind: count / notes if notes else 0.0 for kind, count in covered.items()}


def shapes_of_intervals(intervals: Sequence[int]) -> list[Shape]:
    """The shapes of a figure that is known by its semitones from note to note alone.

    Names are those of the figure begun on C. Without chords and beats a note is enclosed only by half-steps on both
    sides, and no root-only stretches and cadences are found.
    """
    pitches = list(accumulate(intervals, initial=60))
    strokes: list[Stroke] = []
    for index, pitch in enumerate(pitches):
        if strokes and strokes[-1].pitch == pitch:
            strokes[-1] = strokes[-1]._replace(last=index, end_ticks=index + 1)
            continue
        spelling = default_spelling(pitch)
        position = parse_spelling(spelling).staff_position
        strokes.append(Stroke(pitch, position, spelling, index, index, index, index + 1, None, NO_METER))
    phrase = (tuple(strokes),)
    return _shapes(Ready(phrase, phrase, ()))
