"""The form of a chorus as text, and the choruses and sections that follow from it.

Grammar: a number of bars (``32``), or sections with their bars, in order (``A8 A8 B8 A8``, ``Intro4 A12``).
"""

import re
from collections.abc import Sequence

from corpus.errors import QueryError
from corpus.model import Bar, Form, FormPart, Section

_PART = re.compile(r"([A-Za-z][A-Za-z' ]*?)\s*(\d{1,3})")
_LONGEST_FORM_BARS = 512


def parse_form(text: str) -> Form:
    """Read a form such as ``32`` or ``A8 A8 B8 A8``.

    Raises QueryError when it is neither, or has no bars or more than 512.
    """
    stripped = text.strip()
    if stripped.isdecimal() and stripped.isascii():
        form = Form((FormPart("", int(stripped[:9])),))
    else:
        parts: list[FormPart] = []
        position = 0
        while position < len(stripped):
            match = _PART.match(stripped, position)
            if match is None:
                raise QueryError(
                    f"unknown form {text!r} at column {position + 1}: "
                    "write bars (32) or sections with their bars (A8 A8 B8 A8)"
                )
            parts.append(FormPart(match[1].strip(), int(match[2])))
            position = match.end()
            while position < len(stripped) and stripped[position] in " ,;-":
                position += 1
        form = Form(tuple(parts))
    if not 1 <= form.bars <= _LONGEST_FORM_BARS or any(part.bars == 0 for part in form.parts):
        raise QueryError(
            f"form {text!r} has {form.bars} bars: a chorus has 1 to {_LONGEST_FORM_BARS}, a section at least 1"
        )
    return form


def _places_in_form(bars: Sequence[Bar]) -> list[int]:
    """How many full bars begin before each played bar.

    A pickup counts as part of the bar it leads to; the second half of a bar that a repeat sign or double bar divides
    bears the number of the first and is no bar of its own.
    """
    places: list[int] = []
    count = -1
    for index, bar in enumerate(bars):
        is_second_half = index > 0 and bar.padding_ticks > 0 and bar.number == bars[index - 1].number
        if bar.number != 0 and not is_second_half:
            count += 1
        places.append(max(count, 0))
    return places


def bars_of_form(bars: Sequence[Bar], form: Form | None) -> list[int]:
    """The bar of the form at which each played bar stands, from 1; 0 for a pickup. Without form bars count on."""
    return [
        0 if bar.number == 0 else 1 + (place if form is None else place % form.bars)
        for place, bar in zip(_places_in_form(bars), bars, strict=True)
    ]


def chorus_numbers(bars: Sequence[Bar], form: Form | None) -> list[int]:
    """The chorus of each played bar, counted from 1; a pickup belongs to the first. One chorus without a form."""
    if form is None:
        return [1] * len(bars)
    return [1 + place // form.bars for place in _places_in_form(bars)]


def sections_from_form(bars: Sequence[Bar], form: Form) -> tuple[Section, ...]:
    """The sections that a form lays over the played bars, again in every chorus. Empty for a form without names."""
    if not all(part.label for part in form.parts) or not bars:
        return ()
    labels = {}
    begun = 0
    for part in form.parts:
        labels[begun] = part.label
        begun += part.bars
    starts: list[tuple[str, int]] = []
    seen: set[int] = set()
    for place, bar in zip(_places_in_form(bars), bars, strict=True):
        if place % form.bars in labels and place not in seen:
            starts.append((labels[place % form.bars], bar.onset_ticks))
        seen.add(place)
    ends = [onset for _, onset in starts[1:]] + [bars[-1].onset_ticks + bars[-1].length_ticks]
    return tuple(Section(label, onset, end) for (label, onset), end in zip(starts, ends, strict=True))
