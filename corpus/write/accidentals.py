"""Which accidentals a page prints: key signature, what stands earlier in the bar, and reminders.

An accidental holds for its letter and octave to the end of the bar (common practice). A reminder is printed where the
same letter was altered in the bar before, or in another octave of this bar.
"""

from typing import Final, Literal

from corpus.pitch import SpelledPitch

_SHARPS: Final = (3, 0, 4, 1, 5, 2, 6)
"""Letters (indexes into LETTERS) in the order in which signatures sharpen them: F C G D A E B."""

NAMES: Final = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
"""MusicXML's accidental values by semitones."""

Printed = Literal["", "needed", "reminder"]


def signature(fifths: int) -> dict[int, int]:
    """The alteration of each letter that a signature alters."""
    if fifths >= 0:
        return dict.fromkeys(_SHARPS[:fifths], 1)
    return dict.fromkeys(_SHARPS[::-1][:-fifths], -1)


class Accidentals:
    """What is in force while a line is written, bar after bar."""

    def __init__(self) -> None:
        self._signature: dict[int, int] = {}
        self._here: dict[tuple[int, int | None], int] = {}
        self._before: dict[int, int] = {}

    def begin_bar(self, fifths: int) -> None:
        """Start a bar under a signature; what the one before it altered needs no reminder when a new one comes."""
        old, self._signature = self._signature, signature(fifths)
        altered = {letter: alteration for (letter, _), alteration in self._here.items()}
        self._before = {a: b for a, b in altered.items() if b != self._signature.get(a, 0) and b != old.get(a, 0)}
        self._here = {}

    def printed(self, pitch: SpelledPitch) -> Printed:
        """Whether a note head needs its accidental; it counts for what follows."""
        place = (pitch.letter, pitch.octave)
        usual = self._signature.get(pitch.letter, 0)
        in_force = self._here.get(place, usual)
        others = {b for (letter, _), b in self._here.items() if letter == pitch.letter}
        is_new = place not in self._here
        self._here[place] = pitch.alteration
        if pitch.alteration != in_force:
            return "needed"
        if is_new and (others - {pitch.alteration} or self._before.get(pitch.letter, usual) != pitch.alteration):
            self._before.pop(pitch.letter, None)
            return "reminder"
        return ""
