"""Recurring figures of stored lines: in profiles, in readings, and in place of dull bars; over the seed lines."""

import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from corpus.profile.profile import profile_of
from corpus.read.written import ReadingWishes
from corpus.reading.account import account
from corpus.suggest.costs import WIDEST_JOINT
from db.catalogue import Selection, entries, load
from db.connection import Database
from db.dull import dull_places
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from db.profile_lines import selected_lines
from db.recur import RecurQuestion, recur
from db.recurring import (
    COMMON,
    OWN,
    RECURRING,
    Recurring,
    corpus_figures,
    coverages,
    figures_of_line,
    repeat_coverage,
)
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line

SEED = Path(__file__).parents[2] / "seed_data"
KEY = tomllib.loads((SEED / "answer_key.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def seed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """The seed lines, families of the corpus kept."""
    database = open_database(f"sqlite:///{tmp_path_factory.mktemp('recurring') / 'seed.db'}", create=True)
    list(add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())))
    recur(database, RecurQuestion())
    yield database
    database.close()


def identity_of(database: Database, title: str, player: str) -> int:
    """The ID of a seed line."""
    with database.reading() as connection:
        (found,) = entries(connection, Selection(player=player, tune=title))[0]
    return found.id


def test_notes_in_figures_are_those_of_the_families_places(seed: Database) -> None:
    """Counted another way: sets of line and note, from the places of the families alone; common is what two share."""
    with seed.reading() as connection:
        figures = corpus_figures(connection)
        lines = selected_lines(connection, Selection())
        players = {entry.id: entry.details.player for entry in entries(connection, Selection())[0]}
        assert figures is not None
        found, remarks = repeat_coverage(connection, lines, figures, with_own=False)
    expected: dict[str, set[tuple[int, int]]] = {RECURRING: set(), COMMON: set(), OWN: set()}
    for family in figures.families:
        notes = {(p.transcription, n) for p in family.places for n in range(p.first, p.last + 1)}
        expected[RECURRING] |= notes
        expected[COMMON if len({players[p.transcription] for p in family.places}) > 1 else OWN] |= notes
    starts = {identity: i for i, identity in enumerate(lines.ids)}
    offset = {n: int((lines.columns.line < n).sum()) for n in range(len(lines.ids))}
    for name, notes in expected.items():
        assert set(found[name].nonzero()[0].tolist()) == {offset[starts[i]] + n for i, n in notes}
    assert remarks == []
    assert 0 < len(expected[COMMON]) < len(lines.columns) / 2


def test_a_players_own_figures_stand_in_nobody_elses_lines(seed: Database) -> None:
    """Odile's C G F C over ii-V is hers alone; a share of her notes, counted beside the clichés, not among them."""
    with seed.reading() as connection:
        lines = selected_lines(connection, Selection(player="brakenhoek"))
        (covered,) = coverages(connection, [lines], None, None)
    profile = profile_of(lines.columns, covered.shapes, covered.repeats, covered.remarks)
    figures = {m.key: m for m in profile.measures if m.group == "repetition"}
    assert list(figures) == [
        "repetition.recurring_figures",
        "repetition.cliches_that_several_players_share",
        "repetition.figures_of_this_player_alone",
    ]
    whole, common, own = (figure.value or 0 for figure in figures.values())
    assert own > 0.1
    assert max(common, own) <= whole <= common + own
    assert all(figure.n == 1296 and figure.method == "bootstrap of bars" for figure in figures.values())


def test_nothing_is_said_of_clichés_where_one_player_is_known(database: Database) -> None:
    """Figures recur, but whose they are cannot be told; and a large corpus is not searched unasked."""
    store_lines(database, [walking_line(seed, 40) for seed in (0, 40, 80)])
    with database.reading() as connection:
        lines = selected_lines(connection, Selection())
        _, remarks = repeat_coverage(connection, lines, Recurring((), "corpus"), with_own=True)
        assert "fewer than two players are named" in remarks[0]
        assert coverages(connection, [lines], False, False)[0].repeats is None
        assert coverages(connection, [lines], False, None)[0].repeats is not None


@pytest.mark.parametrize("reading", KEY["reading"], ids=lambda r: f"{r['tune']}, {r['player']}, chorus {r['chorus']}")
def test_facts_of_the_readings_are_told_beside_recurring_figures(seed: Database, reading: dict[str, Any]) -> None:
    """With the families of the corpus told too, every fact written by hand is still there, in at most two lines."""
    identity = identity_of(seed, reading["tune"], reading["player"])
    with seed.reading() as connection:
        _, line = load(connection, identity)
        figures = figures_of_line(connection, identity, line)
    found = account(line, reading["chorus"], figures)
    for fact in reading["fact"]:
        texts = [r.text.lower() for r in found.remarks if line.bars[r.bar_index].number == fact["bar"]]
        assert any(fact["says"].lower() in text for text in texts), (fact, texts)
        assert sum(map(len, texts)) <= 148


def test_planted_figures_are_told_where_they_were_planted(seed: Database) -> None:
    """Every plain or transposed place of a planted figure in Brass Thimble is covered by a figure of the reading."""
    identity = identity_of(seed, "Brass Thimble", "quellenberg")
    with seed.reading() as connection:
        _, line = load(connection, identity)
        figures = figures_of_line(connection, identity, line)
    covered = {n for figure in figures.figures for p in figure.places for n in range(p.first, p.last + 1)}
    checked = 0
    for figure in KEY["figure"]:
        for place in figure.get("occurrence", []):
            is_here = (place["tune"], place["player"]) == ("Brass Thimble", "Tamsin Quellenberg")
            if is_here and place["disguise"] in (["plain"], ["transposed"]):
                first = next(
                    i
                    for i, note in enumerate(line.notes)
                    if (line.bar_of(i).number, line.beat_of(i)) == (place["bar"], place["beat"]) and note.pitch
                )
                # Neighbouring families may share a note out differently.
                assert len({first, first + 1, first + 2} & covered) >= 2, (figure["name"], place["bar"])
                checked += 1
    assert checked >= 3


def test_dull_bars_of_a_plain_line_get_figures_of_the_corpus(seed: Database) -> None:
    """Odile's blues: roots, or roots and fifths; each suggestion names its place, fits, and joins."""
    identity = identity_of(seed, "Coal Dust Blues", "brakenhoek")
    with seed.reading() as connection:
        found = dull_places(connection, [identity], "anselm varga-tindall")
        bare = dull_places(connection, [identity_of(seed, "Harbour Glass", "varga")])
    assert found.count > len(found.places) - 1
    assert sum(bool(place.replaced.alternatives) for place in found.places) >= 2
    for place in found.places:
        assert place.replaced.dull.reasons
        for alternative in place.replaced.alternatives:
            assert alternative.source.origin
            assert all(one.end_ticks == two.onset_ticks for one, two in pairwise(alternative.notes))
            assert alternative.notes != place.transcription.notes[alternative.first : alternative.last + 1]
            for joint in (alternative.before, alternative.after):
                assert joint is None or abs(joint.semitones) <= WIDEST_JOINT
    assert bare.count < found.count


def test_without_figures_it_says_so(database: Database) -> None:
    """An empty shelf, and a corpus in which nothing recurs."""
    from tests.corpus.profile.lines_help import line

    (identity,) = store_lines(database, [line("C6|F6", "C2 C2 C2 C2 F2 C3 F2 C3", key="C major")])
    with database.reading() as connection:
        found = dull_places(connection, [identity])
    assert [place.replaced.alternatives for place in found.places] == [(), ()]
    assert found.remarks == ("no figure can be suggested: the shelf is empty, and the corpus holds none",)
