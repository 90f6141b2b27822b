"""The inner loop of the scan as a kernel: the recurrence of ``corpus.match.scan``, all shifts of a note at once."""

from typing import Final

from corpus.native.language import Bytes, Int32s, Int64s, ManyLanes, least, lower

CARRIED: Final = 4
"""Bounds that are carried from note to note for each element: kept, one added, two added, and the lowest."""


def scan_notes(
    classes: Bytes,
    ornaments: Bytes,
    begin: int,
    end: int,
    size: int,
    costs: ManyLanes,
    class_count: int,
    added: ManyLanes,
    cannot_be_added: int,
    never: int,
    starts: ManyLanes,
    drops: ManyLanes,
    afters: ManyLanes,
    cap: int,
    carried: ManyLanes,
    places: Int64s,
    bounds: ManyLanes,
    lowest: Int32s,
) -> int:
    """Where an occurrence may end among notes, bars included: how many places, with the bound of each shift.

    A lane is a shift; ``cap`` stands for whatever is too dear, and is the entry after the last of ``starts``.
    ``costs`` are by element and class, ``starts``, ``drops`` and ``afters`` by element, of which there are ``size``.
    ``added`` are by ornament; that of notes of class ``cannot_be_added`` and above, bars among them, is ``never``.
    ``carried`` is room for ``CARRIED`` entries an element; ``places``, ``bounds`` and the ``lowest`` of each are
    what is found, with room for one more than there are notes.
    """
    found = 0
    dear = starts[size]
    for place in range(CARRIED * size):
        carried[place] = dear
    for note in range(begin, end):
        note_class = classes[note]
        kind = ornaments[note]
        if note_class >= cannot_be_added:
            kind = never
        more = added[kind]
        best = dear
        # The lowest bound of the elements so far: at the note before, and at this one.
        before = dear
        here = dear
        for index in range(size):
            at = CARRIED * index
            on = lower(before, starts[index]) + costs[index * class_count + note_class]
            best = lower(best, on + afters[index])
            kept = lower(on, here + drops[index])
            one = carried[at] + more
            two = carried[at + 1] + more
            three = carried[at + 2] + more
            before = carried[at + 3]
            here = lower(lower(kept, one), lower(two, three))
            carried[at] = kept
            carried[at + 1] = one
            carried[at + 2] = two
            carried[at + 3] = here
        lowest[found] = least(best)
        if lowest[found] < cap:
            places[found] = note
            bounds[found] = best
            found += 1
    return found
