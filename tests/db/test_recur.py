"""Discovery over stored lines: the seed answer key, what is kept, and what changes it."""

from collections.abc import Iterator

import pytest

from corpus.errors import CorpusError, SystemTroubleError
from corpus.model import Transcription
from corpus.read.written import ReadingWishes
from corpus.recur.on_dask import repeats_on_dask
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Selection, entries, load_many
from db.connection import Database
from db.families import KeptFamily, code_of, pack_family, unpack_family
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from db.recur import FamilyHits, RecurQuestion, discover, kept, recur
from db.signature import common, signature
from tests.databases import Databases
from tests.db.helpers import scalar, store_lines
from tests.db.test_seed_search import KEY, SEED
from tests.generators.lines import walking_line
from tests.generators.small import line_from


@pytest.fixture(scope="module")
def seed(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """The seed lines in a database."""
    database = open_database(databases.new(tmp_path_factory.mktemp("recur") / "seed.db"), create=True)
    list(add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())))
    yield database
    database.close()


def _note_at(line: Transcription, bar: int, beat: float) -> int:
    return next(
        index
        for index in range(len(line.notes))
        if line.bar_of(index).number == bar and abs(float(line.beat_of(index)) - beat) < 1e-6
    )


def _planted(database: Database) -> dict[str, list[tuple[int, int, int]]]:
    """Every place of every figure of the answer key, plants and places by chance: line, first and last note."""
    with database.reading() as connection:
        listed, _ = entries(connection, Selection())
        lines = dict(load_many(connection, [entry.id for entry in listed]))
    ids = {(entry.details.title, entry.details.player): entry.id for entry in listed}
    found: dict[str, list[tuple[int, int, int]]] = {}
    for figure in KEY:
        for place in [*figure["occurrence"], *figure.get("chance", [])]:
            identity = ids[place["tune"], place["player"]]
            line = lines[identity]
            first = _note_at(line, place["bar"], place["beat"])
            last = _note_at(line, place["to_bar"], place["to_beat"])
            found.setdefault(figure["name"], []).append((identity, first, last))
    return found


def _is_at(place: tuple[int, int, int], family: KeptFamily) -> bool:
    """Whether a family has a place that shares most of its notes with one of the key."""
    for own in family.places:
        shared = min(own.last, place[2]) - max(own.first, place[1]) + 1
        whole = max(own.last, place[2]) - min(own.first, place[1]) + 1
        if own.transcription == place[0] and shared >= 0.6 * whole:
            return True
    return False


def test_every_figure_of_the_answer_key_is_among_the_first_twenty_families(seed: Database) -> None:
    """Nothing set: for each planted figure one family holds most of its places, and no family stands for two."""
    families = recur(seed, RecurQuestion()).families
    assert len(families) <= 20
    best: dict[str, int] = {}
    for name, places in _planted(seed).items():
        shares = [sum(_is_at(place, family) for place in places) / len(places) for family in families]
        best[name] = shares.index(max(shares))
        assert max(shares) > 0.5, name
    assert len(best) == 14
    assert len(set(best.values())) == len(best)


def test_what_is_said_of_chance_holds_of_the_best_families(seed: Database) -> None:
    """The best ten hold hardly a place where nothing was planted, and each stands far more often than chance has it."""
    planted = [place for places in _planted(seed).values() for place in places]
    for family in recur(seed, RecurQuestion()).families[:5]:
        told = [place for place in family.places if any(_is_near(place.first, place.transcription, p) for p in planted)]
        assert len(told) >= 0.8 * len(family.places)
        assert family.count > 5 * family.expected


def _is_near(first: int, identity: int, place: tuple[int, int, int]) -> bool:
    return identity == place[0] and place[1] - 2 <= first <= place[2]


def test_places_become_hits_with_their_changes(seed: Database) -> None:
    """Every place of every family can be told; what is like the typical form to the note has likeness 1."""
    question = RecurQuestion()
    with seed.reading() as connection:
        hits = FamilyHits(connection, question.settings)
        for family in recur(seed, question).families:
            told = list(hits.hits(family, family.places))
            if family.reading == "folded":
                exact = [place.parts == 0 for place in family.places]
                assert [hit.occurrence.likeness == 1 for hit in told] == exact
            assert all(hit.occurrence.changes or hit.occurrence.likeness == 1 for hit in told)
            for hit, place in zip(told, family.places, strict=True):
                # A place takes all repeats at its ends in, an occurrence as many as the figure has inside.
                assert place.first <= hit.occurrence.first < hit.occurrence.last <= place.last


def test_a_discovery_is_kept_until_lines_change(database: Database) -> None:
    """The second time it is read; a line more makes it anew, in place of the old one."""
    store_lines(database, [walking_line(seed) for seed in range(6)])
    question = RecurQuestion()
    assert recur(database, question).made == "new"
    assert recur(database, question).made == "kept"
    store_lines(database, [walking_line(9)], "more.abc")
    with database.reading() as connection:
        assert kept(connection, question) is None
    assert recur(database, question).made == "again"
    assert recur(database, question, again=True).made == "anew"
    assert scalar(database, "SELECT count(*) FROM discovery") == 1
    assert recur(database, RecurQuestion(settings=DiscoverySettings(limit=3))).made == "new"
    assert scalar(database, "SELECT count(*) FROM discovery") == 2


