"""Notes against their chords: roots, degrees, chord, scale and outside notes, by beat and by function.

A note stands *on a chord change* when it starts where a chord symbol stands that is another one than the symbol
before. Functions are the numerals as written (level 0); a dominant counts as V when it leads to the tonic, as V of
another degree when it does not.
"""

from typing import TYPE_CHECKING, Final

from corpus.harmony.numerals import Quality
from corpus.profile.columns import CHORD_TONE, NO, OUTSIDE, SCALE_TONE, Columns
from corpus.profile.samples import Sample, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]

_FIRST_SYMBOL: Final = 0x100
_TARGETS: Final = 13
_QUALITIES: Final = tuple(Quality)
_KINDS: Final = (
    ("chord", CHORD_TONE, "chord tones"),
    ("scale", SCALE_TONE, "scale tones"),
    ("outside", OUTSIDE, "outside notes"),
)
FUNCTIONS: Final = ("tonic", "ii", "V", "V of another degree", "IV", "other")
_DEGREES: Final = (
    ("3", (3, 4), "thirds"),
    ("5", (6, 7, 8), "fifths"),
    ("6_7", (9, 10, 11), "sixths and sevenths"),
)


def beats(columns: Columns) -> "dict[str, Flags]":
    """Where in the bar notes start: the first beat, the middle beat (of four, six or twelve), others, between beats."""
    beat, beats = columns.beat, columns.beats[columns.bar]
    on = columns.in_bar % columns.beat_ticks[columns.bar] == 0
    has_middle = (beats == 4) | (beats == 6) | (beats == 12)
    first, middle = on & (beat == 1), on & has_middle & (beat == 1 + beats // 2)
    return {"first beats": first, "middle beats": middle, "other beats": on & ~first & ~middle, "off the beat": ~on}


def functions(columns: Columns) -> "dict[str, Flags]":
    """Over which function notes start."""
    import numpy as np

    code = np.zeros(len(columns), dtype=np.int64)
    over = columns.chord != NO
    code[over] = columns.function[columns.chord[over]]
    known = code >= _FIRST_SYMBOL
    root, quality = (code - _FIRST_SYMBOL) // (8 * _TARGETS), (code - _FIRST_SYMBOL) // _TARGETS % 8
    target = (code - _FIRST_SYMBOL) % _TARGETS - 1
    minor = np.isin(quality, [_QUALITIES.index(Quality.MINOR), _QUALITIES.index(Quality.HALF_DIMINISHED)])
    lasting = np.isin(quality, [_QUALITIES.index(q) for q in (Quality.MAJOR, Quality.MINOR)])
    blues = quality == _QUALITIES.index(Quality.DOMINANT)
    dominant = ~np.isin(
        quality, [_QUALITIES.index(q) for q in (Quality.MINOR, Quality.HALF_DIMINISHED, Quality.DIMINISHED)]
    )
    above = np.where(target > 0, (root - target) % 12, root)
    is_five = dominant & ((above == 7) | ((above == 1) & blues))
    found = {
        "tonic": known & (target <= 0) & (root == 0) & (lasting | blues),
        "ii": known & minor & (above == 2),
        "V": known & is_five & (target <= 0),
        "V of another degree": known & is_five & (target > 0),
        "IV": known & (target <= 0) & (root == 5) & (lasting | blues),
    }
    rest = known & ~np.logical_or.reduce(list(found.values()))
    return {**found, "other": rest}


def harmony_samples(columns: Columns) -> list[Sample]:
    """Roots, degrees, and kinds of notes by beat and function."""
    role, at_beat, over = columns.has_role, beats(columns), functions(columns)
    root = (columns.semitones == 0) & (columns.kind == CHORD_TONE)
    first, change = role & at_beat["first beats"], role & columns.begins_chord
    found = [
        share("roots.all", "roots", "roots among all notes", role, root),
        share("roots.first_beats", "roots", "roots on first beats", first, root),
        share("roots.chord_changes", "roots", "roots on chord changes", change, root),
    ]
    for key, semitones, words in _DEGREES:
        degree = (columns.kind == CHORD_TONE) & _one_of(columns.semitones, semitones)
        found.append(share(f"degrees.first_beats.{key}", "degrees", f"{words} on first beats", first, degree))
    tension = columns.kind != CHORD_TONE
    found.append(share("degrees.first_beats.tensions", "degrees", "other notes on first beats", first, tension))
    for name, where in {"all notes": role, **at_beat}.items():
        for key, kind, words in _KINDS:
            label = name.replace(" ", "_")
            place = {"all notes": "among all notes", "off the beat": name}.get(name, f"on {name}")
            text = f"{words} {place}"
            found.append(share(f"kinds.{label}.{key}", "notes by beat", text, role & where, columns.kind == kind))
    for name, where in over.items():
        label, chord = name.replace(" ", "_"), "other functions" if name == "other" else name
        found.append(share(f"functions.{label}.root", "notes by function", f"roots over {chord}", role & where, root))
        for key, kind, words in _KINDS:
            found.append(
                share(
                    f"functions.{label}.{key}",
                    "notes by function",
                    f"{words} over {chord}",
                    role & where,
                    columns.kind == kind,
                )
            )
    return found


def _one_of(values: "NDArray[np.int64]", wanted: tuple[int, ...]) -> "Flags":
    import numpy as np

    found: Flags = np.isin(values, wanted)
    return found
