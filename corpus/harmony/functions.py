"""The function of a chord in a key, as a Roman numeral with a cost: the smaller, the plainer the reading.

Only a chord's neighbours decide, never the key of the neighbours: what comes next (by root, in semitones upwards, and
kind) tells a V/ii from a VI7, a ``subV/V`` from a ``bVI7``. Chords of one root and several symbols in a row look to the
next root, and the last chord of a chart to its first.

A chord has, of these readings, the cheapest: its degree in the key (diatonic, borrowed from the parallel key, or in an
idiom of its neighbours: blues, backdoor, minor plagal, substitutes in a row), V/x, subV/x, ii/x, a passing diminished
chord, or its bare degree at the cost ``OUTSIDE``. A diatonic minor chord before a dominant keeps its name (``iii
V/ii``, ``vi V/V``), a chromatic one is its related ii (``ii/IV V/IV``).

The costs are in ``corpus.harmony.function_costs``, the spelling of numerals in ``corpus.harmony.numerals``.
"""

from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Final, NamedTuple

from corpus.harmony import function_costs as costs
from corpus.harmony.hearing import Heard, hear
from corpus.harmony.modes import chords_of_mode, is_minor_mode
from corpus.harmony.numerals import Numeral, NumeralPattern, Quality, numeral_pattern, parse_numeral
from corpus.harmony.symbols import ChordSymbol
from corpus.pitch import Key

__all__ = [
    "Numeral",
    "NumeralPattern",
    "Quality",
    "Reading",
    "costs_in_keys",
    "is_minor_mode",
    "numeral_pattern",
    "numerals_in_keys",
    "parse_numeral",
    "read_function",
]


class Reading(NamedTuple):
    """A numeral and what it costs."""

    numeral: Numeral
    cost: float


_LITERAL: Final = ("I", "bII", "II", "bIII", "III", "IV", "bV", "V", "bVI", "VI", "bVII", "VII")
_LITERAL_SUFFIX: Final = {"T": "", "M": "", "D": "7", "m": "", "h": "7b5", "d": "o", "o": "o", "+": "+", "s": "sus"}
_LITERAL_SHARP: Final = {1: "#i", 6: "#iv"}

_DOMINANT_KINDS: Final = {"D": Quality.DOMINANT, "T": Quality.DOMINANT, "+": Quality.AUGMENTED, "s": Quality.SUSPENDED}


_Costed = tuple[Numeral, float]
_IDIOM_STEPS: Final = frozenset({0, 1, 3, 5, 8, 10})
_CADENCE_STEPS: Final = frozenset({0, 7, 11})
"""Degrees, in semitones, on which ``_idiom`` and ``_cadence`` have something to say: they are asked at every chord."""


@cache
def literal_numeral(step: int, kind: str) -> Numeral:
    """The degree and quality of a chord ``step`` semitones above the tonic, without regard to its function."""
    if kind == "5":
        return parse_numeral(f"{_LITERAL[step]}5")
    roman = _LITERAL[step]
    if kind in "mhdo":
        roman = roman.lower()
        if kind in "hdo":
            roman = _LITERAL_SHARP.get(step, roman)
    suffix = "maj7" if (step, kind) == (7, "M") else _LITERAL_SUFFIX[kind]
    return parse_numeral(f"{roman}{suffix}")


def read_function(chord: Heard, tonic: int, is_minor: bool) -> Reading:
    """The cheapest reading of a chord in a key; ``tonic`` is a pitch class."""
    return Reading(*_read(chord, (chord.root - tonic) % 12, is_minor))


