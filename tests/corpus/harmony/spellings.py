"""Lead-sheet suffixes and the pitch classes they mean, written out by hand.

Source: common practice, no single source; where practice differs, the row says what wellworn has chosen and why. The
right-hand side counts semitones above the root, as a musician would on the keyboard; nothing here was printed by the
reader that is tested.
"""

from typing import Final

ROOTS: Final = dict(zip("C Db D Eb E F F# G Ab A Bb B".split(), range(12), strict=True))  # noqa: SIM905
MORE_ROOTS: Final = {"C#": 1, "D#": 3, "Gb": 6, "G#": 8, "A#": 10, "Cb": 11, "E#": 5, "Fb": 4, "B#": 0} | {
    "B♭": 10,
    "F♯": 6,
}

TABLE: Final[tuple[tuple[str, tuple[int, ...], str], ...]] = (
    # spellings, separated by blanks ("_" is the empty suffix); semitones above the root; family
    # triads
    ("_ M maj Maj ma", (0, 4, 7), "major"),
    ("m - mi min Min − –", (0, 3, 7), "minor"),
    ("+ aug (#5) +5 (+5)", (0, 4, 8), "augmented"),
    ("dim o ° º", (0, 3, 6), "diminished"),
    ("(b5) (♭5) (-5)", (0, 4, 6), "major"),
    ("sus sus4", (0, 5, 7), "suspended"),
    ("sus2", (0, 2, 7), "suspended"),
    ("sus2/4 sus24", (0, 2, 5, 7), "suspended"),
    ("5", (0, 7), "power"),
    ("add9 (add9) (9) add2 2", (0, 2, 4, 7), "major"),
    ("add11 (add11) add4", (0, 4, 5, 7), "major"),
    ("m(add9) madd9 -add9 min(add9) m(9)", (0, 2, 3, 7), "minor"),
    ("m(b6) mb6 -b6", (0, 3, 7, 8), "minor"),
    ("(no3) no3 omit3 (omit3)", (0, 7), "power"),
    # sixths
    ("6 M6 maj6 ma6 (6)", (0, 4, 7, 9), "major"),
    ("m6 -6 mi6 min6 m(6)", (0, 3, 7, 9), "minor"),
    ("6/9 69 6(9) 6add9 9/6 M6/9 maj69", (0, 2, 4, 7, 9), "major"),
    ("m6/9 m69 -6/9 m6(9) m6add9", (0, 2, 3, 7, 9), "minor"),
    ("6/9#11 69(#11)", (0, 2, 4, 6, 7, 9), "major"),
    # sevenths
    ("7 dom7 (7)", (0, 4, 7, 10), "dominant"),
    ("maj7 M7 ma7 Ma7 Maj7 MAJ7 Δ Δ7 △ △7 ∆7 ^ ^7 j7 7M (maj7)", (0, 4, 7, 11), "major"),
    ("m7 -7 mi7 min7 Mi7 MI7 −7", (0, 3, 7, 10), "minor"),
    ("m(maj7) mM7 mmaj7 -Δ7 -Δ -maj7 m(M7) m^7 minmaj7 mi(ma7) m7M m(#7) m/maj7", (0, 3, 7, 11), "minor-major"),
    ("m7b5 -7b5 m7(b5) ø ø7 Ø mi7b5 min7(b5) -7-5 m7♭5 ∅7", (0, 3, 6, 10), "half-diminished"),
    ("dim7 o7 °7 º7", (0, 3, 6, 9), "diminished"),
    ("dim(maj7) °(maj7) oM7 °Δ7", (0, 3, 6, 11), "diminished"),
    ("dim7(maj7) °7(maj7)", (0, 3, 6, 9, 11), "diminished"),
    ("7#5 +7 7+ aug7 7+5 7(#5) 7aug 7♯5", (0, 4, 8, 10), "dominant"),
    ("7b5 7-5 7(b5) 7(♭5)", (0, 4, 6, 10), "dominant"),
    ("maj7#5 maj7+ +maj7 +M7 augmaj7 Δ#5 maj7(#5) M7+5", (0, 4, 8, 11), "augmented"),
    ("maj7b5 Δb5 maj7(b5)", (0, 4, 6, 11), "major"),
    ("m7#5 -7#5 m7+5", (0, 3, 8, 10), "minor"),
    ("6(maj7)", (0, 4, 7, 9, 11), "major"),
    ("7sus4 7sus sus7 sus4(7) 7(sus4)", (0, 5, 7, 10), "suspended"),
    ("7sus2", (0, 2, 7, 10), "suspended"),
    ("maj7sus4 Δsus", (0, 5, 7, 11), "suspended"),
    # ninths, elevenths, thirteenths: each stacked on the one before (MusicXML kind-value)
    ("9 dom9 7(9) 7add9", (0, 2, 4, 7, 10), "dominant"),
    ("maj9 M9 Δ9 ma9 maj7(9) ^9 9(maj7)", (0, 2, 4, 7, 11), "major"),
    ("m9 -9 min9 m7(9) mi9", (0, 2, 3, 7, 10), "minor"),
    ("m(maj9) mM9 -Δ9 m9(maj7)", (0, 2, 3, 7, 11), "minor-major"),
    ("m9b5 ø9 -9b5 ø(9)", (0, 2, 3, 6, 10), "half-diminished"),
    ("9#5 +9 aug9 9+5", (0, 2, 4, 8, 10), "dominant"),
    ("9b5 9(b5)", (0, 2, 4, 6, 10), "dominant"),
    ("9sus4 9sus sus9 7sus4(9)", (0, 2, 5, 7, 10), "suspended"),
    ("11", (0, 2, 4, 5, 7, 10), "dominant"),
    ("m11 -11 min11 m9(11)", (0, 2, 3, 5, 7, 10), "minor"),
    ("maj11 M11", (0, 2, 4, 5, 7, 11), "major"),
    ("m11b5 ø11", (0, 2, 3, 5, 6, 10), "half-diminished"),
    ("13", (0, 2, 4, 5, 7, 9, 10), "dominant"),
    ("maj13 M13 Δ13", (0, 2, 4, 5, 7, 9, 11), "major"),
    ("m13 -13 min13", (0, 2, 3, 5, 7, 9, 10), "minor"),
    ("13sus4 13sus sus13", (0, 2, 5, 7, 9, 10), "suspended"),
    ("7(13) 7add13 7(add13)", (0, 4, 7, 9, 10), "dominant"),
    ("9(13) 9add13 7(9,13)", (0, 2, 4, 7, 9, 10), "dominant"),
    ("m7(11) m7add11 -7(11)", (0, 3, 5, 7, 10), "minor"),
    # alterations; a natural 9, 11, 13 that a size implies gives way
    ("7b9 7(b9) 7-9 7♭9 7(♭9)", (0, 1, 4, 7, 10), "dominant"),
    ("7#9 7(#9) 7+9 7♯9", (0, 3, 4, 7, 10), "dominant"),
    ("7#11 7(#11) 7+11 7(♯11)", (0, 4, 6, 7, 10), "dominant"),
    ("7b13 7(b13) 7-13", (0, 4, 7, 8, 10), "dominant"),
    ("9#11 9(#11) 9+11", (0, 2, 4, 6, 7, 10), "dominant"),
    ("maj7#11 Δ#11 maj7(#11) M7+11 ^7#11", (0, 4, 6, 7, 11), "major"),
    ("maj9#11 Δ9(#11)", (0, 2, 4, 6, 7, 11), "major"),
    ("13b9 13(b9)", (0, 1, 4, 5, 7, 9, 10), "dominant"),
    ("13#11 13(#11)", (0, 2, 4, 6, 7, 9, 10), "dominant"),
    ("13#9", (0, 3, 4, 5, 7, 9, 10), "dominant"),
    ("13b9#11 13(b9,#11)", (0, 1, 4, 6, 7, 9, 10), "dominant"),
    ("maj13#11", (0, 2, 4, 6, 7, 9, 11), "major"),
    ("7b9#9 7(b9,#9) 7(b9#9)", (0, 1, 3, 4, 7, 10), "dominant"),
    ("7b9b13 7(b9,b13) 7b9(b13)", (0, 1, 4, 7, 8, 10), "dominant"),
    ("7b9#9b13", (0, 1, 3, 4, 7, 8, 10), "dominant"),
    ("7#5#9 +7#9 7(#5,#9) 7#9#5 aug7#9", (0, 3, 4, 8, 10), "dominant"),
    ("7#5b9 +7b9 7b9#5", (0, 1, 4, 8, 10), "dominant"),
    ("7b5b9 7b9b5 7-9-5", (0, 1, 4, 6, 10), "dominant"),
    ("7b5#9", (0, 3, 4, 6, 10), "dominant"),
    ("7b9#11 7(b9,#11)", (0, 1, 4, 6, 7, 10), "dominant"),
    ("m7b9 m7(b9)", (0, 1, 3, 7, 10), "minor"),
    ("7sus4b9 7b9sus4 7sus(b9) 7sus4(b9)", (0, 1, 5, 7, 10), "suspended"),
    ("13sus4b9", (0, 1, 5, 7, 9, 10), "suspended"),
    ("7(no5) 7no5 7omit5", (0, 4, 10), "dominant"),
    ("7(no3)", (0, 7, 10), "dominant"),
    # alt: root, third, seventh; fifth and ninth are the player's choice among the altered ones
    ("7alt alt 7(alt) 7alt. alt7", (0, 4, 10), "dominant"),
)


def spellings() -> list[tuple[str, tuple[int, ...], str]]:
    """All suffixes, one by one, with semitones and family."""
    found: list[tuple[str, tuple[int, ...], str]] = []
    for words, tones, family in TABLE:
        for word in words.split():
            found.append(("" if word == "_" else word, tones, family))
    return found
