"""Read MusicXML (plain or compressed) into a ``WrittenLine``: one voice of one part, at sounding pitch.

Stages, each in a module of its own: bytes to a safe tree (``xml_tree``), one pass over the part for the facts of its
bars and a cured copy of its notes (``musicxml_bars``, with ``musicxml_marks``, ``musicxml_chords`` and
``musicxml_pitch``), music21 and the choice of a voice (``musicxml_notes``), and here the choice of the part, the
details (``musicxml_details``) and the assembly.

Kept: sounding pitch and spelling (``<transpose>``, also where it changes; pitches under octave clefs and octave
shifts are sounding ones in MusicXML already), durations with nested tuplets, ties, grace notes as ornaments, dead
notes (x, crossed and slash heads with stems, unpitched percussion), ghost notes (heads in parentheses), pickups and
split bars, written bar numbers, meters, keys, repeats, endings, jumps, signs to repeat bars, rehearsal marks, chord
symbols (on a page without any: words that read as such) and tempo. Marks that a score prints over its top part only
hold for every part, and so do its chord symbols. A short first bar, the only one, is the pickup whatever its number.

Lost, with a remark among the findings where it matters: other voices and the other notes of a chord; cue notes;
hidden notes; slashes without stems and slash regions; microtones (rounded); grace notes that no note follows
directly; repeat signs in the middle of a bar and signs to repeat a beat; tremolos (the notes they are written on are
kept); unusual key signatures; chord symbols in lyrics; all articulation, dynamics, slurs, ornaments by sign, lyrics,
fingering, playback settings and layout; tempo changes after the first. A meter or key that changes inside a bar
counts from the next one. A bar without meter is counted in quarters or eighths of its own length.
"""

from dataclasses import dataclass, replace
from typing import Final
from xml.etree.ElementTree import Element

from corpus.errors import ReadingError
from corpus.model import Details
from corpus.read.musicxml_bars import Page, PageBar, read_page
from corpus.read.musicxml_details import PartNames, part_names, read_details
from corpus.read.musicxml_notes import line_notes
from corpus.read.remarks import Remarks
from corpus.read.written import ReadingWishes, WrittenBar, WrittenChord, WrittenLine, WrittenNote, fill_details
from corpus.read.xml_tree import musicxml_root

_MOST_NAMES_LISTED: Final = 12
_MOST_STAVES: Final = 16


@dataclass(frozen=True, slots=True)
class _Choice:
    """A part, or one staff of a part with several, that can be asked for."""

    part: Element
    staff: int | None
    label: str
    instrument: str


def read_musicxml(data: bytes, name: str, wishes: ReadingWishes) -> WrittenLine:
    """Read one line of a MusicXML file.

    ``data`` is the whole file, ``name`` its name for messages; ``wishes.part`` picks a part by number (from 1) or
    name and must be given where there are several, ``wishes.voice`` the top or bottom voice. Raises ReadingError when
    the file cannot be read or the part is not settled. A line without notes is returned as it is.
    """
    root = musicxml_root(data, name)
    choices = _choices(root, name)
    choice = _chosen(choices, name, wishes.part)
    remarks = Remarks()
    page = read_page(choice.part, choice.staff, name, remarks, wished_key=wishes.details.key)
    page = _with_marks_of_other_parts(page, choice, choices, name, remarks)
    _take_chords_from_words(page, remarks)
    notes = line_notes(page.bars, wishes.voice, name, remarks)
    bars = tuple(_written_bar(bar, own) for bar, own in zip(page.bars, notes, strict=True))
    details, troubles = read_details(root, choice.instrument, page.tempo_bpm)
    for trouble in troubles:
        remarks.add(trouble)
    return WrittenLine(_all_details(details, bars, wishes.details), bars, remarks.findings())


def part_place(data: bytes, name: str, wish: str | None) -> int:
    """Which of a file's parts (and staves) a wish means, counted from 0. Raises ReadingError as ``read_musicxml``."""
    choices = _choices(musicxml_root(data, name), name)
    return choices.index(_chosen(choices, name, wish))


def _choices(root: Element, name: str) -> list[_Choice]:
    names = part_names(root)
    parts = [part for part in root.iterfind("part") if part.find("measure") is not None]
    if not parts:
        raise ReadingError(f"{name} is MusicXML without a single bar: export the score again, with its notes")
    if len(parts) == 1 and len(names) == 1:
        names = {parts[0].get("id", ""): next(iter(names.values()))}
    choices: list[_Choice] = []
    for number, part in enumerate(parts, start=1):
        known = names.get(part.get("id", ""), PartNames("", ""))
        label = known.name or f"Part {number}"
        staves = _staves(part)
        if staves == 1:
            choices.append(_Choice(part, None, label, known.instrument))
        else:
            choices += [
                _Choice(part, staff, f"{label} staff {staff}", known.instrument) for staff in range(1, staves + 1)
            ]
    return choices


