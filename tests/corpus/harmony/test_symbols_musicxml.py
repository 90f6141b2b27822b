"""Chord symbols as MusicXML ``<harmony>``: every kind, no loss, and the same pitch classes in another reader.

Sources: the list and meaning of kinds in ``musicxml.xsd`` (MusicXML 4.0), as the music21 package carries it, and
music21's own tables (``music21.harmony.CHORD_TYPES``) and chords (``music21.harmony.ChordSymbol``).
"""

import re
from importlib.util import find_spec
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.harmony.symbol_musicxml import KIND_TONES, harmony_to_symbol, symbol_to_harmony
from corpus.harmony.symbols import ChordSymbol, build_symbol, parse_symbol, read_symbol
from corpus.pitch import SpelledPitch
from corpus.read.musicxml_chords import KIND_SUFFIXES, chord_texts
from tests.corpus.harmony.spellings import ROOTS, spellings

WITHOUT_TONES: Final = {"none": "no chord", "other": "only what its degrees add"}
FUNCTIONAL: Final = {"Neapolitan", "Italian", "French", "German", "Tristan"}
"""Kinds that name a function or one famous chord. We have no tones for them: a Neapolitan is a major chord on the flat
second degree, but the element's root is the tonic for some programs and the flat second for others. music21 does give
tones, on the root as written, some of them doubtful (a "Neapolitan" of C, Db, E and Gb)."""

SPELLED_ROOTS = st.builds(SpelledPitch, st.integers(0, 6), st.integers(-2, 2), st.none())


def kinds_of_the_schema() -> list[str]:
    """The values of ``kind-value`` in the schema that music21 ships."""
    spec = find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    schema = (Path(spec.origin).parent / "musicxml" / "musicxml.xsd").read_text(encoding="utf-8")
    block = schema[schema.index('name="kind-value"') :]
    return re.findall(r'enumeration value="([^"]+)"', block[: block.index("</xs:simpleType>")])


def music21_tones(kind: str) -> set[int]:
    """Semitones above the root that music21's table gives for a MusicXML kind."""
    from music21.harmony import CHORD_ALIASES, CHORD_TYPES

    formula = str(CHORD_TYPES[CHORD_ALIASES.get(kind, kind)][0])
    major = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11, 9: 2, 11: 5, 13: 9}
    degrees = (re.fullmatch(r"([#-]*)(\d+)", degree) for degree in formula.split(","))
    return {
        (major[int(match[2])] + match[1].count("#") - match[1].count("-")) % 12
        for match in degrees
        if match is not None
    }


def harmony_of(kind: str, degrees: tuple[tuple[str, int, int], ...] = (), text: str | None = None) -> ET.Element:
    """A ``<harmony>`` element on C, written by hand."""
    printed = f' text="{text}"' if text is not None else ""
    extra = "".join(
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{what}</degree-type></degree>"
        for what, value, alter in degrees
    )
    return ET.fromstring(f"<harmony><root><root-step>C</root-step></root><kind{printed}>{kind}</kind>{extra}</harmony>")


def test_every_kind_has_its_place() -> None:
    """Each of the schema's kinds has tones, is without any, or is functional; we invent none."""
    kinds = kinds_of_the_schema()
    assert len(kinds) == 33
    assert set(kinds) == set(KIND_TONES) | set(WITHOUT_TONES) | FUNCTIONAL


@pytest.mark.parametrize("kind", sorted(KIND_TONES))
def test_kinds_agree_with_music21(kind: str) -> None:
    """Every kind with tones has those of music21's table; there is no difference to explain."""
    assert set(KIND_TONES[kind]) == music21_tones(kind)


@pytest.mark.parametrize("kind", sorted(KIND_TONES))
def test_kinds_are_read(kind: str) -> None:
    """A bare kind reads as its tones, and so does the lead-sheet suffix that our score reader writes for it."""
    symbol = harmony_to_symbol(harmony_of(kind))
    assert symbol is not None
    assert symbol.tones == KIND_TONES[kind]
    assert parse_symbol("C" + KIND_SUFFIXES[kind]).tones == KIND_TONES[kind]