def test_what_is_kept_is_what_was_found(seed: Database) -> None:
    """A family comes back from its bytes as it was, and its code follows from its form."""
    question = RecurQuestion()
    fresh = recur(seed, question, again=True).families
    assert list(recur(seed, question).families) == list(fresh)
    for family in fresh:
        assert unpack_family(pack_family(family)) == family
        assert family.code == code_of(family.reading, family.intervals)


def test_a_section_limits_what_is_looked_at(seed: Database) -> None:
    """Every place lies in a bridge."""
    question = RecurQuestion(Selection(section="b"))
    with seed.reading() as connection:
        hits = FamilyHits(connection, question.settings)
        found = recur(seed, question)
        assert found.families
        for family in found.families:
            for hit in hits.hits(family, family.places):
                section = hit.transcription.section_at(hit.transcription.notes[hit.occurrence.first].onset_ticks)
                assert section is not None
                assert section.label == "B"


def test_empty_selections_are_told(database: Database) -> None:
    """No line at all, an ID that no line has, a section that no line has."""
    with pytest.raises(CorpusError, match="no line answers"):
        recur(database, RecurQuestion())
    identity = store_lines(database, [line_from("C3 D3 Eb3 F3 G3")])[0]
    assert not recur(database, RecurQuestion()).families
    with pytest.raises(CorpusError, match="no transcription 99"):
        recur(database, RecurQuestion(Selection(ids=(identity, 99))))
    with pytest.raises(CorpusError, match="section 'Q'"):
        recur(database, RecurQuestion(Selection(section="Q")))


def test_a_database_that_cannot_be_written_answers_too(seed: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """The families are found, and it is told that they were not kept."""

    def refuse(self: Database) -> None:
        raise SystemTroubleError(f"database {self.name} is read-only")

    monkeypatch.setattr(Database, "writing", refuse)
    found = recur(seed, RecurQuestion(settings=DiscoverySettings(limit=7)))
    assert found.families
    assert found.made == "not kept"
    assert "is read-only" in found.reason


def test_one_player_is_set_apart_from_the_others(seed: Database) -> None:
    """Sure differences first; each count is that of the player's own lines and of all others."""
    found, extras = signature(seed, RecurQuestion(settings=DiscoverySettings(limit=10)), "Quellenberg")
    keys = [fields["keyness"] for fields, _ in extras]
    assert found.families
    assert all(key["log_ratio"] > 0 for key in keys)
    sure = [key["is_enough"] and key["probability"] <= 0.05 for key in keys]
    assert sure == sorted(sure, reverse=True)
    likelihoods = [key["log_likelihood"] for key, is_sure in zip(keys, sure, strict=True) if is_sure]
    assert likelihoods == sorted(likelihoods, reverse=True)
    assert {key["notes"] + key["other_notes"] for key in keys} == {4602}
    assert [key["count"] for key in keys] == [family.count for family in found.families]


def test_a_player_alone_cannot_be_set_apart(seed: Database) -> None:
    """Nobody of that name, and nobody else: both are told."""
    with pytest.raises(CorpusError, match="no line of a player 'nobody'"):
        signature(seed, RecurQuestion(), "nobody")
    with pytest.raises(CorpusError, match="no line of another player"):
        signature(seed, RecurQuestion(Selection(player="Quellenberg")), "Quellenberg")


def test_the_common_stock_is_what_most_players_hold(seed: Database) -> None:
    """Players fall, tunes fall among equals, and the counts are those of the database."""
    _, extras = common(seed, RecurQuestion())
    told = [fields["common"] for fields, _ in extras]
    assert told[0]["players"] == told[0]["of_players"] == 4
    order = [(-entry["players"], -entry["tunes"]) for entry in told]
    assert order == sorted(order)
    assert {entry["of_tunes"] for entry in told} == {11}


@pytest.mark.no_sql(reason="counting in workers")
def test_two_workers_of_dask_find_the_same(seed: Database) -> None:
    """Repeats counted in small parts by two other processes make the very families that one process finds."""
    question = RecurQuestion(settings=DiscoverySettings(limit=15))
    with repeats_on_dask("local", workers=2, size=200) as find, seed.reading() as connection:
        together = discover(connection, question, find_repeats=find)
        alone = discover(connection, question)
    assert together == alone
    assert len(together.families) == question.settings.limit


def test_a_scheduler_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing listens on the port, or the address is none."""
    monkeypatch.setattr("corpus.recur.on_dask._WAIT_SECONDS", 1)
    for address in ("tcp://127.0.0.1:9", "nowhere at all"):
        with pytest.raises(SystemTroubleError, match="no Dask scheduler answers"), repeats_on_dask(address):
            pass
