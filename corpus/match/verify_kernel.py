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
FIGURE: Final = 16
"""Elements; shifts; an octave and the least of it that rounds down, in steps of the alphabet; classes; whether only
notes with a class can be added; most notes in reach but for repeats, and with them; the highest, lowest and last height
of the figure; whether letters matter; where the tables for right, wrong and untold letters begin; the heaviest weight.
"""
ROW, LETTER, START, DROP, AFTER = range(5)
ELEMENT: Final = 5
"""Where its table stands in the tables, and in it height 0; its letter; what leaving out all before it, itself, and all
from it on weighs."""
KEY, NOTE_LETTER, ADDING = range(3)
NOTE: Final = 3
"""What it is looked up by: height or class; its letter; what adding it weighs."""
ON, LEAST = range(2)
CELL: Final = 2
"""The least weight with an element on a note; with the elements so far used and the note the last one used."""
WEIGHT, AWAY, TOLD = range(3)
FOUND: Final = 3
"""As ``verify.Verified``; the weight is ``NEVER`` where there is no occurrence."""
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
        if figure[NEEDS_CLASS] == 1 and not has_class:
            window[at + ADDING] = NEVER
    return reach


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
    cells: Int64s,
) -> int:
    """The least weight of ending on the last note in reach under one transposition; anything above ``limit`` if more.

    The tables at ``right`` and ``wrong`` say what an element weighs by whether the letter fits.
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
        first = 0
        if index == size - 1:
            first = last
        before = NEVER
        if first > 0:
            before = cells[above + CELL * (first - 1) + LEAST]
        kept = NEVER
        one = NEVER
        two = NEVER
        lowest = NEVER
        for place in range(first, reach):
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
        if lowest > limit and elements[at + ELEMENT + START] > limit:
            break
    return final


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
    best = figure[MOST]
    best_tie = NEVER
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
            # At first every letter is right: what is too dear even so need not be looked at letter by letter.
            weight = weigh(size, elements, reach, window, table, base, 0, figure[RIGHT], figure[RIGHT], best, cells)
            if weight > best:
                continue
            if figure[HAS_LETTERS] == 0:
                if weight < best or tie < best_tie:
                    best = weight
                    best_tie = tie
                    found[at + WEIGHT] = weight
                    found[at + AWAY] = away
                    found[at + TOLD] = 0
                continue
            # The letter that fits the last note comes first.
            for told in range(NO_LETTERS + 1):
                letter = position + NO_LETTERS - elements[ELEMENT * (size - 1) + LETTER] + told
                if told < NO_LETTERS:
                    letter = letter % NO_LETTERS
                    weight = weigh(
                        size, elements, reach, window, table, base, letter, figure[RIGHT], figure[WRONG], best, cells
                    )
                else:
                    letter = NO_LETTERS
                    weight = weigh(
                        size, elements, reach, window, table, base, 0, figure[UNTOLD], figure[UNTOLD], best, cells
                    )
                name = letter
                if letter < NO_LETTERS:
                    name = (position - letter) % NO_LETTERS
                if weight < best or (weight == best and tie + name < best_tie):
                    best = weight
                    best_tie = tie + name
                    found[at + WEIGHT] = weight
                    found[at + AWAY] = away
                    found[at + TOLD] = name
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
    found: Int64s,
) -> int:
    """The cheapest occurrence on each of some endings.

    ``places`` are the endings, ``bars`` the bars before them, ``bounds`` the least price by ending and shift;
    ``added`` is what adding a note weighs by ornament; ``window`` and ``cells`` are room for the notes in reach.
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
            found,
            FOUND * ending,
        )
    return count
