"""What a set of chord tones is called: its family, its available tensions and its one spelling.

Everything here follows from the tones alone, so that two ways of writing one chord always meet. A set of tones is an
integer with bit *n* set for the tone *n* semitones above the root (``0b10010001`` is the major triad).

Family, by the first line that fits:

================  =====================================================================================
dominant          ``alt``; major third and minor seventh, whatever the fifth (``7#5`` leads like ``7``);
                  a minor seventh without any third, fourth or second
augmented         major third and augmented fifth, no other fifth
major             any other major third; a sixth or major seventh without third, fourth or second
half-diminished   minor third, diminished fifth only, minor seventh
diminished        minor third, diminished fifth only
minor-major       minor third and major seventh
minor             any other minor third (so a sharp ninth without a major third is a minor third)
suspended         no third, but a fourth or a second
power             nothing of all that: a bare fifth or root
================  =====================================================================================

Tensions are those that jazz harmony textbooks give as available on the family (common practice, no single source):
whole steps above chord tones, on dominants also the altered ninths and thirteenths. One that the symbol's own tones
rule out (a natural 9 over ``7b9``) is left out.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final


class Family(StrEnum):
    """The kind of chord that decides its function and its tensions."""

    MAJOR = "major"
    DOMINANT = "dominant"
    MINOR = "minor"
    MINOR_MAJOR = "minor-major"
    HALF_DIMINISHED = "half-diminished"
    DIMINISHED = "diminished"
    AUGMENTED = "augmented"
    SUSPENDED = "suspended"
    POWER = "power"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Quality:
    """A set of tones described: tones and tensions in semitones above the root, ascending; the canonical suffix."""

    tones: tuple[int, ...]
    family: Family
    tensions: tuple[int, ...]
    suffix: str


_AVAILABLE: Final = {
    Family.MAJOR: (2, 6, 9, 11),
    Family.DOMINANT: (1, 2, 3, 6, 8, 9),
    Family.MINOR: (2, 5, 9),
    Family.MINOR_MAJOR: (2, 5, 9),
    Family.HALF_DIMINISHED: (2, 5, 8),
    Family.DIMINISHED: (2, 5, 8, 11),
    Family.AUGMENTED: (2, 6),
    Family.SUSPENDED: (2, 9),
    Family.POWER: (),
    Family.NONE: (),
}
_ALTERED: Final = (1, 3, 6, 8)


@lru_cache(maxsize=4096)
def describe(bits: int, *, alt: bool = False) -> Quality:
    """Describe a set of tones (bit 0, the root, is set); ``alt`` says that fifth and ninth are altered freely."""
    tones = tuple(tone for tone in range(12) if bits >> tone & 1)
    has = frozenset(tones)
    family = _family(has, alt)
    tensions = _ALTERED if alt else _available(has, family)
    suffix = _alt_suffix(has) if alt else _suffix(has)
    return Quality(tones, family, tuple(tension for tension in tensions if tension not in has), suffix)


def _family(has: frozenset[int], alt: bool) -> Family:
    if alt:
        return Family.DOMINANT
    if 4 in has:
        if 10 in has:
            return Family.DOMINANT
        return Family.AUGMENTED if 8 in has and not has & {6, 7} else Family.MAJOR
    if 3 in has:
        if 6 in has and 7 not in has:
            return Family.HALF_DIMINISHED if 10 in has else Family.DIMINISHED
        return Family.MINOR_MAJOR if 11 in has else Family.MINOR
    if has & {2, 5}:
        return Family.SUSPENDED
    if 10 in has:
        return Family.DOMINANT
    return Family.MAJOR if has & {9, 11} else Family.POWER


def _available(has: frozenset[int], family: Family) -> tuple[int, ...]:
    ruled_out: set[int] = set()
    if 1 in has or has >= {3, 4}:
        ruled_out.add(2)
    if 2 in has:
        ruled_out |= {1, 3}
    if 5 in has and family is Family.MAJOR:
        ruled_out.add(6)  # over a dominant 11 or 13 the sharp eleventh stays available, as over any dominant
    if has >= {6, 7}:
        ruled_out.add(5)
    if 8 in has:
        ruled_out.add(9)
    if 9 in has and family is Family.DOMINANT:
        ruled_out.add(8)
    elif 9 not in has and family is Family.MAJOR and 11 not in has and 10 not in has:
        ruled_out.add(11)  # a bare triad does not say which seventh it would take
    return tuple(tension for tension in _AVAILABLE[family] if tension not in ruled_out)


def _alt_suffix(has: frozenset[int]) -> str:
    names = {1: "b9", 2: "add9", 3: "#9", 5: "add11", 6: "b5", 7: "add5", 8: "#5", 9: "add13", 11: "add#7"}
    parts = [name for tone, name in names.items() if tone in has]
    parts += [f"no{number}" for tone, number in ((4, 3), (10, 7)) if tone not in has]
    return f"7alt({','.join(parts)})" if parts else "7alt"


def _suffix(has: frozenset[int]) -> str:
    """The canonical suffix: base, then alterations by degree, then added and left-out degrees in brackets."""
    if has == {0}:
        return "ped"
    if 3 in has and not has & {4, 7, 10} and 6 in has:
        return _diminished_suffix(has)
    third = 4 if 4 in has else 3 if 3 in has else None
    sus = "" if third is not None else "sus4" if 5 in has else "sus2" if 2 in has else ""
    free = has - {0, 4 if third == 4 else 3, 5 if sus == "sus4" else 2 if sus == "sus2" else 0}
    seventh = 10 if 10 in has else 11 if 11 in has else None
    is_plus = third == 4 and seventh is None and 8 in has and not has & {6, 7, 9}
    size = _size(has, free, seventh, sus)
    base = _base(third, seventh, size, sus)
    if is_plus:
        base = "aug"
    is_power = third is None and not sus and size == "" and 7 in has
    if is_power:
        base = "5"
    changes = [] if is_plus else _fifths(has, third)
    adds, nines = _upper(has, free, seventh, size)
    changes += nines
    omits = [] if third is not None or sus or is_power else ["no3"]
    if not has & {6, 7, 8}:
        omits.append("no5")
    if has >= {10, 11}:
        adds.append("add#7")
    return _join(base, changes, adds + omits)


def _diminished_suffix(has: frozenset[int]) -> str:
    base = "dim7" if 9 in has else "dim"
    if 11 in has:
        base += "(maj7)"
    changes = [name for tone, name in ((1, "b9"), (8, "b13")) if tone in has]
    adds = [name for tone, name in ((2, "add9"), (5, "add11")) if tone in has]
    return _join(base, changes, adds)


def _size(has: frozenset[int], free: frozenset[int], seventh: int | None, sus: str) -> str:
    """The number that the tones fill: every degree below it is there, natural or altered."""
    if seventh is None:
        return "" if 9 not in has else "6/9" if 2 in free else "6"
    ninth = bool(free & {1, 2, 3})
    eleventh = 5 in has or has >= {6, 7}
    if ninth and eleventh and 9 in has and sus != "sus2":
        return "13"
    if ninth and 5 in free:
        return "11"
    return "9" if 2 in free else "7"


def _base(third: int | None, seventh: int | None, size: str, sus: str) -> str:
    if seventh == 11:
        return f"m(maj{size})" if third == 3 else f"maj{size}{sus}"
    return f"{'m' if third == 3 else ''}{size}{sus}"


def _fifths(has: frozenset[int], third: int | None) -> list[str]:
    if 7 in has:
        return []
    names = ["b5"] if 6 in has else []
    if 8 in has and (6 not in has or third == 4):
        names.append("#5")
    return names


def _upper(has: frozenset[int], free: frozenset[int], seventh: int | None, size: str) -> tuple[list[str], list[str]]:
    """Added degrees and altered upper degrees that the number does not imply."""
    stacked = int(size) if size.isdecimal() and size != "6" else 0
    adds: list[str] = []
    changes = [name for tone, name in ((1, "b9"), (3, "#9")) if tone in free]
    if 2 in free and size != "6/9" and (changes or stacked < 9):
        adds.append("add9")
    sharp_eleven = has >= {6, 7}
    if sharp_eleven:
        changes.append("#11")
    if 5 in free and (sharp_eleven or stacked < 11):
        adds.append("add11")
    flat_thirteen = 8 in has and (7 in has or (6 in has and 4 not in has))
    if flat_thirteen:
        changes.append("b6" if seventh is None else "b13")
    if 9 in free and seventh is not None and (flat_thirteen or stacked < 13):
        adds.append("add13")
    return adds, changes


def _join(base: str, changes: list[str], others: list[str]) -> str:
    if changes and base[-1:].isdecimal():
        base += "".join(changes)
        changes = []
    return f"{base}({','.join(changes + others)})" if changes or others else base
