"""Verification as a kernel: what ``corpus.match.verify`` computes in columns, one ending after the other.

A way that cannot become cheaper than the best one so far is given up at once: octaves and letters that are right cost a
whole table each, those that are wrong a few rows.

Records, as places in arrays of numbers: ``FIGURE`` facts about the figure, ``ELEMENT`` for each of its elements and one
more, ``NOTE`` for each note in reach of the ending, ``CELL`` for each element on each of these notes (and a row before
the first), ``FOUND`` for each ending.
"""

from typing import Final

from corpus.match.alignment import NEVER, PARTS_SHIFT
from corpus.match.ornaments import ORNAMENTS
from corpus.match.sought import NO_LETTERS
from corpus.native.language import Bytes, Int32s, Int64s

_DOUBLED: Final = ORNAMENTS.index("doubled")
_TOLD: Final = 8
"""Ways in which the letter of the last note can be told."""

SIZE, SHIFTS, OCTAVE, HALF, CLASS_COUNT, NEEDS_CLASS = range(6)
FRESH, FARTHEST, HIGH, LOW, LAST, HAS_LETTERS, RIGHT, WRONG, UNTOLD, MOST = range(6, 16)
REPEATED, MISSING, MORE = range(16, 19)
FIGURE: Final = 19
"""Elements; shifts; an octave and the least of it that rounds down, in steps of the alphabet; classes; whether only
notes with a class can be added; most notes in reach but for repeats, and with them; the highest, lowest and last height
of the figure; whether letters matter; where the tables for right, wrong and untold letters begin; the heaviest weight;
elements that are mere repeats, the least that any other weighs when it is missing, and a note when it is added.
"""
ROW, LETTER, START, DROP, AFTER = range(5)
ELEMENT: Final = 5
"""Where its table stands in the tables, and in it height 0; its letter; what leaving out all before it, itself, and all
from it on weighs."""
KEY, NOTE_LETTER, ADDING, STRUCK = range(4)
NOTE: Final = 4
"""What it is looked up by: height or class; its letter; what adding it weighs; 1 if it is a mere repeat."""
ON, LEAST = range(2)
CELL: Final = 2
"""The least weight with an element on a note; with the elements so far used and the note the last one used."""
WEIGHT, AWAY, TOLD = range(3)
FOUND: Final = 3
"""As ``verify.Verified``; the weight is ``NEVER`` where there is no occurrence."""
TIE: Final = 2 * NO_LETTERS
LOWS: Final = TIE + 1
"""What each transposition of the letters weighs at least, room for one element, and what decides between equals."""
WIDEST_REACH: Final = 512
"""No two notes of an unbroken line are so far apart; what lies beyond is out of reach."""


def look(
    classes: Bytes,
    ornaments: Bytes,
    heights: Int32s,
    positions: Int32s,
    end: int,
    bar: int,
    figure: Int64s,
    added: Int64s,
    window: Int64s,
) -> int:
    """How many notes are in reach of an ending, itself included; writes their records, the ending's last."""
    reach = 0
    fresh = 0
    low = heights[end]
    high = low
    while end - reach > bar and reach < figure[FARTHEST]:
        note = end - reach
        low = min(low, heights[note])
        high = max(high, heights[note])
        if ornaments[note] != _DOUBLED:
            fresh += 1
        if fresh > figure[FRESH] or high - low > WIDEST_REACH:
            break
        reach += 1
    for place in range(reach):
        note = end - reach + 1 + place
        at = NOTE * place
        has_class = classes[note] < figure[CLASS_COUNT]
        window[at + KEY] = heights[note]
        if figure[SHIFTS] == 1:
            window[at + KEY] = 0
            if has_class:
                window[at + KEY] = classes[note] + 1
        window[at + NOTE_LETTER] = positions[note] % NO_LETTERS
        window[at + ADDING] = added[ornaments[note]]
        window[at + STRUCK] = 0
        if ornaments[note] == _DOUBLED:
            window[at + STRUCK] = 1
        if figure[NEEDS_CLASS] == 1 and not has_class:
            window[at + ADDING] = NEVER
    return reach


def at_most(free: int, each: int, limit: int) -> int:
    """How many changes there can be, some of which are free, when each other one weighs so much at least."""
    if each == 0:
        return NEVER
    return free + limit // each


