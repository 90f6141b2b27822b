"""How often the chord that notes spell is the analyst's: bass and soprano of chorales, and lines made from chords.

*Chorales*: Bach chorales of which music21 ships both score and RomanText analysis, without three of which the score
stands in another key or has other bars than the analysis (half or more of their notes lie outside the analyst's
chords, about a tenth in the others); bass and soprano alone, two of four voices. The first of each pair of files was
looked at while weights were set, the second was held out.
*Made lines*: bars of four quarters from known chords with a known number of notes that do not belong to them.

An answer is right when root and third are the analyst's (major or minor; diminished counts as minor). Beside it stands
plain template matching: durations summed over pitch classes, the nearest by cosine of ``mir_eval``'s templates for
chord qualities in Harte's spelling. Both see the same notes. Ours is also told where it would answer (probability of
root and third at least ``THRESHOLD``), and by the number of different pitch classes that there were to judge by.
"""

import random
import warnings
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from corpus.harmony.evidence import weigh
from corpus.harmony.spelled import QUALITIES, Heard, Spelled, spell
from corpus.model import TICKS_PER_QUARTER, Bar, Details, Meter, Note, Transcription
from corpus.pitch import default_spelling
from tests.bench.analyses import files

THRESHOLD: Final = 0.7
NOT_TOGETHER: Final = ("riemenschneider011", "riemenschneider014", "riemenschneider017")
HARTE: Final = ("maj", "min", "7", "maj7", "min7", "maj6", "min6", "dim", "hdim7", "dim7", "aug")


@dataclass(frozen=True)
class Case:
    """Notes to judge, each as pitch class and length in quarters, as evidence, and the right root and third."""

    notes: tuple[tuple[int, float], ...]
    heard: tuple[Heard, ...]
    root: int
    is_minor: bool

    @property
    def classes(self) -> int:
        """Different pitch classes among the notes."""
        return len({pitch_class for pitch_class, _ in self.notes})


def by_root_and_third(chords: Sequence[Spelled]) -> list[tuple[float, int, bool]]:
    """Probability, root and third, qualities of one third added up, the likeliest first."""
    sums: dict[tuple[int, bool], float] = defaultdict(float)
    for chord in chords:
        sums[chord.root, chord.has_minor_third] += chord.probability
    return sorted(((p, root, minor) for (root, minor), p in sums.items()), reverse=True)


def template_answer(notes: Iterable[tuple[int, float]]) -> tuple[int, bool]:
    """Plain template matching with the bitmaps of ``mir_eval``."""
    import numpy as np
    from mir_eval import chord as harte

    chroma = np.zeros(12)
    for pitch_class, length in notes:
        chroma[pitch_class] += length
    best = (-1.0, 0, False)
    for quality in HARTE:
        bitmap = harte.quality_to_bitmap(quality)
        for root in range(12):
            template = np.roll(bitmap, root)
            fit = float(chroma @ template / np.linalg.norm(template))
            best = max(best, (fit, -root, bool(bitmap[3])), key=lambda item: item[0])
    return -best[1], best[2]


def chorale_cases(half: int) -> list[Case]:
    """Chords of the chorales, of every other file."""
    from music21 import converter, roman
    from music21 import corpus as scores

    found: list[Case] = []
    together = [file for file in files("Bach chorales") if file.stem not in NOT_TOGETHER]
    for file in together[half::2]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            number = int(file.stem.removeprefix("riemenschneider"))
            score: Any = next(scores.chorales.Iterator(number, number, numberingSystem="riemenschneider"))
            parsed: Any = converter.parse(str(file), format="romantext")
            chords = list(parsed.flatten().getElementsByClass(roman.RomanNumeral))
            voices = [_voice(score.parts[-1]), _voice(score.parts[0])]
        for index, chord in enumerate(chords[:-1]):
            case = _case(voices, float(chord.offset), float(chords[index + 1].offset), chord)
            found += [case] if case else []
    return found


def _voice(part: Any) -> Transcription:
    notes = [n for n in part.stripTies().flatten().notes if n.isNote]
    length = 4 * TICKS_PER_QUARTER
    found = tuple(
        Note(
            _ticks(n.offset), _ticks(n.quarterLength), n.pitch.midi, n.pitch.nameWithOctave, _ticks(n.offset) // length
        )
        for n in notes
    )
    count = 1 + max(note.end_ticks for note in found) // length
    bars = tuple(Bar(i + 1, 1, i * length, length, 0, Meter(4, 4)) for i in range(count))
    return Transcription(Details(), found, bars)


def _ticks(quarters: float) -> int:
    return round(float(quarters) * TICKS_PER_QUARTER)


