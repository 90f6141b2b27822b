"""Named progressions and whole forms, with facts that every musician knows (common practice)."""

import pytest

from corpus.harmony.forms import sections_of
from corpus.model import Meter
from tests.corpus.harmony.charts_help import BAR_TICKS, analysed, bars, chords, numerals

A = "Bb6 G7|Cm7 F7|Bb6 G7|Cm7 F7|Fm7 Bb7|Eb6 Edim7|Bb6 G7|Cm7 F7"
A_THIRD = "Bb6 G7|Cm7 F7|Dm7 G7|Cm7 F7|Fm7 Bb7|Eb6 Edim7|Cm7 F7|Bb6"
BRIDGE = "D7|%|G7|%|C7|%|F7|%"
RHYTHM = "|".join((A, A_THIRD, BRIDGE, A_THIRD))
BLUES = "F7|Bb7|F7|Cm7 F7|Bb7|Bdim7|F7|Am7b5 D7|Gm7|C7|F7 D7|Gm7 C7"
MINOR_BLUES = "Cm7|Fm7|Cm7|%|Fm7|%|Cm7|%|Ab7|G7|Cm7|Dm7b5 G7"


def _names(chart: str) -> list[tuple[str, int]]:
    """Names with the bar they start in."""
    return [(str(one), one.onset_ticks // BAR_TICKS + 1) for one in analysed(chart).progressions]


def test_a_section_is_two_turnarounds_a_move_to_four_and_back() -> None:
    """The A section of the 32-bar I-VI-ii-V form is two turnarounds, a brief move to IV and back."""
    assert numerals(A, "Bb") == "I V/ii ii V I V/ii ii V ii/IV V/IV IV #ivo I V/ii ii V"
    names = _names("|".join((A, A)))
    assert ("I-VI-ii-V turnaround", 1) in names
    assert ("I-VI-ii-V turnaround", 3) in names
    assert ("move to IV and back", 5) in names


def test_bridge_is_a_cycle_of_dominants_two_bars_each() -> None:
    """Its bridge is III7-VI7-II7-V7, two bars each, and is read as one long turnaround in the home key."""
    analysis = analysed(RHYTHM)
    bridge = [span for span in analysis.spans if 16 * BAR_TICKS <= span.onset_ticks < 24 * BAR_TICKS]
    assert [str(span.numeral) for span in bridge] == ["V/vi", "V/ii", "V/V", "V"]
    assert [span.length_ticks for span in bridge] == [2 * BAR_TICKS] * 4
    assert {str(span.key) for span in analysis.spans} == {"Bb major"}
    assert [(p.onset_ticks, p.end_ticks) for p in analysis.progressions if p.name == "cycle of dominants"] == [
        (16 * BAR_TICKS, 24 * BAR_TICKS)
    ]


@pytest.mark.parametrize("bridge", ["Am7 D7|Dm7 G7|Gm7 C7|Cm7 F7", "Am7|D7|Dm7|G7|Gm7|C7|Cm7|F7"])
def test_bridge_with_its_related_iis_is_the_same_cycle(bridge: str) -> None:
    """The cycle of the bridge takes in the ii of each of its dominants, the first too, one or two bars each."""
    analysis = analysed("|".join((A, bridge, A)), "Bb")
    length = (bridge.count("|") + 1) * BAR_TICKS
    cycles = [(p.onset_ticks, p.end_ticks) for p in analysis.progressions if p.name == "cycle of dominants"]
    assert cycles == [(8 * BAR_TICKS, 8 * BAR_TICKS + length)]


@pytest.mark.parametrize(
    ("chart", "name"),
    [
        ("Cmaj7 Am7|Dm7 G7|Cmaj7|%", "I-vi-ii-V turnaround"),
        ("Cmaj7 A7|Dm7 G7|Cmaj7|%", "I-VI-ii-V turnaround"),
        ("Em7 A7|Dm7 G7|Cmaj7|%", "iii-VI-ii-V turnaround"),
        ("Em7 Am7|Dm7 G7|Cmaj7|%", "iii-VI-ii-V turnaround"),
        ("Ebmaj7 Gb7|Fm7 E7|Ebmaj7|%", "turnaround with substitutes"),
        ("Cmaj7 C#dim7|Dm7 G7|Cmaj7|%", "turnaround with substitutes"),
        ("Fmaj7 Abmaj7|Dbmaj7 Gbmaj7|Fmaj7|%", "turnaround with substitutes"),
        ("Cm6 Am7b5|Dm7b5 G7|Cm6|%", "minor turnaround"),
        ("Dm7|G7|Cmaj7|%", "ii-V-I"),
        ("Dm7|Db7|Cmaj7|%", "ii-V-I"),
        ("Bm7b5|E7|Am6|%", "minor ii-V-i"),
        ("Cmaj7|Dm7b5 G7|Cmaj7|%", "minor ii-V to major I"),
        ("Cmaj7|Em7b5 A7|Dm7 G7|Cmaj7", "minor ii-V-i to ii"),
        ("Cmaj7|Gm7 C7|Fmaj7|Dm7 G7|Cmaj7", "ii-V-I to IV"),
        ("Gmaj7|Cm7 F7|Gmaj7|%", "backdoor"),
        ("Bb6|D7|G7|C7|F7|Bb6", "cycle of dominants"),
        ("Bb6|%|Am7 D7|Dm7 G7|Gm7 C7|Cm7 F7|Bb6|%", "cycle of dominants"),
        ("Bb6 Db7|Gbmaj7 Cb7", "turnaround with substitutes"),
        ("Bb6 Db7|Gbmaj7 B7|Bb6|%", "turnaround with substitutes"),
        ("Bb6|Db7|Gb7|B7|Bb6|%", "turnaround with substitutes"),
        ("Bb6|Fm7 Bb7|Eb6 Ab7|Dm7 G7|Cm7 F7|Bb6", "move to IV and back"),
        ("Ebmaj7|Ab7|Bbmaj7", "backdoor"),
        ("Em7 A7|Dm7 G7", "iii-VI-ii-V turnaround"),
        ("Fmaj7|F7|Bbmaj7|Bbm6|Fmaj7|%", "move to IV and back"),
        ("Fmaj7|F7|Bbmaj7|Gm7 C7|Fmaj7|%", "move to IV"),
        ("Fmaj7|Bbmaj7 Bbm6|Fmaj7|%", "minor plagal"),
        ("Cmaj7|Em7 A7|Ebm7 Ab7|Dm7 G7|Cmaj7", "chromatic ii-V chain"),
    ],
)
def test_named_progression(chart: str, name: str) -> None:
    """Each named progression is found under its name."""
    assert name in [found for found, _ in _names(chart)]


@pytest.mark.parametrize(
    ("chart", "name"),
    [
        ("Cmaj7|%|Am7|%|Dm7|%|G7|%|Cmaj7|%", "I-vi-ii-V turnaround"),
        ("Cmaj7 Am7|Dm7 G7|Cmaj7|%", "I-VI-ii-V turnaround"),
        ("Cmaj7 A7|Dm7 G7|Cmaj7|%", "turnaround with substitutes"),
        ("Dm7|huh|G7|Cmaj7|%", "ii-V-I"),
        ("Em7 A7|Dm7 G7|Cmaj7|%", "cycle of dominants"),
        ("Cmaj7|Em7 A7|Ebm7 Ab7|Dm7 G7|Cmaj7", "cycle of dominants"),
        ("F7|C7|F7|%|Bb7|%|F7|%|C7|%|F7|%", "cycle of dominants"),
    ],
)
def test_what_is_not_called_so(chart: str, name: str) -> None:
    """A slow I-vi-ii-V is no turnaround; each variant has one name; nothing is named across an unread symbol."""
    assert name not in [found for found, _ in _names(chart)]


@pytest.mark.parametrize(
    ("chart", "form", "name"),
    [
        (RHYTHM, "A8 A8 B8 A8", "32-bar I-VI-ii-V form"),
        ("|".join((RHYTHM, RHYTHM)), "A8 A8 B8 A8", "32-bar I-VI-ii-V form"),
        (BLUES, "A12", "12-bar blues"),
        ("|".join([BLUES] * 3), "A12", "12-bar blues"),
        ("Bb7|Eb7|Bb7|%|Eb7|%|Bb7|%|F7|Eb7|Bb7|F7", "A12", "12-bar blues"),
        (MINOR_BLUES, "A12", "12-bar minor blues"),
        ("|".join(["Cmaj7 A7|Dm7 G7|Em7 A7|Dm7 G7|Gm7 C7|Fmaj7 Bb7|Em7 A7|Dm7 G7"] * 2), "A8 A8", "16-bar"),
    ],
)
def test_whole_form(chart: str, form: str, name: str) -> None:
    """Forms are recognised from one chorus and from several."""
    found = analysed(chart).form
    assert found is not None
    assert (str(found.form), found.first_bar, found.name) == (form, 0, name)


def test_form_after_an_introduction() -> None:
    """Four bars of introduction are left outside the first chorus, and the sections start after them."""
    chart = "Gm7|C7|Gm7|C7|" + "|".join([BLUES] * 2)
    analysis = analysed(chart)
    assert analysis.form is not None
    assert (analysis.form.first_bar, analysis.form.name) == (4, "12-bar blues")
    assert analysis.sections[-1].end_ticks == 28 * BAR_TICKS


def test_sections_of_a_recognised_form() -> None:
    """The sections of AABA lie eight bars apart over both choruses."""
    chart = "|".join((RHYTHM, RHYTHM))
    form = analysed(chart).form
    assert form is not None
    sections = sections_of(form, bars(64))
    assert [section.label for section in sections] == ["A", "A", "B", "A"] * 2
    assert [section.onset_ticks // BAR_TICKS for section in sections] == [0, 8, 16, 24, 32, 40, 48, 56]


@pytest.mark.parametrize("chart", ["C6", "Cmaj7|Dm7 G7|Cmaj7|%", "|".join(["C6"] * 11), "N.C.|N.C."])
def test_short_charts_have_no_form(chart: str) -> None:
    """What is shorter than the shortest form has none."""
    assert analysed(chart).form is None


def test_waltz_and_five_four() -> None:
    """Meters of three and five beats give the same names and forms as four."""
    from corpus.harmony.analysis import analyse_chart

    for meter in (Meter(3, 4), Meter(5, 4)):
        spans, count = chords("|".join([BLUES] * 2), meter.bar_ticks)
        analysis = analyse_chart(spans, bars(count, meter=meter))
        assert analysis.form is not None
        assert analysis.form.name == "12-bar blues"


@pytest.mark.parametrize(
    ("chart", "bars"),
    [
        ("Cmaj7 A7|Dm7 G7|C6|C6|C6|C6 A7|Dm7 G7|C6", [(1, 2), (6, 7)]),
        ("Bb6|Bb6 G7|Cm7 F7|Bb6", [(2, 3)]),
        ("C|C|C|Am|Dm|G7|C", [(3, 6)]),
        ("C C Am Am|Dm Dm G7 G7|C", [(1, 2)]),
    ],
)
def test_a_turnaround_begins_with_its_own_tonic_chord(chart: str, bars: list[tuple[int, int]]) -> None:
    """Not with the tonic chord that ended the phrase before, however long that stands (common practice, no source)."""
    analysis = analysed(chart)
    found = [one for one in analysis.progressions if "turnaround" in one.name]
    assert [(one.onset_ticks / BAR_TICKS + 1, one.end_ticks / BAR_TICKS) for one in found] == bars