def _read(chord: Heard, step: int, is_minor: bool) -> _Costed:
    """The cheapest reading of a chord ``step`` semitones above the tonic, and its cost."""
    kind = chord.kind
    best = _idiom(chord, step, is_minor) if step in _IDIOM_STEPS else None
    best = best or (costs.MINOR if is_minor else costs.MAJOR).get((step, kind))
    if best is None:
        best = (literal_numeral(step, kind), costs.OUTSIDE)
    if kind in costs.DOMINANT_COST:
        best = _cheaper(best, _applied_dominant(chord, step, is_minor))
        if kind == "D":
            best = _cheaper(best, _substitute(chord, step, is_minor))
    elif kind in "mh":
        best = _cheaper(best, _related_ii(chord, step, is_minor, best[1]))
    elif kind in "do":
        best = _cheaper(best, _passing(chord, step, is_minor))
    if step in _CADENCE_STEPS:
        return best[0], best[1] + _cadence(chord, step, is_minor)
    return best


@lru_cache(maxsize=4096)
def costs_in_keys(chord: Heard) -> tuple[float, ...]:
    """The costs of a chord, taken to have the root C, in the 12 major keys from C upwards, then the 12 minor ones."""
    return tuple(_read(chord, -tonic % 12, is_minor)[1] for is_minor in (False, True) for tonic in range(12))


