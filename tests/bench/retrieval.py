"""How well near search finds the versions of a tune from its first notes, beside plain edit distance.

The first notes of a tune are asked for; all other tunes are ranked by their best hit. Reported are the mean reciprocal
rank of the best-ranked version (1 when a version always comes first; ranks beyond ``DEEPEST`` count as 0) and how often
a version stands among the first ten. Tunes that a method finds equally near share their ranks: what is counted is the
mean over all orders of the tied. The tune asked for, and those that are the same melody from first to last note, are
left out of the ranking.

Intervals of 95 % for differences are paired bootstraps over the queries: percentiles of resampled mean differences.
"""

import random
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import comb
from typing import Final

import sqlalchemy as sa

from corpus.match.exact import Rhythm
from corpus.match.figure import Figure, figure_from_notes_of
from corpus.match.prices import TABLES
from corpus.model import Transcription
from db.catalogue import Selection, load_many
from db.near import NearLines, NearQuestion, search_near
from db.search import Hit, Question
from tests.bench.corpora import Filled
from tests.bench.edit_distance import interval_distances, pitch_distances, texts_of
from tests.bench.timing import heading, report
from tests.bench.versions import RULES, Group, Rule, groups_in, held_out, report_groups

Method = Callable[[Figure], Mapping[int, float]]
"""Distances by ID of tune, for those that a method finds."""

LENGTHS: Final = (12, 16, 24)
QUERIES: Final[Mapping[Rule, int]] = {"number": 33, "dance title": 60, "song title": 40}
"""At most so many by rule: all groups of one number. Sixty queries in all could not tell differences of .03."""
MOST_HITS: Final = 60
LEAST: Final = {"figures": 0.8, "versions": 0.6}
"""Thresholds: what is less like the figure is not found, and counts as not found."""
DEEPEST: Final = 20
TOP: Final = 10
_SEED = 732
_RESAMPLES = 2_000


@dataclass(frozen=True, slots=True)
class Query:
    """A tune to ask for: its line, its versions, and the tunes that are left out of the ranking."""

    rule: Rule
    line: Transcription
    versions: frozenset[int]
    left_out: frozenset[int]

    def figure(self, length: int) -> Figure:
        """The first notes of the tune."""
        return figure_from_notes_of(self.line, 0, length - 1)


@dataclass(frozen=True, slots=True)
class Score:
    """What a query earned: the expected reciprocal rank of its best version, and its chance to be in the top."""

    reciprocal: float = 0.0
    top: float = 0.0


def near(
    connection: sa.Connection, lines: NearLines, figure: Figure, table: str, rhythm: Rhythm = "any"
) -> Sequence[Hit]:
    """Near search with one of the tables of prices."""
    question = NearQuestion(Question(figure, rhythm=rhythm), LEAST[table], TABLES[table])
    return search_near(connection, question, MOST_HITS, lines).hits


def near_methods(connection: sa.Connection) -> "dict[str, Method]":
    """Near search as it is judged: both tables of prices, and the better one with rhythm, at any pace."""
    lines = NearLines.of(connection, "pitch", Selection())
    return {
        "near search, figures": lambda figure: by_tune(near(connection, lines, figure, "figures")),
        "near search, versions": lambda figure: by_tune(near(connection, lines, figure, "versions")),
        "near search, versions, rhythm counts": lambda figure: by_tune(
            near(connection, lines, figure, "versions", "stretched")
        ),
    }


def queries_from(
    connection: sa.Connection, groups: Sequence[Group], most: Mapping[Rule, int] = QUERIES, seed: int = _SEED
) -> list[Query]:
    """A sample of groups, so many at most by rule, one tune of each; groups of one melody have nothing to ask for."""
    source = random.Random(seed)
    chosen: list[tuple[Group, int]] = []
    for rule in RULES:
        found = [group for group in groups if group.rule == rule and not group.is_trivial]
        for group in source.sample(found, min(most.get(rule, 0), len(found))):
            chosen.append((group, source.choice(group.ids)))
    lines = dict(load_many(connection, [identity for _, identity in chosen]))
    return [Query(group.rule, lines[identity], *group.versions_of(identity)) for group, identity in chosen]