def weigh(
    size: int,
    elements: Int64s,
    reach: int,
    window: Int64s,
    table: Int64s,
    base: int,
    letter: int,
    right: int,
    wrong: int,
    limit: int,
    more: int,
    missing: int,
    cells: Int64s,
) -> int:
    """The least weight of ending on the last note in reach under one transposition; anything above ``limit`` if more.

    The tables at ``right`` and ``wrong`` say what an element weighs by whether the letter fits. ``more`` notes at most
    can be added and ``missing`` elements be missing: what lies farther from the diagonal is not looked at.
    """
    final = NEVER
    last = reach - 1
    for place in range(reach):
        cells[CELL * place + LEAST] = NEVER
    for index in range(size):
        at = ELEMENT * index
        row = elements[at + ROW] - base
        start = elements[at + START] + last
        drop = elements[at + DROP]
        wanted = (elements[at + LETTER] + letter) % NO_LETTERS
        above = CELL * reach * index
        left = size - 1 - index
        first = max(0, last - left - more)
        if left == 0:
            first = last
        stop = min(reach, last - left + missing + 1)
        before = NEVER
        if first > 0:
            before = cells[above + CELL * (first - 1) + LEAST]
        kept = NEVER
        one = NEVER
        two = NEVER
        lowest = NEVER
        for place in range(first, stop):
            note = NOTE * place
            cell = above + CELL * place
            part = wrong
            if window[note + NOTE_LETTER] == wanted:
                part = right
            weight = table[part + row + window[note + KEY]]
            inside = before + weight
            before = cells[cell + LEAST]
            more = window[note + ADDING]
            three = two + more
            two = one + more
            one = kept + more
            on = min(inside, start - place + weight)
            kept = min(on, before + drop)
            here = min(min(min(kept, one), min(two, three)), NEVER)
            cells[cell + CELL * reach + ON] = on
            cells[cell + CELL * reach + LEAST] = here
            lowest = min(lowest, here)
            if place == last:
                final = min(final, inside + elements[at + ELEMENT + AFTER])
        if stop >= 0 and stop < reach:
            cells[above + CELL * (reach + stop) + LEAST] = NEVER
        if lowest > limit and elements[at + ELEMENT + START] > limit:
            break
    return final


def weigh_letters(
    size: int,
    elements: Int64s,
    reach: int,
    window: Int64s,
    table: Int64s,
    base: int,
    right: int,
    wrong: int,
    more: int,
    missing: int,
    lows: Int64s,
) -> int:
    """What an occurrence weighs at least under each transposition of the letters, to the first entries of ``lows``.

    Each element is taken for itself: the least that it weighs on any note near the diagonal, or when it is missing.
    """
    for letter in range(NO_LETTERS):
        lows[letter] = 0
    for index in range(size):
        at = ELEMENT * index
        row = elements[at + ROW] - base
        drop = elements[at + DROP]
        # On any letter, and on the one that fits.
        others = min(drop, elements[at + ELEMENT + START] - elements[at + START])
        for letter in range(NO_LETTERS):
            lows[NO_LETTERS + letter] = others
        left = size - 1 - index
        first = max(0, reach - 1 - left - more)
        if left == 0:
            first = reach - 1
        for place in range(first, min(reach, reach - left + missing)):
            note = NOTE * place
            weight = table[right + row + window[note + KEY]]
            other = table[wrong + row + window[note + KEY]]
            others = min(others, other)
            if weight < other:
                fits = NO_LETTERS + (window[note + NOTE_LETTER] + NO_LETTERS - elements[at + LETTER]) % NO_LETTERS
                lows[fits] = min(lows[fits], weight)
        for letter in range(NO_LETTERS):
            lows[letter] += min(others, lows[NO_LETTERS + letter])
    return 0


def keep(
    best: int,
    weight: int,
    tie: int,
    away: int,
    told: int,
    lows: Int64s,
    found: Int64s,
    at: int,
) -> int:
    """Whether an occurrence is better than the best so far, or as good and told before it; then it is kept."""
    if weight > best or (weight == best and tie >= lows[TIE]):
        return 0
    lows[TIE] = tie
    found[at + WEIGHT] = weight
    found[at + AWAY] = away
    found[at + TOLD] = told
    return 1


def verify_letters(
    figure: Int64s,
    elements: Int64s,
    reach: int,
    window: Int64s,
    table: Int64s,
    base: int,
    position: int,
    repeats: int,
    allowed: int,
    tie: int,
    away: int,
    cells: Int64s,
    lows: Int64s,
    found: Int64s,
    at: int,
) -> int:
    """The cheapest occurrence under a transposition, by letters; with every letter right it would weigh ``allowed``."""
    size = figure[SIZE]
    best = min(figure[MOST], found[at + WEIGHT])
    more = at_most(repeats, figure[MORE], best)
    missing = at_most(figure[REPEATED], figure[MISSING], best)
    right = figure[RIGHT]
    wrong = figure[WRONG]
    weigh_letters(size, elements, reach, window, table, base, right, wrong, more, missing, lows)
    # The letter that fits the last note comes first.
    for told in range(NO_LETTERS + 1):
        letter = (position + NO_LETTERS - elements[ELEMENT * (size - 1) + LETTER] + told) % NO_LETTERS
        name = (position + NO_LETTERS - letter) % NO_LETTERS
        if told == NO_LETTERS:
            # No letters weigh at least what right ones do.
            if best < allowed or (best == allowed and lows[TIE] <= tie + NO_LETTERS):
                continue
            letter = NO_LETTERS
            name = NO_LETTERS
            right = figure[UNTOLD]
            wrong = right
        if told < NO_LETTERS and lows[letter] > best:
            continue
        more = at_most(repeats, figure[MORE], best)
        missing = at_most(figure[REPEATED], figure[MISSING], best)
        weight = weigh(size, elements, reach, window, table, base, letter, right, wrong, best, more, missing, cells)
        if keep(best, weight, tie + name, away, name, lows, found, at) == 1:
            best = weight
    return 0


