"""Changes in a musician's words."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from corpus.match.changes import Change
from corpus.model import Note, Transcription
from corpus.pitch import interval_name, parse_spelling

_ORDINALS: Final = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth",
)  # fmt: skip
_DEGREES: Final = ("root", "second", "third", "fourth", "fifth", "sixth", "seventh")
_TENSIONS: Final = ("root", "ninth", "third", "eleventh", "fifth", "thirteenth", "seventh")
_ORNAMENTS: Final = {
    "doubled": "repeat",
    "octave_skip": "octave skip",
    "passing": "passing note",
    "neighbour": "neighbour note",
    "enclosure": "note of an enclosure",
    "approach": "approach note",
    "added": "note",
}
_TIMES: Final = {1: "once", 2: "twice", 3: "three times", 4: "four times"}
_COUNTS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def ordinal(number: int) -> str:
    """``first`` to ``twelfth``, then ``note 13``'s number alone."""
    return _ORDINALS[number - 1] if number <= len(_ORDINALS) else f"{number}th"


def note_name(number: int) -> str:
    """A note of the figure: ``second note``, ``note 13``."""
    return f"{ordinal(number)} note" if number <= len(_ORDINALS) else f"note {number}"


def _count(number: int) -> str:
    return _COUNTS[number] if number < len(_COUNTS) else str(number)


