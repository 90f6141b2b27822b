"""The order in which written bars are played: repeats, endings, Da capo, Dal segno, Fine and Coda.

Rules, as players read them:

- A repeat runs from its start sign (or, without one, from the end of the repeat before it) to its end sign.
- Bars under an ending bracket are played only in the passes the bracket names; a bracket without a number among the
  passes still to come ends the repeat.
- After a jump (D.C., D.S.) repeats are not taken again and the last ending of each is played; *Fine* stops and *To
  Coda* leaps to the coda.
- A jump is made once. Where a page has several (D.S. al Coda, then another in the coda), each is made when it is first
  reached, goes to the segno it names, else to the nearest before it, and leaves at a *To Coda* that has not been left
  at yet, for the first coda after the jump.
- A sign that makes no sense (an end that nothing starts, an ending outside any repeat) is played as if absent and
  reported.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from corpus.read.written import WrittenBar

_MOST_PASSES = 32
MOST_PLAYED_BARS = 20_000
"""Where an order of parts is broken off: more is refused as one line anyhow (``corpus.read.assemble``)."""


@dataclass(frozen=True, slots=True)
class PlayedOrder:
    """Indexes of written bars in the order they are played, and remarks: pairs of a bar index and a text."""

    indexes: tuple[int, ...]
    remarks: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Repeat:
    """A stretch from its first bar to the last bar of its last ending, and how often it is played."""

    first: int
    last: int
    passes: int


def _last_of_endings(bars: Sequence[WrittenBar], index: int) -> int:
    """The last bar of the bracket that ``index`` stands under."""
    while (
        not bars[index].closes_ending
        and index + 1 < len(bars)
        and bars[index + 1].endings
        and not bars[index + 1].starts_ending
    ):
        index += 1
    return index


def _repeats(bars: Sequence[WrittenBar], remarks: list[tuple[int, str]]) -> list[_Repeat]:
    """The repeats of a piece in order, nested ones flattened to the innermost; none overlap."""
    found: list[_Repeat] = []
    start = 0
    index = 0
    while index < len(bars):
        bar = bars[index]
        if bar.starts_repeat:
            start = index
        if bar.times:
            last = index
            passes = bar.times
            named = [number for under in bars[start : index + 1] for number in under.endings]
            # Endings that follow belong to the same repeat: |1 ... :|2 ... and so on.
            while (
                bars[last].endings
                and last + 1 < len(bars)
                and bars[last + 1].starts_ending
                and (not found or last + 1 > found[-1].last)
            ):
                last = _last_of_endings(bars, last + 1)
                named += bars[last].endings
                if bars[last].times:
                    passes = max(passes, bars[last].times)
            passes = max([passes, *named])
            if passes > _MOST_PASSES:
                remarks.append((index, f"a repeat asks for {passes} passes: {_MOST_PASSES} are played"))
                passes = _MOST_PASSES
            found.append(_Repeat(start, last, passes))
            index = start = last + 1
            continue
        index += 1
    inside = {i for repeat in found for i in range(repeat.first, repeat.last + 1)}
    for i, bar in enumerate(bars):
        if bar.starts_ending and i not in inside:
            remarks.append((i, "an ending bracket stands outside any repeat: played as written"))
        if bar.starts_repeat and i not in inside:
            remarks.append((i, "a repeat is begun here and never ended: played once"))
    return found


def _play_repeat(bars: Sequence[WrittenBar], repeat: _Repeat, only_pass: int | None) -> list[int]:
    """The bars of one repeat, all passes or the one that is asked for."""
    stretch = range(repeat.first, repeat.last + 1)
    named = {number for i in stretch for number in bars[i].endings}
    # A pass between two brackets that neither names (|1. ... |5. ... :|) would break off in the air: nobody plays it.
    passes = (
        [number for number in range(1, repeat.passes + 1) if not named or number in named or number > max(named)]
        if only_pass is None
        else [only_pass]
    )
    return [i for number in passes for i in stretch if not bars[i].endings or number in bars[i].endings]


def _play(bars: Sequence[WrittenBar], repeats: Sequence[_Repeat], start: int, stop: int, taken: bool) -> list[int]:
    """Play from ``start`` up to and including ``stop``; ``taken`` says that repeats have been played before."""
    by_first = {repeat.first: repeat for repeat in repeats}
    order: list[int] = []
    index = start
    while index <= stop:
        repeat = by_first.get(index)
        if repeat is None:
            inside = next((r for r in repeats if r.first < index <= r.last), None)
            if inside is None or not bars[index].endings or inside.passes in bars[index].endings:
                order.append(index)
            index += 1
            continue
        played = _play_repeat(bars, repeat, repeat.passes if taken else None)
        if repeat.last > stop:
            # A Fine or To Coda inside the repeat: the last pass runs only as far as that bar.
            last_pass = _play_repeat(bars, repeat, repeat.passes)
            earlier = [] if taken else played[: len(played) - len(last_pass)]
            played = earlier + [i for i in last_pass if i <= stop]
        order += played
        index = repeat.last + 1
    return order


def play_order(bars: Sequence[WrittenBar]) -> PlayedOrder:
    """The order in which ``bars`` sound, and remarks on signs that make no sense."""
    remarks: list[tuple[int, str]] = []
    walk = _Walk(bars, _repeats(bars, remarks), remarks)
    return PlayedOrder(tuple(walk.order()), tuple(remarks))


class _Walk:
    """Plays from jump to jump until none is left."""

    def __init__(self, bars: Sequence[WrittenBar], repeats: Sequence[_Repeat], remarks: list[tuple[int, str]]) -> None:
        self.bars = bars
        self.repeats = repeats
        self.remarks = remarks
        self.jumps = [i for i, bar in enumerate(bars) if bar.jump]
        self.left_at: set[int] = set()  # To Coda signs that have been followed

    def order(self) -> list[int]:
        played: list[int] = []
        position = 0
        last_bar = len(self.bars) - 1
        waiting = list(self.jumps)
        taken = False
        while True:
            at = next((i for i in waiting if i >= position), None)
            played += self._stretch(position, last_bar if at is None else at, taken)
            if at is None:
                break
            waiting.remove(at)
            position = self._target(at)
            taken = not self.bars[at].jump_with_repeats
            leaving, coda = self._coda(position, at)
            fine = next((i for i in range(position, len(self.bars)) if self.bars[i].fine), None)
            if leaving is not None and coda is not None:
                played += self._stretch(position, leaving, taken)
                position, taken = coda, False
            elif fine is not None:
                played += self._stretch(position, fine, taken)
                waiting = [i for i in waiting if i > at]
                break
        self.remarks += [(i, f"a further jump ({self.bars[i].jump}) is not reached") for i in waiting]
        return played

    def _stretch(self, start: int, stop: int, taken: bool) -> list[int]:
        return _play(self.bars, self.repeats, start, stop, taken)

    def _target(self, at: int) -> int:
        """Where a jump leads: the beginning, or the segno it names, else the nearest before it, else the first."""
        jump = self.bars[at]
        if jump.jump != "dal segno":
            return 0
        signs = [i for i, bar in enumerate(self.bars) if bar.segno]
        if not signs:
            self.remarks.append((at, "Dal segno without a segno: played from the beginning"))
            return 0
        named = [i for i in signs if jump.segno_wanted and self.bars[i].segno_name == jump.segno_wanted]
        before = [i for i in signs if i <= at]
        return named[0] if named else before[-1] if before else signs[0]

    def _coda(self, back: int, at: int) -> tuple[int | None, int | None]:
        """The To Coda to leave at after the jump at ``at``, and the coda it leads to."""
        leaving = next((i for i in range(back, len(self.bars)) if self.bars[i].to_coda and i not in self.left_at), None)
        if leaving is None:
            return None, None
        self.left_at.add(leaving)
        codas = [i for i in range(at + 1, len(self.bars)) if self.bars[i].coda]
        if not codas:
            self.remarks.append((leaving, "To Coda without a coda after the jump: played on"))
            return None, None
        # The coda sign stands twice on many pages: where one leaves, and at the coda itself, which comes last.
        return leaving, codas[-1] if len(self.jumps) == 1 else codas[0]


def part_play_order(bars: Sequence[WrittenBar], part_order: Sequence[str]) -> PlayedOrder:
    """The order when a header names its parts (``P:AABA``): each part is played with its own repeats.

    Parts that the bars do not mark are skipped with a remark.
    """
    starts = [i for i, bar in enumerate(bars) if bar.section is not None]
    ranges: dict[str, range] = {}
    for start, end in zip(starts, [*starts[1:], len(bars)], strict=True):
        ranges.setdefault(bars[start].section or "", range(start, end))
    indexes: list[int] = list(range(starts[0])) if starts else []
    remarks: list[tuple[int, str]] = []
    for label in part_order:
        if label not in ranges:
            remarks.append((0, f"the order of parts names {label!r}, which no bar is marked with"))
            continue
        part = ranges[label]
        inner = play_order([bars[i] for i in part])
        indexes += [part[i] for i in inner.indexes]
        if len(indexes) > MOST_PLAYED_BARS:
            break
        remarks += [(part[i], text) for i, text in inner.remarks if (part[i], text) not in remarks]
    return PlayedOrder(tuple(indexes), tuple(remarks))
