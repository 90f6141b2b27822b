"""Which notes of a line stand for which notes of a figure, repeats gathered.

An alignment pairs notes one by one. Here a note struck again belongs to the note before it: ``second note doubled`` is
one link of one note of the figure with two of the line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from corpus.match.alignment import Alignment, Notes
from corpus.match.sought import Element, Sought


@dataclass(frozen=True, slots=True)
class Link:
    """Notes of the figure, counted from 1, and the notes of the line that stand for them, all of one pitch each.

    ``element`` is the first of the figure's, ``place`` the first of the line's among the notes compared.
    """

    element: Element
    numbers: tuple[int, ...]
    place: int
    notes: range

    @property
    def more(self) -> int:
        """How many notes more the line has than the figure."""
        return len(self.notes) - len(self.numbers)


def links_of(asked: Sought, notes: Notes, alignment: Alignment) -> list[Link]:
    """The links of an alignment, from first to last.

    At both ends as many repeats belong to the occurrence as there are more inside, at most: where every note is
    doubled, so are the first and the last.
    """
    pairs = alignment.pairs
    links = []
    for (index, place), (next_index, next_place) in pairwise([*pairs, (pairs[-1][0] + 1, pairs[-1][1] + 1)]):
        element = asked.elements[index]
        last = place
        while last + 1 < next_place and notes.ornaments[last + 1] == "doubled":
            last += 1
        left_out = index
        while left_out + 1 < next_index and asked.element_ornaments[left_out + 1] == "doubled":
            left_out += 1
        numbers = _numbers(asked, element.first, asked.elements[left_out])
        end = notes.firsts[last] + notes.counts[last]
        links.append(Link(element, numbers, place, range(notes.firsts[place], end)))
    more = max(0, max((link.more for link in links[1:-1]), default=0))
    links[0] = _with_repeats_before(notes, links[0], more)
    links[-1] = _with_repeats_after(notes, links[-1], more)
    return links


def _numbers(asked: Sought, first: int, last: Element) -> tuple[int, ...]:
    # A symbol of the contour says how a note follows the one before: the first stands for the second note.
    offset = 2 if asked.alphabet == "contour" else 1
    return tuple(range(first + offset, last.first + last.count + offset))


def _with_repeats_before(notes: Notes, link: Link, more: int) -> Link:
    wanted = len(link.numbers) + more
    place, first = link.place, link.notes[0]
    if notes.counts[place] > 1 or len(link.notes) > wanted:
        return Link(link.element, link.numbers, place, link.notes[-wanted:])
    while len(link.notes) + link.notes[0] - first < wanted and _repeats(notes, place):
        place -= 1
        first = notes.firsts[place]
    return Link(link.element, link.numbers, place, range(first, link.notes[-1] + 1))


def _with_repeats_after(notes: Notes, link: Link, more: int) -> Link:
    wanted = len(link.numbers) + more
    if notes.counts[link.place] > 1 or len(link.notes) > wanted:
        return Link(link.element, link.numbers, link.place, link.notes[:wanted])
    place = link.place + len(link.notes) - 1 if notes.counts[link.place] == 1 else link.place
    last = link.notes[-1]
    while last + 1 - link.notes[0] < wanted and place + 1 < len(notes) and _repeats(notes, place + 1):
        place += 1
        last = notes.firsts[place]
    return Link(link.element, link.numbers, link.place, range(link.notes[0], last + 1))


def _repeats(notes: Notes, place: int) -> bool:
    """Whether a note is the one before struck again."""
    return not notes.starts[place] and notes.ornaments[place] == "doubled"


def spans(links: Sequence[Link]) -> list[range]:
    """The notes of the line between each link and the next."""
    return [range(before.notes[-1] + 1, after.notes[0]) for before, after in pairwise(links)]
