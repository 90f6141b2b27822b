"""Chart text: the grammar, its errors with line and column, round trips, and charts laid over lines."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.errors import QueryError, RangeError, ReadingError
from corpus.form import chorus_numbers, parse_form
from corpus.harmony.chart import Chart, ChartBar, ChartChord, apply_chart, chart_of, parse_chart, print_chart
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Section, Transcription
from corpus.pitch import Key

AABA = """\
title: Lamplighter's Round
key: Bb
form: A8 A8 B8 A8

# invented changes on a common progression
[A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 | x2
[B] | D7 | % | G7 | % |
    | C7 | % | F7 | % |
[A]   Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7
    | Fm7 Bb7 | Eb6 Edim7 | Cm7 F7 | Bb6 |]
"""


FOUR_FOUR = Meter(4, 4)


def places(chart: Chart, bar: int = 0) -> list[tuple[Fraction | int, str]]:
    """Offsets in beats and symbols of one bar."""
    return [(chord.offset_beats, chord.symbol) for chord in chart.bars[bar].chords]


def symbols(chart: Chart) -> list[str]:
    """All symbols of a chart, bar by bar."""
    return [" ".join(chord.symbol for chord in bar.chords) for bar in chart.bars]


def line(
    bars: int,
    meter: Meter = FOUR_FOUR,
    *,
    form: str | None = None,
    pickup_beats: int = 0,
    details: Details | None = None,
) -> Transcription:
    """A line of one note a bar without chords, with or without a pickup."""
    parsed = parse_form(form) if form else None
    made: list[Bar] = []
    onset = 0
    if pickup_beats:
        length = pickup_beats * meter.beat_ticks
        made.append(Bar(0, 1, 0, length, meter.bar_ticks - length, meter))
        onset = length
    for number in range(1, bars + 1):
        made.append(Bar(number, 1, onset, meter.bar_ticks, 0, meter))
        onset += meter.bar_ticks
    numbered = [replace(bar, chorus=n) for bar, n in zip(made, chorus_numbers(made, parsed), strict=True)]
    notes = [Note(bar.onset_ticks, TICKS_PER_QUARTER, 60, "C4", index) for index, bar in enumerate(numbered)]
    return Transcription(replace(details or Details(), form=parsed), tuple(notes), tuple(numbered))


def chords_of(transcription: Transcription) -> list[tuple[Fraction | int, str]]:
    """Onsets in quarters and symbols."""
    return [(Fraction(span.onset_ticks, TICKS_PER_QUARTER), span.symbol) for span in transcription.chords]


def test_a_whole_chart() -> None:
    """Headers, sections, line counts, repeats of a bar and loose bar lines of a 32-bar form."""
    chart = parse_chart(AABA, "round.chart")
    assert (chart.title, str(chart.key), str(chart.form)) == ("Lamplighter's Round", "Bb major", "A8 A8 B8 A8")
    assert len(chart.bars) == 32
    assert [(n, bar.section) for n, bar in enumerate(chart.bars) if bar.section] == [
        (0, "A"),
        (8, "A"),
        (16, "B"),
        (24, "A"),
    ]
    assert symbols(chart)[8:16] == symbols(chart)[:8]
    assert symbols(chart)[16:24] == ["D7", "D7", "G7", "G7", "C7", "C7", "F7", "F7"]
    assert places(chart, 0) == [(0, "Bb6"), (2, "G7")]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("| C |", [(0, "C")]),
        ("| C F |", [(0, "C"), (2, "F")]),
        ("| C F G7 |", [(0, "C"), (Fraction(4, 3), "F"), (Fraction(8, 3), "G7")]),
        ("| C . . G7 |", [(0, "C"), (3, "G7")]),
        ("| C / / G7 |", [(0, "C"), (3, "G7")]),
        ("| C . . . . . . G7 |", [(0, "C"), (Fraction(7, 2), "G7")]),
        ("| C . |", [(0, "C")]),
        ("meter: 3/4\n| C F |", [(0, "C"), (Fraction(3, 2), "F")]),
        ("meter: 3/4\n| C . F |", [(0, "C"), (2, "F")]),
        ("meter: 5/4\n| C . . F . |", [(0, "C"), (3, "F")]),
        ("meter: 6/8\n| C F |", [(0, "C"), (3, "F")]),
        ("| N.C. C#7#9/E# |", [(0, "N.C."), (2, "C#7#9/E#")]),
        ('| "free text" C |', [(0, "free text"), (2, "C")]),
        ("| C6/9 C7(b9,#11) |", [(0, "C6/9"), (2, "C7(b9,#11)")]),
    ],
)
def test_chords_share_the_bar(text: str, expected: list[tuple[Fraction | int, str]]) -> None:
    """Chords share a bar evenly, dots and slashes hold them (places counted by hand)."""
    assert places(parse_chart(text, "x")) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("| C | F | x3", ["C", "F"] * 3),
        ("| C | F | (x2)\n| G7 |", ["C", "F", "C", "F", "G7"]),
        ("|: C | F :|", ["C", "F"] * 2),
        ("|: C | F :| x3 | G7 |", ["C", "F"] * 3 + ["G7"]),
        ("| A |: C\n F :|: D :| E", ["A", "C", "F", "C", "F", "D", "D", "E"]),
        ("| C | % | % |", ["C"] * 3),
        ("| C F | % |", ["C F", "C F"]),
        ("| C || F |]", ["C", "F"]),
        ("C | . F |", ["C", "C F"]),
        ("| C | x1", ["C"]),
        ("| C | % | x2", ["C"] * 4),
        ("|C|F|", ["C", "F"]),
        ("\ufeff| C |\r\n\r\n  # said\r\n| F |\r", ["C", "F"]),
    ],
)
def test_repeats_are_written_out(text: str, expected: list[str]) -> None:
    """Counts, repeat signs and % are played out."""
    assert symbols(parse_chart(text, "x")) == expected


def test_meter_changes_and_sections_on_lines_of_their_own() -> None:
    """``meter:`` holds from its line on; a section name alone waits for the next bar."""
    chart = parse_chart("[A]\n| C |\nmeter: 3/4\n[B]\n# waltz\n| F | G7 |\n", "x")
    assert [(str(bar.meter), bar.section) for bar in chart.bars] == [("4/4", "A"), ("3/4", "B"), ("3/4", None)]


@pytest.mark.parametrize(
    ("text", "line_number", "column", "why"),
    [
        ("| C7 | | F |", 1, 8, "empty bar"),
        ("| C | F |\n| C7 xyz |", 2, 6, "expected a chord, found 'xyz'"),
        ("| C7(b9 |", 1, 8, "bracket is left open"),
        ("| Cm7 F7what |", 1, 9, "'what' is not understood"),
        ("| % |", 1, 3, "no bar before"),
        ("| C | F % |", 1, 9, "stands alone"),
        ("| C |\nmeter: 3/4\n| % |", 3, 3, "the meter is 3/4"),
        ("| . C |", 1, 3, "no chord before it"),
        ("| C . F |", 1, 3, "3 chords and marks do not fit 4 beats"),
        ("|: C |", 1, 1, "never ends"),
        ("| C :|", 1, 5, "never began"),
        ("|: C |: D :|", 1, 6, "don't nest"),
        ("| C |: :|", 1, 8, "empty bar"),
        ("|:\n:|", 2, 1, "without bars"),
        ("[A]\n", 1, 1, "has no bars"),
        ("[A]\n[B] | C |", 2, 1, "has no bar before"),
        ("[] | C |", 1, 2, "section name"),
        ("| C | [B] F |", 1, 7, "start of a line"),
        ("| C | x0", 1, 7, "1 to 64"),
        ("| C | x2 | F |", 1, 10, "ends its line"),
        ("| C x2", 1, 5, "bar line before the repeat count"),
        ("| x2", 1, 3, "without bars"),
        ("|: C :| F | x2", 1, 13, "right after"),
        ("titel: x\n| C |", 1, 1, "unknown header"),
        ("key: H\n| C |", 1, 6, "unknown key"),
        ("key: C\nkey: D\n| C |", 2, 1, "second key"),
        ("| C |\n key: C", 2, 2, "before the first bar"),
        ("meter: 4/5\n| C |", 1, 8, "meter such as"),
        ("form: A\n| C |", 1, 7, "unknown form"),
        ("form: A8 A8\n| C | x8", 1, 7, "16 bars, which do not divide the 8"),
        ('| "C |', 1, 3, "never closed"),
        ('| "" |', 1, 3, "between the quotes"),
        ("| C: |", 1, 4, "expected a chord or a bar line"),
        ("|: C | " + "C | " * 63 + "C :| x64", 1, 1, "more than 4096"),
    ],
)
def test_errors_point_at_the_column(text: str, line_number: int, column: int, why: str) -> None:
    """Whatever the grammar does not allow is refused with file, line, column and what was expected."""
    with pytest.raises(ReadingError, match=why) as caught:
        parse_chart(text, "my.chart")
    assert str(caught.value).startswith(f"my.chart, line {line_number}, column {column}: ")


def test_an_empty_chart_is_refused() -> None:
    """A file without bars is no chart."""
    with pytest.raises(ReadingError, match=r"my\.chart has no bars"):
        parse_chart("title: Nothing\n\n", "my.chart")


def test_printing() -> None:
    """A chart prints four bars to a line, in columns, one line a section at least (laid out by hand)."""
    chart = parse_chart("key: Bb\n[A] | Bb6 G7 | Cm7 F7 | D7 | % |\n[Bridge] | Eb6 . . Edim7 | F7alt |", "x")
    assert print_chart(chart) == (
        "key: Bb major\nmeter: 4/4\n[A]      | Bb6 G7        | Cm7 F7 | D7 | % |\n[Bridge] | Eb6 . . Edim7 | F7alt  |\n"
    )
    assert all(len(row) <= 30 for row in print_chart(chart, 30).splitlines())


SYMBOLS = st.sampled_from(
    ["Bb6", "G7(b9,#11)", "C#7#9/E#", "N.C.", "F#o7", "C6/9", "E♭Δ", "what ever", "(C7)", "D-7", "%"]
)


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    """Charts in several meters, chords on any twelfth of a beat or evenly shared, sections anywhere."""
    bars: list[ChartBar] = []
    for _ in range(draw(st.integers(1, 12))):
        meter = draw(st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(1, 4)]))
        texts = draw(st.lists(SYMBOLS, min_size=1, max_size=5))
        if draw(st.booleans()):
            offsets = [Fraction(n * meter.numerator, len(texts)) for n in range(len(texts))]
        else:
            rest = draw(st.sets(st.integers(1, 12 * meter.numerator - 1), max_size=len(texts) - 1))
            offsets = [Fraction(0), *(Fraction(n, 12) for n in sorted(rest))]
        section = draw(st.none() | st.sampled_from(["A", "Solo 2", "#", "x2"]))
        chords = tuple(ChartChord(offset, text) for offset, text in zip(offsets, texts, strict=False))
        bars.append(ChartBar(chords, meter, section))
    key = draw(st.none() | st.sampled_from([Key("Bb"), Key("F#", "minor"), Key("D", "dorian")]))
    return Chart(tuple(bars), draw(st.sampled_from(["", "Slow Ferry", "# 1: x"])), key)


@given(charts(), st.integers(1, 120))
def test_printed_charts_read_back(chart: Chart, width: int) -> None:
    """Printing a chart and reading it gives the chart, at any width."""
    assert parse_chart(print_chart(chart, width), "x") == chart


@given(st.text(alphabet='|:CFm7b.%/x2()[A] \n#"N', max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text fails otherwise than by ReadingError, and what was read survives printing."""
    try:
        chart = parse_chart(text, "x")
    except ReadingError:
        return
    assert parse_chart(print_chart(chart), "x") == chart


