"""Families found in small corpora made by hand, and what chance explains."""

import random
from collections import Counter
from collections.abc import Sequence
from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.columns import Columns, LineTexts, columns_of
from corpus.match.figure import Folds
from corpus.model import Transcription
from corpus.readings import all_readings, line_of
from corpus.recur.chance import naming, surprise
from corpus.recur.contexts import Contexts, attachment
from corpus.recur.families import Discovery
from corpus.recur.repeats import Repeats
from corpus.recur.replays import is_run
from corpus.recur.settings import DiscoverySettings, Found
from tests.databases import examples
from tests.generators.lines import walking_line
from tests.generators.small import line_from

FIGURE = "C3 Eb3 D3 A2 Bb2"


def columns_from(lines: Sequence[Transcription], is_collapsed: bool = True) -> Columns:
    """The columns of lines, doubles collapsed."""
    texts = []
    for line in lines:
        readings = all_readings(line_of(line))
        of = readings.collapsed if is_collapsed else readings.plain
        texts.append(LineTexts(of["folded"], of["interval"], of["step"]))
    return columns_of("pitch", texts)


def families_in(lines: Sequence[Transcription], settings: DiscoverySettings | None = None) -> list[Found]:
    """The families of lines."""
    return Discovery(columns_from(lines), settings or DiscoverySettings()).families()


def with_figure(times: int, forms: Sequence[str]) -> list[Transcription]:
    """Lines of chance notes, each with a form of a figure in the middle."""
    source = random.Random(5)
    names = ["C3", "C#3", "D3", "Eb3", "E3", "F3", "F#3", "G3", "Ab3", "A3", "Bb3", "B3", "C4", "D4"]
    lines = []
    for time in range(times):
        form = forms[time % len(forms)]
        before, after = (_no_doubles(source, names, set(form.split())) for _ in range(2))
        lines.append(line_from(" ".join([*before, form, *after])))
    return lines


def _no_doubles(source: random.Random, names: Sequence[str], around: set[str]) -> list[str]:
    """Thirty notes, none of which repeats the one before; the first and the last are none of ``around``."""
    found: list[str] = []
    while len(found) < 30:
        name = source.choice(names)
        if (not found or name != found[-1]) and not (len(found) in (0, 29) and name in around):
            found.append(name)
    return found


def test_a_figure_in_many_lines_of_chance_is_the_best_family() -> None:
    """Twelve lines of random notes hold five notes in common: by its intervals, wherever it stands."""
    best = families_in(with_figure(12, [FIGURE, "F3 Ab3 G3 D3 Eb3"]))[0]
    assert best.figure is not None
    assert best.figure.text == "+3 -1 -5 +1"
    assert best.count == 12
    # Each line has a bar, thirty notes, and then the figure.
    assert [member.first for member in best.members] == [1 + 30 + 66 * line for line in range(12)]


def test_disguises_join_the_family_and_are_priced() -> None:
    """An octave displaced and doubled forms are the same under the folds; an altered and an ornamented one join in."""
    forms = [FIGURE, FIGURE, "C3 Eb3 D4 A2 Bb2", "C3 C3 Eb3 Eb3 D3 D3 A2 A2 Bb2 Bb2", "C3 E3 D3 A2 Bb2"]
    best = families_in(with_figure(30, forms))[0]
    assert best.figure is not None
    assert best.figure.text == "+3 -1 -5 +1"
    assert best.count == 30
    assert sorted({member.parts for member in best.members}) == [0, 300]


def test_lines_of_chance_hold_no_families() -> None:
    """Twelve lines of walking notes drawn one by one: at most one of the first twenty families outlives chance."""
    assert len(families_in([walking_line(seed) for seed in range(60)])) <= 1


def test_parts_of_a_longer_figure_do_not_come_again() -> None:
    """A figure of eight notes that always stands whole is one family."""
    found = families_in(with_figure(12, ["C3 Eb3 D3 A2 Bb2 F#3 F3 C#3"]))
    assert len(found) == 1
    assert found[0].typical[1] - found[0].typical[0] == 7


def test_a_tune_added_twice_is_no_evidence() -> None:
    """Forty notes of chance, twice the same: nothing recurs but the whole."""
    line = with_figure(1, [FIGURE])[0]
    assert families_in([line, line, line]) == []
    strains = families_in([line, line, line], DiscoverySettings(least_notes=25, most_notes=200))
    assert len(strains) == 1
    assert len(strains[0].members) == 3


def test_hostile_selections_have_no_families() -> None:
    """Five notes, one pitch ten thousand times, all notes different: no family, no hang."""
    assert families_in([line_from("C3 D3 Eb3 F3 G3")]) == []
    assert families_in([line_from(" ".join(["C3"] * 10_000))]) == []
    names = [f"{letter}{octave}" for octave in range(1, 7) for letter in ("C", "C#", "D", "Eb", "E", "F", "F#")]
    assert families_in([line_from(" ".join(names))]) == []
    assert families_in([line_from("x r2 x")]) == []


def test_pieces_of_scales_are_left_out_unless_wished_for() -> None:
    """By hand: up, down, or once up and down."""
    assert is_run(np.array([0, 2, 4, 5]))
    assert is_run(np.array([0, 2, 4, 2, 0]))
    assert not is_run(np.array([0, 2, 0, 2]))
    assert not is_run(np.array([0, 3, 5, 7]))
    assert not is_run(np.array([0, -3, -2, -1, 0]))
    lines = with_figure(40, ["C3 D3 Eb3 F3 G3 A3"])
    assert families_in(lines) == []
    assert families_in(lines, DiscoverySettings(with_runs=True))[0].count >= 40


