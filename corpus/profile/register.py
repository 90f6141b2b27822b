"""Range, and the tessitura over the form: where the line lies in each quarter of the chorus.

Tessitura is the middle four fifths of the notes (10th to 90th percentile): what is left when the few highest and lowest
notes are not counted (common practice, no source). Quarters are told for lines whose form is known.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from corpus.profile.columns import NO, Columns
from corpus.profile.samples import Sample, mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

QUARTERS: Final = ("first", "second", "third", "last")


@dataclass(frozen=True, slots=True)
class Register:
    """Extremes of a line: MIDI numbers, None where no note has a pitch. ``n`` notes were looked at.

    ``lowest_note`` and ``highest_note`` are places in the columns (the first of several).
    """

    n: int
    lowest: int | None = None
    highest: int | None = None
    tessitura_low: int | None = None
    tessitura_high: int | None = None
    median: float | None = None
    lowest_note: int | None = None
    highest_note: int | None = None


def register_of(columns: Columns) -> Register:
    """Range and tessitura of the notes asked about."""
    import numpy as np

    notes = np.flatnonzero(columns.inside & (columns.pitch != NO))
    if not len(notes):
        return Register(0)
    pitches = columns.pitch[notes]
    return replace(
        register_of_pitches(pitches),
        lowest_note=int(notes[pitches.argmin()]),
        highest_note=int(notes[pitches.argmax()]),
    )


def register_of_pitches(pitches: "NDArray[Any]") -> Register:
    """Range and tessitura of pitches, wherever they stand."""
    import numpy as np

    if not len(pitches):
        return Register(0)
    low, high = np.quantile(pitches, [0.1, 0.9], method="inverted_cdf")
    return Register(
        len(pitches), int(pitches.min()), int(pitches.max()), int(low), int(high), float(np.median(pitches))
    )


def register_samples(columns: Columns) -> list[Sample]:
    """Mean pitch, of all notes and of each quarter of the form."""
    import numpy as np

    sounding = columns.inside & (columns.pitch != NO)
    bar, length = columns.form_bar[columns.bar], columns.form_bars[columns.bar]
    placed = sounding & (length > 0) & (bar > 0)
    quarter = np.where(placed, (bar - 1) * 4 // np.maximum(length, 1), NO)
    found = [mean("register.pitch", "register", "mean pitch", "pitch", sounding, columns.pitch)]
    for number, name in enumerate(QUARTERS):
        words = f"mean pitch, {name} quarter of the form"
        found.append(
            mean(f"register.quarter_{number + 1}", "register", words, "pitch", quarter == number, columns.pitch)
        )
    return found
