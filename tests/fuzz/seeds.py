"""The good inputs that altered ones are made from: small files of every format, and typed questions."""

import importlib
import importlib.util
from datetime import date
from pathlib import Path

from corpus.shelf.file import write_shelf
from corpus.shelf.kept import KeptChord, KeptFigure, KeptNote, KeptSource

HABITS = Path(__file__).parents[1] / "corpus" / "read" / "habits"

ABC = (
    """%abc-2.1
X:1
T:Harbour Steps
%%wellworn-player Orlo Quist
%%wellworn-form A4
Q:1/4=160
M:4/4
L:1/4
K:Bb clef=bass transpose=-12
P:A
"Bb6"B,, D, E, =E, |: "F7"F, A,, C, E, |1 "Bb6"D, F, _A, G, :|2 "Eb7"_G, F, E, D, |
P:B
"Bb6"(3B,D/E =E > F | {/CD}"F7"F C- C A, | !segno!"Bb6"B,,/B,,/ z2 !D.S.! | "F7"[F,4C4] |]
""",
    """X:2
T:Paper Boats
P:ABA
M:3/4
L:1/8
K:Dm
V:1 name="Horn"
V:2
P:A
[V:1] "Dm"D2 F2 G2 | "^slow"^G2 A2 c2 & z6 | [K:G] d6 |
P:B
[V:1] (5abcde (3:2:4fga2 b | !coda!!style=x!g2 !fine!z4 |[M:2/4] "A7b9/C#"c4-|c4 !D.C.!|]
w: la la la
""",
    "X:3\nM:none\nL:1/16\nK:none\n^a_b=c' D,, z4 x y | A16 Z2 |\n\nX:4\nK:C\nCDEF|GABc:|\n",
)
CHARTS = (
    """title: Lamplighter's Round
key: Bb
meter: 4/4

# a comment
[A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |
    | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 | x2
[B] | D7 | % | G7 | % |
    |: C7 | F7 . . F7alt :| x2
[A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |
    | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 |
""",
    """key: C minor
meter: 3/4
| Cm(maj7) / Ab7 | Dm7b5 G7(b9,#11)/B |
meter: 4/4
|: "rubato" . N.C. . | % :|
[coda] Cm6/9 || (x2)
""",
)
QUESTIONS = (
    "Bb2 D3 F3 A3",
    "+2 +2 -1 -12",
    "u d r u u d",
    "1 b3 5 ct st out approach",
    "1 2 b3 #4 5 b7 8",
    "ii V I",
    "ii-V/ii V7/V subV I6",
    "iim7b5 V7 i | bVII7",
    "1:3-2:2",
    "17-20",
    "all",
    "5:2.5-8:1(2)",
    "chorus 2",
    "A8 A8 B8 A8",
    "12",
    "Bb major",
    "c minor",
    "C7(b9,#11)/E",
    "F#m7b5",
    "Ebmaj9#11",
    "4/4",
    "chromatic",
    "fourths",
    "60-180:10",
    "E1-G4",
    "double bass",
)


def texts_of(module: str, longest: int) -> list[str]:
    """The texts that one of music21's test modules holds, none longer than so many characters."""
    values = vars(importlib.import_module(module)).values()
    return [
        text for text in values if isinstance(text, str) and 100 < len(text) < longest and "<" + "module" not in text
    ]


def folder_of(package: str) -> Path:
    """The folder of an installed package, without importing it."""
    spec = importlib.util.find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent


def abc_texts() -> list[str]:
    """Own tunes, and short ones that music21 ships."""
    return [*ABC, *(text for text in texts_of("music21.abcFormat.testFiles", 900) if "K:" in text)]


def kern_texts() -> list[str]:
    """Own Humdrum files, and short ones that music21 ships."""
    own = [path.read_text() for path in sorted(HABITS.glob("*.krn"))]
    return [*own, *(text for text in texts_of("music21.humdrum.testFiles", 1_200) if "**kern" in text)]


def musicxml_files() -> list[bytes]:
    """Own MusicXML files, and the small ones of the test suite that music21 ships."""
    own = [path.read_bytes() for path in sorted(HABITS.glob("*.musicxml")) if path.stem != "wide_letters"]
    suite = sorted((folder_of("music21") / "musicxml" / "lilypondTestSuite").glob("*.xml"))
    return [*own, *(path.read_bytes() for path in suite if path.stat().st_size < 5_000)]


def midi_files() -> list[bytes]:
    """The small MIDI files that music21 ships."""
    files = sorted((folder_of("music21") / "midi" / "testPrimitive").glob("*.mid"))
    return [path.read_bytes() for path in files if path.stat().st_size < 4_000]


def shelf_files() -> list[bytes]:
    """A shelf of two figures, with everything that a figure can have."""
    notes = (KeptNote("Bb2", 0, 10080), KeptNote("C3", 10080, 5040), KeptNote("D3", 15120, 10080))
    chords = (KeptChord("Bb7", "V", "Eb major", 0),)
    place = KeptSource("Harbour Steps", "Orlo Quist", "seed", ("Bb2", "C3", "D3"), 1, 0, 2)
    full = KeptFigure(
        "rise", notes, tags=("blues", "ii-V"), comment="slowly", family="a", sources=(place,), chords=chords
    )
    return [write_shelf([full, KeptFigure("plain", notes)]), write_shelf([KeptFigure("one", notes[:2])], True)]


LATEST = date(2100, 1, 1)
