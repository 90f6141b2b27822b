"""Simplification of a chart, at four levels (common practice: the chords most often left out are the ii of a ii-V,
then the vi of a turnaround).

=====  =============================================================================================================
level  what is left
=====  =============================================================================================================
0      the chart as written
1      the ii of a ii-V becomes part of its V: ``ii V``, ``ii/IV V/IV``, ``ii7b5/vi V/vi``, ``biii subV/V``,
       ``Vsus V``
2      and the passing vi of a turnaround becomes part of the I or iii before it, in any of its forms: ``vi``,
       ``V/ii``, ``subV/ii``, ``#io``, ``biiio``, in minor ``vi7b5`` and ``bVI``. So I-VI-ii-V is I-V: a bar each
3      one key centre for each passage in one key, written as its I
=====  =============================================================================================================

A iii before V/ii stands for I and keeps its name, and so does a vi before V/V; but where dominants follow each other a
fifth apart, each with its ii between (``V/vi iii V/ii vi V/V ii V``: a dominant turns minor and is the ii of the next,
or the ii comes between a dominant and its repetition), these are iis too and become part of their Vs.

Chords in a row with one numeral in one key are one span from level 1 on. No chord keeps its own span up to level 2, and
at level 3 belongs to the passage.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from corpus.harmony.functions import Numeral, Quality, is_minor_mode
from corpus.harmony.spans import HarmonySpan
from corpus.pitch import Key

LEVELS: Final = (0, 1, 2, 3)


@dataclass(frozen=True, slots=True)
class LevelSpan:
    """A stretch of the simplified chart, in ticks, and the written chords it stands for.

    ``chords`` are the half-open range of indexes into the written spans.
    """

    onset_ticks: int
    end_ticks: int
    numeral: Numeral | None
    key: Key | None
    chords: tuple[int, int]


def simplify(spans: Sequence[HarmonySpan], level: int) -> tuple[LevelSpan, ...]:
    """The chart at a level, 0 to 3; the spans cover the same time as the chart. Raises ValueError for another level."""
    if level not in LEVELS:
        raise ValueError(f"simplification level {level!r} is not one of 0, 1, 2, 3")
    return simplify_all(spans)[level]


def simplify_all(spans: Sequence[HarmonySpan]) -> tuple[tuple[LevelSpan, ...], ...]:
    """The chart at all four levels."""
    written = [
        LevelSpan(span.onset_ticks, span.end_ticks, span.numeral, span.key, (index, index + 1))
        for index, span in enumerate(spans)
    ]
    without_ii = _absorb_ii(_merged(written))
    without_vi = _absorb_vi(without_ii)
    return tuple(written), tuple(without_ii), tuple(without_vi), tuple(_key_centres(written))


def _joined(first: LevelSpan, last: LevelSpan, kept: LevelSpan) -> LevelSpan:
    """One span over two neighbours, called what ``kept`` is called."""
    chords = (first.chords[0], last.chords[1])
    return LevelSpan(first.onset_ticks, last.end_ticks, kept.numeral, kept.key, chords)


def _merged(spans: Sequence[LevelSpan]) -> list[LevelSpan]:
    """Neighbours of one numeral and key as one span."""
    merged: list[LevelSpan] = []
    first = last = None
    for span in spans:
        if first is not None and last is not None:
            if _is_same(last, span) and last.end_ticks == span.onset_ticks:
                last = span
                continue
            merged.append(first if first is last else _joined(first, last, first))
        first = last = span
    if first is not None and last is not None:
        merged.append(first if first is last else _joined(first, last, first))
    return merged


def _is_same(first: LevelSpan, second: LevelSpan) -> bool:
    """Whether two spans have one numeral and key; most that do share the very objects, which is quicker to see."""
    return (first.numeral is second.numeral or first.numeral == second.numeral) and (
        first.key is second.key or first.key == second.key
    )


def _touch(first: LevelSpan, second: LevelSpan) -> bool:
    return first.end_ticks == second.onset_ticks


def is_ii_of(first: Numeral | None, second: Numeral | None) -> bool:
    """Whether the first of two chords in a row is the ii of the second (or its suspension)."""
    if first is None or second is None or not second.is_dominant:
        return False
    if second.quality is Quality.SUSPENDED and first.quality is Quality.SUSPENDED:
        return False
    target = None if second.of is None else second.of.root_semitones
    if first.quality is Quality.SUSPENDED:
        return first.root_semitones == second.root_semitones
    if first.is_ii:
        return target == (None if first.of is None else first.of.root_semitones)
    is_chromatic = first.alteration != 0 and first.quality in (Quality.MINOR, Quality.HALF_DIMINISHED)
    return second.is_substitute and is_chromatic and (second.root_semitones - first.root_semitones) % 12 == 5


def _absorb_ii(spans: Sequence[LevelSpan]) -> list[LevelSpan]:
    kept: list[LevelSpan] = []
    for span in spans:
        while kept and kept[-1].key == span.key and _touch(kept[-1], span) and _is_absorbed(kept, span.numeral):
            span = _joined(kept.pop(), span, span)
        kept.append(span)
    return _merged(kept)


def _is_absorbed(kept: Sequence[LevelSpan], numeral: Numeral | None) -> bool:
    """Whether the last span so far becomes part of the V that follows it."""
    last = kept[-1]
    if is_ii_of(last.numeral, numeral):
        return True
    before = kept[-2] if len(kept) > 1 and kept[-2].key == last.key and _touch(kept[-2], last) else None
    return before is not None and is_ii_between(before.numeral, last.numeral, numeral)


def is_ii_between(before: Numeral | None, middle: Numeral | None, after: Numeral | None) -> bool:
    """Whether a minor chord between two dominant sevenths is the ii of the second, whatever its own name.

    It is where the first dominant turns minor to be that ii (D7 Dm7 G7), or is the second already (G7 Dm7 G7).
    """
    if before is None or middle is None or after is None:
        return False
    if not (before.quality is after.quality is Quality.DOMINANT):
        return False
    if middle.quality not in (Quality.MINOR, Quality.HALF_DIMINISHED):
        return False
    to_next = (after.root_semitones - middle.root_semitones) % 12
    if before.root_semitones == middle.root_semitones:
        return to_next in (5, 11)
    return to_next == 5 and before.root_semitones == after.root_semitones


def is_passing_vi(numeral: Numeral | None) -> bool:
    """Whether a chord can be the second of a turnaround: vi, VI7, its substitute, or a passing diminished chord."""
    if numeral is None:
        return False
    if numeral.of is not None:
        return numeral.is_dominant and numeral.of.root_semitones == 2
    root, quality = numeral.root_semitones, numeral.quality
    if quality is Quality.DIMINISHED:
        return root in (1, 3)
    if root == 9:
        return quality in (Quality.MINOR, Quality.HALF_DIMINISHED)
    return root == 8 and quality is Quality.MAJOR


def _is_tonic_like(numeral: Numeral | None) -> bool:
    if numeral is None:
        return False
    return numeral.is_tonic or (numeral.of is None and numeral.root_semitones == 4 and numeral.quality is Quality.MINOR)


def _absorb_vi(spans: Sequence[LevelSpan]) -> list[LevelSpan]:
    kept: list[LevelSpan] = []
    for index, span in enumerate(spans):
        before = kept[-1] if kept else None
        after = spans[index + 1] if index + 1 < len(spans) else None
        if (
            before is not None
            and after is not None
            and before.key == span.key == after.key
            and is_passing_vi(span.numeral)
            and _is_tonic_like(before.numeral)
            and _goes_home(after.numeral)
            and _touch(before, span)
        ):
            kept[-1] = _joined(before, span, before)
        else:
            kept.append(span)
    return _merged(kept)


def _goes_home(numeral: Numeral | None) -> bool:
    """Whether a chord, after a vi, is the ii or V of a turnaround (the V has absorbed its ii)."""
    if numeral is None:
        return False
    if numeral.of is None:
        return numeral.is_dominant or numeral.is_ii
    return numeral.is_dominant and numeral.of.root_semitones == 7


def _key_centres(spans: Sequence[LevelSpan]) -> list[LevelSpan]:
    centres: list[LevelSpan] = []
    for key, passage in groupby(spans, key=lambda span: span.key):
        chords = list(passage)
        numeral = None if key is None else Numeral(1, 0, Quality.MINOR if is_minor_mode(key.mode) else Quality.MAJOR)
        first, last = chords[0], chords[-1]
        centres.append(LevelSpan(first.onset_ticks, last.end_ticks, numeral, key, (first.chords[0], last.chords[1])))
    return centres
