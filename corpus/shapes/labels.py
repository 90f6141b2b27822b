"""What a figure that stands in many places is called: labels without names of notes."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from corpus.shapes.shape import Shape

_CHORD_NAMES: Final = {
    "": "major triad",
    "m": "minor triad",
    "dim": "diminished triad",
    "aug": "augmented triad",
    "maj7": "major seventh chord",
    "7": "seventh chord",
    "m7": "minor seventh chord",
    "m7b5": "half-diminished chord",
    "dim7": "diminished seventh chord",
    "6": "sixth chord",
    "m6": "minor sixth chord",
}


def label_of(shape: Shape) -> str:
    """A shape in words that are the same on any root: ``arpeggio: minor triad on the 9``, ``enclosure of the 1``."""
    details = shape.details
    if shape.kind == "arpeggio":
        return _arpeggio(shape)
    if shape.kind == "enclosure" and details.get("degree"):
        return f"enclosure of the {details['degree']}"
    if shape.kind == "interval cycle":
        return shape.words.partition(" (")[0]
    if shape.kind in ("scale run", "chromatic run"):
        return f"{shape.kind} {details['direction']}"
    if shape.kind in ("sequence", "call an octave higher"):
        return shape.words
    return shape.kind


def _arpeggio(shape: Shape) -> str:
    details = shape.details
    if "between" in details:
        return "arpeggio: a triad a step above between two of the chord"
    if details["own"]:
        return "arpeggio of the chord"
    name = _chord_name(shape)
    return f"arpeggio: {name} on the {details['on']}" if details["on"] else f"arpeggio: {name}"


def _chord_name(shape: Shape) -> str:
    suffix = shape.details["quality"]
    return _CHORD_NAMES.get(suffix, f"{suffix} chord")


def _from_narrow_to_wide(shape: Shape) -> list[str]:
    """The label of a shape, then wider ones: minor triad on the 9, minor triad, arpeggio."""
    label = label_of(shape)
    if shape.kind not in ("arpeggio", "enclosure"):
        return [label]
    is_chord = shape.kind == "arpeggio" and "between" not in shape.details
    middle = [f"arpeggio: {_chord_name(shape)}"] if is_chord else []
    return list(dict.fromkeys((label, *middle, shape.kind)))


def shared_labels(places: Iterable[Sequence[Shape]], size: int | None = None) -> list[str]:
    """The labels that hold in at least half of the places of a figure, the most frequent first.

    Each item of ``places`` are the shapes of one place, as ``shapes_in`` gives them. A wider label is told only where
    no narrower one holds in half of them. Empty for no places. ``size`` is how many places there are: where it is
    told, no more of them are looked at than it takes to know that nothing is shared.
    """
    counts: Counter[str] = Counter()
    wider: dict[str, set[str]] = {}
    total = 0
    for shapes in places:
        total += 1
        chains = [_from_narrow_to_wide(shape) for shape in shapes]
        counts.update(list(dict.fromkeys(label for chain in chains for label in chain)))
        if size is not None and 2 * (max(counts.values(), default=0) + size - total) < size:
            return []
        for chain in chains:
            for place, label in enumerate(chain):
                wider.setdefault(label, set()).update(chain[place + 1 :])
    held = [label for label, count in counts.most_common() if 2 * count >= total]
    covered = {wide for label in held for wide in wider[label]}
    return [label for label in held if label not in covered]
