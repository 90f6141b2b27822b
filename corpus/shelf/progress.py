"""The practice log in figures: what to play today, and how the tempo grew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from corpus.pitch import parse_key
from corpus.shelf.kept import KeptFigure, Practice
from corpus.shelf.repetition import Schedule, schedule_of

FOURTHS: Final = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
"""The twelve keys in the circle of fourths."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A figure to play on a day: its schedule, how many days it is late (None: never practised), and what to know.

    ``last_bpm`` is the tempo of the latest entry; ``keys_left`` the tonics never played, in the circle of fourths.
    """

    figure: KeptFigure
    schedule: Schedule
    days_late: int | None
    last_bpm: float | None
    keys_left: tuple[str, ...]


def proposals(figures: Iterable[KeptFigure], day: date) -> list[Proposal]:
    """What is due on a day: the latest first, measured by their intervals, then figures never practised.

    Entries after the day do not count.
    """
    found = [_proposal(figure, day) for figure in figures]
    due = [one for one in found if one.days_late is None or one.days_late >= 0]
    return sorted(due, key=_urgency)


def _urgency(one: Proposal) -> tuple[bool, float, str]:
    if one.days_late is None:
        return True, -(one.figure.rating or 0), one.figure.id_name
    return False, -one.days_late / max(one.schedule.interval_days, 1), one.figure.id_name


def _proposal(figure: KeptFigure, day: date) -> Proposal:
    entries = [entry for entry in figure.practice if entry.day <= day]
    schedule = schedule_of(entries)
    late = None if schedule.due is None else (day - schedule.due).days
    played = {parse_key(key).tonic_pitch_class for entry in entries for key in entry.keys}
    left = tuple(key for key in FOURTHS if parse_key(key).tonic_pitch_class not in played)
    return Proposal(figure, schedule, late, entries[-1].bpm if entries else None, left)


@dataclass(frozen=True, slots=True)
class Period:
    """What was practised in a day or more: the first day, the best tempo, all keys, how many entries."""

    day: date
    bpm: float
    keys: tuple[str, ...]
    entries: int


def by_period(history: Sequence[Practice], days: int) -> list[Period]:
    """The log in periods of so many days, counted from the first entry; those without an entry are left out."""
    if not history:
        return []
    ordered = sorted(history, key=lambda entry: entry.day)
    begin = ordered[0].day
    periods: dict[int, list[Practice]] = {}
    for entry in ordered:
        periods.setdefault((entry.day - begin).days // days, []).append(entry)
    return [
        Period(
            begin + timedelta(days=number * days),
            max(entry.bpm for entry in entries),
            tuple(dict.fromkeys(key for entry in entries for key in entry.keys)),
            len(entries),
        )
        for number, entries in periods.items()
    ]
