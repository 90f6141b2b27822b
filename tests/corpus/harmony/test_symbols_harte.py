"""Chord symbols against Harte's chord syntax, as ``mir_eval.chord`` encodes it.

Source: C. Harte, *Towards Automatic Extraction of Harmony Information from Music Signals*, PhD thesis, Queen Mary
University of London, 2010, as implemented in ``mir_eval.chord`` (``QUALITIES``, ``EXTENDED_QUALITY_REDUX`` and
``encode``). Ninths and above are encoded with ``reduce_extended_chords=True``: without it mir_eval leaves their upper
degrees out of the bitmap.
"""

from typing import Final

import pytest
from mir_eval import chord as harte

from corpus.harmony.symbols import parse_symbol
from tests.corpus.harmony.spellings import ROOTS

LEAD_SHEET: Final = {
    "maj": "",
    "min": "m",
    "aug": "+",
    "dim": "dim",
    "sus4": "sus4",
    "sus2": "sus2",
    "7": "7",
    "maj7": "maj7",
    "min7": "m7",
    "minmaj7": "m(maj7)",
    "maj6": "6",
    "min6": "m6",
    "dim7": "dim7",
    "hdim7": "m7b5",
    "maj9": "maj9",
    "min9": "m9",
    "9": "9",
    "min11": "m11",
    "11": "11",
    "maj13": "maj13",
    "min13": "m13",
    "13": "13",
    "1": "(no3,no5)",
    "5": "5",
}
"""Lead-sheet suffix of every shorthand of Harte's that mir_eval encodes; the empty one is no quality but a list."""

EXTENDED_ONLY: Final = {"b9": "7b9", "#9": "7#9", "#11": "9#11", "b13": "11(b13)"}
"""Further names that mir_eval expands, though its grammar does not take them in a label."""

DEGREE_LISTS: Final = {
    "maj(9)": "(add9)",
    "min(9)": "m(add9)",
    "maj(b5,*5)": "(b5)",
    "7(b9)": "7b9",
    "7(#9)": "7#9",
    "7(b9,b13)": "7b9b13",
    "7(#11)": "7#11",
    "7(*5)": "7(no5)",
    "7(*3)": "7(no3)",
    "7(#5,*5)": "7#5",
    "7(4,*3)": "7sus4",
    "7(b9,4,*3)": "7sus4b9",
    "maj7(#11)": "maj7#11",
    "maj6(9)": "6/9",
    "min6(9)": "m6/9",
    "min7(11)": "m7(add11)",
    "min(b6)": "m(b6)",
    "dim(7)": "dim(maj7)",
    "(1,5,b7)": "7(no3)",
    "(3,5,b7,9,13)": "9(add13)",
}

BASSES: Final = {"maj/3": "{0}/{4}", "7/b7": "{0}7/{10}", "min7/b3": "{0}m7/{3}", "maj/2": "{0}/{2}"}
NAMES: Final = tuple(ROOTS)


def encoded(label: str) -> set[int]:
    """The absolute pitch classes of a label of Harte's."""
    root, bitmap, _ = harte.encode(label, reduce_extended_chords=True)
    return {(int(root) + tone) % 12 for tone in range(12) if bitmap[tone]}


def test_every_quality_is_compared() -> None:
    """The table below names every quality that mir_eval knows; none is left out."""
    assert set(LEAD_SHEET) == set(harte.QUALITIES) - {""}
    assert set(EXTENDED_ONLY) == set(harte.EXTENDED_QUALITY_REDUX) - set(LEAD_SHEET)


@pytest.mark.parametrize("quality", sorted(LEAD_SHEET))
def test_qualities(quality: str) -> None:
    """Every quality has the same pitch classes as ours, on twelve roots (mir_eval.chord)."""
    for root in NAMES:
        assert parse_symbol(root + LEAD_SHEET[quality]).pitch_classes == encoded(f"{root}:{quality}")


@pytest.mark.parametrize("quality", sorted(EXTENDED_ONLY))
def test_extended_qualities(quality: str) -> None:
    """What mir_eval's table of extensions says about altered ninths, elevenths and thirteenths."""
    base, degrees = harte.reduce_extended_quality(quality)
    for root in NAMES:
        label = f"{root}:{base}({','.join(sorted(degrees))})"
        assert parse_symbol(root + EXTENDED_ONLY[quality]).pitch_classes == encoded(label)


@pytest.mark.parametrize("degrees", sorted(DEGREE_LISTS))
def test_degree_lists(degrees: str) -> None:
    """Added and left-out degrees of Harte's syntax against the lead-sheet spelling of the same chord."""
    for root in NAMES:
        assert parse_symbol(root + DEGREE_LISTS[degrees]).pitch_classes == encoded(f"{root}:{degrees}")


@pytest.mark.parametrize("label", sorted(BASSES))
def test_basses(label: str) -> None:
    """A bass degree of Harte's is a bass note of a lead sheet, and sounds (C:maj/2 is C/D)."""
    for position, root in enumerate(NAMES):
        notes = [NAMES[(position + semitones) % 12] for semitones in range(12)]
        assert parse_symbol(BASSES[label].format(*notes)).pitch_classes == encoded(f"{root}:{label}")


@pytest.mark.parametrize("label", ["C:aug7", "C:maj11"])
def test_labels_without_an_encoding(label: str) -> None:
    """The known gap of the source: its grammar takes these two, its table of qualities does not (we read both)."""
    harte.validate_chord_label(label)
    with pytest.raises(harte.InvalidChordException):
        harte.encode(label, reduce_extended_chords=True)
