"""In which octave each statement of a figure lies: inside a range, with the smallest jumps from one to the next.

A jump is the distance in semitones from the last note of a statement to the first of the next; the sum of all jumps is
least. Of several such choices the one that moves the statements least (in octaves, all together) is taken. Dynamic
programming over the octaves of each statement (Bellman, *Dynamic Programming*, 1957): time grows with statements times
octaves squared, not with octaves to the power of statements.
"""

from collections.abc import Sequence

Pitches = Sequence[int]
Cost = tuple[int, int]


def octaves_within(pitches: Pitches, low: int, high: int) -> range:
    """The octave shifts that keep all pitches between ``low`` and ``high``, both included; empty where none does."""
    least = -((min(pitches) - low) // 12)
    most = (high - max(pitches)) // 12
    return range(least, most + 1)


def smallest_jumps(statements: Sequence[Pitches], low: int, high: int) -> list[int] | None:
    """Octave shifts, one a statement, or None when a statement fits in no octave."""
    choices = [octaves_within(pitches, low, high) for pitches in statements]
    if not all(choices):
        return None
    best: list[dict[int, tuple[Cost, int | None]]] = []
    for index, shifts in enumerate(choices):
        table: dict[int, tuple[Cost, int | None]] = {}
        for shift in shifts:
            if index == 0:
                table[shift] = ((0, abs(shift)), None)
                continue
            first = statements[index][0] + 12 * shift
            end = statements[index - 1][-1]
            cost, before = min(
                ((jumps + abs(first - end - 12 * earlier), moves), earlier)
                for earlier, ((jumps, moves), _) in best[-1].items()
            )
            table[shift] = ((cost[0], cost[1] + abs(shift)), before)
        best.append(table)
    if not best:
        return []
    chosen: int | None = min(best[-1], key=lambda one: (best[-1][one][0], one))
    found: list[int] = []
    for table in reversed(best):
        assert chosen is not None
        found.append(chosen)
        chosen = table[chosen][1]
    return found[::-1]