def test_a_chart_is_laid_over_every_chorus() -> None:
    """Two choruses of a 32-bar form get the chart twice, with key, sections and choruses; no finding."""
    chart = parse_chart(AABA, "x")
    laid = apply_chart(line(64), chart)
    assert laid.findings == ()
    assert str(laid.details.form) == "A8 A8 B8 A8"
    assert str(laid.details.key) == "Bb major"
    assert [bar.chorus for bar in laid.bars] == [1] * 32 + [2] * 32
    assert [section.label for section in laid.sections] == ["A", "A", "B", "A"] * 2
    assert chords_of(laid)[:3] == [(0, "Bb6"), (2, "G7"), (4, "Cm7")]
    bridge = [chord for chord in chords_of(laid) if 64 <= chord[0] < 96]
    assert bridge == [(64, "D7"), (72, "G7"), (80, "C7"), (88, "F7")]
    assert [(onset + 128, symbol) for onset, symbol in chords_of(laid) if onset < 128] == [
        chord for chord in chords_of(laid) if chord[0] >= 128
    ]
    assert all(one.end_ticks == two.onset_ticks for one, two in zip(laid.chords, laid.chords[1:], strict=False))
    assert laid.chords[-1].end_ticks == laid.end_ticks
    assert chart_of(laid, 1) == chart_of(laid, 2)
    assert chart_of(laid, 1).bars == chart.bars
    assert len(chart_of(laid).bars) == 64


