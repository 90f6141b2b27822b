"""Labels of a Humdrum piece (``*>A``): sections, endings, and the order in which an expansion list plays them."""

import re
from collections.abc import Sequence
from dataclasses import replace

from corpus.read.remarks import Remarks
from corpus.read.repeats import MOST_PLAYED_BARS
from corpus.read.written import WrittenBar

_MOST_PLAYED = 1_000


def _ending_of(label: str, known: set[str]) -> tuple[str, int] | None:
    """A label such as ``A2`` as the second ending of a section ``A`` that stands before it, or None."""
    match = re.fullmatch(r"(.*\D)([1-9])", label)
    return (match[1], int(match[2])) if match is not None and match[1] in known else None


def labelled(bars: Sequence[WrittenBar], labels: Sequence[str | None]) -> list[WrittenBar]:
    """The bars with their labels as sections, and numbered ones as endings where the page has repeat signs."""
    known: set[str] = set()
    has_repeats = any(bar.times for bar in bars)
    under: tuple[int, ...] = ()
    result: list[WrittenBar] = []
    for index, (bar, label) in enumerate(zip(bars, labels, strict=True)):
        ending = _ending_of(label, known) if label else None
        if label and ending is None:
            known.add(label)
            under = ()
        if ending is not None and has_repeats:
            under = (ending[1],)
        closes = bool(under) and (index + 1 == len(bars) or bool(labels[index + 1]))
        section = label if label and ending is None else None
        starts = ending is not None and has_repeats
        result.append(replace(bar, section=section, endings=under, starts_ending=starts, closes_ending=closes))
    return result


def order_of_labels(
    bars: Sequence[WrittenBar], labels: Sequence[str | None], order: Sequence[str], remarks: Remarks
) -> list[WrittenBar]:
    """The bars in the order that an expansion list names, without the signs that say the same on the page.

    What stands before the first label is played first. Names that nothing is labelled with are told and left out; when
    none is left, the bars come as they stand.
    """
    starts = [index for index, label in enumerate(labels) if label]
    ranges: dict[str, range] = {}
    for start, end in zip(starts, [*starts[1:], len(bars)], strict=True):
        ranges.setdefault(labels[start] or "", range(start, end))
    known: set[str] = set()
    plain: list[WrittenBar] = []
    for bar, label in zip(bars, labels, strict=True):
        is_ending = label is not None and _ending_of(label, known) is not None
        known |= {label} if label and not is_ending else set()
        section = label if label and not is_ending else None
        plain.append(replace(bar, section=section, starts_repeat=False, times=0, jump=None, fine=False, to_coda=False))
    if any(bar.times or bar.jump for bar in bars):
        remarks.add("the expansion list says what is played: repeat signs are not played as well")
    played: list[WrittenBar] = []
    for label in order[:_MOST_PLAYED]:
        if label not in ranges:
            remarks.add(f"the expansion list names {label[:40]!r}, which no bar is labelled with")
        played += [plain[index] for index in ranges.get(label, ())]
        if len(played) > MOST_PLAYED_BARS:
            break
    if len(order) > _MOST_PLAYED:
        remarks.add(f"the expansion list is cut after {_MOST_PLAYED} names")
    return [*plain[: starts[0]], *played] if played else plain
