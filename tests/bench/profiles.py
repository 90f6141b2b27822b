"""Timings: a profile of 1,000 choruses, from the stored readings to all figures with intervals; a reading of one."""

from corpus.profile.profile import profile_of
from corpus.reading.account import account
from db.catalogue import Selection, load_many
from db.profile_lines import selected_lines
from db.recurring import figures_of_line
from db.store import add_source, prepare
from tests.bench.corpora import _fresh
from tests.bench.harmony import charted_line
from tests.bench.timing import median_seconds, report
from tests.db.helpers import source

AIM_SECONDS = 3.0
AIM_READING_SECONDS = 0.2


def time_profile(choruses: int = 1_000) -> None:
    """Reading the columns, and making the figures, beside making the figures alone."""
    database = _fresh("profiled.db")
    distinct = [prepare(charted_line(seed, 32)) for seed in range(200)]
    for start in range(0, choruses, len(distinct)):
        add_source(database, source(f"profiled-{start}.abc"), distinct, "profiled")

    def whole() -> None:
        with database.reading() as connection:
            profile_of(selected_lines(connection, Selection()).columns)

    with database.reading() as connection:
        columns = selected_lines(connection, Selection()).columns
    seconds, figures = median_seconds(whole, 3), median_seconds(lambda: profile_of(columns), 3)
    report(
        f"profile of {choruses:,} choruses of 32 bars ({len(columns):,} notes), figures alone {figures:.1f} s",
        f"{seconds:.1f} s",
        f"{AIM_SECONDS:.0f} s",
        seconds <= AIM_SECONDS,
    )
    with database.reading() as connection:
        identity, chorus = next(load_many(connection, [3]))

        def told() -> None:
            account(chorus, 1, figures_of_line(connection, identity, chorus, 1))

        seconds = median_seconds(told, 5)
    report(
        "reading of a chorus of 32 bars and 64 chords, its own figures found",
        f"{1e3 * seconds:.0f} ms",
        f"{1e3 * AIM_READING_SECONDS:.0f} ms",
        seconds <= AIM_READING_SECONDS,
    )
