"""``practice``: the log of what was played how fast in which keys, and what to play today.

``practice sheet`` is registered beside these commands (``cli.sheet``).
"""

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import DatabaseOption, JsonOption, database_at, finite
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.shelf.kept import KeptFigure, Practice
    from corpus.shelf.progress import Period, Proposal

CAUTION = (
    "Long repetition strains: warm up, rest often, stop at pain, protect your hearing; "
    "what does not pass is for a teacher or clinician."
)
_BAR_WIDTH = 30
_MOST_ROWS = 40
_KEYS_SHOWN = 4

FigureArgument = Annotated[str, typer.Argument(metavar="FIGURE", help="The name of a figure on the shelf.")]

app = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")


@app.callback()
def practice() -> None:
    """Practise kept figures: sheets in all keys, a log of tempo and keys, what is due, how the tempo grows.

    Example:

      wellworn practice due
    """


def day_of(text: str | None, what: str, latest: date | None = None) -> date:
    """A day as it is typed, today unless it is; not after ``latest``. Raises QueryError."""
    if text is None:
        return date.today()
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise QueryError(f"{what} {text!r} is no day: write year-month-day, as in 2024-03-09") from error
    if latest is not None and day > latest:
        raise QueryError(f"{what} {text} is a day to come: only what was played can be logged")
    return day


def parse_keys(text: str | None) -> tuple[str, ...]:
    """Keys such as ``C F Bb``; ``all`` is all twelve. Raises QueryError for an unknown one."""
    from corpus.shelf.kept import clean_key
    from corpus.shelf.progress import FOURTHS

    words = (text or "").replace(",", " ").split()
    if [word.lower() for word in words] == ["all"]:
        return FOURTHS
    return tuple(dict.fromkeys(clean_key(word) for word in words))


@app.command("log")
def log(
    context: typer.Context,
    figure: FigureArgument,
    bpm: Annotated[float, typer.Option("--bpm", help="Quarters a minute.")],
    keys: Annotated[str | None, typer.Option("--keys", help='Keys played: "C F Bb", "Cm Fm", all.')] = None,
    grade: Annotated[
        int | None,
        typer.Option(
            "--grade",
            help="How it came back: 5 perfect, 4 after a hesitation, 3 with difficulty, 2 and 1 wrong, 0 not at all.",
        ),
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="The day, if not today: 2024-03-09.")] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Log that a figure was practised. The grade decides when it is due again; without one it counts as 4.

    Examples:

      wellworn practice log "Turn around F" --bpm 120 --keys "C F Bb" --grade 4

      wellworn practice log "Turn around F" --bpm 96 --keys all --on 2024-03-09
    """
    from cli.output import print_json, tell
    from cli.shelf import change_one
    from corpus.shelf.file import practice_fields
    from corpus.shelf.kept import Practice
    from corpus.shelf.repetition import schedule_of

    tempo = finite(bpm)
    assert tempo is not None
    entry = Practice(day_of(on, "--on", date.today()), tempo, parse_keys(keys), grade)

    def add(kept: "KeptFigure") -> "KeptFigure":
        return replace(kept, practice=tuple(sorted((*kept.practice, entry), key=lambda one: one.day)))

    changed = change_one(database_at(context, db), figure, add, "practice log")
    schedule = schedule_of(changed.practice)
    if json:
        print_json({"name": changed.name, **practice_fields(entry), "due": _day_text(schedule.due)})
    tell(f"logged {changed.name!r}: {_entry_words(entry)}; due again on {_day_text(schedule.due)}")


def _day_text(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _entry_words(entry: "Practice") -> str:
    keys = f" in {' '.join(entry.keys)}" if entry.keys else ""
    grade = "" if entry.grade is None else f", grade {entry.grade}"
    return f"{entry.bpm:g} a minute{keys}{grade}"


@app.command("due")
def due(
    context: typer.Context,
    limit: Annotated[int, typer.Option("--limit", min=1, max=1000, help="Propose at most so many.")] = 10,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="As if that day were today.")] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Propose what to play today: figures whose day has come, the latest first, then those never practised.

    Days follow from your grades by spaced repetition (the algorithm SM-2, Woźniak 1990).

    Examples:

      wellworn practice due

      wellworn practice due --on 2024-04-01 --json
    """
    from cli.output import print_json, say, tell
    from cli.shelf import shelved
    from cli.shelf_words import count_of
    from corpus.shelf.progress import proposals

    figures = shelved(database_at(context, db))
    found = proposals(figures, day_of(on, "--on"))
    shown = found[:limit]
    if json:
        print_json([_proposal_fields(one) for one in shown])
    else:
        for one in shown:
            for line in _proposal_lines(one):
                say(line)
    more = f", {len(shown):,} shown" if len(shown) < len(found) else ""
    tell(f"{len(found):,} of {count_of(len(figures), 'figure')} due{more}")
    if shown:
        tell(CAUTION)