@pytest.mark.parametrize(("meter", "beats"), [(Meter(3, 4), 3), (Meter(5, 4), 5)])
def test_other_meters_and_pickups(meter: Meter, beats: int) -> None:
    """In 3/4 and 5/4 chords fall on their beats; a pickup bar gets no chord and shifts nothing."""
    chart = parse_chart(f"meter: {meter}\n| C | F {'. ' * (beats - 2)}G7 |", "x")
    laid = apply_chart(line(4, meter, pickup_beats=1), chart)
    one_chorus = [(1, "C"), (1 + beats, "F"), (2 * beats, "G7")]
    assert chords_of(laid) == one_chorus + [(onset + 2 * beats, symbol) for onset, symbol in one_chorus]
    assert laid.findings == ()
    assert laid.chord_at(0) is None
    assert chart_of(laid).bars == chart.bars * 2


def test_a_chart_that_is_a_part_of_the_form() -> None:
    """An eight-bar chart fills a 32-bar form four times; a chart of two choruses covers both."""
    eight = parse_chart("| C | F | G7 | C | x2", "x")
    laid = apply_chart(line(32, form="32"), eight)
    assert laid.findings == ()
    assert [symbol for _, symbol in chords_of(laid)] == (["C", "F", "G7", "C", "F", "G7", "C"] * 4)
    two = parse_chart("| C | F |\n| C | G7 |", "x")
    assert [symbol for _, symbol in chords_of(apply_chart(line(4, form="2"), two))] == ["C", "F", "C", "G7"]