def _staves(part: Element) -> int:
    texts = [(element.text or "").strip() for element in part.iterfind("measure/attributes/staves")]
    # Some programs write no <staves>, and only the notes say where they stand.
    texts = texts or [(element.text or "").strip() for element in part.iterfind("measure/note/staff")]
    numbers = [int(text) for text in texts if text.isascii() and text.isdecimal() and len(text) < 4]
    return min(max([1, *numbers]), _MOST_STAVES)


def _chosen(choices: list[_Choice], name: str, wish: str | None) -> _Choice:
    """The part that is asked for. Raises ReadingError, listing all, when none or several fit."""
    first = choices[:_MOST_NAMES_LISTED]
    listed = ", ".join(f"{number} {choice.label}" for number, choice in enumerate(first, start=1))
    if len(choices) > _MOST_NAMES_LISTED:
        listed += ", ..."
    parts = f"{len(choices)} part{'s' if len(choices) > 1 else ''} ({listed})"
    how = "choose one with --part NUMBER or --part NAME"
    if wish is None:
        if len(choices) == 1:
            return choices[0]
        raise ReadingError(f"{name} has {parts}: {how}")
    wanted = wish.strip().casefold()
    fitting = [choice for choice in choices if choice.label.casefold() == wanted]
    if not fitting and wanted.isascii() and wanted.isdecimal() and 1 <= int(wanted[:9]) <= len(choices):
        fitting = [choices[int(wanted[:9]) - 1]]
    if not fitting and wanted:
        fitting = [choice for choice in choices if choice.label.casefold().startswith(wanted)]
    if len(fitting) == 1:
        return fitting[0]
    trouble = f"{len(fitting)} parts named {wish!r}" if fitting else f"no part {wish!r}"
    raise ReadingError(f"{name} has {trouble} among its {parts}: {how}")


def _with_marks_of_other_parts(
    page: Page, choice: _Choice, choices: list[_Choice], name: str, remarks: Remarks
) -> Page:
    """Signs, tempo and, for a part without any, chord symbols from the other parts of the score."""
    tempo = page.tempo_bpm
    has_chords = any(bar.chords for bar in page.bars)
    seen = {id(choice.part)}
    for other in choices:
        if id(other.part) in seen:
            continue
        seen.add(id(other.part))
        theirs = read_page(other.part, other.staff, name, Remarks(), with_notes=False)
        tempo = tempo or theirs.tempo_bpm
        takes_chords = not has_chords and any(bar.chords for bar in theirs.bars)
        for mine, bar in zip(page.bars, theirs.bars, strict=False):
            mine.marks.fill_from(bar.marks)
            if takes_chords:
                mine.chords = bar.chords
        if takes_chords:
            has_chords = True
            remarks.add(f"the chord symbols are those of the part {other.label}")
    return Page(page.bars, tempo)


def _take_chords_from_words(page: Page, remarks: Remarks) -> None:
    """Words that read as chord symbols, on a page without any other: at least two, and not all of them bare letters."""
    words = [text for bar in page.bars for _, text in bar.words]
    if any(bar.chords for bar in page.bars) or len(words) < 2 or all(len(text) < 2 for text in words):
        return
    for bar in page.bars:
        bar.chords = bar.words
    remarks.add("the chord symbols are read from plain words on the page")


def _written_bar(bar: PageBar, notes: tuple[WrittenNote, ...]) -> WrittenBar:
    marks = bar.marks
    return WrittenBar(
        number=bar.number,
        meter=bar.meter,
        length_ticks=bar.length_ticks,
        notes=notes,
        chords=tuple(WrittenChord(min(offset, bar.length_ticks), symbol) for offset, symbol in _sorted_chords(bar)),
        section=marks.section,
        key=bar.key,
        is_pickup=bar.is_pickup,
        starts_repeat=marks.starts_repeat,
        times=marks.times,
        endings=marks.endings,
        starts_ending=marks.starts_ending,
        closes_ending=marks.closes_ending,
        segno=marks.segno,
        coda=marks.coda,
        fine=marks.fine,
        to_coda=marks.to_coda,
        jump=marks.jump,
        segno_name=marks.segno_name,
        segno_wanted=marks.segno_wanted,
        jump_with_repeats=marks.jump_with_repeats,
    )


def _sorted_chords(bar: PageBar) -> list[tuple[int, str]]:
    """The chords of a bar in order of time, those on one place in the order of the page."""
    return sorted(bar.chords, key=lambda chord: chord[0])


def _all_details(details: Details, bars: tuple[WrittenBar, ...], from_user: Details) -> Details:
    """The file's details with key and meter of the first bar that has them, and the user's where it is silent."""
    first_key = next((bar.key for bar in bars if bar.key is not None), None)
    return fill_details(replace(details, key=first_key, meter=bars[0].meter), from_user)
