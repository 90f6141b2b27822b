"""The slow, obvious way to price an occurrence: every start, every transposition, every way to skip and add.

Shares nothing with the search but the table of prices: elements and notes are lists of plain numbers, a way is built
pair by pair, and how notes may be added or left out between two pairs is counted out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from corpus.match.figure import Figure, Folds
from corpus.match.prices import Prices
from corpus.model import Note, Transcription
from tests.generators.oracle import _breaks_between, letter_position

IMPOSSIBLE = 10**9
UNTOLD = 7
"""Letters whose transposition is not told: then every note a half-step off costs as one on another letter."""


@dataclass(frozen=True)
class Struck:
    """A note, with its immediate repeats where these are ignored."""

    pitch: int
    position: int


def stretches(transcription: Transcription, folds: Folds) -> list[list[tuple[int, Struck]]]:
    """Unbroken stretches of a line, each note with its place; repeats are gathered where they are ignored."""
    found: list[list[tuple[int, Struck]]] = []
    place = -1
    before: Note | None = None
    for note in transcription.notes:
        follows = before is not None and not _breaks_between(transcription, before, note)
        if not (folds.doubles and follows and before is not None and note.pitch == before.pitch):
            place += 1
            if not follows:
                found.append([])
            if note.pitch is not None:
                found[-1].append((place, Struck(note.pitch, letter_position(note))))
        before = note
    return [stretch for stretch in found if stretch]


def elements_of(figure: Figure, folds: Folds) -> list[Struck]:
    """The notes of a figure from notes or a passage; repeats are gathered where they are ignored."""
    assert figure.pitches is not None
    positions = figure.positions or (0,) * len(figure.pitches)
    found: list[Struck] = []
    for pitch, position in zip(figure.pitches, positions, strict=True):
        if not (folds.doubles and found and found[-1].pitch == pitch):
            found.append(Struck(pitch, position))
    return found


def is_repeat(notes: Sequence[Struck], index: int) -> bool:
    """Whether a note is the one before struck again."""
    return 0 < index < len(notes) and notes[index].pitch == notes[index - 1].pitch


def ornament_price(notes: Sequence[Struck], index: int, prices: Prices) -> float:
    """What a note is worth among those beside it, octaves aside."""

    def up(a: int, b: int) -> int | None:
        if not (0 <= a < len(notes) and 0 <= b < len(notes)):
            return None
        size = (notes[b].pitch - notes[a].pitch) % 12
        return size - 12 if size > 6 else size

    def is_step(size: int | None) -> bool:
        return size is not None and abs(size) in (1, 2)

    if is_repeat(notes, index):
        return prices.doubled
    # What is struck again, however often, stands once beside the others.
    if any(is_repeat(notes, other) for other in range(len(notes))):
        struck = [note for other, note in enumerate(notes) if not is_repeat(notes, other)]
        return ornament_price(struck, index - sum(is_repeat(notes, other) for other in range(index)), prices)
    reached, left = up(index - 1, index), up(index, index + 1)
    if reached is not None and left is not None:
        if reached == 0:
            return prices.octave_skip
        same_way = left != 0 and (reached > 0) == (left > 0)
        if same_way and (is_step(reached) or is_step(left)) and max(abs(reached), abs(left)) <= 4:
            return prices.passing
        if is_step(reached) and reached == -left:
            return prices.neighbour
    for first in (index - 1, index):
        one, two = up(first + 2, first), up(first + 2, first + 1)
        if one is not None and two is not None and is_step(one) and is_step(two) and (one > 0) != (two > 0):
            return prices.enclosure
    return prices.approach if is_step(left) else prices.added


def note_price(figure: list[Struck], index: int, note: Struck, base: int, letter: int, prices: Prices, folds: Folds,
               knows_letters: bool) -> float:  # fmt: skip
    """What it costs that an element is played as this note, its repeats aside."""
    is_last = index == len(figure) - 1
    resolved = min(prices.another, prices.resolved) if is_last else prices.another
    element = figure[index]
    octave = 0 if folds.octaves else prices.octave
    if folds.mode:
        away = note.position - element.position - base
        if away % 7 == 0:
            return min(octave, resolved) if away else 0
        return resolved if away % 7 in (1, 6) else prices.another
    away = note.pitch - element.pitch - base
    for rest in (0, 1, -1):
        if (away - rest) % 12 == 0:
            displaced = octave if away != rest else 0
            if not knows_letters:
                return min((prices.altered if rest else 0) + displaced, resolved)
            if letter == UNTOLD or prices.altered >= prices.half_step:
                cheapest = min(prices.altered, prices.half_step) if letter != UNTOLD else prices.half_step
                return min((cheapest if rest else 0) + displaced, resolved)
            fits = (note.position - element.position - letter) % 7 == 0
            price = (prices.altered if rest else 0) + (0 if fits else prices.half_step - prices.altered)
            return min(price + displaced, resolved)
    return resolved if away % 12 in (2, 10) else prices.another


def least_prices(transcription: Transcription, asked: Figure, folds: Folds, prices: Prices) -> dict[int, float]:
    """The least price of an occurrence that ends on each gathered note where there is one, by its place."""
    figure = elements_of(asked, folds)
    found: dict[int, float] = {}
    for stretch in stretches(transcription, folds):
        notes = [struck for _, struck in stretch]
        heights = [(n.position, f.position) if folds.mode else (n.pitch, f.pitch) for n in notes for f in figure]
        bases = {a - b + rest + 12 * turn for a, b in heights for rest in (-1, 0, 1) for turn in (-1, 0, 1)}
        if folds.mode:
            bases = {a - b + 7 * turn for a, b in heights for turn in (-1, 0, 1)}
        for base in bases:
            for letter in (*range(7), UNTOLD) if asked.positions is not None and not folds.mode else (0,):
                for end, price in _ends(figure, notes, base, letter, prices, folds, asked.positions is not None):
                    place = stretch[end][0]
                    found[place] = min(found.get(place, IMPOSSIBLE), price)
    return found


def _ends(figure: list[Struck], notes: list[Struck], base: int, letter: int, prices: Prices, folds: Folds,
          knows_letters: bool) -> list[tuple[int, float]]:  # fmt: skip
    def on(i: int, j: int) -> float:
        return note_price(figure, i, notes[j], base, letter, prices, folds, knows_letters)

    def left_out(i: int) -> float:
        price = ornament_price(figure, i, prices)
        return price if is_repeat(figure, i) else max(price, prices.left_out)

    def cut(missing: range) -> float:
        return sum(prices.doubled if is_repeat(figure, i) else prices.cut for i in missing)

    @cache
    def until(i: int, j: int) -> float:
        """The least price of having placed element i on note j, its own price included."""
        return min(cut(range(i)), before(i, j)) + on(i, j)

    def before(i: int, j: int) -> float:
        ways = [
            until(i_before, j_before)
            + sum(left_out(k) for k in range(i_before + 1, i))
            + sum(ornament_price(notes, k, prices) for k in range(j_before + 1, j))
            for i_before in range(i)
            for j_before in range(j)
            if j - j_before - 1 <= 3 * (i - i_before)
        ]
        return min(ways, default=IMPOSSIBLE)

    ends = []
    for j in range(len(notes)):
        ways = [before(i, j) + on(i, j) + cut(range(i + 1, len(figure))) for i in range(len(figure))]
        if min(ways) < IMPOSSIBLE:
            ends.append((j, min(ways)))
    return ends