def verify_ending(
    bounds: Int64s,
    first_bound: int,
    figure: Int64s,
    elements: Int64s,
    reach: int,
    window: Int64s,
    position: int,
    table: Int64s,
    cells: Int64s,
    lows: Int64s,
    found: Int64s,
    at: int,
) -> int:
    """The cheapest occurrence on the ending of a window, and how it is told, as ``alignment.rank`` chooses."""
    last = NOTE * (reach - 1)
    height = window[last + KEY]
    low = height
    high = height
    for place in range(reach):
        low = min(low, window[NOTE * place + KEY])
        high = max(high, window[NOTE * place + KEY])
    size = figure[SIZE]
    repeats = 0
    for place in range(reach):
        repeats += window[NOTE * place + STRUCK]
    best = figure[MOST]
    lows[TIE] = NEVER
    found[at + WEIGHT] = NEVER
    for shift in range(figure[SHIFTS]):
        if bounds[first_bound + shift] > best >> PARTS_SHIFT:
            continue
        octave = 0
        lowest = 0
        highest = 0
        if figure[SHIFTS] > 1:
            # The octave in which the last note is nearest to its place comes first, then those around it.
            octave = (height - figure[LAST] - shift + figure[HALF]) // figure[OCTAVE]
            lowest = (low - figure[HIGH] - shift + figure[HALF]) // figure[OCTAVE]
            highest = (high - figure[LOW] - shift + figure[HALF]) // figure[OCTAVE]
        for turn in range(2 * (highest - lowest) + 1):
            tried = octave + ((turn + 1) >> 1)
            if turn & 1 == 1:
                tried = octave - ((turn + 1) >> 1)
            if tried < lowest or tried > highest:
                continue
            base = shift + figure[OCTAVE] * tried
            away = 0
            if figure[SHIFTS] > 1:
                away = height - base - figure[LAST]
            tie = _TOLD * 2 * away
            if away < 0:
                tie = _TOLD * (1 - 2 * away)
            more = at_most(repeats, figure[MORE], best)
            missing = at_most(figure[REPEATED], figure[MISSING], best)
            # At first every letter is right: what is too dear even so need not be looked at letter by letter.
            right = figure[RIGHT]
            weight = weigh(size, elements, reach, window, table, base, 0, right, right, best, more, missing, cells)
            if weight > best:
                continue
            if figure[HAS_LETTERS] == 0:
                keep(best, weight, tie, away, 0, lows, found, at)
                best = weight
                continue
            verify_letters(
                figure,
                elements,
                reach,
                window,
                table,
                base,
                position,
                repeats,
                weight,
                tie,
                away,
                cells,
                lows,
                found,
                at,
            )
            best = min(best, found[at + WEIGHT])
    return 0


def verify_endings(
    classes: Bytes,
    ornaments: Bytes,
    heights: Int32s,
    positions: Int32s,
    places: Int64s,
    bars: Int64s,
    bounds: Int64s,
    count: int,
    figure: Int64s,
    elements: Int64s,
    added: Int64s,
    table: Int64s,
    window: Int64s,
    cells: Int64s,
    lows: Int64s,
    found: Int64s,
) -> int:
    """The cheapest occurrence on each of some endings.

    ``places`` are the endings, ``bars`` the bars before them, ``bounds`` the least price by ending and shift;
    ``added`` is what adding a note weighs by ornament; ``window``, ``cells`` and ``lows`` are room for the notes in
    reach, the elements on them, and ``LOWS``.
    """
    for ending in range(count):
        end = places[ending]
        reach = look(classes, ornaments, heights, positions, end, bars[ending], figure, added, window)
        position = positions[end] % NO_LETTERS
        verify_ending(
            bounds,
            ending * figure[SHIFTS],
            figure,
            elements,
            reach,
            window,
            position,
            table,
            cells,
            lows,
            found,
            FOUND * ending,
        )
    return count