def _proposal_fields(one: "Proposal") -> dict[str, Any]:
    return {
        "name": one.figure.name,
        "notes": list(one.figure.spellings),
        "due": _day_text(one.schedule.due),
        "days_late": one.days_late,
        "repetitions": one.schedule.repetitions,
        "easiness": one.schedule.easiness / 100,
        "interval_days": one.schedule.interval_days,
        "last_bpm": one.last_bpm,
        "keys_left": list(one.keys_left),
    }


def _proposal_lines(one: "Proposal") -> list[str]:
    from cli.shelf_words import count_of, indented

    if one.days_late is None:
        when = "never practised"
    else:
        when = "due today" if one.days_late == 0 else f"due for {count_of(one.days_late, 'day')}"
    tempo = "" if one.last_bpm is None else f"; last at {one.last_bpm:g} a minute"
    more = " …" if len(one.keys_left) > _KEYS_SHOWN else ""
    left = f"; not yet in {' '.join(one.keys_left[:_KEYS_SHOWN])}{more}" if 0 < len(one.keys_left) < 12 else ""
    return [f"{one.figure.name}: {when}{tempo}{left}", *indented(" ".join(one.figure.spellings))]


@app.command("progress")
def progress(
    context: typer.Context,
    figure: FigureArgument,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Show how the tempo of a figure grew: a line a day (a week or more in a long log), its bar as long as the tempo.

    Example:

      wellworn practice progress "Turn around F"
    """
    from cli.output import print_json, say, tell
    from cli.shelf import shelved
    from corpus.shelf.file import practice_fields
    from corpus.shelf.kept import named
    from corpus.shelf.repetition import schedule_of

    kept = named(shelved(database_at(context, db)), figure)
    if json:
        entries = [practice_fields(entry) for entry in kept.practice]
        print_json({"name": kept.name, "entries": entries, "due": _day_text(schedule_of(kept.practice).due)})
        return
    if not kept.practice:
        tell(f"{kept.name!r} has not been practised yet: 'wellworn practice log' tells that it was")
        return
    for line in progress_lines(kept):
        say(line)


def progress_lines(kept: "KeptFigure") -> list[str]:
    """The log of a figure as lines: a sentence, then a row a period, readable without seeing the bars."""
    from cli.output import aligned
    from cli.shelf_words import count_of
    from corpus.shelf.progress import by_period

    days = 1
    while len(periods := by_period(kept.practice, days)) > _MOST_ROWS:
        days = 7 if days == 1 else 2 * days
    best = max(period.bpm for period in periods)
    first, last = kept.practice[0], kept.practice[-1]
    span = f" from {first.day} to {last.day}" if first.day != last.day else f" on {first.day}"
    rows = [_row(period, best) for period in periods]
    heading = ("day" if days == 1 else f"{days} days from", "best", "keys", "")
    words = f"{kept.name}: {count_of(len(kept.practice), 'entry')}{span}; first {first.bpm:g} a minute, best {best:g}"
    return [words, "", *aligned([heading, *rows])]


def _row(period: "Period", best: float) -> tuple[str, ...]:
    length = max(round(_BAR_WIDTH * period.bpm / best), 1)
    return period.day.isoformat(), f"{period.bpm:g}", " ".join(period.keys), "#" * length
