"""Whole forms recognised from the chords alone: where the choruses and sections of an unmarked line lie.

Every bar is seen through two chords, at its start and in its middle, as semitones above the home tonic and kind. Then,
in this order (all shapes are common practice):

=========================  ========  =================================================================================
name                       form      what must be so
=========================  ========  =================================================================================
12-bar blues,              A12       I in bars 1 and 11 (or a turnaround that stands for it), IV in bar 5, back to I
12-bar minor blues                   or iii in bar 7, a dominant or its ii, or bVI7, in bars 9 and 10; in minor, i
                                     in bar 1
32-bar I-VI-ii-V form      A8 A8     I or iii at the start of bars 1, 3 and 7 of each A, ii or V of each bar between, IV
                           B8 A8     in bar 6; a bridge of III7 VI7 II7 V7, two bars each, or substitutes
32-bar AABA                A8 A8     the As alike, the bridge unlike them
                           B8 A8
32-bar ABAC                A8 B8     first and third eight alike, the others unlike them
                           A8 C8
16-bar                     A8 B8,    sixteen bars in all, or a line that repeats itself every sixteen bars and not every
                           or A8 A8    eight
=========================  ========  =================================================================================

Alike means that ``ALIKE`` of the half-bars agree; a chord that only shares its function counts half. An introduction
of 2, 4 or 8 bars is allowed, a coda of any length.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import chain
from typing import Final, NamedTuple

from corpus.form import parse_form, sections_from_form
from corpus.harmony.functions import is_minor_mode
from corpus.harmony.hearing import kind_of
from corpus.harmony.spans import HarmonySpan
from corpus.harmony.symbols import ChordSymbol
from corpus.model import Bar, Form, Section

ALIKE: Final = 0.75
UNLIKE: Final = 0.6
SIXTEEN: Final = 0.9
"""How alike the halves of a 32-bar stretch are when it is two choruses of 16 bars rather than ABAC."""
FITTING: Final = 0.8
"""The share of a template's places that must hold, over all choruses."""
_INTRODUCTIONS: Final = (0, 4, 8, 2)

_Half = tuple[int, str]
"""A chord as semitones above the home tonic and kind; (-1, "") for no chord."""
_NO_CHORD: Final = (-1, "")


class RecognisedForm(NamedTuple):
    """A form, the index of the played bar that starts its first chorus, and its name."""

    form: Form
    first_bar: int
    name: str


def recognise_form(spans: Sequence[HarmonySpan], bars: Sequence[Bar]) -> RecognisedForm | None:
    """The form of a charted line of at least one chorus, or None when no form is sure."""
    pickups = 1 if bars and bars[0].number == 0 else 0
    homes = _homes(spans)
    if not homes or len(bars) - pickups < 12:
        return None
    played = _halves(spans, bars)
    from_home = [([(_above(one, tonic), _above(two, tonic)) for one, two in played], minor) for tonic, minor in homes]
    for introduction in _INTRODUCTIONS:
        first = pickups + introduction
        for halves, is_minor in from_home:
            found = _recognise(halves[first:], is_minor)
            if found is not None and introduction and found[1] == "16-bar":
                found = None  # sixteen bars of anything are no proof of an introduction
            if found is not None:
                return RecognisedForm(parse_form(found[0]), first, found[1])
    return None


def sections_of(recognised: RecognisedForm, bars: Sequence[Bar]) -> tuple[Section, ...]:
    """The sections that a recognised form lays over the played bars, from its first chorus on."""
    return sections_from_form(bars[recognised.first_bar :], recognised.form)


def _homes(spans: Sequence[HarmonySpan]) -> list[tuple[int, bool]]:
    """The keys that could be home, most of the time first: tonic pitch class and whether minor."""
    time: dict[tuple[int, bool], int] = defaultdict(int)
    for span in spans:
        if span.key is not None:
            time[span.key.tonic_pitch_class, is_minor_mode(span.key.mode)] += span.length_ticks
    return sorted(time, key=lambda key: -time[key])[:2]


