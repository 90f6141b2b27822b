"""Local keys: whole charts, declared keys, bad input."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.harmony.analysis import analyse_chart
from corpus.harmony.hearing import hear
from corpus.harmony.keys import KeyedChord, KeySearch, local_keys
from corpus.harmony.symbols import read_symbol
from corpus.pitch import Key, parse_key
from tests.corpus.harmony.charts_help import analysed, bars, chords
from tests.databases import examples

RHYTHM_A = "Bb6 G7|Cm7 F7|Bb6 G7|Cm7 F7|Fm7 Bb7|Eb6 Edim7|Bb6 G7|Cm7 F7"
BRIDGE = "D7|%|G7|%|C7|%|F7|%"


def _keys(chart: str, declared: str | None = None) -> list[str]:
    keys: list[str] = []
    for span in analysed(chart, declared).spans:
        if not keys or keys[-1] != str(span.key):
            keys.append(str(span.key))
    return keys


@pytest.mark.parametrize(
    ("home", "chart"),
    [
        ("Bb major", "Bb6 G7|Cm7 F7|Dm7 G7|Cm7 F7|Fm7 Bb7|Eb6 Ab7|Dm7 G7|Cm7 F7"),
        ("Bb major", "Bb6 G7|Cm7 F7|Dm7 G7|Cm7 F7|Fm7 Bb7|Eb6 Edim7|Dm7 G7|Cm7 F7"),
        ("C major", "C|C7|F|Fm|C|Dm7 G7|C|%"),
        ("C major", "C|C+|C6|C7|F|Fm|C G7|C"),
        ("C major", "C|F|C|F|Fm6|C"),
        ("C major", "C C7/E|F F#dim7|C/G A7|D7 G7|C F|C"),
        ("C major", "Dm7|Db7|Cmaj7|A7|Dm7|Db7|Cmaj7|%"),
        ("C major", "Dm7 G7|Em7 A7|Dm7 G7|Cmaj7"),
        ("Bb major", "D7|Am7 D7|G7|Dm7 G7|C7|Gm7 C7|F7|Cm7 F7|Bb"),
        ("C major", "Cmaj7|Eb7|Abmaj7|Db7|Cmaj7|Eb7|Abmaj7|Db7|Cmaj7"),
        ("C minor", "Cm6|Fm7|Dm7b5|G7b9|Cm6|Fm7|Dm7b5 G7b9|Cm6"),
        ("Eb major", "Ebmaj7|Am7 D7|Abm7 Db7|Gm7 C7|F#m7 B7|Fm7 Bb7|Ebmaj7|Bbm7 Eb7"),
        ("Bb major", "Ebmaj7|Ab7|Bbmaj7"),
        ("F major", "F7|C7|Bb7|%|F7|C7|F7|C7"),
        ("C major", "Em7 A7|Dm7 G7"),
        ("C major", "Em7|A7|Dm7|G7"),
        ("C major", "Em7 A7|Dm7 G7|Em7 A7|Dm7 G7"),
        ("C major", "C|C/Bb|F/A"),
        ("Bb major", "Bb6|Db7|Gb7|B7|Bb6"),
        ("F major", "F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7"),
    ],
)
def test_home_is_found_where_no_key_is_given(home: str, chart: str) -> None:
    """Charts that begin or end at home, by the moves of the trade (common practice, no source)."""
    assert str(analysed(chart).home) == home


@pytest.mark.parametrize(
    ("home", "chart"),
    [
        ("C major", "Dm7 G7|Cmaj7|Dm7 G7|Cmaj7 A7"),
        ("F major", "Bbmaj7|Bbm7 Eb7|Am7 D7|Gm7 C7|Fmaj7|D7|Gm7|C7"),
        ("Eb major", "Cm7|Fm7|Bb7|Ebmaj7|Abmaj7|Fm7 Bb7|Ebmaj7|G7"),
        ("G major", "Am7 D7|Bm7 E7|Am7 D7|Gmaj7 E7"),
        ("F major", "A7|%|D7|%|G7|%|C7|%|Fmaj7|%|Gm7|C7"),
        ("Bb major", "Ebmaj7|Ebm7 Ab7|Bbmaj7|Dm7 G7|Cm7|F7|Dm7 G7|Cm7 F7"),
        ("C major", "Am7|Dm7|G7|Cmaj7|Am7|Dm7|G7|Cmaj7 E7"),
        ("F major", "Gm7|%|C7|%|Gm7|C7|Fmaj7|D7"),
        ("Eb major", "Gm7 C7|Fm7 Bb7|Gm7 C7|Fm7 Bb7"),
        ("G minor", "Am7b5|D7|Gm6|%|Cm7|F7|Bbmaj7|Am7b5 D7"),
    ],
)
def test_home_is_found_where_the_chart_opens_elsewhere(home: str, chart: str) -> None:
    """Charts that open on ii, iii, IV, vi or III7 and end on a turnaround (common practice, no source)."""
    assert str(analysed(chart).home) == home


@pytest.mark.parametrize(
    ("chart", "declared", "wanted"),
    [
        ("F7|%|%|%", "F mixolydian", "I7"),
        ("G7|F|G7|F", "G mixolydian", "I7 bVII I7 bVII"),
        ("D7|C|D7|C|D7|Am7", "D mixolydian", "I7 bVII I7 bVII I7 v"),
        ("Fmaj7|G/F|Fmaj7|G/F", "F lydian", "I II I II"),
        ("Bbmaj7|C7|Bbmaj7|Am7|Bbmaj7|%", "Bb lydian", "I II7 I vii I"),
        ("Dm7|G7|Dm7|G7", "D dorian", "i IV7 i IV7"),
        ("Em|F|Em|F", "E phrygian", "i bII i bII"),
        ("C7|Gm7|C7|%|C7|Gm7|Bb|F", "C mixolydian", "I7 v I7 I7 v bVII IV"),
    ],
)
def test_a_declared_mode_is_read_with_its_own_chords(chart: str, declared: str, wanted: str) -> None:
    """A vamp on the tonic chord of a declared mode is in that mode, and no chord is a V of the parent key."""
    analysis = analysed(chart, declared)
    assert str(analysis.home) == declared
    assert {str(span.key) for span in analysis.spans} == {declared}
    assert " ".join(str(span.numeral) for span in analysis.spans) == wanted
    assert analysis.findings == ()


def test_a_declared_mode_without_its_tonic_chord_is_not_forced() -> None:
    """A cadence in C is in C, whatever mode of G was declared; the signature is the same, so nothing is reported."""
    analysis = analysed("Dm7|G7|Cmaj7|Am7|Dm7|G7|Cmaj7|%", "G mixolydian")
    assert {str(span.key) for span in analysis.spans} == {"C major"}
    assert analysis.findings == ()


def _keys_under(chart: str, signatures: str) -> list[str]:
    """The key of each chord in C, under ``key bars`` after ``key bars``."""
    spans, count = chords(chart)
    words = signatures.split()
    written = [parse_key(key) for key, times in zip(words[::2], words[1::2], strict=True) for _ in range(int(times))]
    played = [replace(bar, key=key) for bar, key in zip(bars(count), written, strict=True)]
    return [str(span.key) for span in analyse_chart(spans, played, parse_key("C")).spans]


def test_a_new_signature_is_evidence_for_a_key() -> None:
    """Four bars of F and Bb after C are IV and bVII of C, or I and IV of F where one flat is written over them."""
    chart = "Cmaj7|Am7|Dm7|G7|Cmaj7|%|Fmaj7|%|Bbmaj7|%|Fmaj7|%"
    assert _keys_under(chart, "C 12") == ["C major"] * 8
    assert _keys_under(chart, "C 6 F 6") == ["C major"] * 5 + ["F major"] * 3
    assert _keys_under(chart, "C 6 Dm 6") == ["C major"] * 5 + ["F major"] * 3


def test_a_new_signature_is_no_law() -> None:
    """A ii V I in Eb is in Eb under four sharps, and a turnaround in C in C under one flat."""
    chart = "Cmaj7|Am7|Dm7|G7|Cmaj7|%|Ebmaj7|Cm7|Fm7|Bb7|Ebmaj7|%"
    assert _keys_under(chart, "C 6 E 6") == ["C major"] * 5 + ["Eb major"] * 5
    assert _keys_under("Cmaj7|Am7|Dm7|G7|Cmaj7|Am7|Dm7 G7|Cmaj7", "C 4 F 4") == ["C major"] * 9


def test_a_ii_goes_with_its_v_across_a_change_of_key() -> None:
    """Am7b5 D7 Gmaj7 after Eb is ii V I in G, in one key, whatever key was before."""
    spans = analysed("Cm7|Fm7|Bb7|Ebmaj7|Abmaj7|Am7b5 D7|Gmaj7|%|Am7|D7|Gmaj7|%|Gmaj7|%", "Eb").spans
    found = [
        (span.symbol_text, str(span.numeral), str(span.key)) for span in spans if span.symbol_text in ("Am7b5", "D7")
    ]
    assert found[:2] == [("Am7b5", "ii7b5", "G major"), ("D7", "V", "G major")]


def test_turnaround_form_stays_in_one_key() -> None:
    """The move to IV and the bridge of dominants change no key: the bridge is one long turnaround."""
    assert _keys("|".join((RHYTHM_A, RHYTHM_A, BRIDGE, RHYTHM_A))) == ["Bb major"]


def test_empty_chart() -> None:
    """A chart without chords has no keys, and the declared key stays home."""
    assert local_keys([]).keys == ()
    assert local_keys([], parse_key("Bb")).home == parse_key("Bb")


def test_chart_without_readable_chords() -> None:
    """Unreadable symbols alone give no keys."""
    assert local_keys([KeyedChord(None, 4.0)] * 3).keys == (None, None, None)


def test_no_chord_takes_the_key_around_it() -> None:
    """A chord that cannot be read lies in the key of what comes before it, or after at the start."""
    chords = [KeyedChord(read_symbol(text), 4.0) for text in ("N.C.", "Dm7", "G7", "N.C.", "Cmaj7", "N.C.")]
    assert {str(key) for key in local_keys(chords).keys} == {"C major"}


@pytest.mark.parametrize("declared", ["Bb major", "C minor", "D dorian", "Eb major"])
def test_a_declared_key_that_fits_is_home(declared: str) -> None:
    """A declared key in which the chart can be read is the home key, church modes as major or minor."""
    charts = {
        "Bb major": "Cm7|F7|Bb6|G7",
        "C minor": "Cm7|Fm7|Dm7b5 G7|Cm7",
        "D dorian": "Dm7|%|G7|Dm7",
        "Eb major": "Abmaj7|Bb7|Cm7|%",
    }
    home = analysed(charts[declared], declared).home
    assert home is not None
    assert home.tonic == parse_key(declared).tonic


@pytest.mark.parametrize("declared", ["E major", "F# minor", "Db major"])
def test_a_wrongly_declared_key_is_reported_and_not_used(declared: str) -> None:
    """A key far from the chart gives a finding, and the keys are those found without it."""
    chart = "|".join((RHYTHM_A, RHYTHM_A, BRIDGE, RHYTHM_A))
    analysis = analysed(chart, declared)
    assert analysis.home == parse_key("Bb")
    assert [finding.kind for finding in analysis.findings] == ["chord"]
    assert declared in analysis.findings[0].text
    assert "Bb major" in analysis.findings[0].text
    assert {str(span.key) for span in analysis.spans} == {"Bb major"}


def test_the_relative_key_of_a_signature_is_no_contradiction() -> None:
    """A signature read as major over a minor chart is quietly put right."""
    analysis = analysed("Cm6|%|Dm7b5|G7|Cm6|%|Dm7b5|G7|Cm6|%", "Eb major")
    assert str(analysis.home) == "C minor"
    assert analysis.findings == ()


def test_a_declared_key_is_a_prior_not_a_cage() -> None:
    """Passages that leave the declared key do so."""
    assert _keys("Gmaj7|%|Gm7|C7|Fmaj7|%|Fm7|Bb7|Ebmaj7|%|Am7 D7|Gmaj7", "G major")[:3] == [
        "G major",
        "F major",
        "Eb major",
    ]


def test_the_tonic_is_spelled_as_the_chart_spells_it() -> None:
    """F# as a chord root gives F# major, Gb gives Gb major."""
    assert _keys("F#maj7|%|G#m7|C#7|F#maj7|%") == ["F# major"]
    assert _keys("Gbmaj7|%|Abm7|Db7|Gbmaj7|%") == ["Gb major"]


