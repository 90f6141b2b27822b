"""Chords among their neighbours, free of any key: what the functions are read from."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from corpus.harmony.symbols import ChordSymbol, Family


class Heard(NamedTuple):
    """A chord among its neighbours, free of any key.

    ``kind`` is one of ``T`` (major triad), ``M`` (major with 6 or major 7), ``D`` (dominant seventh), ``m`` (minor),
    ``h`` (half-diminished), ``d`` (diminished triad), ``o`` (diminished seventh), ``+``, ``s`` (suspended), ``5``.
    ``next_step``, ``after_step``, ``last_step`` and ``before_step`` are the semitones, upwards from this root, of the
    roots of the next chord, the one after it, the one before and the one before that, -1 for none; ``next_kind``,
    ``after_kind`` and ``last_kind`` are kinds.
    ``bass`` and ``next_bass`` are the semitones of the bass notes above their own roots.
    ``follows_itself`` and ``repeats_itself``: the chord just before, or just after, has the same root.
    ``turns_minor`` and ``was_major``: a major chord goes on as a minor one on the same root, and that minor one.
    """

    root: int
    kind: str
    next_step: int = -1
    next_kind: str = ""
    after_step: int = -1
    last_step: int = -1
    last_kind: str = ""
    bass: int = 0
    next_bass: int = 0
    before_step: int = -1
    follows_itself: bool = False
    repeats_itself: bool = False
    after_kind: str = ""
    turns_minor: bool = False
    was_major: bool = False


_KINDS: Final = {
    Family.DOMINANT: "D",
    Family.MINOR: "m",
    Family.MINOR_MAJOR: "m",
    Family.HALF_DIMINISHED: "h",
    Family.AUGMENTED: "+",
    Family.SUSPENDED: "s",
    Family.POWER: "5",
}


def kind_of(symbol: ChordSymbol) -> str:
    """The kind of a chord (the letters of ``Heard``) that has a root."""
    if symbol.family is Family.MAJOR:
        return "M" if 11 in symbol.tones or 9 in symbol.tones else "T"
    if symbol.family is Family.DIMINISHED:
        return "o" if 9 in symbol.tones else "d"
    return _KINDS[symbol.family]


_Plain = tuple[int, str, int]
"""Root, kind, and bass above the root."""


def hear(symbols: Sequence[ChordSymbol | None]) -> list[Heard | None]:
    """Every chord among its neighbours; None for no chord or an unreadable one, which are looked across.

    A major triad over its minor seventh (``C/Bb``) is a dominant seventh in third inversion, whatever is printed,
    unless a neighbour stands on the same bass: a pedal.
    """
    # A chart names few chords many times.
    known = {name: _plain(symbol) for name, symbol in {id(symbol): symbol for symbol in symbols}.items()}
    plain = [known[id(symbol)] for symbol in symbols]
    _hear_inversions(plain)
    # A chart is played in a circle: after the last chord comes the first, unless it ends on the minor chord that it
    # began with, which is then no ii of what follows it at the beginning.
    chords = [chord for chord in plain if chord is not None]
    is_closed = len(chords) > 1 and chords[0][:2] == chords[-1][:2] and chords[0][1] == "m"
    around = plain if is_closed else plain + plain
    coming = _other_roots(around[::-1])[::-1][: len(plain)]
    gone = _other_roots(plain + plain)[len(plain) :]
    heard: list[Heard | None] = [None] * len(plain)
    places = [index for index, chord in enumerate(plain) if chord is not None]
    for position, index in enumerate(places):
        before = plain[places[position - 1]] if position else None
        after = plain[places[position + 1]] if position + 1 < len(places) else None
        heard[index] = _heard(plain[index], coming[index], gone[index], before, after)
    return heard


def _plain(symbol: ChordSymbol | None) -> _Plain | None:
    if symbol is None or symbol.root_pitch_class is None or symbol.family is Family.NONE:
        return None
    root, bass = symbol.root_pitch_class, symbol.bass_pitch_class
    return root, kind_of(symbol), 0 if bass is None else (bass - root) % 12


def _hear_inversions(plain: list[_Plain | None]) -> None:
    places = [index for index, chord in enumerate(plain) if chord is not None]
    basses = [(chord[0] + chord[2]) % 12 for chord in plain if chord is not None]
    for position, index in enumerate(places):
        chord = plain[index]
        if chord is not None and chord[1:] == ("T", 10):
            neighbours = basses[max(position - 1, 0) : position] + basses[position + 1 : position + 2]
            if basses[position] not in neighbours:
                plain[index] = (chord[0], "D", 10)


@lru_cache(maxsize=8192)
def _heard(
    own: _Plain | None,
    coming: tuple[_Plain | None, _Plain | None],
    gone: tuple[_Plain | None, _Plain | None],
    before: _Plain | None,
    after: _Plain | None,
) -> Heard:
    assert own is not None
    root, kind, bass = own
    following, last = coming[0], gone[0]
    return Heard(
        root,
        kind,
        _step(root, following),
        "" if following is None else following[1],
        _step(root, coming[1]),
        _step(root, last),
        "" if last is None else last[1],
        bass,
        0 if following is None else following[2],
        _step(root, gone[1]),
        _step(root, before) == 0,
        _step(root, after) == 0,
        "" if coming[1] is None else coming[1][1],
        _turns_minor(own, after),
        before is not None and _turns_minor(before, own),
    )


def _turns_minor(one: _Plain, other: _Plain | None) -> bool:
    return other is not None and one[0] == other[0] and one[1] in "TM" and other[1] == "m"


def _step(root: int, other: _Plain | None) -> int:
    return -1 if other is None else (other[0] - root) % 12


def _other_roots(plain: Sequence[_Plain | None]) -> list[tuple[_Plain | None, _Plain | None]]:
    """For every place, the nearest earlier chord with another root, and the one before it with yet another."""
    result: list[tuple[_Plain | None, _Plain | None]] = []
    own: _Plain | None = None
    first: _Plain | None = None
    second: _Plain | None = None
    for chord in plain:
        if chord is not None:
            if own is not None and chord[0] != own[0]:
                first, second = own, first
            own = chord
        result.append((first, second))
    return result
