"""``practice``: the log, what is due, and how the tempo grew."""

from datetime import date, timedelta

import pytest

from tests.cli.conftest import Run


@pytest.fixture
def shelved(run: Run) -> Run:
    """A run whose shelf holds two figures."""
    assert run("shelf", "add", "Turn", "--notes", "F2 D2 Eb2 E2", "--rating", "2").code == 0
    assert run("shelf", "add", "Climb", "--notes", "C3 G3 B3 A4", "--rating", "5").code == 0
    return run


def test_an_entry_is_logged_and_the_next_day_told(shelved: Run) -> None:
    """Keys in one spelling each; JSON alone on standard output."""
    done = shelved(
        "practice", "log", "turn", "--bpm", "120", "--keys", "C F bb F", "--grade", "4", "--on", "2024-03-01"
    )
    assert "logged 'Turn': 120 a minute in C F Bbm, grade 4; due again on 2024-03-02" in done.err
    done = shelved("practice", "log", "Turn", "--bpm", "121.5", "--keys", "all", "--on", "2024-03-02", "--json")
    assert done.json["due"] == "2024-03-08"
    assert done.json["bpm"] == 121.5
    assert done.json["keys"] == ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]
    assert "grade" not in done.json


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--bpm", "0"), "10 to 999"),
        (("--bpm", "-1"), "10 to 999"),
        (("--bpm", "10000"), "10 to 999"),
        (("--bpm", "nan"), "number"),
        (("--bpm", "inf"), "10 to 999"),
        (("--bpm", "fast"), "fast"),
        ((), "--bpm"),
        (("--bpm", "90", "--grade", "6"), "0 (forgotten) to 5"),
        (("--bpm", "90", "--keys", "H"), "unknown key"),
        (("--bpm", "90", "--on", "2024-02-30"), "is no day"),
        (("--bpm", "90", "--on", "yesterday"), "is no day"),
        (("--bpm", "90", "--on", "9999-12-31"), "day to come"),
    ],
)
def test_bad_entries_are_refused_and_nothing_is_logged(shelved: Run, words: tuple[str, ...], message: str) -> None:
    """Tempos nobody plays, days to come, unknown keys and grades."""
    done = shelved("practice", "log", "Turn", *words)
    assert (done.code, message in done.err) == (2, True), done.err
    assert "practice" not in shelved("shelf", "show", "Turn", "--json").json


def test_an_unknown_figure_is_answered_with_one_that_comes_near(shelved: Run) -> None:
    """In log and progress."""
    assert "did you mean 'Climb'?" in shelved("practice", "log", "Clim", "--bpm", "90").err
    assert "did you mean 'Climb'?" in shelved("practice", "progress", "Clmb").err


def test_what_is_due_comes_latest_first_then_what_was_never_played(shelved: Run) -> None:
    """By the grades: after 1 and 6 days; a day before nothing is due but what was never played."""
    shelved("shelf", "add", "Third", "--notes", "C3 E3 Db4 F4")
    for day in ("2024-03-01", "2024-03-02"):
        shelved("practice", "log", "Turn", "--bpm", "100", "--keys", "C F", "--grade", "5", "--on", day)
    shelved("practice", "log", "Third", "--bpm", "60", "--grade", "1", "--on", "2024-03-07")

    def due(day: str) -> list[tuple[str, int | None]]:
        return [(one["name"], one["days_late"]) for one in shelved("practice", "due", "--on", day, "--json").json]

    assert due("2024-03-07") == [("Climb", None)]
    assert due("2024-03-08") == [("Third", 0), ("Turn", 0), ("Climb", None)]
    assert due("2024-03-10") == [("Third", 2), ("Turn", 2), ("Climb", None)]
    assert due("2024-02-01") == [("Climb", None), ("Turn", None), ("Third", None)]
    shown = shelved("practice", "due", "--on", "2024-03-10", "--limit", "2")
    assert shown.out.startswith("Third: due for 2 days; last at 60 a minute\n  C3 E3 Db4 F4\n")
    assert "Turn: due for 2 days; last at 100 a minute; not yet in Bb Eb Ab Db …\n" in shown.out
    assert "3 of 3 figures due, 2 shown" in shown.err
    assert "warm up, rest often, stop at pain, protect your hearing" in shown.err
    assert "teacher or clinician" in shown.err


def test_progress_is_told_in_a_sentence_and_rows(shelved: Run) -> None:
    """Each row reads without its bar: day, best tempo, keys; bars are as long as the tempo."""
    for day, bpm, keys in (("2024-03-01", "60", "C"), ("2024-03-03", "90", "C F"), ("2024-03-03", "80", "G")):
        shelved("practice", "log", "Turn", "--bpm", bpm, "--keys", keys, "--on", day)
    lines = shelved("practice", "progress", "Turn").out.splitlines()
    assert lines[0] == "Turn: 3 entries from 2024-03-01 to 2024-03-03; first 60 a minute, best 90"
    assert [line.split() for line in lines[2:]] == [
        ["day", "best", "keys"],
        ["2024-03-01", "60", "C", "#" * 20],
        ["2024-03-03", "90", "C", "F", "G", "#" * 30],
    ]
    told = shelved("practice", "progress", "Turn", "--json").json
    assert [(entry["day"], entry["bpm"]) for entry in told["entries"]] == [
        ("2024-03-01", 60),
        ("2024-03-03", 90),
        ("2024-03-03", 80),
    ]
    assert "not been practised yet" in shelved("practice", "progress", "Climb").err


@pytest.mark.no_sql(reason="a long log is told in memory")
def test_a_long_log_is_shown_by_weeks(shelved: Run) -> None:
    """So that it fits a screen: sixty days are nine weeks."""
    for number in range(60):
        day = (date(2024, 1, 1) + timedelta(days=number)).isoformat()
        shelved("practice", "log", "Turn", "--bpm", str(60 + number), "--on", day)
    lines = shelved("practice", "progress", "Turn").out.splitlines()
    assert lines[2].split() == ["7", "days", "from", "best", "keys"]
    assert len(lines) == 3 + 9
    assert lines[3].split()[:2] == ["2024-01-01", "66"]