@pytest.mark.parametrize("kind", sorted(FUNCTIONAL))
def test_functional_kinds_are_no_chord_symbols(kind: str) -> None:
    """The known difference to music21: functional kinds are kept as text by the reader and understood by neither."""
    assert music21_tones(kind)
    assert harmony_to_symbol(harmony_of(kind)) is None
    (text,) = chord_texts(harmony_of(kind), lambda step, alter: (step, alter))
    assert read_symbol(text) is None


def test_kinds_without_tones() -> None:
    """``none`` is N.C.; ``other`` is the root and what the degrees add, or nothing."""
    none = harmony_to_symbol(harmony_of("none"))
    assert none is not None
    assert none.canonical == "N.C."
    other = harmony_to_symbol(harmony_of("other", (("add", 4, 0), ("add", 7, 0))))
    assert other is not None
    assert other.tones == (0, 5, 10)
    assert harmony_to_symbol(harmony_of("other")) is None
    assert harmony_to_symbol(harmony_of("nonsense")) is None
    assert harmony_to_symbol(ET.fromstring("<harmony><kind>major</kind></harmony>")) is None


@pytest.mark.parametrize(
    ("kind", "degrees", "expected"),
    [
        ("dominant", (("add", 9, -1),), "C7b9"),
        ("dominant", (("alter", 5, -1),), "C7b5"),
        ("dominant", (("subtract", 3, 0), ("add", 4, 0)), "C7sus4"),
        ("suspended-fourth", (("add", 7, 0),), "C7sus4"),  # added degrees are relative to a dominant chord
        ("major", (("add", 7, 1),), "Cmaj7"),
        ("major", (("add", 9, 0),), "C(add9)"),
        ("major-sixth", (("add", 9, 0),), "C6/9"),
        ("minor-seventh", (("alter", 5, -1),), "Cm7b5"),
        ("minor", (("alter", 3, 1),), "C"),  # altered degrees are relative to the kind
        ("diminished-seventh", (("alter", 7, 1),), "Cm7b5"),
        ("dominant-13th", (("subtract", 11, 0),), "C9(add13)"),
        ("dominant", (("alter", 9, 1),), "C7#9"),  # many programs write alter for a degree that the kind lacks
    ],
)
def test_degrees_mean_what_the_schema_says(kind: str, degrees: tuple[tuple[str, int, int], ...], expected: str) -> None:
    """Degrees without printed text are read by the documentation of ``degree-alter`` in ``musicxml.xsd``."""
    symbol = harmony_to_symbol(harmony_of(kind, degrees))
    assert symbol is not None
    assert symbol.canonical == expected


def test_printed_text_counts_first() -> None:
    """What the page prints is read where it can be; kind and degrees where it can't."""
    printed = harmony_to_symbol(harmony_of("dominant", text="7alt"))
    assert printed is not None
    assert printed.canonical == "C7alt"
    unknown = harmony_to_symbol(harmony_of("dominant", text="hot"))
    assert unknown is not None
    assert unknown.canonical == "C7"


def assert_lossless(symbol: ChordSymbol) -> None:
    """Export and read back, with the printed text and without it, through a serialised document."""
    element = ET.fromstring(ET.tostring(symbol_to_harmony(symbol)))
    back = harmony_to_symbol(element)
    assert back is not None
    assert (back.root, back.tones, back.bass, back.family, back.canonical, back.tensions) == (
        symbol.root,
        symbol.tones,
        symbol.bass,
        symbol.family,
        symbol.canonical,
        symbol.tensions,
    )
    (text,) = chord_texts(element, lambda step, alter: (step, alter))
    assert parse_symbol(text).canonical == symbol.canonical
    kind = element.find("kind")
    assert kind is not None
    kind.attrib.pop("text", None)
    plain = harmony_to_symbol(element)
    assert plain is not None
    assert (plain.root, plain.tones, plain.bass) == (symbol.root, symbol.tones, symbol.bass)


