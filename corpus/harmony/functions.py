"""The function of a chord in a key, as a Roman numeral with a cost: the smaller, the plainer the reading.

The costs are pure numbers on one scale, used by ``corpus.harmony.keys`` to find the keys: 0 is a chord that needs no
explanation (I in its key), 0.2 to 0.6 the other diatonic chords, 0.6 to 1.0 what every musician explains at once (V/ii
that goes to ii, ``iv`` in major, a passing diminished chord that passes), 1.0 to 1.6 what needs an excuse (mixture, a
dominant that does not resolve), ``OUTSIDE`` a chord that the key does not explain. They are set by ear from common
practice and by the tuned halves of ``tests/corpus/harmony`` and ``tests/bench/analyses.py``; no source has them.

Only a chord's neighbours decide, never the key of the neighbours: what comes next (by root, in semitones upwards, and
kind) tells a V/ii from a VI7, a ``subV/V`` from a ``bVI7``. Chords of one root and several symbols in a row look to the
next root.

The spelling of numerals is that of ``corpus.harmony.numerals``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from corpus.harmony.numerals import Numeral, NumeralPattern, Quality, numeral_pattern, parse_numeral
from corpus.harmony.symbols import ChordSymbol, Family
from corpus.pitch import Key

__all__ = [
    "OUTSIDE",
    "Heard",
    "Numeral",
    "NumeralPattern",
    "Quality",
    "Reading",
    "hear",
    "is_minor_mode",
    "kind_of",
    "numeral_pattern",
    "numerals_in_keys",
    "parse_numeral",
    "read_function",
]

OUTSIDE: Final = 2.4
"""The cost of a chord that no rule explains in the key."""

RESOLVED: Final = 0.5
BLUES_TONIC: Final = 0.95
BEFORE_CADENTIAL: Final = 0.75
DECEPTIVE: Final = 0.9
UNRESOLVED: Final = 1.4
FROM_RELATED_II: Final = 0.0
SUBSTITUTE: Final = 0.75
RELATED_II: Final = 0.55
CHROMATIC_II: Final = 0.9
PASSING: Final = 0.65
BLUES: Final = 0.25
BACKDOOR: Final = 0.65
NO_REST: Final = 0.5
CADENCE_V: Final = -0.55
CADENCE_I: Final = -0.45
PREPARED: Final = -0.1
INVERTED: Final = 0.8
SIX_FOUR: Final = -0.2
LEADING_V: Final = -0.1
LEADING_I: Final = -0.2

_MINOR_MODES: Final = frozenset({"minor", "dorian", "phrygian", "aeolian", "locrian"})


def is_minor_mode(mode: str) -> bool:
    """Whether a mode's tonic chord is minor."""
    return mode in _MINOR_MODES