def listed(texts: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


def _notes(numbers: Sequence[int]) -> str:
    """Notes of the figure: ``second note``, ``second and fifth note``, ``notes 2 to 6``."""
    if len(numbers) == 1:
        return note_name(numbers[0])
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"notes {numbers[0]} to {numbers[-1]}"
    if numbers[-1] > len(_ORDINALS):
        return f"notes {listed([str(number) for number in numbers])}"
    return f"{listed([ordinal(number) for number in numbers])} note"


def cut(count: int, is_start: bool) -> str:
    """Notes missing at an end."""
    notes = f"{_count(count)} notes" if count > 1 else "note"
    return f"cut short: the {'first' if is_start else 'last'} {notes} missing"


def extended(names: Sequence[str], is_start: bool) -> str:
    """Notes more at an end."""
    return f"extended at the {'beginning' if is_start else 'end'}: {' '.join(names)}"


def left_out(numbers: Sequence[int], kind: str) -> str:
    """A note missing inside."""
    what = "" if kind == "added" else f" ({_ORNAMENTS[kind]})"
    return f"{_notes(numbers)} left out{what}"


def octave(numbers: Sequence[int], octaves: int, is_from_start: bool, is_to_end: bool) -> str:
    """Notes in another octave than the rest."""
    distance = "an octave" if abs(octaves) == 1 else f"{_count(abs(octaves))} octaves"
    where = f"{distance} {'higher' if octaves > 0 else 'lower'}"
    if is_to_end and len(numbers) > 1 and not is_from_start:
        return f"from the {note_name(numbers[0])} on {where}"
    if is_from_start and len(numbers) > 1:
        return f"first {_count(len(numbers))} notes {where}"
    return f"{_notes(numbers)} {where}"


def altered(numbers: Sequence[int], semitones: int, degree: str) -> str:
    """A note on its letter raised or lowered; named by its degree in the chord where there is one."""
    far = "" if abs(semitones) == 1 else f" by {_count(abs(semitones))} half-steps"
    way = "raised" if semitones > 0 else "lowered"
    if degree:
        return f"{degree} {way}{far} ({'note ' + str(numbers[0])})"
    return f"{_notes(numbers)} {way}{far or ' by a half-step'}"


def with_mode(changes: Sequence[Change]) -> list[Change]:
    """Several notes altered on their letters, and nothing replaced, are the same shape in another mode."""
    ways = {change.amounts[0] > 0 for change in changes}
    if len(changes) < 2 or len(ways) > 1 or any(change.kind != "altered" for change in changes):
        return list(changes)
    text = f"same shape in the other mode: {listed([change.words for change in changes])}"
    return [replace(changes[0], words=text), *(replace(change, words="") for change in changes[1:])]


def replaced(numbers: Sequence[int], away: int, is_last: bool, unit: str, note: Note) -> str:
    """Another note in the place of one."""
    way = "higher" if away > 0 else "lower"
    if unit == "letters":
        far = f"{abs(away)} letter{'s' if abs(away) > 1 else ''}"
    else:
        name = interval_name(away)
        far = {1: "a half-step", 2: "a whole step"}.get(abs(away)) or (name if name.startswith("an ") else f"a {name}")
    if is_last:
        return f"last note resolved differently: {note.spelling}, {far} {way}"
    return f"{_notes(numbers)} replaced by {note.spelling}, {far} {way}"


def other_symbol(alphabet: str, numbers: Sequence[int], note: Note) -> str:
    """A note that is none of those asked for by degree, kind or contour."""
    if alphabet == "contour":
        return f"goes another way into the {note_name(numbers[0])} ({note.spelling})"
    return f"{_notes(numbers)} replaced by {note.spelling}"


def repeats(changed: Sequence[tuple[Sequence[int], int]], size: int) -> list[str]:
    """Notes struck again more or less often: their numbers, and how often they are played; a text for each.

    ``size`` is how many different notes there are in all.
    """
    many = {Fraction(times, len(numbers)) for numbers, times in changed}
    if len(changed) == size and len(many) == 1 and min(many) in (2, 3, 4):
        how = "doubled" if many == {2} else f"played {_TIMES[int(min(many))]}"
        return [f"every note {how}", *[""] * (size - 1)]
    return [_repeat(numbers, times) for numbers, times in changed]


def _repeat(numbers: Sequence[int], times: int) -> str:
    name, often = note_name(numbers[0]), _TIMES.get(times, f"{times} times")
    if times > len(numbers):
        return f"{name} doubled" if times == 2 * len(numbers) else f"{name} played {often}"
    return f"{name} not repeated" if times == 1 else f"{name} played only {often}"


def added(kinds: Sequence[str], names: Sequence[str], after: int) -> str:
    """Notes added after a note of the figure; one struck again is told by its name alone."""
    told = [kind for kind in kinds if kind != "doubled"] or ["doubled"]
    leads = set(told) <= {"enclosure", "approach"}
    if set(told) == {"enclosure"}:
        what = "enclosure" if len(told) > 1 else "note of an enclosure"
    elif len(set(told)) == 1:
        what = _ORNAMENTS[told[0]] if len(told) == 1 else f"{_count(len(told))} {_ORNAMENTS[told[0]]}s"
    else:
        what = listed([_ORNAMENTS[kind] for kind in told])
    where = f"before the {note_name(after + 1)}" if leads else f"after the {note_name(after)}"
    return f"{what} added {where} ({' '.join(names)})"


def stretched(pace: Fraction) -> str:
    """Another pace."""
    if pace == 2:
        return "stretched to twice the time"
    if pace == Fraction(1, 2):
        return "pressed into half the time"
    if pace.denominator == 1:
        return f"stretched to {_count(int(pace))} times the time"
    return f"{'stretched' if pace > 1 else 'pressed'} to {pace} of the time"


def shifted(beats: Fraction) -> str:
    """Another place in the bar."""
    size = abs(beats)
    if size == 1:
        far = "a beat"
    elif size == Fraction(1, 2):
        far = "half a beat"
    elif size.denominator == 1:
        far = f"{_count(int(size))} beats"
    else:
        far = f"{float(size):.3g} beats"
    return f"shifted: starts {far} {'late' if beats > 0 else 'early'}"


def rhythm(uneven: Sequence[int]) -> str:
    """Notes of another length; empty where the lengths are those expected."""
    return f"other rhythm at the {_notes(uneven)}" if uneven else ""


def degree_of(line: Transcription, note: int) -> str:
    """The degree of a note in the chord under it by its letter, as it is told when the note is raised or lowered.

    ``third``, ``ninth`` …: above a seventh the second, fourth and sixth are the ninth, eleventh and
    thirteenth. Empty without chord, and for a root, which is none any more when it is raised or lowered.
    """
    chord = line.chord_at(line.notes[note].onset_ticks)
    if chord is None:
        return ""
    from corpus.harmony.symbols import read_symbol

    symbol = read_symbol(chord.symbol)
    if symbol is None or symbol.root is None:
        return ""
    letter = (parse_spelling(line.notes[note].spelling).letter - symbol.root.letter) % 7
    is_full = any(tone >= 10 for tone in symbol.tones)
    return "" if letter == 0 else (_TENSIONS if is_full else _DEGREES)[letter]
