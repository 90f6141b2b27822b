"""Reminders of accidentals where the signature changes (common practice, no source)."""

from corpus.pitch import parse_spelling
from corpus.write.accidentals import Accidentals


def test_a_new_signature_needs_no_reminders() -> None:
    """From six flats to five sharps: G, B and A stand as the signature says, though flat in the bar before."""
    accidentals = Accidentals()
    accidentals.begin_bar(-6)
    assert [accidentals.printed(parse_spelling(name)) for name in ("Eb3", "Gb3", "Bb3", "Ab3")] == [""] * 4
    accidentals.begin_bar(5)
    assert [accidentals.printed(parse_spelling(name)) for name in ("G#2", "B2", "D#3", "C#3", "A#2")] == [""] * 5


def test_a_note_altered_before_the_change_is_remembered() -> None:
    """A natural under six flats, then A sharp under five sharps: a reminder is of use."""
    accidentals = Accidentals()
    accidentals.begin_bar(-6)
    assert accidentals.printed(parse_spelling("A3")) == "needed"
    accidentals.begin_bar(5)
    assert accidentals.printed(parse_spelling("A#3")) == "reminder"
