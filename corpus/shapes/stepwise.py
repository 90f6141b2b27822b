"""Runs by step: chromatic runs and scale runs."""

from collections.abc import Iterator, Sequence

from corpus.shapes.scales import ScaleName, name_scale
from corpus.shapes.shape import Shape
from corpus.shapes.strokes import Ready, Region, Stroke

SHORTEST_CHROMATIC_RUN = 4
SHORTEST_SCALE_RUN = 5
_LONG_RUN = 7


def stepwise_runs(line: Ready) -> Iterator[Shape]:
    """The chromatic runs and scale runs of a line."""
    for phrase in line.phrases:
        for run in _one_way(phrase):
            yield from _runs_in(run, line)


def _one_way(phrase: Sequence[Stroke]) -> Iterator[Sequence[Stroke]]:
    """The longest stretches that move by step in one direction, neighbours sharing the note on which they turn."""
    start = 0
    for index in range(1, len(phrase) + 1):
        goes_on = index < len(phrase) and _is_step(phrase[index - 1], phrase[index])
        turns = goes_on and index - start > 1 and _way(phrase, index) != _way(phrase, start + 1)
        if goes_on and not turns:
            continue
        if index - start >= SHORTEST_CHROMATIC_RUN:
            yield phrase[start:index]
        start = index - 1 if turns else index


def _way(phrase: Sequence[Stroke], index: int) -> bool:
    return phrase[index].pitch > phrase[index - 1].pitch


def _is_step(before: Stroke, after: Stroke) -> bool:
    """A half or whole step, or the augmented second of a harmonic minor scale."""
    leap = abs(after.pitch - before.pitch)
    return leap <= 2 or (leap == 3 and abs(after.position - before.position) == 1)


def _runs_in(run: Sequence[Stroke], line: Ready) -> Iterator[Shape]:
    """Chromatic stretches of a run by step, and scales in what lies between them.

    A long run that one scale with a passing note holds is that (three half-steps in a row are its middle).
    """
    if len(run) >= _LONG_RUN and _named(run, line) is not None:
        yield from _scales_in(run, line)
        return
    start = index = 0
    while index < len(run) - 1:
        end = index
        while end + 1 < len(run) and abs(run[end + 1].pitch - run[end].pitch) == 1:
            end += 1
        if end - index + 1 >= SHORTEST_CHROMATIC_RUN:
            yield from _scales_in(run[start : index + 1], line)
            yield _chromatic(run[index : end + 1])
            start = end
        index = max(end, index + 1)
    yield from _scales_in(run[start:], line)


def _chromatic(run: Sequence[Stroke]) -> Shape:
    rises = run[-1].pitch > run[0].pitch
    return Shape(
        "chromatic run",
        run[0].first,
        run[-1].last,
        f"chromatic run {'up' if rises else 'down'} to {run[-1].name}",
        {"direction": "up" if rises else "down"},
    )


def _scales_in(run: Sequence[Stroke], line: Ready) -> Iterator[Shape]:
    """The longest stretches from the left that one scale holds."""
    start = 0
    while len(run) - start >= SHORTEST_SCALE_RUN:
        end = len(run)
        while end - start >= SHORTEST_SCALE_RUN:
            name = _named(run[start:end], line)
            if name is not None:
                yield _scale_run(run[start:end], name)
                break
            end -= 1
        start = end - 1 if end - start >= SHORTEST_SCALE_RUN else start + 1


def _named(run: Sequence[Stroke], line: Ready) -> ScaleName | None:
    chord = _main_chord(run, line)
    key = line.key if chord is None or chord.key is None else chord.key
    return name_scale([stroke.name for stroke in run], chord, key)


def _main_chord(run: Sequence[Stroke], line: Ready) -> Region | None:
    """The chord over most of the notes, the first of several."""
    regions = [stroke.region for stroke in run if stroke.region is not None]
    return line.regions[max(regions, key=regions.count)] if regions else None


def _scale_run(run: Sequence[Stroke], name: ScaleName) -> Shape:
    rises = run[-1].pitch > run[0].pitch
    passing = f" with passing {name.passing}" if name.passing else ""
    parent = f" ({name.parent} major)" if name.parent and name.scale != "major" else ""
    return Shape(
        "scale run",
        run[0].first,
        run[-1].last,
        f"{name.text} run {'up' if rises else 'down'}{passing}{parent}",
        {
            "direction": "up" if rises else "down",
            "root": None if name.root is None else str(name.root),
            "scale": name.scale,
            "parent": str(name.parent) if name.parent else None,
            "passing": str(name.passing) if name.passing else None,
        },
    )