@pytest.mark.parametrize("root", ROOTS)
def test_every_spelling_survives_export(root: str) -> None:
    """Each spelling of the hand-written table comes back from MusicXML as it was, with and without a bass."""
    for suffix, _, _ in spellings():
        for bass in ("", "/E", "/Gb"):
            assert_lossless(parse_symbol(root + suffix + bass))
    assert_lossless(parse_symbol("N.C."))


@given(SPELLED_ROOTS, st.sets(st.integers(1, 11)), st.booleans(), st.none() | SPELLED_ROOTS)
def test_any_symbol_survives_export(root: SpelledPitch, tones: set[int], alt: bool, bass: SpelledPitch | None) -> None:
    """So does any set of tones on any root."""
    assert_lossless(build_symbol(root, frozenset(tones | {0}), bass, alt=alt))


def music21_pitch_classes(element: ET.Element) -> set[int]:
    """Semitones above C that music21 gets from kind, degrees and root, ignoring the printed text."""
    from music21 import harmony as m21

    step, alter = element.findtext("root/root-step", ""), int(element.findtext("root/root-alter", "0"))
    name = step + ("#" * alter if alter > 0 else "-" * -alter)
    chord = m21.ChordSymbol(root=name, kind=element.findtext("kind", ""))
    for degree in element.iter("degree"):
        chord.addChordStepModification(  # type: ignore[no-untyped-call]
            m21.ChordStepModification(
                degree.findtext("degree-type", ""),
                int(degree.findtext("degree-value", "")),
                int(degree.findtext("degree-alter", "")),
            )
        )
    return {pitch.pitchClass for pitch in chord.pitches}


def test_music21_gets_the_same_pitch_classes_from_the_table() -> None:
    """Kind and degrees of every spelling in the table give music21 the symbol's exact pitch classes."""
    for position, (suffix, _, _) in enumerate(spellings()):
        symbol = parse_symbol(list(ROOTS)[position % 12] + suffix)
        assert music21_pitch_classes(symbol_to_harmony(symbol)) == symbol.pitch_classes, symbol


def test_music21_gets_the_same_pitch_classes_from_odd_chords() -> None:
    """So do sets of tones that nobody writes: every seventh of the 2,048."""
    for bits in range(1, 4096, 14):
        symbol = build_symbol(SpelledPitch(2, -1, None), frozenset(tone for tone in range(12) if bits >> tone & 1))
        assert music21_pitch_classes(symbol_to_harmony(symbol)) == symbol.pitch_classes, symbol


def test_known_difference_in_added_sevenths() -> None:
    """music21 takes an added seventh for the major one; by the schema it is the minor one, and we never write it."""
    element = harmony_of("suspended-fourth", (("add", 7, 0),))
    symbol = harmony_to_symbol(element)
    assert symbol is not None
    assert symbol.pitch_classes == {0, 5, 7, 10}
    assert music21_pitch_classes(element) == {0, 5, 7, 11}
    written = [symbol_to_harmony(parse_symbol("C" + suffix)) for suffix, _, _ in spellings()]
    degrees = [
        (d.findtext("degree-type"), d.findtext("degree-value"), d.findtext("degree-alter"))
        for element in written
        for d in element.iter("degree")
    ]
    assert ("add", "7", "0") not in degrees


def test_element_order_is_that_of_the_schema() -> None:
    """Root, kind, bass and degrees follow each other as the schema asks, degrees with value, alter and type."""
    element = symbol_to_harmony(parse_symbol("Bb7b9/Ab"))
    assert [child.tag for child in element] == ["root", "kind", "bass", "degree"]
    assert [child.tag for child in element[3]] == ["degree-value", "degree-alter", "degree-type"]
    assert element[1].get("text") == "7b9"
    assert element.findtext("root/root-alter") == "-1"
    assert element.findtext("bass/bass-step") == "A"
