"""Whole sheets: keys, progressions, forms, charts, ranges."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.harmony.chart import parse_chart
from corpus.harmony.symbols import parse_symbol
from corpus.model import TICKS_PER_QUARTER, Details, Meter, Transcription
from corpus.pitch import default_spelling, parse_key
from corpus.sheet.frames import FORMS, chart_frame, form_frame, parse_numerals
from corpus.sheet.keys import key_on, parse_order
from corpus.sheet.ladder import ladder_words, parse_ladder
from corpus.sheet.material import Material, material_of
from corpus.sheet.ranges import Range, range_of
from corpus.sheet.sheet import sheet_in_keys, sheet_over_form, sheet_over_frames, sheet_over_numerals
from corpus.shelf.keeping import typed_chords, with_lengths
from corpus.shelf.kept import KeptChord, KeptFigure
from corpus.shelf.progress import FOURTHS
from corpus.write.below import below_texts
from corpus.write.musicxml import Page, musicxml_of
from tests.corpus.write.seed import read_back

BASS = range_of("double bass")
Q = TICKS_PER_QUARTER
DETAILS = Details(title="Sheet", instrument="double bass", tempo_bpm=80)


def figure(
    notes: str, lengths: str = "", chords: tuple[KeptChord, ...] = (), key: str = "C", beat: int = 1
) -> Material:
    """A figure of typed notes, ready to be set."""
    values = [Fraction(word) for word in lengths.split()]
    placed = {"meter": Meter(4, 4), "beat": Fraction(beat)} if values else {}
    return material_of(KeptFigure("Turn", with_lengths(notes.split(), values), chords, key, **placed))  # type: ignore[arg-type]


TWO_FIVE = figure(
    "D3 F3 A3 C4 B3 G3 F3 D3",
    "1 1 1 1 1 1 1 1",
    (KeptChord("Dm7", onset_ticks=0), KeptChord("G7", onset_ticks=4 * Q)),
)


def names(line: Transcription, bar: int) -> str:
    """The notes of a bar (from 0)."""
    return " ".join(note.spelling for note in line.notes if note.bar_index == bar)


def symbols(line: Transcription) -> list[str]:
    """The chord symbols in order."""
    return [chord.symbol for chord in line.chords]


def test_twelve_keys_with_chords_and_degrees() -> None:
    """A bar or more a key, its signature, its name over it; chords moved along, the same degrees below each."""
    made = sheet_in_keys([TWO_FIVE], parse_order("fourths", "major"), BASS, DETAILS)
    line = made.line
    assert made.statements == 12
    assert [str(bar.key) for bar in line.bars[::2]] == [f"{k} major" for k in FOURTHS]
    assert [section.label for section in line.sections][:3] == ["C", "F", "B♭"]
    assert symbols(line)[:4] == ["Dm7", "G7", "Gm7", "C7"]
    assert symbols(line)[12:14] == ["Abm7", "Db7"]
    assert names(line, 12) == "Ab2 Cb3 Eb3 Gb3"
    below = list(below_texts(line, "degrees").values())
    assert below[:8] == ["2", "4", "6", "1", "7", "5", "4", "2"]
    assert below == below[:8] * 12


@given(st.lists(st.integers(40, 55), min_size=2, max_size=8), st.integers(0, 11), st.sampled_from(["major", "minor"]))
@settings(deadline=None, max_examples=40)
def test_any_figure_keeps_its_intervals_and_degrees_in_every_key(pitches: list[int], tonic: int, mode: str) -> None:
    """Semitones between neighbours are those of the figure, in all keys; so are the degrees below."""
    one = figure(" ".join(map(default_spelling, pitches)), key=str(key_on(tonic, mode)))
    line = sheet_in_keys([one], parse_order("chromatic", mode), range_of("piano"), DETAILS).line
    size = len(pitches)
    below = list(below_texts(line, "degrees").values())
    for start in range(0, 12 * size, size):
        heard = [note.pitch or 0 for note in line.notes[start : start + size]]
        assert [b - a for a, b in pairwise(heard)] == [b - a for a, b in pairwise(pitches)]
        key = line.bar_of(start).key
        assert key is not None
        away = (heard[0] - key.tonic_pitch_class - pitches[0] + tonic) % 12
        assert away == 0
        assert below[start : start + size] == below[:size]


def test_everything_stays_inside_the_range() -> None:
    """On four instruments."""
    for instrument in ("double bass", "trumpet", "tenor saxophone", "piano"):
        reach = range_of(instrument)
        line = sheet_in_keys([TWO_FIVE], parse_order("chromatic", "major"), reach, DETAILS).line
        assert all(reach.low <= (note.pitch or 0) <= reach.high for note in line.notes)


def test_a_sheet_is_read_back_from_musicxml() -> None:
    """The same notes, bars, chords, keys and marks, in all twelve keys."""
    line = sheet_in_keys([TWO_FIVE], parse_order("fourths", "major"), BASS, DETAILS).line
    back = read_back(musicxml_of(line, Page(below=below_texts(line, "degrees"))))
    assert [(n.onset_ticks, n.duration_ticks, n.spelling) for n in back.notes] == [
        (n.onset_ticks, n.duration_ticks, n.spelling) for n in line.notes
    ]
    assert [parse_symbol(symbol).canonical for symbol in symbols(back)] == symbols(line)
    assert [bar.key for bar in back.bars] == [bar.key for bar in line.bars]
    assert [section.label for section in back.sections] == [section.label for section in line.sections]


def test_a_figure_wider_than_the_range_is_refused_with_the_cure() -> None:
    """In every octave, and in one key only."""
    wide = figure("C3 C6")
    with pytest.raises(
        QueryError, match=r"spans 36 semitones in C: no octave of it lies within E1 to D4 \(double bass\)"
    ):
        sheet_in_keys([wide], parse_order("fourths", "major"), BASS, DETAILS)
    narrow = Range(40, 53, "reed")
    tight = figure("E2 F3")
    assert sheet_in_keys([tight], parse_order("C", "major"), narrow, DETAILS).statements == 1
    with pytest.raises(QueryError, match="in D♭"):
        sheet_in_keys([tight], parse_order("C Db", "major"), narrow, DETAILS)


def test_the_beat_of_a_figure_is_kept() -> None:
    """A figure from beat 4 into the next bar stands so in every key; its first chord stands at the bar line."""
    up = figure("G2 C3", "1 2", (KeptChord("G7", onset_ticks=0), KeptChord("C", onset_ticks=Q)), beat=4)
    line = sheet_in_keys([up], parse_order("C F", "major"), BASS, DETAILS).line
    assert [(note.onset_ticks // Q, note.bar_index) for note in line.notes] == [(3, 0), (4, 1), (11, 2), (12, 3)]
    assert [(chord.onset_ticks // Q, chord.symbol) for chord in line.chords] == [
        (0, "G7"), (4, "C"), (8, "C7"), (12, "F")
    ]  # fmt: skip


def test_functions_without_symbols_become_chords() -> None:
    """Typed functions in a key, two in one bar share it."""
    typed = figure("D3 F3 B2 D3", "", typed_chords(None, "ii V", "C"))
    line = sheet_in_keys([typed], parse_order("Bb", "major"), BASS, DETAILS).line
    assert [(chord.onset_ticks // Q, chord.symbol) for chord in line.chords] == [(0, "Cm7"), (2, "F7")]


def test_over_a_progression_the_figure_stands_over_its_own_chords() -> None:
    """A ii-V figure over ii V I in two keys: a bar for each chord, nothing over the I."""
    line = sheet_over_numerals([TWO_FIVE], "ii V I", parse_order("C Bb", "major"), BASS, DETAILS).line
    assert symbols(line) == ["Dm7", "G7", "Cmaj7", "Cm7", "F7", "Bbmaj7"]
    assert [len(names(line, bar).split()) for bar in range(6)] == [4, 4, 0, 4, 4, 0]
    assert names(line, 3)[:2] == "C3"


def test_chords_of_half_a_bar_are_met_too() -> None:
    """Changes on beat 3: the progression is set in half bars."""
    half = figure("D3 F3 B2 G2", "1 1 1 1", (KeptChord("Dm7", onset_ticks=0), KeptChord("G7", onset_ticks=2 * Q)))
    line = sheet_over_numerals([half], "ii V I", parse_order("C", "major"), BASS, DETAILS).line
    assert [(chord.onset_ticks // Q, chord.symbol) for chord in line.chords] == [(0, "Dm7"), (2, "G7"), (4, "Cmaj7")]


def test_a_figure_without_chords_is_stated_in_the_key_and_lands_on_the_last_chord() -> None:
    """Nine eighths over ii V I: half bars, so that the last note meets the I. The minor form by its numerals."""
    nine = figure("D3 F3 A3 C4 B3 G3 F3 D3 E3")
    line = sheet_over_numerals([nine], "ii V I", parse_order("Cb", "major"), BASS, DETAILS).line
    assert [(chord.onset_ticks // Q, chord.symbol) for chord in line.chords] == [
        (0, "Dbm7"), (2, "Gb7"), (4, "Cbmaj7")
    ]  # fmt: skip
    assert (names(line, 0)[:11], names(line, 1)[:2]) == ("Db3 Fb3 Ab3", "Eb")
    minor = sheet_over_numerals([nine], "ii7b5 V i", parse_order("C", "minor"), BASS, DETAILS).line
    assert str(minor.bars[0].key) == "C minor"


def test_over_a_form_a_figure_goes_wherever_its_chord_comes() -> None:
    """A figure over a dominant in all dominants of a blues, each at its root; by hand, bar by bar."""
    dominant = figure("G2 B2 D3 F3", "1 1 1 1", (KeptChord("G7", onset_ticks=0),))
    line = sheet_over_form([dominant], "blues", [parse_key("F")], BASS, DETAILS).line
    assert [chord.symbol for chord in line.chords] == [
        "F7", "Bb7", "F7", "Bb7", "F7", "D7", "Gm7", "C7", "F7", "D7", "Gm7", "C7"
    ]  # fmt: skip
    started = {bar: names(line, bar).split()[0][:-1] for bar in range(12) if names(line, bar)}
    assert started == {0: "F", 1: "Bb", 2: "F", 4: "Bb", 6: "F", 7: "D", 9: "C"}  # not in the half bars at the end


def test_a_rhythm_is_halved_where_the_chords_go_twice_as_fast() -> None:
    """A ii-V of two bars in a chart with a ii-V in one."""
    chart = parse_chart("key: F\n| Gm7 C7 | F6 | Gm7 | C7 |", "c.txt")
    line = sheet_over_frames([TWO_FIVE], [(None, chart_frame(chart))], "c", BASS, DETAILS).line
    assert [note.duration_ticks for note in line.notes] == [Q // 2] * 8 + [Q] * 8
    assert names(line, 0) == names(line, 2) + " " + names(line, 3)
    assert str(line.bars[0].key) == "F major"


@pytest.mark.parametrize("name", FORMS)
def test_forms_have_their_bars_and_are_recognised(name: str) -> None:
    """12 or 32 bars; the form's own recogniser (``corpus.harmony.forms``) knows what they are."""
    from corpus.harmony.analysis import analyse_chart
    from corpus.model import Bar, ChordSpan

    key = parse_key("C minor" if "minor" in name else "C")
    frame = form_frame(name, key)
    bars = tuple(Bar(i + 1, 1, 4 * i * Q, 4 * Q, 0, Meter(4, 4), 1, key) for i in range(len(frame.bars)))
    places = [(4 * i * Q + offset, text) for i, bar in enumerate(frame.bars) for offset, text in bar.chords]
    ends = [at for at, _ in places[1:]] + [4 * Q * len(bars)]
    spans = [ChordSpan(text, at, end) for (at, text), end in zip(places, ends, strict=True)]
    form = analyse_chart(spans, bars, key).form
    assert form is not None
    assert name.split()[0] in form.name or name == "blues"
    assert form.form.bars == len(frame.bars)


