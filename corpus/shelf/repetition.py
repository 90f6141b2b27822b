"""When to play what again: spaced repetition by the algorithm SM-2.

P. A. Woźniak, *Optimization of learning*, Master's thesis, University of Technology in Poznań, 1990, chapter 3.2 (the
algorithm SM-2; from memory):

- a new item has the easiness factor EF = 2.5;
- the intervals in days are I(1) = 1, I(2) = 6, I(n) = I(n-1) · EF, a fraction rounded up;
- after each repetition of quality q (0 to 5) EF' = EF + (0.1 - (5 - q) · (0.08 + (5 - q) · 0.02)), at least 1.3;
- below 3 the repetitions begin anew with I(1), and EF stays as it is;
- what is repeated once more on the same day changes nothing.

An interval is reckoned with the EF before the repetition, as the steps are listed. Two things that the thesis leaves
open, since its items are repeated only when they are due: a figure that was played before its day and went well keeps
its day; one that went badly (below 3) begins anew at once. An entry without a grade counts as 4, which leaves EF as it
is.

Grades, after the thesis: 5 perfect, 4 after a hesitation, 3 with serious difficulty, 2 wrong but it seemed easy to
mend, 1 wrong but recognised, 0 nothing came back.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from corpus.shelf.kept import Practice

FIRST_EASINESS: Final = 250
LEAST_EASINESS: Final = 130
"""Easiness in hundredths: all steps of the formula are whole hundredths, so that no interval is rounded by accident."""
UNGRADED: Final = 4
PASSED: Final = 3
"""The least grade with which a repetition counts as remembered."""
LONGEST_INTERVAL_DAYS: Final = 36_500


@dataclass(frozen=True, slots=True)
class Schedule:
    """Where a figure stands: ``repetitions`` remembered in a row, its easiness (hundredths), the interval, the day due.

    A figure never practised has no ``due`` day.
    """

    repetitions: int = 0
    easiness: int = FIRST_EASINESS
    interval_days: int = 0
    due: date | None = None

    def after(self, day: date, grade: int) -> "Schedule":
        """The schedule after a repetition of that quality on a day."""
        if grade < PASSED:
            return Schedule(0, self.easiness, 1, _later(day, 1))
        if self.due is not None and day < self.due:
            return self
        interval = (1, 6)[self.repetitions] if self.repetitions < 2 else -(-self.interval_days * self.easiness // 100)
        interval = min(interval, LONGEST_INTERVAL_DAYS)
        easiness = easiness_after(self.easiness, grade)
        return Schedule(self.repetitions + 1, easiness, interval, _later(day, interval))


def _later(day: date, days: int) -> date:
    return day + min(timedelta(days=days), date.max - day)


def easiness_after(easiness: int, grade: int) -> int:
    """The easiness factor, in hundredths, after a repetition of quality 0 to 5."""
    lack = 5 - grade
    return max(easiness + 10 - lack * (8 + lack * 2), LEAST_EASINESS)


def schedule_of(history: Iterable[Practice]) -> Schedule:
    """The schedule that a figure's entries lead to, in the order of their days; the first of a day decides."""
    schedule, days = Schedule(), set()
    for entry in sorted(history, key=lambda entry: entry.day):
        if entry.day in days:
            continue
        days.add(entry.day)
        schedule = schedule.after(entry.day, UNGRADED if entry.grade is None else entry.grade)
    return schedule
