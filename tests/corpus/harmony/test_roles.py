"""Roles worked out by hand: degrees, kinds and movements (common practice, no source)."""

from dataclasses import dataclass

import pytest

from corpus.harmony.roles import NoteRole, degree_in, roles_of, scale_of_the_moment
from corpus.harmony.symbols import ChordSymbol, parse_symbol
from corpus.model import TICKS_PER_QUARTER
from corpus.pitch import Key, default_spelling, parse_key
from tests.generators.small import line_from

BAR = 4 * TICKS_PER_QUARTER


@dataclass(frozen=True)
class Chord:
    """A chord of a test."""

    onset_ticks: int
    end_ticks: int
    symbol: ChordSymbol | None
    key: Key | None


def chords(text: str, key: str = "C", quarters: int = 4) -> list[Chord]:
    """Chords of so many quarters each; ``?`` is an unreadable one."""
    ticks = quarters * TICKS_PER_QUARTER
    return [
        Chord(i * ticks, (i + 1) * ticks, None if word == "?" else parse_symbol(word), parse_key(key) if key else None)
        for i, word in enumerate(text.split())
    ]


def roles(notes: str, harmony: list[Chord], quarters: str = "1") -> list[NoteRole | None]:
    """The roles of a line's notes."""
    return list(roles_of(line_from(notes, quarters), harmony))


def degrees(notes: str, harmony: list[Chord], quarters: str = "1") -> str:
    """Degrees with ``-`` for none."""
    return " ".join("-" if role is None else role.degree for role in roles(notes, harmony, quarters))


def movements(notes: str, harmony: list[Chord], quarters: str = "1") -> list[str | None]:
    """Movements of a line's notes."""
    return [None if role is None else role.movement for role in roles(notes, harmony, quarters)]


def test_degrees_count_from_the_root_of_the_chord() -> None:
    """Over C7: root, flat ninth, ninth, sharp ninth, third, eleventh, sharp eleventh, fifth, and so on."""
    chromatic = "C3 Db3 D3 D#3 E3 F3 F#3 G3 Ab3 A3 Bb3 B3"
    assert degrees(chromatic, chords("C7 C7 C7")) == "1 b9 9 #9 3 11 #11 5 b13 13 b7 7"
    assert degrees("C3 Eb3 Gb3 A3", chords("Cdim7")) == "1 b3 b5 bb7"
    assert degrees("C3 E3 G3 A3", chords("C6")) == "1 3 5 6"
    assert degrees("C3 F3 G3 Bb3", chords("C7sus4")) == "1 4 5 b7"
    assert degrees("C3 E3 G#3 D3", chords("Caug")) == "1 3 #5 9"
    assert degrees("Eb3 E3", chords("Cm7")) == "b3 3"


def test_notes_without_a_chord_have_no_role() -> None:
    """Dead notes, unreadable symbols, N.C., and notes before the first chord."""
    assert degrees("C3 x D3 E3 C3", chords("C ?")) == "1 - 9 3 -"
    assert degrees("C3", chords("N.C.")) == "-"
    assert degrees("C3 D3", []) == "- -"