def _idiom(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """Chords that their neighbours explain, and no dominant function: of the blues, the backdoor, substitutes."""
    kind = chord.kind
    if not is_minor:
        if step in _ROW_STEPS and kind in ("D" if step == 3 else "TMD"):
            in_a_row = _in_a_row(chord, step)
            if in_a_row is not None:
                return in_a_row
        elif step == 5 and kind == "m" and chord.follows_itself and chord.next_step == 7:
            return Numeral(4, 0, Quality.MINOR), costs.MINOR_PLAGAL
    elif step == 0 and chord.turns_minor and _is_four(chord):
        return Numeral(1, 0, Quality.MAJOR), costs.TURNING_MINOR
    if kind != "D":
        return None
    if step == 10 and chord.last_step == 7:
        from_four = chord.last_kind in "TMD" and (
            (chord.next_step == 2 and chord.next_kind in "TMD") or (chord.next_step == 6 and chord.next_kind == "m")
        )
        if chord.last_kind == "m" or (from_four and not is_minor):
            return Numeral(7, -1, Quality.DOMINANT), costs.BACKDOOR
    return _blues(chord, step)


_ROW_STEPS: Final = {3: (-1, 9, 5, 10), 8: (4, 7, 5, -1), 1: (2, 7, 11, -1)}
"""For bIII7, bVI and bII: where the two chords before and the two after must lie above each (-1: anywhere)."""


def _in_a_row(chord: Heard, step: int) -> _Costed | None:
    """bIII7, bVI and subV between I and I: the substitutes of VI7, II7 and V7, each a fifth below the one before."""
    found = (chord.before_step, chord.last_step, chord.next_step, chord.after_step)
    if any(wanted not in (-1, lies) for wanted, lies in zip(_ROW_STEPS[step], found, strict=True)):
        return None
    return literal_numeral(step, chord.kind), costs.SUBSTITUTES_IN_A_ROW


def _blues(chord: Heard, step: int) -> _Costed | None:
    """I7 and IV7 beside each other or about their V: sevenths that are no dominants of anything."""
    if step == 0 and not (chord.last_step == 7 and chord.last_kind in ("m", "h")):
        if chord.next_step == 5 and chord.next_kind == "D":
            return Numeral(1, 0, Quality.DOMINANT), costs.BLUES
        if (chord.next_step, chord.next_kind, chord.after_step, chord.after_kind) == (7, "D", 5, "D"):
            return Numeral(1, 0, Quality.DOMINANT), costs.BLUES  # I7 V IV7
        if (chord.last_step, chord.last_kind, chord.next_step, chord.next_kind) == (7, "D", 7, "D"):
            return Numeral(1, 0, Quality.DOMINANT), costs.BLUES  # V I7 V
        comes_from = {5: "D", 6: "od", 7: "D" if chord.before_step == 2 else ""}.get(chord.last_step, "")
        if chord.next_step != 5 and chord.last_kind and chord.last_kind in comes_from:  # IV7, #ivo, ii V
            return Numeral(1, 0, Quality.DOMINANT), costs.BLUES
    if step == 5 and "D" in ((chord.next_step == 7) * chord.next_kind, (chord.last_step == 7) * chord.last_kind):
        return Numeral(4, 0, Quality.DOMINANT), costs.BLUES
    return None


def _cheaper(one: _Costed, other: _Costed | None) -> _Costed:
    return one if other is None or one[1] <= other[1] else other


def _applied_dominant(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """V/x: cheap when it goes to x or to the ii of x, dearer when deceptive, dearest when it goes elsewhere."""
    target_step = (step + 5) % 12
    target = costs.TARGETS[is_minor].get(target_step)
    if target is None:
        return None
    following = chord.next_step
    if following == 5:
        cost = costs.RESOLVED
    elif target_step == 7 and following == 10 and chord.next_bass == 7:
        cost = costs.BEFORE_CADENTIAL  # V/V, then I over 5 before V
    elif following == 7 and chord.next_kind in ("m", "h") and (chord.after_step, chord.after_kind) == (0, "D"):
        cost = costs.RESOLVED  # through its own ii: V/x ii/x V/x
    elif following == 0 or (following == 6 and chord.after_step == 11) or following in (1, 2):
        cost = costs.DECEPTIVE  # through the substitute of its target, or deceptive
    elif chord.next_kind in ("o", "d") and following in (4, 1, 7, 10):
        cost = costs.RESOLVED + 0.15  # its own upper notes
    else:
        cost = costs.UNRESOLVED
    cost += costs.DOMINANT_COST[chord.kind] + costs.TARGET_COST[is_minor][target_step]
    return Numeral(5, 0, _DOMINANT_KINDS[chord.kind], target), cost


def _substitute(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """subV and subV/x: down a half-step to its target, or through the related ii of what the target leads to."""
    target_step = (step + 11) % 12
    if chord.next_step == 11 or (chord.next_step == 6 and chord.after_step == 11):
        cost = costs.SUBSTITUTE
    else:
        return None
    if target_step == 0:
        return Numeral(2, -1, Quality.DOMINANT), cost
    target = costs.TARGETS[is_minor].get(target_step)
    if target is None:
        return None
    if step == 5:
        cost += 0.1  # IV7 is IV7 before it is subV/iii
    return Numeral(2, -1, Quality.DOMINANT, target), cost + costs.TARGET_COST[is_minor][target_step]


def _related_ii(chord: Heard, step: int, is_minor: bool, plain_cost: float) -> _Costed | None:
    """ii/x before V/x; a diatonic minor chord keeps its own name, and so does the ii of a substitute."""
    is_before_substitute = chord.next_step == 11 and chord.after_step == 10 and chord.next_kind == "D"
    if not is_before_substitute and (chord.next_step != 5 or chord.next_kind not in ("D", "s")):
        return None
    quality = Quality.HALF_DIMINISHED if chord.kind == "h" else Quality.MINOR
    target_step = (step + 10) % 12
    target = costs.TARGETS[is_minor].get(target_step)
    if target is not None and (plain_cost > 0.6 or (chord.kind == "h" and not is_minor)):
        cost = min(costs.RELATED_II, plain_cost - 0.01)
        return Numeral(2, 0, quality, target), cost
    if plain_cost > 0.9 and chord.after_step == 4:
        return literal_numeral(step, chord.kind), costs.CHROMATIC_II  # the ii of a substitute: biii before subV/V
    return None


def _passing(chord: Heard, step: int, is_minor: bool) -> _Costed | None:
    """Diminished chords that lead up a half-step (#io) or down one (biiio), or return to their own root (io)."""
    following = chord.next_step
    to_step = (step + following) % 12
    rises = following == 1 or (step == 3 and (following, chord.next_bass) == (9, 4))
    romans = {1: "#i", 3: "#ii" if rises else "biii", 4: "iii", 6: "#iv", 8: "#v", 9: "vi"}
    roman = romans.get(step)
    if roman is None:
        return None
    numeral = parse_numeral(f"{roman}o")
    if following == 1 and to_step in costs.TARGETS[is_minor]:
        return numeral, costs.PASSING
    if step == 6 and to_step == 0:
        return numeral, costs.PASSING
    if step == 3 and not is_minor and (following == 11 or rises):
        return numeral, costs.PASSING
    return numeral, 1.2


def _cadence(chord: Heard, step: int, is_minor: bool) -> float:
    """What a chord saves by taking part in a cadence: the surest sign of a key."""
    tonic_kinds = "mT5" if is_minor else "TM5"
    if step == 7 and chord.kind in costs.DOMINANT_COST and chord.next_step == 5:
        before = ("dhm", "m") if is_minor else ("mdh", "TM")
        is_prepared = (chord.last_step == 7 and chord.last_kind in before[0]) or (
            chord.last_step == 10 and chord.last_kind in before[1]
        )
        if chord.next_kind in tonic_kinds:
            if chord.repeats_itself:
                return costs.WAITING_V
            if chord.next_kind == "m" and chord.after_step == 10 and chord.after_kind == "D":
                return 0.0  # its target goes on as a ii: a V/ii
            at_rest = costs.INVERTED if chord.next_bass else 1.0
            return at_rest * costs.CADENCE_V + (costs.PREPARED if is_prepared else 0.0)
        if chord.next_kind != "D" or is_prepared:
            return 0.0
        return costs.BLUES if (chord.last_step, chord.last_kind) == (5, "D") else costs.NO_REST  # I7 V I7
    if (step, chord.kind, chord.next_step, chord.next_kind, chord.after_step) == (7, "D", 10, "D", 5):
        return costs.BLUES_CADENCE
    if step == 0 and chord.kind in tonic_kinds and not (is_minor and _is_four(chord)):
        if chord.kind == "m" and chord.next_step == 5 and chord.next_kind == "D":
            return costs.NO_REST
        if chord.last_step == 7 and chord.last_kind in costs.DOMINANT_COST:
            if chord.follows_itself:
                return costs.WAITING_I
            return costs.CADENCE_I * (costs.INVERTED if chord.bass else 1.0)
        if chord.bass == 7 and chord.next_step == 7 and chord.next_kind in costs.DOMINANT_COST:
            return costs.SIX_FOUR
        if chord.last_step == 11 and chord.last_kind in "do":
            return costs.LEADING_I
    if step == 11 and chord.kind in "do" and chord.next_step == 1 and chord.next_kind in tonic_kinds:
        return costs.LEADING_V
    return 0.0


def _is_four(chord: Heard) -> bool:
    """Whether a chord is one of a major and a minor one on the same root that a dominant seventh leads to."""
    return chord.last_kind == "D" and (chord.turns_minor or chord.was_major)


def numerals_in_keys(
    symbols: Sequence[ChordSymbol | None], keys: Sequence[Key | None], heard: Sequence[Heard | None] | None = None
) -> list[Numeral | None]:
    """The numeral of every chord in its local key; None for no chord. All sequences have one item a chord.

    In a church mode the chords of its scale keep their degrees. ``heard`` is ``hear(symbols)`` where that is at hand.
    """
    memory: dict[tuple[Heard, int, str], Numeral] = {}
    numerals: list[Numeral | None] = []
    for chord, key in zip(hear(symbols) if heard is None else heard, keys, strict=True):
        if chord is None or key is None:
            numerals.append(None)
            continue
        tonic = key.tonic_pitch_class
        place = (chord, tonic, key.mode)
        numeral = memory.get(place)
        if numeral is None:
            modal = chords_of_mode(key.mode).get(((chord.root - tonic) % 12, chord.kind))
            numeral = modal[0] if modal else read_function(chord, tonic, is_minor_mode(key.mode)).numeral
            memory[place] = numeral
        numerals.append(numeral)
    return numerals