def test_what_fits_nowhere_is_said() -> None:
    """The chords of the figure are named, or what was looked for."""
    with pytest.raises(QueryError, match="its chords Dm7 G7 do not come there"):
        sheet_over_numerals([TWO_FIVE], "I IV", parse_order("C", "major"), BASS, DETAILS)
    minor = figure("C3 Eb3 G3", key="C minor")
    chart = parse_chart("| C7 | F7 |", "c.txt")
    with pytest.raises(QueryError, match="no chord there is"):
        sheet_over_frames([minor], [(None, chart_frame(chart))], "c", BASS, DETAILS)
    with pytest.raises(QueryError, match="choose blues, minor blues"):
        form_frame("rondo", parse_key("C"))
    for text in ("", "ii X", " ".join(["I"] * 33)):
        with pytest.raises(QueryError):
            parse_numerals(text)


@pytest.mark.parametrize(
    ("text", "tempos"),
    [("80 5 100", (80, 85, 90, 95, 100)), ("80 15 100", (80, 95, 100)), ("90", (90,)), ("60 0.5 61", (60, 60.5, 61))],
)
def test_ladders_rise_to_their_goal(text: str, tempos: tuple[float, ...]) -> None:
    """The goal is always the last rung."""
    assert parse_ladder(text) == pytest.approx(tempos)
    assert "Go up only when" in ladder_words(tempos)


@pytest.mark.parametrize(
    "text", ["", "fast", "120 5 80", "80 0 90", "80 -1 90", "1 1 5", "80 nan 90", "10 1 999", "80 5"]
)
def test_ladders_that_lead_nowhere_are_refused(text: str) -> None:
    """Falling, standing still, too many rungs, no numbers."""
    with pytest.raises(QueryError, match="--ladder"):
        parse_ladder(text)


@pytest.mark.parametrize("text", ["E1", "G3-E1", "E-G", "E1-H3", "-", "E1-E1"])
def test_ranges_that_are_none_are_refused(text: str) -> None:
    """And instruments nobody knows the range of."""
    with pytest.raises(QueryError, match="--range"):
        range_of("double bass", text)
    with pytest.raises(QueryError, match="--range"):
        range_of("nose flugel", "")
    assert range_of("nose flugel", "C-1-G3")[:2] == (0, 55)