def test_what_is_set_counts() -> None:
    """A least count above the figure's, a shortest length above it: not found. No tolerance: no disguise."""
    lines = with_figure(30, [FIGURE, FIGURE, "C3 E3 D3 A2 Bb2"])
    assert families_in(lines, DiscoverySettings(least_count=90)) == []
    # By hand: of the ninety places one in seven goes on with the same letter by chance.
    assert all(found.count < 15 for found in families_in(lines, DiscoverySettings(least_notes=6)))
    assert families_in(lines, DiscoverySettings(tolerance=1, readings=("folded",)))[0].count == 20
    assert families_in(lines, DiscoverySettings(limit=1))[0].count == 30
    plain = DiscoverySettings(folds=Folds())
    assert Discovery(columns_from(lines, False), plain).families()[0].reading in ("interval", "step")


@pytest.mark.parametrize(
    "wrong", [{"least_notes": 2}, {"least_notes": 9, "most_notes": 8}, {"least_count": 1}, {"tolerance": 0}]
)
def test_wrong_settings_are_refused(wrong: dict[str, int]) -> None:
    """Each with what is wrong."""
    with pytest.raises(QueryError):
        DiscoverySettings(**wrong)  # type: ignore[arg-type]


def test_surprise_is_what_naming_saves() -> None:
    """By hand: ten occurrences of 12 nats among 1,000 places save 9 x 12 - 10 (ln 100 + 1)."""
    assert naming(1000, 10) == pytest.approx(log(100) + 1)
    assert surprise(12, 10, 1000) == pytest.approx(108 - 10 * (log(100) + 1))
    # C(n, k) <= (e n / k)^k, a textbook bound: naming never says less than it takes.
    for places, count in ((50, 2), (50, 25), (1000, 3)):
        combinations = float(np.prod([(places - i) / (i + 1) for i in range(count)]))
        assert count * naming(places, count) >= log(combinations)


def test_keeping_to_a_beat_is_worth_something() -> None:
    """By hand: ten occurrences on one of four equal beats; spread evenly they are less likely than by the corpus."""
    shares = [0.0, 0.25, 0.25, 0.25, 0.25]
    # Polya's urn of strength 2 that leans on beat 1 by 1/4: 0.5/2 x 1.5/3 x … x 9.5/11, beside 1/4 to the tenth.
    urn = sum(log((0.5 + drawn) / (2 + drawn)) for drawn in range(10))
    assert attachment([1] * 10, shares) == pytest.approx(urn + 10 * log(4))
    assert attachment([1, 2, 3, 4] * 3, shares) < 0
    assert attachment([0, 0], shares) == 0
    beats = np.array([0, *[1, 2, 3, 4] * 10], dtype=np.uint8)
    contexts = Contexts([beats], beats > 0)
    # Whether it matters at all costs ln 2.
    assert contexts.attachment(np.arange(1, 41, 4)) == pytest.approx(urn + 10 * log(4) - log(2))
    assert contexts.attachment(np.arange(1, 41)) == 0
    assert Contexts([], beats > 0).attachment(np.arange(1, 41, 4)) == 0


def test_a_role_that_goes_with_the_beat_is_no_news() -> None:
    """By hand: role 7 stands on each first beat, and nowhere else: three ways to say the same are one of four."""
    beats = np.array([0, *[1, 2, 3, 4] * 10], dtype=np.uint8)
    roles = np.where(beats == 1, 7, 9 * (beats > 0)).astype(np.uint8)
    together = Contexts([beats, roles], beats > 0)
    firsts = np.arange(1, 41, 4)
    urn = sum(log((0.5 + drawn) / (2 + drawn)) for drawn in range(10))
    assert together.attachment(firsts) == pytest.approx(urn + 10 * log(4) + log(3) - log(4))
    # A role that is rare on that beat is news.
    rare = np.where(np.isin(np.arange(41), firsts[:5]), 5, roles).astype(np.uint8)
    assert Contexts([beats, rare], beats > 0).attachment(firsts[:5]) > together.attachment(firsts[:5]) + 1


@settings(max_examples=examples(60), deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 3)), min_size=8, max_size=40), st.integers(0, 1))
def test_many_repeats_are_weighed_as_each_is(places: list[tuple[int, int]], before: int) -> None:
    """``attachments`` of all stretches of a suffix array is ``attachment`` of each."""
    beats, roles = (np.array(column, dtype=np.uint8) for column in zip(*places, strict=True))
    contexts = Contexts([beats, roles], np.ones(len(places), dtype=bool))
    suffixes = np.roll(np.arange(len(places))[::-1], 3)
    begins = np.arange(len(places) - 5)
    repeats = Repeats(suffixes, begins, np.minimum(begins % 4 + 2, 5), np.full(len(begins), 3))
    numbers = begins[::2]
    found = contexts.attachments(repeats, numbers, before)
    wanted = [contexts.attachment(repeats.places(int(number)) - before) for number in numbers]
    assert found == pytest.approx(wanted)


def test_a_form_is_prolonged_as_most_of_its_places_go_on() -> None:
    """Of five places of eight notes two lack the last one: the family has eight notes, all fifteen belong to it.

    By hand: fifteen places of seven notes save more than nine of eight, but fifteen of eight, six of them cut or ended
    otherwise, save one note in fourteen places for six times four nats at most.
    """
    cut = "C3 Eb3 D3 A2 Bb2 F#3 F3"
    best = families_in(with_figure(15, [f"{cut} C#3", cut, f"{cut} C#3", cut, f"{cut} C#3"]))[0]
    assert best.figure is not None
    assert best.figure.text == "+3 -1 -5 +1 +8 -1 -4"
    assert best.count == 15
    prices = Counter(member.parts for member in best.members)
    assert prices[0] >= 9
    assert max(prices) == 500