@pytest.mark.parametrize(
    ("symbol", "key", "scale"),
    [
        ("A7", "C", "A B C# D E F G"),
        ("G7", "C minor", "G Ab B C D Eb F"),
        ("Bb7", "C", "Bb C D E F G Ab"),
        ("Cmaj7", "C", "C D E F G A B"),
        ("Dm7", "C", "D E F G A B C"),
        ("Bm7b5", "A minor", "B C D E F G A"),
        ("C#dim7", "C", "C# D E F G A Bb"),
    ],
)
def test_the_scale_of_the_moment_is_the_keys_with_the_chords_own_notes(symbol: str, key: str, scale: str) -> None:
    """Each chord tone replaces the note on its letter."""
    wanted = {{"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[name[0]] + name.count("#") - name.count("b")
              for name in scale.split()}  # fmt: skip
    assert scale_of_the_moment(parse_symbol(symbol), parse_key(key)) == {pitch % 12 for pitch in wanted}


def test_kinds_tell_chord_scale_and_outside_notes_apart() -> None:
    """Over Dm7 in C: F is in the chord, G in the scale, F# outside."""
    found = [role.kind if role else None for role in roles("F3 G3 F#3 C3", chords("Dm7"))]
    assert found == ["chord tone", "scale tone", "outside", "chord tone"]


def test_approaches_lead_into_the_next_strong_note() -> None:
    """The note on beat 4 before a chord change, by half-step and step, from below and above."""
    for last, name in (
        ("F#3", "half-step below"),
        ("Ab3", "half-step above"),
        ("F3", "step below"),
        ("A3", "step above"),
    ):
        assert movements(f"C3 E3 C3 {last} G3", chords("C G7"))[3] == name
    assert movements("C3 E3 C3 E3 G3", chords("C G7"))[3] is None


def test_two_notes_enclose_or_approach_twice() -> None:
    """Above and below the target, or twice from one side; with two chords a bar beat 3 is strong, so eighths do it."""
    eighths = "1 1/2 1/2 1 1"
    assert movements("C3 Ab3 F#3 G3 E3", chords("C G7", quarters=2), eighths)[1:3] == ["enclosure", "enclosure"]
    double = movements("C3 F3 F#3 G3 E3", chords("C G7", quarters=2), eighths)
    assert double[1:3] == ["double approach", "double approach"]


def test_repeated_passing_and_neighbour_notes() -> None:
    """A pitch struck again; a step between two others; a step away and back."""
    assert movements("C3 C3 E3 E3", chords("C"))[1] == "repeated"
    assert movements("C3 D3 E3 C3", chords("C"))[1] == "step below"
    assert movements("E3 F3 G3 A3 B3 C4 D4 E4", chords("C C"), "1/2")[1] == "passing"
    assert movements("E3 F3 E3 A3 B3 C4 D4 E4", chords("C C"), "1/2")[1] == "neighbour"


def test_an_anticipation_belongs_to_the_next_chord() -> None:
    """The last eighth before F7 plays its third, which is no note of Bb: early, not wrong."""
    assert movements("Bb2 D3 F3 D3 A3 A3", chords("Bb F7", "Bb"), "1 1 1 1/2 1/2 1")[4] == "anticipation"
    assert movements("Bb2 D3 F3 D3 F3 A3", chords("Bb F7", "Bb"), "1 1 1 1/2 1/2 1")[4] is None


def test_a_silence_parts_notes() -> None:
    """Nothing approaches, passes or repeats across a rest of a beat or more; a shorter breath does not part."""
    assert movements("C3 r3 C3", chords("C C"))[1] is None
    assert movements("C3 E3 F#3 r1 G3", chords("C G7"))[2] is None
    assert movements("C3 E3 C3 F#3 r1/2 G3", chords("C G7"), "1 1 1 1/2")[3] == "half-step below"


def test_degree_names_do_not_depend_on_the_root() -> None:
    """The same symbol on another root names the same degrees."""
    for root in ("C", "Eb", "F#", "B"):
        assert [degree_in(parse_symbol(f"{root}m7b5"), n) for n in (0, 3, 6, 10)] == ["1", "b3", "b5", "b7"]


@pytest.mark.parametrize(
    ("harmony", "key", "scale"),
    [
        ("A7 Dm7", "C", "1 b9 9 #9 3 11 5 b13 b7"),
        ("A7 F", "C", "1 b9 9 #9 3 11 5 b13 b7"),
        ("G7 C", "C", "1 9 3 11 5 13 b7"),
        ("G7 Cm", "C minor", "1 b9 #9 3 11 5 b13 b7"),
        ("D7 Gm7", "C", "1 b9 9 #9 3 11 5 b13 13 b7"),
        ("D7 G7", "C", "1 9 3 11 5 13 b7"),
        ("C7 F7", "C", "1 9 3 11 5 13 b7"),
        ("G7alt C", "C", "1 b9 #9 3 #11 b13 b7"),
        ("G7b9 C", "C", "1 b9 #9 3 11 #11 5 b13 13 b7"),
        ("G7#11 C", "C", "1 9 3 #11 5 13 b7"),
        ("F7 C7", "C", "1 9 3 #11 5 13 b7"),
    ],
)
def test_altered_tensions_belong_where_a_dominant_leads_to_minor_or_is_altered(
    harmony: str, key: str, scale: str
) -> None:
    """b9, #9 and b13 over V/ii and any V that goes to minor; the symbol's own alterations (common practice, no source).

    F7 and G7#11 in C are no altered dominants: their 9 and 13 stay.
    """
    names = ["1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7"]
    symbols = chords(harmony, key, quarters=12)
    root = symbols[0].symbol.root if symbols[0].symbol else None
    assert root is not None
    line = " ".join(default_spelling(48 + root.pitch_class + step) for step in range(12))
    found = [role.kind if role else None for role in roles(line, symbols)]
    assert [name for name, kind in zip(names, found, strict=True) if kind != "outside"] == scale.split()
