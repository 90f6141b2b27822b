"""Spaced repetition against the published algorithm and an implementation of others."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from supermemo2 import review

from corpus.errors import QueryError
from corpus.shelf.kept import Practice
from corpus.shelf.repetition import Schedule, easiness_after, schedule_of

DAY = date(2024, 3, 1)


# Woźniak, Optimization of learning, 1990, chapter 3.2: the change of EF for each quality (from memory).
@pytest.mark.parametrize(("grade", "change"), [(5, 0.10), (4, 0.00), (3, -0.14), (2, -0.32), (1, -0.54), (0, -0.80)])
def test_the_easiness_factor_changes_by_the_published_amounts(grade: int, change: float) -> None:
    """EF' = EF + (0.1 - (5 - q) (0.08 + (5 - q) 0.02)), worked out by hand for each quality."""
    assert easiness_after(250, grade) / 100 == pytest.approx(2.5 + change)


def test_the_easiness_factor_never_falls_below_the_published_least() -> None:
    """1.3, whatever the grades."""
    easiness = 250
    for _ in range(20):
        easiness = easiness_after(easiness, 3)
    assert easiness == 130


def test_intervals_are_those_of_the_published_rule_worked_out_by_hand() -> None:
    """With EF 2.5 and grade 4: 1, 6, 15, 37.5 rounded up to 38, 95 days."""
    schedule, day, intervals = Schedule(), DAY, []
    for _ in range(5):
        schedule = schedule.after(day, 4)
        intervals.append(schedule.interval_days)
        assert schedule.due is not None
        assert schedule.due == day + timedelta(days=schedule.interval_days)
        day = schedule.due
    assert intervals == [1, 6, 15, 38, 95]
    assert schedule.easiness == 250


def test_what_was_forgotten_begins_anew_with_its_easiness() -> None:
    """Below 3: one day again, EF as it was."""
    schedule = Schedule().after(DAY, 5).after(DAY + timedelta(days=1), 5)
    assert (schedule.interval_days, schedule.easiness) == (6, 270)
    again = schedule.after(DAY + timedelta(days=7), 2)
    assert (again.repetitions, again.interval_days, again.easiness) == (0, 1, 270)
    assert again.after(DAY + timedelta(days=8), 4).interval_days == 1


@given(st.lists(st.integers(0, 5), min_size=1, max_size=12))
def test_schedules_agree_with_an_implementation_of_others(grades: list[int]) -> None:
    """The package supermemo2, when every figure is played on its day.

    Known differences: it lowers EF also where the repetitions begin anew, which the thesis does not; it multiplies in
    binary fractions, so that a whole number of days may come out one too many.
    """
    ours, day = Schedule(), DAY
    easiness, interval, repetitions = 2.5, 0, 0
    for grade in grades:
        ours = ours.after(day, grade)
        exact = interval * easiness
        theirs = review(grade, easiness, interval, repetitions, "2024-03-01 00:00:00")
        interval, repetitions = theirs["interval"], theirs["repetitions"]
        if grade >= 3:
            easiness = theirs["easiness"]
        if repetitions > 2 and abs(exact - round(exact)) < 1e-6:
            interval = round(exact)
        assert (ours.interval_days, ours.repetitions) == (min(interval, 36_500), repetitions)
        assert ours.easiness / 100 == pytest.approx(easiness)
        interval = ours.interval_days
        assert ours.due is not None
        day = min(ours.due, date(2900, 1, 1))


def test_played_again_before_its_day_it_keeps_its_day_when_it_went_well() -> None:
    """Practising daily must not drive the day away; a failure brings it back at once."""
    schedule = Schedule().after(DAY, 4).after(DAY + timedelta(days=1), 4)
    assert schedule.due == DAY + timedelta(days=7)
    assert schedule.after(DAY + timedelta(days=3), 5) == schedule
    assert schedule.after(DAY + timedelta(days=3), 1).due == DAY + timedelta(days=4)


def test_of_several_entries_on_a_day_the_first_decides_and_no_grade_counts_as_four() -> None:
    """As the thesis: what is repeated again on the same day changes nothing."""
    history = [Practice(DAY + timedelta(days=1), 100, (), None), Practice(DAY, 90, (), 5), Practice(DAY, 80, (), 0)]
    schedule = schedule_of(history)
    assert (schedule.repetitions, schedule.easiness, schedule.due) == (2, 260, DAY + timedelta(days=7))
    assert schedule_of([]) == Schedule()


@pytest.mark.parametrize("bpm", [0, -1, 10_000, float("nan"), float("inf")])
def test_tempos_that_nobody_plays_are_refused(bpm: float) -> None:
    """Ten to 999 a minute."""
    with pytest.raises(QueryError, match="10 to 999"):
        Practice(DAY, bpm)


def test_grades_outside_the_scale_are_refused() -> None:
    """0 to 5."""
    with pytest.raises(QueryError, match="grade 6"):
        Practice(DAY, 100, (), 6)