SYMBOLS = st.sampled_from(
    [
        "C",
        "Dm7",
        "G7",
        "F#m7b5",
        "Bdim7",
        "Ab7alt",
        "E+",
        "Asus4",
        "C5",
        "Bbmaj7",
        "Ebm6",
        "N.C.",
        "H7",
        "%%",
        "C/E",
        "Db9",
        "Gm(maj7)",
        "F#dim",
        "Cb7",
        "E#m7",
        "qwe",
    ]
)
KEYS = st.none() | st.sampled_from([Key("C"), Key("F#", "minor"), Key("D", "dorian"), Key("B", "locrian")])


@given(st.lists(SYMBOLS, max_size=40), KEYS)
@settings(max_examples=examples(75), deadline=None)
def test_any_sequence_of_symbols_has_an_analysis(symbols: list[str], key: Key | None) -> None:
    """Nothing that stands in a chart makes the analysis raise; read chords have key and numeral."""
    chart = "|".join(symbols) if symbols else "N.C."
    analysis = analysed(chart, None if key is None else str(key))
    for span in analysis.spans:
        has_root = span.symbol is not None and span.symbol.root is not None
        assert (span.numeral is not None) == has_root
        assert span.key is not None or not any(other.numeral for other in analysis.spans)
    for level in analysis.levels:
        assert sum(span.end_ticks - span.onset_ticks for span in level) == sum(
            span.length_ticks for span in analysis.spans
        )