def _case(voices: Sequence[Transcription], start: float, stop: float, chord: Any) -> Case | None:
    begin, end = _ticks(start), _ticks(stop)
    third = chord.semitonesFromChordStep(3)
    if end <= begin or third is None:
        return None
    notes: list[tuple[int, float]] = []
    heard: list[Heard] = []
    for number, voice in enumerate(voices):
        inside = [i for i, note in enumerate(voice.notes) if begin <= note.onset_ticks < end]
        held = next((n for n in voice.notes if n.onset_ticks < begin < n.end_ticks), None)
        if held is not None and held.pitch is not None:
            heard.append(Heard(held.pitch % 12, 1.0))
            notes.append((held.pitch % 12, (min(held.end_ticks, end) - begin) / TICKS_PER_QUARTER))
        if inside:
            heard += weigh(voice, inside[0], inside[-1], begin, root_place=number == 0)
        notes += [((voice.notes[i].pitch or 0) % 12, voice.notes[i].duration_ticks / TICKS_PER_QUARTER) for i in inside]
    return Case(tuple(notes), tuple(heard), chord.root().pitchClass, third == 3) if notes else None


def made_cases(foreign: int, count: int = 1500, seed: int = 20) -> list[Case]:
    """Bars of four quarters over known chords: chord tones, ``foreign`` of them passing, neighbour or leading notes.

    The first note is the root in half of the bars, as in the seed lines (46 %), else another chord tone.
    """
    source = random.Random(seed + foreign)
    found = []
    for _ in range(count):
        suffix = source.choice(["", "m", "7", "m7", "maj7", "m7b5", "dim7", "6"])
        root, tones = source.randrange(12), QUALITIES[suffix][0]
        ladder = sorted(36 + root + 12 * octave + tone for octave in (0, 1) for tone in tones)
        start = source.choice([0, len(tones)]) if source.random() < 0.5 else source.randrange(1, len(ladder))
        places = [start]
        while len(places) < 4:
            step = source.choice([-2, -1, -1, 1, 1, 2])
            if 0 <= places[-1] + step < len(ladder):
                places.append(places[-1] + step)
        pitches = [ladder[place] for place in places]
        following = 36 + source.randrange(24)
        for place in source.sample([1, 3], min(foreign, 2)):
            after = pitches[place + 1] if place == 1 else following
            pitches[place] = after + source.choice([-1, 1] if place == 3 else [-2, -1, 1, 2])
        found.append(_made_case([*pitches, following], root, 3 in tones))
    return found


def _made_case(pitches: Sequence[int], root: int, is_minor: bool) -> Case:
    notes = tuple(
        Note(i * TICKS_PER_QUARTER, TICKS_PER_QUARTER, pitch, default_spelling(pitch), i // 4)
        for i, pitch in enumerate(pitches)
    )
    length = 4 * TICKS_PER_QUARTER
    bars = tuple(Bar(i + 1, 1, i * length, length, 0, Meter(4, 4)) for i in range(2))
    line = Transcription(Details(), notes, bars)
    return Case(tuple((p % 12, 1.0) for p in pitches[:4]), tuple(weigh(line, 0, 3, 0, root_place=True)), root, is_minor)


@dataclass
class Tally:
    """Counts of right answers among some cases."""

    cases: int = 0
    ours: int = 0
    templates: int = 0
    told: int = 0
    told_right: int = 0
    templates_where_told: int = 0


def judge(cases: Sequence[Case]) -> dict[str, Tally]:
    """Tallies of all cases and by the number of pitch classes."""
    found: dict[str, Tally] = defaultdict(Tally)
    for case in cases:
        probability, root, minor = by_root_and_third(spell(case.heard))[0]
        right, theirs = (root, minor) == (case.root, case.is_minor), template_answer(case.notes)
        for name in ("all", f"{min(case.classes, 5)}{' or more' if case.classes >= 5 else ''} pitch classes"):
            tally = found[name]
            tally.cases += 1
            tally.ours += right
            tally.templates += theirs == (case.root, case.is_minor)
            if probability >= THRESHOLD:
                tally.told += 1
                tally.told_right += right
                tally.templates_where_told += theirs == (case.root, case.is_minor)
    return dict(found)


def report() -> list[str]:
    """A line for each set of cases and amount of evidence."""
    lines = []
    sets = {"chorales, tuned half": chorale_cases(0), "chorales, held out": chorale_cases(1)}
    sets |= {f"made lines, {foreign} foreign notes in 4": made_cases(foreign) for foreign in (0, 1, 2)}
    for name, cases in sets.items():
        for evidence, tally in sorted(judge(cases).items(), reverse=True):
            told = (
                f"; answers {tally.told / tally.cases:.0%}: right {tally.told_right / tally.told:.1%}, "
                f"templates there {tally.templates_where_told / tally.told:.1%}"
                if tally.told
                else "; never answers"
            )
            lines.append(
                f"{name}, {evidence} (n={tally.cases}): right {tally.ours / tally.cases:.1%}, "
                f"templates {tally.templates / tally.cases:.1%}{told}"
            )
    return lines
