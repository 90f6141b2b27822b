"""A plain voicing of a chord symbol: root position, close to middle C."""

from typing import Final

from corpus.harmony.symbols import ChordSymbol

MIDDLE_C: Final = 60


def voicing_of(symbol: ChordSymbol) -> tuple[int, ...]:
    """MIDI numbers of a chord, ascending; empty for N.C.

    The tones are stacked above the root: extensions (9, 11, 13) above the octave, so that no two tones rub within the
    chord. Of all octaves the one whose middle is nearest to middle C is taken, the lower of two. A bass named after a
    slash stands below the root.
    """
    if symbol.root is None:
        return ()
    offsets = sorted(_offset(tone, symbol.tones) for tone in symbol.tones)
    root = symbol.root.pitch_class
    middle = (offsets[0] + offsets[-1]) / 2
    base = min(range(root, 109 + root, 12), key=lambda base: (abs(base + middle - MIDDLE_C), base))
    chord = tuple(base + offset for offset in offsets)
    if symbol.bass is None:
        return chord
    below = base - ((base - symbol.bass.pitch_class) % 12 or 12)
    return (below, *(pitch for pitch in chord if pitch != below))


def _offset(tone: int, tones: tuple[int, ...]) -> int:
    """Semitones above the root: a third, fifth or seventh within the octave, an extension above it."""
    third = 4 if 4 in tones else 3 if 3 in tones else None
    has_seventh = 10 in tones or 11 in tones
    is_extension = (
        (tone in (1, 2) and third is not None)
        or (tone == 3 and third == 4)
        or (tone == 5 and third is not None)
        or (tone == 6 and 7 in tones)
        or (tone == 8 and 7 in tones)
        or (tone == 9 and has_seventh)
    )
    return tone + 12 if is_extension else tone