READABLE = st.sampled_from(
    ["C", "Dm7", "G7", "F#m7b5", "Bdim7", "Ab7", "E+", "Asus4", "Bbmaj7", "Ebm6", "C/E", "Db9", "A7"]
)


@given(st.lists(READABLE, min_size=3, max_size=3), st.lists(st.sampled_from([1.0, 2.0, 4.0]), min_size=3, max_size=3))
@settings(max_examples=25, deadline=None)
def test_the_search_finds_the_least_cost(symbols: list[str], lengths: list[float]) -> None:
    """The path that is found costs as little as the best of all 24 x 24 x 24, tried one by one (the slow oracle)."""
    chords = [KeyedChord(read_symbol(text), length) for text, length in zip(symbols, lengths, strict=True)]
    heard = [chord for chord in hear([chord.symbol for chord in chords]) if chord is not None]
    problem = KeySearch(heard, chords)
    for home, away in ((None, 0.0), (7, 0.3)):
        best = min(problem.total(path, home, away) for path in itertools.product(range(24), repeat=3))
        assert problem.total(problem.solve(home, away), home, away) == pytest.approx(best)


@given(st.lists(READABLE, min_size=1, max_size=12))
@settings(max_examples=60, deadline=None)
def test_homes_that_are_not_tried_would_not_be_cheapest(symbols: list[str]) -> None:
    """The home is the cheapest of all candidates, each tried (the slow oracle), though most are not."""
    chords = [KeyedChord(read_symbol(text), 4.0) for text in symbols]
    problem = KeySearch([chord for chord in hear([chord.symbol for chord in chords]) if chord is not None], chords)
    path = problem.solve(None, 0.0)
    candidates = sorted({problem.home_of(path), *problem.edge_states()})
    least = min(problem.cost_of_home(state) for state in candidates)
    assert problem.cost_of_home(problem.cheapest_home(path)) == pytest.approx(least)