def test_contradicting_lengths_become_findings() -> None:
    """A chart too long or too short for the chorus starts anew with each chorus, and says what is left out."""
    long = apply_chart(line(8, form="4"), parse_chart("| C | D | E | F | G | A |", "x"))
    assert [symbol for _, symbol in chords_of(long)] == ["C", "D", "E", "F"] * 2
    assert [(finding.kind, finding.bar) for finding in long.findings] == [("chord", 4)]
    assert "6 bars and a chorus 4" in long.findings[0].text
    assert "last bars are left out" in long.findings[0].text
    short = apply_chart(line(8, form="4"), parse_chart("| C | D | E |", "x"))
    assert [(onset, symbol) for onset, symbol in chords_of(short)] == [
        (0, "C"),
        (4, "D"),
        (8, "E"),
        (16, "C"),
        (20, "D"),
        (24, "E"),
    ]
    assert short.chord_at(13 * TICKS_PER_QUARTER) is None
    assert "get no chord" in short.findings[0].text
    assert short.findings[0].place == "bar 3"


def test_a_line_that_breaks_off() -> None:
    """A last time through that is not complete is told once, with the last bar."""
    laid = apply_chart(line(5), parse_chart("| C | F |", "x"))
    assert [symbol for _, symbol in chords_of(laid)] == ["C", "F", "C", "F", "C"]
    assert [(finding.kind, finding.bar) for finding in laid.findings] == [("chord", 5)]
    assert "breaks off after its bar 1" in laid.findings[0].text


def test_a_chart_in_another_meter_or_key_is_told() -> None:
    """A chart in 4/4 over a line in 3/4 loses the chords past the bar line, with a finding; the line's key is kept."""
    details = Details(key=Key("C"))
    laid = apply_chart(line(4, Meter(3, 4), details=details), parse_chart("key: F\n| C . . F | G7 |", "x"))
    assert [symbol for _, symbol in chords_of(laid)] == ["C", "G7", "C", "G7"]
    assert [finding.kind for finding in laid.findings] == ["chord", "chord"]
    assert "the chart is in F major, the line in C major" in laid.findings[0].text
    assert "bar 1 is in 4/4" in laid.findings[1].text
    assert laid.details.key == Key("C")


def test_a_line_with_chords_is_not_overwritten() -> None:
    """A chart over a line that has symbols of its own is refused: nothing may be lost."""
    charted = apply_chart(line(2), parse_chart("| C | F |", "x"))
    with pytest.raises(QueryError, match="symbols of its own"):
        apply_chart(charted, parse_chart("| C |", "x"))