def expected(better: int, tied: int, versions: int) -> Score:
    """The score of ``versions`` among ``tied`` tunes, ``better`` tunes before them, over all orders of the tied."""
    reciprocal = top = 0.0
    orders = comb(tied, versions)
    for place in range(1, min(tied - versions + 1, DEEPEST - better) + 1):
        chance = comb(tied - place, versions - 1) / orders
        reciprocal += chance / (better + place)
        top += chance if better + place <= TOP else 0.0
    return Score(reciprocal, top)


def score(query: Query, distances: Mapping[int, float]) -> Score:
    """The score of a ranking: tunes by distance, those that were not found left out."""
    ranked = {identity: far for identity, far in distances.items() if identity not in query.left_out}
    nearest = min((ranked[identity] for identity in query.versions if identity in ranked), default=None)
    if nearest is None:
        return Score()
    better = sum(far < nearest for far in ranked.values())
    tied = sum(far == nearest for far in ranked.values())
    return expected(better, tied, sum(ranked.get(identity) == nearest for identity in query.versions))


def by_tune(hits: Sequence[Hit]) -> dict[int, float]:
    """The distance of each tune's best hit; where hits were cut off, without the last that tie: some are missing."""
    distances: dict[int, float] = {}
    for hit in hits:
        far = 1 - hit.occurrence.likeness
        distances[hit.entry.id] = min(far, distances.get(hit.entry.id, far))
    if len(hits) < MOST_HITS:
        return distances
    last = 1 - hits[-1].occurrence.likeness
    return {identity: far for identity, far in distances.items() if far < last}


def interval_of_difference(ours: Sequence[float], theirs: Sequence[float], seed: int = _SEED) -> tuple[float, float]:
    """The paired bootstrap interval, 95 %, of the mean of ``ours - theirs``."""
    source = random.Random(seed)
    differences = [a - b for a, b in zip(ours, theirs, strict=True)]
    means = sorted(statistics.fmean(source.choices(differences, k=len(differences))) for _ in range(_RESAMPLES))
    return means[round(0.025 * _RESAMPLES)], means[round(0.975 * _RESAMPLES) - 1]


def _report_method(length: int, name: str, queries: Sequence[Query], scores: Sequence[Score]) -> None:
    reciprocals = [found.reciprocal for found in scores]
    by_rule = ", ".join(
        f"{rule} {statistics.fmean(r for q, r in zip(queries, reciprocals, strict=True) if q.rule == rule):.3f}"
        for rule in RULES
        if any(query.rule == rule for query in queries)
    )
    in_top = statistics.fmean(found.top for found in scores)
    report(
        f"{length} notes, {name}",
        f"MRR {statistics.fmean(reciprocals):.3f}, in the top {TOP}: {in_top:.1%}  (MRR: {by_rule})",
    )


def report_retrieval(filled: Filled, most: Mapping[Rule, int] = QUERIES) -> None:
    """Mean reciprocal ranks and hits in the top ten, by length of the figure and method, on the groups held out.

    ``filled`` holds the tunes of ``tests.bench.corpora.music21_tunes``; ``most`` bounds the queries by rule. Most of
    the time is that of edit distance, a second and more a query.
    """
    groups = groups_in(filled.database)
    report_groups(groups)
    texts = texts_of(filled.database)
    with filled.database.reading() as connection:
        queries = queries_from(connection, held_out(groups), most)
        ours = near_methods(connection)
        others: dict[str, Method] = {
            "edit distance of pitches": lambda figure: pitch_distances(texts, figure),
            "edit distance of intervals": lambda figure: interval_distances(texts, figure),
        }
        heading(f"Versions found from the first notes: n = {len(queries)} tunes, one of each group held out")
        for length in LENGTHS:
            scores = {
                name: [score(query, method(query.figure(length))) for query in queries]
                for name, method in (ours | others).items()
            }
            for name, found in scores.items():
                _report_method(length, name, queries, found)
            for one, other in product(ours, others):
                _report_difference(length, (one, other), scores[one], scores[other])


def _report_difference(length: int, names: tuple[str, str], ours: Sequence[Score], theirs: Sequence[Score]) -> None:
    first, second = ([found.reciprocal for found in scores] for scores in (ours, theirs))
    low, high = interval_of_difference(first, second)
    difference = statistics.fmean(first) - statistics.fmean(second)
    report(
        f"{length} notes, {names[0]} less {names[1]}",
        f"MRR {difference:+.3f}, 95 % interval {low:+.3f} to {high:+.3f}",
    )
