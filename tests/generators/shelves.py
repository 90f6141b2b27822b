"""Kept figures for hypothesis: whatever can be kept."""

from datetime import date
from fractions import Fraction

from hypothesis import strategies as st

from corpus.model import Meter
from corpus.shelf.kept import (
    KeptChord,
    KeptFigure,
    KeptNote,
    KeptSource,
    Practice,
    clean_comment,
    clean_name,
    clean_tags,
    clean_word,
)
from corpus.text import clean_text

LATEST = date(2024, 6, 30)
_NUMERALS = ("", "ii", "V", "I", "V/ii", "subV", "ii7b5/vi", "bVII7", "#ivo", "Vsus")
_KEYS = ("", "Bb", "Cm", "F#", "D dorian")
_SYMBOLS = ("", "Cm7", "F7", "Bbmaj7", "N.C.", "E7(b9)")
_SPELLINGS = st.builds(
    lambda letter, sign, octave: f"{letter}{sign}{octave}",
    st.sampled_from("CDEFGAB"),
    st.sampled_from(("", "", "b", "#", "bb", "##")),
    st.integers(1, 7),
)
_DAYS = st.dates(date(1990, 1, 1), LATEST)
_TEXTS = st.text(max_size=12).map(clean_word)


@st.composite
def kept_notes(draw: st.DrawFn) -> tuple[KeptNote, ...]:
    """Notes of a figure, with rhythm or without."""
    spellings = draw(st.lists(_SPELLINGS, min_size=2, max_size=6))
    if draw(st.booleans()):
        return tuple(map(KeptNote, spellings))
    gaps = draw(st.lists(st.integers(1, 40_320), min_size=len(spellings), max_size=len(spellings)))
    onsets = [sum(gaps[:index]) for index in range(len(gaps))]
    return tuple(KeptNote(s, onset, gap) for s, onset, gap in zip(spellings, onsets, gaps, strict=True))


_CHORDS = st.builds(
    KeptChord,
    st.sampled_from(_SYMBOLS),
    st.sampled_from(_NUMERALS),
    st.sampled_from(_KEYS),
    st.none() | st.integers(0, 100_000),
)
_SOURCES = st.builds(KeptSource, _TEXTS, _TEXTS, st.just("3:1-4:2.5"), st.lists(_SPELLINGS, max_size=4).map(tuple))
_PRACTICE = st.builds(
    Practice,
    _DAYS,
    st.integers(10, 999).map(float) | st.floats(10, 999),
    st.lists(st.sampled_from(_KEYS[1:]), max_size=3).map(tuple),
    st.none() | st.integers(0, 5),
)
_NAMES = st.text(min_size=1, max_size=12).filter(lambda text: bool(clean_text(text))).map(clean_name)


@st.composite
def kept_figures(draw: st.DrawFn) -> KeptFigure:
    """Any figure that can be kept; its sources link to nothing."""
    sources = draw(st.lists(_SOURCES, max_size=2, unique_by=lambda source: source.words))
    history = draw(st.lists(_PRACTICE, max_size=2))
    return KeptFigure(
        name=draw(_NAMES),
        notes=draw(kept_notes()),
        chords=tuple(draw(st.lists(_CHORDS, max_size=3))),
        key=draw(st.sampled_from(_KEYS)),
        meter=draw(st.none() | st.builds(Meter, st.integers(1, 13), st.sampled_from((1, 2, 4, 8, 16)))),
        beat=draw(st.none() | st.integers(96, 96 * 5).map(lambda parts: Fraction(parts, 96))),
        tags=clean_tags(draw(st.lists(st.sampled_from(("blues", "Turn", "ii-V", "Ä")), max_size=3))),
        rating=draw(st.none() | st.integers(1, 5)),
        comment=clean_comment(draw(st.text(max_size=20))),
        family=draw(st.just("") | _NAMES),
        kept_on=draw(st.none() | _DAYS),
        sources=tuple(sources),
        practice=tuple(sorted(history, key=lambda entry: entry.day)),
    )


SHELVES = st.lists(kept_figures(), max_size=3, unique_by=lambda figure: figure.id_name)
