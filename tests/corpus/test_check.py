"""The musical checks: each finding once where it should be, and none on a sound line."""

from dataclasses import replace
from fractions import Fraction

from corpus.check import INSTRUMENTS, check, instrument_of
from corpus.form import parse_form
from corpus.model import TICKS_PER_QUARTER, ChordSpan, Finding, Transcription
from tests.generators.small import line_from


def with_details(line: Transcription, **details: object) -> Transcription:
    """The line with other details."""
    return replace(line, details=replace(line.details, **details))  # type: ignore[arg-type]


def kinds(line: Transcription) -> list[tuple[str, int | None]]:
    """Kind and bar of every finding."""
    return [(finding.kind, finding.bar) for finding in check(line)]


SOUND = line_from("C3 D3 E3 F3 G3 A3 B3 C4")


def test_a_sound_line_has_no_findings() -> None:
    """Full bars, chords, playable, no leaps."""
    assert kinds(with_details(SOUND, instrument="Double bass", form=parse_form("2"))) == []


def test_bars_that_are_short_or_long_are_found_once() -> None:
    """A bar of three beats and one of five in 4/4."""
    bars = SOUND.bars
    short = replace(SOUND, bars=(replace(bars[0], length_ticks=3 * TICKS_PER_QUARTER), bars[1]))
    assert kinds(short) == [("meter", 1)]
    assert "3 beats, less than 4/4" in check(short)[0].text
    long = replace(SOUND, bars=(bars[0], replace(bars[1], length_ticks=5 * TICKS_PER_QUARTER)))
    assert kinds(long) == [("meter", 2)]


def test_a_pickup_and_the_bar_that_completes_it_are_no_findings() -> None:
    """A pickup of one beat and a last bar of three."""
    first, last = SOUND.bars
    one = TICKS_PER_QUARTER
    pickup = replace(first, number=0, length_ticks=one, padding_ticks=3 * one)
    assert kinds(replace(SOUND, bars=(pickup, replace(last, length_ticks=3 * one)))) == []


def test_notes_outside_the_range_of_the_instrument_are_found_with_bar_and_beat() -> None:
    """D1 lies below a double bass, whose range is E1 to G4 sounding (common practice, no source)."""
    line = with_details(line_from("E1 F1 D1 E1"), instrument="upright bass")
    finding = next(f for f in check(line) if f.kind == "range")
    assert (finding.bar, finding.beat) == (1, Fraction(3))
    assert "D1" in finding.text
    assert "E1" in finding.text
    assert [f for f in check(with_details(line, instrument="kazoo")) if f.kind == "range"] == []


def test_instruments_are_known_by_the_words_of_scores() -> None:
    """The longest name wins: a bass clarinet is no bass, a bass guitar no guitar."""
    names = ("Bass Clarinet in Bb", "Electric Bass", "Contrabass", "Tenor Saxophone 1", "Bass", "Violoncello", "Guitar")
    found = [instrument_of(name) for name in names]
    assert [i.name if i else None for i in found] == [
        "bass clarinet",
        "bass guitar",
        "double bass",
        "tenor saxophone",
        "double bass",
        "cello",
        "guitar",
    ]
    assert all(instrument.lowest < instrument.highest for instrument in INSTRUMENTS)


def test_uncovered_bars_and_symbols_that_last_too_long_are_found() -> None:
    """A charted line whose first bar has no chord; one symbol over nine bars; a line without chords is fine."""
    bar = 4 * TICKS_PER_QUARTER
    assert kinds(replace(SOUND, chords=(ChordSpan("F7", bar, 2 * bar),))) == [("chord", 1)]
    long = line_from(" ".join(["C3 D3 E3 F3"] * 9))
    assert kinds(replace(long, chords=(ChordSpan("F7", 0, 9 * bar),))) == [("chord", 1)]
    assert kinds(replace(SOUND, chords=())) == []


def test_a_length_that_is_no_multiple_of_the_form_is_found() -> None:
    """Three bars over a form of two."""
    line = with_details(line_from("C3 D3 E3 F3 G3 A3 B3 C4 C3 D3 E3 F3"), form=parse_form("A2"))
    assert kinds(line) == [("form", 3)]


def test_suspicious_octave_leaps_are_found() -> None:
    """A leap wider than an octave, and one note an octave from where its neighbours expect it."""
    assert kinds(line_from("C3 D3 E4 F4")) == [("leap", 1)]
    # E3 to F4 is a minor ninth; F4 to G3 falls less than an octave.
    assert kinds(line_from("C3 D3 E3 F4 G3 A3")) == [("leap", 1)]
    apart = line_from("C3 D3 C4 D3 E3 F3 G3 A3")
    assert [(f.kind, f.bar, f.beat) for f in check(apart)] == [("leap", 1, Fraction(3))]


def test_a_new_phrase_after_a_rest_may_begin_anywhere() -> None:
    """A leap over a rest of two beats is no finding."""
    assert kinds(line_from("C2 D2 r2 E4 F4 G4")) == []


def test_the_readers_remarks_come_first() -> None:
    """What a reader left out is among the findings."""
    remark = Finding("reading", "a cue note was left out", 1)
    assert check(replace(SOUND, findings=(remark,)))[0] is remark
