"""The keys of a sheet: which, in which order, by which name; and the key that a figure is in.

A key is named so that its signature has the fewest accidentals; where two names have as many, the flat one is taken
(Gb major, Eb minor; common practice, no source). A key that the user names keeps its name where a signature exists.
"""

from collections.abc import Sequence
from typing import Final

from corpus.errors import QueryError
from corpus.harmony.modes import MODE_STEPS, is_minor_mode
from corpus.harmony.symbols import read_symbol
from corpus.pitch import Key, SpelledPitch, fifths_of, parse_key, parse_spelling
from corpus.shelf.kept import KeptFigure

ORDERS: Final = {
    "fourths": tuple(5 * step % 12 for step in range(12)),
    "chromatic": tuple(range(12)),
}
"""Tonics as semitones above the first key: through the circle of fourths, or up by half-steps."""
MOST_SIGNS: Final = 7
MOST_KEYS: Final = 48


def key_on(pitch_class: int, mode: str) -> Key:
    """The key of a mode on a pitch class (0 = C), by the name with the fewest accidentals."""
    names = (Key(str(SpelledPitch(letter, sign, None)), mode) for letter in range(7) for sign in (-1, 0, 1))
    found = [key for key in names if key.tonic_pitch_class == pitch_class % 12]
    return min(found, key=lambda key: (abs(fifths_of(key)), fifths_of(key)))


def parse_order(text: str, mode: str, first: Key | None = None) -> tuple[Key, ...]:
    """The keys of an order: ``fourths``, ``chromatic``, or keys in a row such as ``C F Bb``.

    The named orders have twelve keys and begin on ``first``, on C where it is not given. Keys that are named take the
    figure's mode. Raises QueryError for an unknown key, one of the other mode, or one that no signature writes.
    """
    word = text.strip().lower()
    if word in ORDERS:
        start = 0 if first is None else first.tonic_pitch_class
        return tuple(key_on(start + step, mode) for step in ORDERS[word])
    keys = [_typed(word, mode) for word in text.replace(",", " ").split()]
    if not 1 <= len(keys) <= MOST_KEYS:
        raise QueryError(f"--order {text[:40]!r} names {len(keys)} keys: 1 to {MOST_KEYS}, or fourths, chromatic")
    return tuple(keys)


def _typed(word: str, mode: str) -> Key:
    try:
        typed = parse_key(word)
    except QueryError as error:
        raise QueryError(f"{error}; or one of the orders fourths, chromatic") from error
    is_bare = len(word) <= 2 and word[1:] != "m" and word[0].isupper()
    if not is_bare and is_minor_mode(typed.mode) != is_minor_mode(mode):
        raise QueryError(f"key {word!r} is {typed.mode}, the figure {mode}: name keys by their tonics, as in 'C F Bb'")
    key = Key(typed.tonic, mode)
    if abs(fifths_of(key)) > MOST_SIGNS:
        usual = key_on(key.tonic_pitch_class, mode)
        raise QueryError(
            f"no signature writes {key}: it would need {abs(fifths_of(key))} accidentals; say {usual.tonic}"
        )
    return key


def key_of(figure: KeptFigure) -> tuple[Key, bool]:
    """The key that a figure is in, and whether somebody said so; else it is judged from its notes."""
    if figure.key:
        return _written(parse_key(figure.key)), True
    named = next((chord.key for chord in figure.chords if chord.key), "")
    if named:
        return _written(parse_key(named)), True
    return _judged([note.pitch % 12 for note in figure.notes], _first_root(figure)), False


def _written(key: Key) -> Key:
    return key if abs(fifths_of(key)) <= MOST_SIGNS else key_on(key.tonic_pitch_class, key.mode)


def _first_root(figure: KeptFigure) -> int | None:
    roots = (read_symbol(chord.symbol) for chord in reversed(figure.chords) if chord.symbol)
    return next((symbol.root_pitch_class for symbol in roots if symbol is not None), None)


def _judged(pitch_classes: Sequence[int], last_root: int | None) -> Key:
    """The key whose scale holds most of the notes.

    Of several the one on whose tonic chord the figure ends and begins, on whose tonic its last chord stands; of those
    that are left the one with the fewest accidentals. A rule of thumb, no source.
    """

    def merit(key: Key) -> tuple[int, int, int]:
        steps = set(MODE_STEPS[key.mode]) | ({11} if key.mode == "minor" else set())
        third = 3 if key.mode == "minor" else 4
        heard = [(pitch_class - key.tonic_pitch_class) % 12 for pitch_class in pitch_classes]
        home = 2 * (heard[-1] in (0, third, 7)) + (heard[0] in (0, third, 7)) + 2 * (heard[-1] == 0)
        home += 2 * (last_root == key.tonic_pitch_class)
        # A minor scale with its raised seventh holds eight notes: what it holds must be the clearer.
        return (
            4 * sum(step in steps for step in heard) - (3 if key.mode == "minor" else 0) + home,
            home,
            -abs(fifths_of(key)),
        )

    return max((key_on(pc, mode) for mode in ("major", "minor") for pc in range(12)), key=merit)


def tonic_of(key: Key) -> SpelledPitch:
    """The tonic of a key, taken apart."""
    return parse_spelling(key.tonic)