def test_the_notes_stay_as_they_are() -> None:
    """Laying a chart changes no note and no bar's time, and keeps the readers' findings."""
    bare = line(4, pickup_beats=2)
    laid = apply_chart(bare, parse_chart("| C |", "x"))
    assert laid.notes == bare.notes
    assert [replace(bar, key=None, chorus=1) for bar in laid.bars] == list(bare.bars)


def test_chart_of_a_line_with_gaps_and_free_text() -> None:
    """Silence before, between and after symbols is N.C.; a text that is no chord is kept in quotes."""
    quarter = TICKS_PER_QUARTER
    spans = (
        ChordSpan("Bb7", 2 * quarter, 5 * quarter),
        ChordSpan('ad "lib"  here', 8 * quarter, 10 * quarter + 7),
        ChordSpan("C7", 10 * quarter + 7, 16 * quarter),
    )
    bare = line(4)
    charted = replace(bare, chords=spans, sections=(Section("Ver]se", 0, bare.end_ticks),))
    chart = chart_of(charted)
    assert [places(chart, n) for n in range(4)] == [
        [(0, "N.C."), (2, "Bb7")],
        [(0, "Bb7"), (1, "N.C.")],
        [(0, "ad 'lib' here"), (2, "C7")],
        [(0, "C7")],
    ]
    assert chart.bars[0].section == "Ver)se"
    assert parse_chart(print_chart(chart), "x") == chart
    assert "\"ad 'lib' here\"" in print_chart(chart)


def test_chart_of_refuses_what_is_not_there() -> None:
    """A line without chords has no chart, and a chorus that was not played has none either."""
    with pytest.raises(QueryError, match="no chord symbols"):
        chart_of(line(2))
    with pytest.raises(RangeError, match="no chorus 3: the line has 2"):
        chart_of(apply_chart(line(4, form="2"), parse_chart("| C |", "x")), 3)


def test_chart_of_bars_of_irregular_length() -> None:
    """A short bar inside a line gets the meter that its beats make."""
    bare = line(3)
    short = replace(bare.bars[1], length_ticks=2 * TICKS_PER_QUARTER)
    last = replace(bare.bars[2], onset_ticks=6 * TICKS_PER_QUARTER)
    bent = replace(bare, bars=(bare.bars[0], short, last), chords=(ChordSpan("C", 0, 10 * TICKS_PER_QUARTER),))
    assert [str(bar.meter) for bar in chart_of(bent).bars] == ["4/4", "2/4", "4/4"]


@given(charts(), st.integers(1, 3))
def test_a_chart_laid_and_taken_again_is_the_chart(chart: Chart, times: int) -> None:
    """Over a line with the chart's own meters, laying and taking restores every bar, symbol and place."""
    bars: list[Bar] = []
    onset = 0
    for bar in chart.bars * times:
        bars.append(Bar(len(bars) + 1, 1, onset, bar.meter.bar_ticks, 0, bar.meter))
        onset += bar.meter.bar_ticks
    notes = (Note(0, TICKS_PER_QUARTER, 60, "C4", 0),)
    laid = apply_chart(Transcription(Details(), notes, tuple(bars)), chart)
    again = chart_of(laid)
    for got, want in zip(again.bars, chart.bars * times, strict=True):
        assert {c.offset_beats: c.symbol for c in got.chords} == snapped(want)
        assert got.meter == want.meter


def snapped(bar: ChartBar) -> dict[Fraction, str]:
    """Places and symbols of a bar, on twelfths of a beat, the last one at a place winning."""
    on_grid = ((Fraction(round(chord.offset_beats * 12), 12), chord.symbol) for chord in bar.chords)
    return dict(on_grid)


def test_a_chart_longer_than_the_line_says_what_is_not_used() -> None:
    """Two bars of a line under a chart of five: three bars of it are left."""
    bar = TICKS_PER_QUARTER * 4
    line = Transcription(Details(), (), tuple(Bar(i + 1, 1, i * bar, bar, 0, Meter(4, 4)) for i in range(2)))
    laid = apply_chart(line, parse_chart("| C | F | G | C | C |", "chart"))
    assert [finding.text for finding in laid.findings] == [
        "the line has 2 bars, the chart 5: its last 3 bars are not used"
    ]
    assert [span.symbol for span in laid.chords] == ["C", "F"]
