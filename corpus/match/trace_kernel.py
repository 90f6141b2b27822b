"""The way back as a kernel: which elements of the figure stand on which notes of an occurrence that was verified.

Records are those of ``verify_kernel``, and ``PAIR`` for each element of the occurrence.
"""

from typing import Final

from corpus.match.alignment import NEVER
from corpus.match.sought import MOST_ADDED
from corpus.match.verify_kernel import ADDING, AFTER, CELL, DROP, ELEMENT, LEAST, NOTE, ON, SIZE, START, look, weigh
from corpus.native.language import Bytes, Int32s, Int64s

PAIR: Final = 2
"""An element, and how many notes before the last of an occurrence it stands."""


def way_back(
    size: int,
    elements: Int64s,
    reach: int,
    window: Int64s,
    cells: Int64s,
    weight: int,
    pairs: Int64s,
) -> int:
    """How many elements the way of this weight uses, from the cells that ``weigh`` left; writes ``PAIR`` for each.

    From the last to the first: the element, and how many notes before the last it stands, as ``alignment_at`` chooses.
    """
    last = reach - 1
    row = CELL * reach
    index = 0
    while index < size - 1:
        come = NEVER
        if last > 0:
            come = cells[row * index + CELL * (last - 1) + LEAST]
        on = cells[row * (index + 1) + CELL * last + ON] - min(come, elements[ELEMENT * index + START])
        if come + on + elements[ELEMENT * (index + 1) + AFTER] == weight:
            break
        index += 1
    pairs[0] = index
    pairs[1] = 0
    count = 1
    place = last
    while index > 0 and place > 0:
        # One note alone is no occurrence.
        begun = elements[ELEMENT * index + START] + last - place
        if count > 1 and cells[row * index + CELL * (place - 1) + LEAST] > begun:
            break
        index -= 1
        place -= 1
        stands = 0
        while stands == 0:
            cheapest = NEVER
            back = 0
            between = 0
            far = 0
            while far <= MOST_ADDED and far <= place:
                at = row * index + CELL * (place - far)
                kept = min(cells[at + row + ON], cells[at + LEAST] + elements[ELEMENT * index + DROP])
                if kept + between < cheapest:
                    cheapest = kept + between
                    back = far
                between += window[NOTE * (place - far) + ADDING]
                far += 1
            place -= back
            at = row * index + CELL * place
            if cells[at + row + ON] <= cells[at + LEAST] + elements[ELEMENT * index + DROP]:
                stands = 1
            else:
                index -= 1
        pairs[PAIR * count] = index
        pairs[PAIR * count + 1] = last - place
        count += 1
    return count


def trace(
    classes: Bytes,
    ornaments: Bytes,
    heights: Int32s,
    positions: Int32s,
    end: int,
    bar: int,
    figure: Int64s,
    elements: Int64s,
    added: Int64s,
    base: int,
    letter: int,
    table: Int64s,
    right: int,
    wrong: int,
    weight: int,
    window: Int64s,
    cells: Int64s,
    pairs: Int64s,
) -> int:
    """Which elements stand on which notes in the occurrence of this weight on an ending, as ``way_back`` writes it."""
    size = figure[SIZE]
    reach = look(classes, ornaments, heights, positions, end, bar, figure, added, window)
    # All cells: the way back looks beside the way.
    weigh(size, elements, reach, window, table, base, letter, right, wrong, weight, reach, size, cells)
    return way_back(size, elements, reach, window, cells, weight, pairs)
