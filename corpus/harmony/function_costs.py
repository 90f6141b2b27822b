"""What it costs to hear a chord as a function in a key: all numbers that ``corpus.harmony.functions`` adds up.

The numbers are on one scale: 0 is a chord that needs no explanation (I in its key), up to 0.5 the other diatonic
chords, 0.5 to 1 what every musician explains at once (V/ii that goes to ii, ``iv`` in major, a passing diminished
chord), 1 to 1.6 what needs an excuse (mixture, a dominant that does not resolve), ``OUTSIDE`` a chord that the key does
not explain. They were set by ear from common practice, then tuned on the first halves of
``tests/corpus/harmony/textbook.py`` and ``tests/bench/analyses.py``; no source has them.
"""

from typing import Final

from corpus.harmony.numerals import Numeral, parse_numeral

OUTSIDE: Final = 2.4
"""A chord that no rule explains in the key."""
RESOLVED: Final = 0.5
"""V/x that goes to x, on to the dominant of what follows x in a cycle, or through its own ii back to itself."""
BEFORE_CADENTIAL: Final = 0.75
"""V/V that goes to I over its fifth."""
DECEPTIVE: Final = 0.9
"""V/x that goes a step up instead, or to the related ii of its target."""
UNRESOLVED: Final = 1.15
"""V/x that goes elsewhere."""
SUBSTITUTE: Final = 0.8
"""subV or subV/x that falls a half-step to its target."""
RELATED_II: Final = 0.55
"""ii/x before V/x."""
CHROMATIC_II: Final = 0.9
"""The ii of a substitute: biii before subV/V."""
PASSING: Final = 0.65
"""A diminished chord that passes: #io to ii, biiio to ii, #ivo to I over 5."""
BLUES: Final = 0.25
"""I7 and IV7 next to each other, or I7 after #ivo or after ii V."""
BACKDOOR: Final = 0.65
"""bVII7 after iv; or after IV, where it goes to I or to the iii that stands for it."""
MINOR_PLAGAL: Final = 0.5
"""iv between IV and I."""
TURNING_MINOR: Final = 0.9
"""I that goes on as i in a minor key, after a dominant seventh: that is rather V/IV IV iv, and saves nothing as V I."""
SUBSTITUTES_IN_A_ROW: Final = 0.3
"""bIII7, bVI and subV, each, in the turnaround of substitutes that these three make."""
BLUES_CADENCE: Final = -0.3
"""Added to the V of V IV7 I7."""
NO_REST: Final = 0.5
"""Added to a V that falls on a dominant seventh without a ii before: a cycle rather than a cadence; and to a minor
chord heard as i that goes on to the dominant seventh a fourth up: a ii rather than an i."""
CADENCE_V: Final = -0.55
"""Added to the V of a V-I (negative: the surest sign of a key)."""
CADENCE_I: Final = -0.4
"""Added to the I of a V-I."""
INVERTED: Final = 0.5
"""How much of either counts where the I does not stand on its root."""
WAITING_V: Final = -0.3
"""The same for a V that another V follows."""
WAITING_I: Final = -0.3
"""The same for an I that another I precedes."""
PREPARED: Final = -0.25
"""Added to the V of a V-I that a ii or IV prepares."""
SIX_FOUR: Final = -0.5
"""Added to I over its fifth before V."""
LEADING_V: Final = -0.15
"""Added to a diminished chord on the leading note before I."""
LEADING_I: Final = -0.2
"""Added to the I after it."""

_Table = dict[tuple[int, str], tuple[Numeral, float]]


def _table(rows: str) -> _Table:
    """Rows ``numeral kinds cost``, by semitones above the tonic and kind."""
    table: _Table = {}
    for row in rows.strip().splitlines():
        text, kinds, cost = row.split()
        numeral = parse_numeral(text)
        for kind in kinds:
            table[numeral.root_semitones, kind] = (numeral, float(cost))
    return table


MAJOR: Final = _table("""
I TM 0.0
I7 D 1.2
I+ + 0.9
Isus s 0.5
I5 5 0.3
io do 0.9
ii m 0.25
ii7b5 h 0.8
iio do 0.9
II5 5 0.8
iii m 0.4
IV TM 0.25
IV7 D 0.8
IV5 5 0.2
IVsus s 0.8
#ivo do 1.0
#iv7b5 h 1.1
iv m 0.9
V T 0.2
V D 0.0
Vmaj7 M 0.9
V+ + 0.5
Vsus s 0.2
V5 5 0.2
v m 1.1
vi m 0.3
vio do 1.3
VI5 5 0.8
viio do 0.2
vii7b5 h 0.3
bVII7 D 1.1
bVII TM 1.0
bVII5 5 1.0
bVI TM 1.1
bIII TM 1.2
bII TM 1.4
i m 1.5
III+ + 1.2
#io do 1.2
biiio do 1.2
iiio do 1.4
#vo do 1.2
bvi m 1.8
biii m 1.8
""")
"""Chords on the degrees of a major key: diatonic, borrowed from minor (mixture), blues, and passing diminished."""

MINOR: Final = _table("""
i m 0.0
I T 0.2
I M 0.9
I7 D 1.2
I5 5 0.3
Isus s 0.6
io do 1.0
ii7b5 h 0.0
iio do 0.2
ii m 0.8
bIII TM 0.4
bIII+ + 0.5
iv m 0.2
IV T 0.7
IV M 1.1
IV7 D 0.7
IV5 5 0.4
#ivo do 0.9
#iv7b5 h 1.0
V T 0.1
V D 0.0
V+ + 0.3
Vsus s 0.2
V5 5 0.4
v m 0.7
bVI T 0.3
bVI M 0.4
bVI7 D 1.0
vi7b5 h 0.7
vio do 0.9
bVII T 0.6
bVII M 0.9
bVII7 D 0.7
bVII5 5 0.6
viio do 0.1
vii7b5 h 0.6
bII TM 0.9
#io do 1.2
iiio do 1.2
bVIsus s 1.0
bIIIsus s 1.0
bVIIsus s 0.9
""")
"""Chords on the degrees of a minor key, natural, harmonic and melodic."""

TARGETS: Final = {
    is_minor: {parse_numeral(text).root_semitones: parse_numeral(text) for text in texts.split()}
    for is_minor, texts in ((False, "ii iii IV V vi"), (True, "bIII iv V bVI bVII"))
}
"""The degrees that a chord can be the dominant of, besides I: semitones above the tonic, by whether it is minor."""

TARGET_COST: Final = {
    False: {2: 0.0, 4: 0.15, 5: 0.0, 7: 0.0, 9: 0.05},
    True: {3: 0.0, 5: 0.0, 7: 0.05, 8: 0.15, 10: 0.15},
}
"""What being the dominant, or the ii of it, of each of these degrees adds."""

DOMINANT_COST: Final = {"D": 0.0, "T": 0.3, "+": 0.3, "s": 0.3}
"""What a chord that is no dominant seventh pays to be a dominant of something."""