class Heard(NamedTuple):
    """A chord among its neighbours, free of any key.

    ``kind`` is one of ``T`` (major triad), ``M`` (major with 6 or major 7), ``D`` (dominant seventh), ``m`` (minor),
    ``h`` (half-diminished), ``d`` (diminished triad), ``o`` (diminished seventh), ``+``, ``s`` (suspended), ``5``.
    ``next_step``, ``after_step``, ``last_step`` and ``before_step`` are the semitones, upwards from this root, of the
    roots of the next chord, the one after it, the one before and the one before that, -1 for none; ``next_kind`` and ``last_kind`` their kinds.
    ``bass``, ``next_bass`` and ``last_bass`` are the semitones of the bass notes above their own roots.
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
    last_bass: int = 0
    before_step: int = -1


@dataclass(frozen=True, slots=True)
class Reading:
    """A numeral and what it costs."""

    numeral: Numeral
    cost: float


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


def hear(symbols: Sequence[ChordSymbol | None]) -> list[Heard | None]:
    """Every chord among its neighbours; None for no chord or an unreadable one, which are looked across."""
    plain: list[_Plain | None] = []
    for symbol in symbols:
        if symbol is None or symbol.root_pitch_class is None or symbol.family is Family.NONE:
            plain.append(None)
            continue
        root = symbol.root_pitch_class
        bass = symbol.bass_pitch_class
        plain.append((root, kind_of(symbol), 0 if bass is None else (bass - root) % 12))
    # A chart is played in a circle: after the last chord comes the first.
    coming = _other_roots((plain + plain)[::-1])[len(plain) :][::-1]
    gone = _other_roots(plain + plain)[len(plain) :]
    heard: list[Heard | None] = []
    for own, ahead, behind in zip(plain, coming, gone, strict=True):
        if own is None:
            heard.append(None)
            continue
        root = own[0]
        following, after, last = ahead[0], ahead[1], behind[0]
        heard.append(
            Heard(
                root,
                own[1],
                -1 if following is None else (following[0] - root) % 12,
                "" if following is None else following[1],
                -1 if after is None else (after[0] - root) % 12,
                -1 if last is None else (last[0] - root) % 12,
                "" if last is None else last[1],
                own[2],
                0 if following is None else following[2],
                0 if last is None else last[2],
                -1 if behind[1] is None else (behind[1][0] - root) % 12,
            )
        )
    return heard


_Plain = tuple[int, str, int]
"""Root, kind, and bass above the root."""


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


_Table = dict[tuple[int, str], tuple[Numeral, float]]


def _table(rows: str) -> _Table:
    """Rows ``numeral kinds cost``, by semitones above the tonic and kind."""
    table: _Table = {}
    for row in rows.strip().splitlines():
        text, kinds, cost = row.split()
        numeral = parse_numeral(text)
        for kind in kinds:
            table[numeral.root_semitones, kind] = (numeral, float(cost))
    return table


_MAJOR: Final = _table("""
I TM 0.0
I7 D 1.2
I+ + 0.9
Isus s 0.5
I5 5 0.3
io do 0.9
ii m 0.25
ii7b5 h 0.8
iio do 0.9
II5 5 0.8
iii m 0.4
IV TM 0.25
IV7 D 0.8
IV5 5 0.4
IVsus s 0.8
#ivo do 1.0
#iv7b5 h 1.1
iv m 0.9
V T 0.2
V D 0.0
Vmaj7 M 0.9
V+ + 0.5
Vsus s 0.2
V5 5 0.4
v m 1.1
vi m 0.3
vio do 1.3
VI5 5 0.8
viio do 0.2
vii7b5 h 0.3
bVII7 D 1.1
bVII TM 1.0
bVII5 5 1.0
bVI TM 1.1
bIII TM 1.2
bII TM 1.4
i m 1.5
III+ + 1.2
#io do 1.2
biiio do 1.2
iiio do 1.4
#vo do 1.2
bvi m 1.8
biii m 1.8
""")
"""Chords on the degrees of a major key: diatonic, borrowed from minor (mixture), blues, and passing diminished."""

_MINOR: Final = _table("""
i m 0.0
I T 0.5
I M 0.9
I7 D 1.2
I5 5 0.3
Isus s 0.6
io do 1.0
ii7b5 h 0.0
iio do 0.2
ii m 0.7
bIII TM 0.4
bIII+ + 0.5
iv m 0.2
IV T 0.7
IV M 1.1
IV7 D 0.7
IV5 5 0.4
#ivo do 0.9
#iv7b5 h 1.0
V T 0.1
V D 0.0
V+ + 0.3
Vsus s 0.2
V5 5 0.4
v m 0.6
bVI TM 0.3
bVI7 D 1.0
vi7b5 h 0.7
vio do 0.9
bVII T 0.6
bVII M 0.9
bVII7 D 0.7
bVII5 5 0.6
viio do 0.1
vii7b5 h 0.6
bII TM 0.9
#io do 1.2
iiio do 1.2
bVIsus s 1.0
bIIIsus s 1.0
bVIIsus s 0.9
""")
"""Chords on the degrees of a minor key, natural, harmonic and melodic."""

_TARGETS: Final = {
    False: {2: "ii", 4: "iii", 5: "IV", 7: "V", 9: "vi"},
    True: {3: "bIII", 5: "iv", 7: "V", 8: "bVI", 10: "bVII"},
}
"""The degrees that a chord can be the dominant of, besides I: semitones above the tonic, by whether it is minor."""

_TARGET_COST: Final = {
    False: {2: 0.0, 4: 0.15, 5: 0.0, 7: 0.0, 9: 0.05},
    True: {3: 0.0, 5: 0.0, 7: 0.05, 8: 0.15, 10: 0.15},
}
_LITERAL: Final = ("I", "bII", "II", "bIII", "III", "IV", "bV", "V", "bVI", "VI", "bVII", "VII")
_LITERAL_SUFFIX: Final = {"T": "", "M": "", "D": "7", "m": "", "h": "7b5", "d": "o", "o": "o", "+": "+", "s": "sus"}
_LITERAL_SHARP: Final = {1: "#i", 6: "#iv"}

_DOMINANT_COST: Final = {"D": 0.0, "T": 0.3, "+": 0.3, "s": 0.3}
"""What a chord that is no dominant seventh pays to be a dominant of something."""
_DOMINANT_KINDS: Final = {"D": Quality.DOMINANT, "T": Quality.DOMINANT, "+": Quality.AUGMENTED, "s": Quality.SUSPENDED}


def literal_numeral(step: int, kind: str) -> Numeral:
    """The degree and quality of a chord ``step`` semitones above the tonic, without regard to its function."""
    if kind == "5":
        return parse_numeral(f"{_LITERAL[step]}5")
    roman = _LITERAL[step]
    if kind in "mhdo":
        roman = roman.lower().replace("vii", "vii")
        if kind in "hdo":
            roman = _LITERAL_SHARP.get(step, roman)
    suffix = "maj7" if (step, kind) == (7, "M") else _LITERAL_SUFFIX[kind]
    return parse_numeral(f"{roman}{suffix}")


def read_function(chord: Heard, tonic: int, is_minor: bool) -> Reading:
    """The cheapest reading of a chord in a key; ``tonic`` is a pitch class."""
    step = (chord.root - tonic) % 12
    best = _blues(chord, step) or (_MINOR if is_minor else _MAJOR).get((step, chord.kind))
    if best is None:
        best = (literal_numeral(step, chord.kind), OUTSIDE)
    if chord.kind in _DOMINANT_COST:
        best = _cheaper(best, _applied_dominant(chord, step, is_minor))
        if chord.kind == "D":
            best = _cheaper(best, _substitute(chord, step, is_minor))
    elif chord.kind in "mh":
        best = _cheaper(best, _related_ii(chord, step, is_minor, best[1]))
    elif chord.kind in "do":
        best = _cheaper(best, _passing(chord, step, is_minor))
    numeral, cost = best
    return Reading(numeral, cost + _cadence(chord, step, is_minor))


_Costed = tuple[Numeral, float]


def _blues(chord: Heard, step: int) -> _Costed | None:
    """I7 and IV7 beside each other, and bVII7 after iv: sevenths that are no dominants of anything."""
    if chord.kind != "D":
        return None
    if step == 0 and not (chord.last_step == 7 and chord.last_kind in ("m", "h")):
        if chord.next_step == 5 and chord.next_kind == "D":
            return Numeral(1, 0, Quality.DOMINANT), BLUES
        comes_from = {5: "D", 6: "od", 7: "D" if chord.before_step == 2 else ""}.get(chord.last_step, "")
        if chord.next_step != 5 and chord.last_kind and chord.last_kind in comes_from:  # IV7, #ivo, ii V
            return Numeral(1, 0, Quality.DOMINANT), BLUES
    if step == 5 and "D" in ((chord.next_step == 7) * chord.next_kind, (chord.last_step == 7) * chord.last_kind):
        return Numeral(4, 0, Quality.DOMINANT), BLUES
    if step == 10 and chord.last_step == 7 and chord.last_kind == "m":
        return Numeral(7, -1, Quality.DOMINANT), BACKDOOR
    return None


def _cheaper(one: _Costed, other: _Costed | None) -> _Costed:
    return one if other is None or one[1] <= other[1] else other


def _target(step: int, is_minor: bool) -> Numeral | None:
    text = _TARGETS[is_minor].get(step)
    return None if text is None else parse_numeral(text)


def _applied_dominant(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """V/x: cheap when it goes to x or to the ii of x, dearer when deceptive, dearest when it goes elsewhere."""
    target_step = (step + 5) % 12
    target = _target(target_step, is_minor)
    if target is None:
        return None
    following = chord.next_step
    comes_from_ii = chord.last_step == 7 and chord.last_kind in "mh"
    if following == 5:
        cost = RESOLVED
        if step == 0 and chord.next_kind == "D" and not comes_from_ii:
            cost = BLUES_TONIC  # I7 IV7 of a blues is no V/IV
    elif target_step == 7 and following == 10 and chord.next_bass == 7:
        cost = BEFORE_CADENTIAL  # V/V, then I over 5 before V
    elif following == 0 or (following == 6 and chord.after_step == 11) or following in (1, 2):
        cost = DECEPTIVE  # through the substitute of its target, or deceptive
    elif chord.next_kind in ("o", "d") and following in (4, 1, 7, 10):
        cost = RESOLVED + 0.15  # its own upper notes
    else:
        cost = UNRESOLVED
    if comes_from_ii:
        cost += FROM_RELATED_II
    cost += _DOMINANT_COST[chord.kind] + _TARGET_COST[is_minor][target_step]
    return Numeral(5, 0, _DOMINANT_KINDS[chord.kind], target), cost


def _substitute(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """subV and subV/x: down a half-step to its target, or through the related ii of what the target leads to."""
    target_step = (step + 11) % 12
    if chord.next_step == 11 or (chord.next_step == 6 and chord.after_step == 11):
        cost = SUBSTITUTE
    else:
        return None
    if target_step == 0:
        return Numeral(2, -1, Quality.DOMINANT), cost
    target = _target(target_step, is_minor)
    if target is None:
        return None
    if step == 5:
        cost += 0.1  # IV7 is IV7 before it is subV/iii
    return Numeral(2, -1, Quality.DOMINANT, target), cost + _TARGET_COST[is_minor][target_step]


def _related_ii(chord: Heard, step: int, is_minor: bool, plain_cost: float) -> _Costed | None:
    """ii/x before V/x; a diatonic minor chord keeps its own name, and so does the ii of a substitute."""
    if chord.next_step != 5 or chord.next_kind not in ("D", "s"):
        return None
    quality = Quality.HALF_DIMINISHED if chord.kind == "h" else Quality.MINOR
    target_step = (step + 10) % 12
    target = _target(target_step, is_minor)
    if target is not None and (plain_cost > 0.6 or (chord.kind == "h" and not is_minor)):
        cost = min(RELATED_II, plain_cost - 0.01)
        return Numeral(2, 0, quality, target), cost
    if plain_cost > 0.9 and chord.after_step == 4:
        return literal_numeral(step, chord.kind), CHROMATIC_II  # the ii of a substitute: biii before subV/V
    return None


def _passing(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """Diminished chords that lead up a half-step (#io) or down one (biiio), or return to their own root (io)."""
    following = chord.next_step
    to_step = (step + following) % 12
    romans = {1: "#i", 3: "#ii" if following == 1 else "biii", 4: "iii", 6: "#iv", 8: "#v", 9: "vi"}
    roman = romans.get(step)
    if roman is None:
        return None
    numeral = parse_numeral(f"{roman}o")
    if following == 1 and to_step in _TARGETS[is_minor]:
        return numeral, PASSING
    if step == 6 and to_step == 0:
        return numeral, PASSING
    if step == 3 and following == 11 and not is_minor:
        return numeral, PASSING
    return numeral, 1.2


def _cadence(chord: Heard, step: int, is_minor: bool) -> float:
    """What a chord saves by taking part in a cadence: the surest sign of a key."""
    tonic_kinds = "mT5" if is_minor else "TM5"
    if step == 7 and chord.kind in _DOMINANT_COST and chord.next_step == 5:
        before = ("dhm", "m") if is_minor else ("mdh", "TM")
        is_prepared = (chord.last_step == 7 and chord.last_kind in before[0]) or (
            chord.last_step == 10 and chord.last_kind in before[1]
        )
        if chord.next_kind in tonic_kinds:
            part = 1.0 if chord.bass == chord.next_bass == 0 else INVERTED
            return part * CADENCE_V + (PREPARED if is_prepared else 0.0)
        return NO_REST if chord.next_kind == "D" and not is_prepared else 0.0
    if step == 0 and chord.kind in tonic_kinds:
        if chord.last_step == 7 and chord.last_kind in _DOMINANT_COST:
            return CADENCE_I * (1.0 if chord.bass == chord.last_bass == 0 else INVERTED)
        if chord.bass == 7 and chord.next_step == 7 and chord.next_kind in _DOMINANT_COST:
            return SIX_FOUR
        if chord.last_step == 11 and chord.last_kind in "do":
            return LEADING_I
    if step == 11 and chord.kind in "do" and chord.next_step == 1 and chord.next_kind in tonic_kinds:
        return LEADING_V
    return 0.0


def numerals_in_keys(symbols: Sequence[ChordSymbol | None], keys: Sequence[Key | None]) -> list[Numeral | None]:
    """The numeral of every chord in its local key; None for no chord. Both sequences have one item a chord."""
    memory: dict[tuple[Heard, int, bool], Numeral] = {}
    numerals: list[Numeral | None] = []
    for chord, key in zip(hear(symbols), keys, strict=True):
        if chord is None or key is None:
            numerals.append(None)
            continue
        place = (chord, key.tonic_pitch_class, is_minor_mode(key.mode))
        if place not in memory:
            memory[place] = read_function(*place).numeral
        numerals.append(memory[place])
    return numerals