def _halves(spans: Sequence[HarmonySpan], bars: Sequence[Bar]) -> list[tuple[_Half, _Half]]:
    """The chords at the start and in the middle of every bar, as semitones above C and kind."""
    onsets = [span.onset_ticks for span in spans]
    known = {name: _half(symbol) for name, symbol in {id(span.symbol): span.symbol for span in spans}.items()}

    def at(ticks: int) -> _Half:
        index = bisect_right(onsets, ticks) - 1
        if index < 0 or ticks >= spans[index].end_ticks:
            return _NO_CHORD
        return known[id(spans[index].symbol)]

    return [(at(bar.onset_ticks), at(bar.onset_ticks + bar.length_ticks // 2)) for bar in bars]


def _half(symbol: ChordSymbol | None) -> _Half:
    root = None if symbol is None else symbol.root_pitch_class
    if symbol is None or root is None:
        return _NO_CHORD
    kind = kind_of(symbol)
    return root, "M" if kind == "T" else kind


def _above(half: _Half, tonic: int) -> _Half:
    return half if half is _NO_CHORD else ((half[0] - tonic) % 12, half[1])


_Halves = Sequence[tuple[_Half, _Half]]


def _recognise(halves: _Halves, is_minor: bool) -> tuple[str, str] | None:
    """Form and name for bars that start with a chorus."""
    if _every(halves, 12, lambda chorus: _blues_fit(chorus, is_minor)) >= FITTING and _fits_length(halves, 12):
        return "A12", "12-bar minor blues" if is_minor else "12-bar blues"
    if len(halves) >= 32:
        if not is_minor and _every(halves, 32, _turnaround_form_fit) >= FITTING:
            return "A8 A8 B8 A8", "32-bar I-VI-ii-V form"
        if _every(halves, 32, _aaba_fit) >= FITTING:
            return "A8 A8 B8 A8", "32-bar AABA"
        if _self_likeness(halves, 16) < SIXTEEN and _every(halves, 32, _abac_fit) >= FITTING:
            return "A8 B8 A8 C8", "32-bar ABAC"
    is_sixteen = len(halves) == 16
    if len(halves) >= 32:
        is_sixteen = _self_likeness(halves, 16) >= ALIKE > _self_likeness(halves, 8)
    if is_sixteen and any(half[0] >= 0 for bar in halves for half in bar):
        return ("A8 A8" if _likeness(halves[:8], halves[8:16]) >= ALIKE else "A8 B8"), "16-bar"
    return None


def _fits_length(halves: _Halves, bars: int) -> bool:
    """Whether a line is a number of choruses with a coda of at most four bars, or more than four choruses."""
    return len(halves) % bars <= 4 or len(halves) >= 4 * bars


def _every(halves: _Halves, bars: int, fit: Callable[[_Halves], float]) -> float:
    """The mean of a template's fit over all whole choruses, 0 to 1."""
    fits = [fit(halves[start : start + bars]) for start in range(0, len(halves) - bars + 1, bars)]
    return sum(fits) / len(fits) if fits else 0.0


_ANY_MAJOR: Final = frozenset("MD+s5")


def _blues_fit(chorus: _Halves, is_minor: bool) -> float:
    starts = [bar[0] for bar in chorus]
    roots = [half[0] for half in starts]
    tonic_kinds = frozenset("m5") if is_minor else _ANY_MAJOR
    if starts[0][0] != 0 or starts[0][1] not in tonic_kinds or roots[4] != 5:
        return 0.0
    if not is_minor and starts[4][1] not in "MDs":
        return 0.0
    checks = (
        roots[6] in (0, 4, 9),
        roots[8] in (2, 7, 8, 1),
        roots[9] in (7, 5, 1, 2),
        roots[10] in (0, 4),
        roots[5] in (5, 6, 10, 2, 0),
        roots[2] in (0, 4, 9, 7),
    )
    return sum(checks) / len(checks)


def _has(bars: _Halves, roots: frozenset[int], kinds: str) -> bool:
    return any(half[0] in roots and half[1] in kinds for bar in bars for half in bar)


_TONIC_ROOTS: Final = frozenset({0, 4})
_A_SECTIONS: Final = (0, 8, 24)
_BRIDGE: Final = ((0, (4, 10)), (2, (9, 3)), (4, (2, 8)), (6, (7, 1)))
"""Bars of the bridge and the roots of III7, VI7, II7, V7 and of their substitutes."""


def _turnaround_form_fit(chorus: _Halves) -> float:
    bridge = [_has(chorus[16 + bar : 18 + bar], frozenset(roots), "Ds") for bar, roots in _BRIDGE]
    if sum(bridge) < 3:
        return 0.0
    checks = list(bridge)
    for start in _A_SECTIONS:
        section = chorus[start : start + 8]
        checks += [section[bar][0][0] in _TONIC_ROOTS for bar in (0, 2)]
        checks += [section[6][0][0] in (0, 4, 2)]
        checks += [_has(section[bar : bar + 1], frozenset({2, 7, 1, 8}), "mDshM") for bar in (1, 3)]
        checks += [_has(section[5:6], frozenset({5}), "MD")]
    return sum(checks) / len(checks)


def _aaba_fit(chorus: _Halves) -> float:
    first, second, bridge, last = chorus[:8], chorus[8:16], chorus[16:24], chorus[24:]
    alike = min(_likeness(first, second), _likeness(first, last))
    return 1.0 if alike >= ALIKE and _likeness(first, bridge) <= UNLIKE else 0.0


def _abac_fit(chorus: _Halves) -> float:
    first, second, third, last = chorus[:8], chorus[8:16], chorus[16:24], chorus[24:]
    unlike = max(_likeness(first, second), _likeness(third, last))
    return 1.0 if _likeness(first, third) >= ALIKE and unlike <= UNLIKE else 0.0


_FUNCTION_OF: Final = {0: "T", 4: "T", 9: "T", 2: "S", 5: "S", 7: "D", 11: "D", 1: "D"}


@lru_cache(maxsize=4096)
def _half_likeness(one: _Half, other: _Half) -> float:
    if one == other:
        return 1.0
    if one[0] == other[0]:
        return 0.75
    function = _FUNCTION_OF.get(one[0])
    return 0.5 if function is not None and function == _FUNCTION_OF.get(other[0]) else 0.0


def _likeness(one: _Halves, other: _Halves) -> float:
    """How alike two stretches of equal length are, 0 to 1."""
    count = 2 * min(len(one), len(other))
    return sum(map(_half_likeness, chain(*one), chain(*other))) / count if count else 0.0


def _self_likeness(halves: _Halves, lag: int) -> float:
    return _likeness(halves[:-lag], halves[lag:])
