"""The tempo ladder of a sheet: from a start in steps to a goal."""

from corpus.errors import QueryError
from corpus.write.midi import LEAST_BPM, MOST_BPM, MOST_TEMPOS


def parse_ladder(text: str) -> tuple[float, ...]:
    """The tempos of a ladder written as start, step and goal: ``80 5 120``. The goal is always the last.

    One tempo alone is a ladder of one. Raises QueryError for anything else, and for more than ``MOST_TEMPOS`` rungs.
    """
    try:
        numbers = [float(word) for word in text.replace(",", " ").split()]
    except ValueError as error:
        raise QueryError(f"--ladder {text[:40]!r} is none: write start, step and goal, as in '80 5 120'") from error
    if len(numbers) == 1:
        numbers = [numbers[0], 1.0, numbers[0]]
    if len(numbers) != 3 or not all(number == number for number in numbers):
        raise QueryError(f"--ladder {text[:40]!r} is none: write start, step and goal, as in '80 5 120'")
    start, step, goal = numbers
    if not (LEAST_BPM <= start <= goal <= MOST_BPM and step > 0):
        raise QueryError(
            f"--ladder {text[:40]!r} does not rise: start and goal lie between {LEAST_BPM} and {MOST_BPM}, "
            "the step is more than 0"
        )
    if (goal - start) / step > MOST_TEMPOS - 1:
        raise QueryError(f"--ladder {text[:40]!r} has too many rungs: at most {MOST_TEMPOS}; take a larger step")
    rungs = [start + index * step for index in range(int((goal - start) / step) + 1)]
    return tuple(rungs) if goal - rungs[-1] < 1e-9 else (*rungs, goal)


def ladder_words(tempos: tuple[float, ...]) -> str:
    """The ladder as a line of the page."""
    rungs = " · ".join(f"{tempo:g}" for tempo in tempos)
    return f"Tempo ladder, quarters a minute: {rungs}. Go up only when a rung is clean and easy."
