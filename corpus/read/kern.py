"""The Humdrum reader: one ``**kern`` spine of a piece, with the chords of a chord spine, becomes a written line.

Stages: ``kern_text`` cuts files into pieces, lines and columns; ``kern_notes`` reads a token; ``kern_chords`` and
``kern_numerals`` find the chord spine and spell its symbols; ``kern_bars`` counts time and bars; here the spine is
chosen, voices become one line, labels become sections and an order of play.

Kept: pitch and spelling, durations with tuplets and dots, ties, grace notes as ornaments, rhythm without pitch (``R``)
as dead notes, pickups, bar numbers, meters, keys, repeat signs, labels (``*>A``) as sections, the expansion list
(``*>[A,A,B]``) as the order of play, numbered labels (``*>A1`` after ``*>A``) as first and second endings, the signs
``*segno *coda *tocoda *fine *dacapo *dalsegno``, chord spines, tempo (``*MM``), and from the header title (``OTL``),
player (``MPN``), recording (``RTL``), year (``MRD``, else ``RRD``) and ``wellworn-form``.

Lost, with a remark among the findings where it matters: other spines; other voices where a spine splits and the other
notes of a chord; hidden notes (``yy``); grace notes that no note follows directly; the transposition for reading
(``*ITr``: pitches are sounding ones); the named expansion lists (``*>norep[…]``); meters or keys that change inside a
bar count from the next one; ghost notes (round brackets are slurs); articulation, slurs, beams, dynamics, lyrics,
figured bass, layout, tempo changes after the first; fonts of heads.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from corpus.errors import QueryError, ReadingError
from corpus.form import parse_form
from corpus.model import TICKS_PER_QUARTER, Details, Ornament
from corpus.read.kern_bars import ChordSource, Head, Numbered, PageReader, numbered, tick
from corpus.read.kern_chords import chord_spine, minus_is_minor
from corpus.read.kern_labels import labelled, order_of_labels
from corpus.read.kern_notes import KernNote
from corpus.read.kern_text import KernPiece, lines_of, records, split_pieces
from corpus.read.remarks import Remarks
from corpus.read.written import ReadingWishes, Voice, WrittenBar, WrittenChord, WrittenLine, WrittenNote, fill_details
from corpus.text import clean_text

__all__ = ["KernPiece", "read_kern", "split_pieces"]

_MOST_NAMES_LISTED: Final = 12


@dataclass(slots=True)
class _Spine:
    """What a first look at a spine finds: its kind, the instrument's name, and its tokens where they are no notes."""

    kind: str
    name: str = ""
    tokens: list[str] = field(default_factory=list)


def read_kern(piece: KernPiece, wishes: ReadingWishes) -> WrittenLine:
    """Read one line of a piece.

    ``wishes.part`` picks a ``**kern`` spine by number, counted from the left, or by its instrument's name, and must
    be given where there are several; ``wishes.voice`` says which note counts where a spine has several at once.
    Raises ReadingError, naming the line of the file, for tokens that make no sense, and when the spine is not
    settled. A line without notes is returned as it is.
    """
    spines = _spines(piece)
    chosen = _chosen(spines, piece.place, wishes.part)
    remarks = Remarks()
    reader = PageReader(piece.place, chosen, _chord_source(spines, chosen), remarks, wishes.details.key)
    page = reader.read(lines_of(piece))
    bars = numbered(page.bars, remarks)
    notes = _line_notes(bars, wishes.voice, remarks)
    written = [_written_bar(bar, own, remarks) for bar, own in zip(bars, notes, strict=True)]
    labels = [bar.bar.label for bar in bars]
    if page.order and any(labels):
        written = order_of_labels(written, labels, page.order, remarks)
    else:
        written = labelled(written, labels)
    details = replace(_details(records(piece), spines[chosen].name, remarks), tempo_bpm=page.tempo_bpm)
    if written:
        first_key = next((bar.key for bar in written if bar.key is not None), None)
        details = replace(details, key=first_key, meter=written[0].meter)
    return WrittenLine(fill_details(details, wishes.details), tuple(written), remarks.findings())


def spine_place(piece: KernPiece, wish: str | None) -> int:
    """Which column a wish for a part means. Raises ReadingError as ``read_kern``."""
    return _chosen(_spines(piece), piece.place, wish)


def _spines(piece: KernPiece) -> list[_Spine]:
    """A first walk over the piece: all spines, with their names and texts."""
    found: list[_Spine] = []
    for line in lines_of(piece):
        for column, token in line.cells:
            while len(found) <= column.spine:
                found.append(_Spine(""))
            spine = found[column.spine]
            spine.kind = spine.kind or column.kind
            if token.startswith('*I"') and not spine.name:
                spine.name = clean_text(token[3:].rstrip('"'))
            elif spine.kind not in ("kern", "recip") and not token.startswith(("*", "=")) and token not in (".", ""):
                spine.tokens.append(token)
    return found


def _chosen(spines: Sequence[_Spine], place: str, wish: str | None) -> int:
    """The spine that is asked for, or the only one. Raises ReadingError, listing all, when none or several fit."""
    kern = [number for number, spine in enumerate(spines) if spine.kind == "kern"]
    if not kern:
        raise ReadingError(f"{place} has no **kern spine: there are no notes to read")
    names = [spines[number].name for number in kern]
    listed = ", ".join(f"{n} {name}".strip() for n, name in enumerate(names[:_MOST_NAMES_LISTED], start=1))
    parts = f"{len(kern)} **kern spine{'s' if len(kern) > 1 else ''} from the left ({listed})"
    how = "choose one with --part NUMBER or --part NAME"
    if wish is None:
        if len(kern) == 1:
            return kern[0]
        raise ReadingError(f"{place} has {parts}: {how}")
    wanted = wish.strip().casefold()
    fitting = [number for number, name in zip(kern, names, strict=True) if name.casefold() == wanted]
    if not fitting and wanted.isascii() and wanted.isdecimal() and 1 <= int(wanted[:9]) <= len(kern):
        fitting = [kern[int(wanted[:9]) - 1]]
    if not fitting and wanted:
        fitting = [number for number, name in zip(kern, names, strict=True) if name.casefold().startswith(wanted)]
    if len(fitting) == 1:
        return fitting[0]
    trouble = f"{len(fitting)} spines named {wish[:40]!r}" if fitting else f"no spine {wish[:40]!r}"
    raise ReadingError(f"{place} has {trouble} among its {parts}: {how}")


def _chord_source(spines: Sequence[_Spine], chosen: int) -> ChordSource | None:
    tokens = {number: spine.tokens for number, spine in enumerate(spines)}
    spine = chord_spine([one.kind for one in spines], tokens, chosen)
    if spine is None:
        return None
    kind = spines[spine].kind
    return ChordSource(spine, kind, minus_is_minor(kind, spines[spine].tokens))


# -- notes -------------------------------------------------------------------------------------------------------------


def _line_notes(bars: Sequence[Numbered], voice: Voice, remarks: Remarks) -> list[tuple[WrittenNote, ...]]:
    """One note at a time, bar by bar, with the grace notes before each."""
    ranks = _ranks(bars, voice)
    result: list[tuple[WrittenNote, ...]] = []
    waiting: list[Ornament] = []
    waits_at = Fraction(0)
    for bar in bars:
        notes: list[WrittenNote] = []
        for head in _one_voice(bar, ranks, voice, remarks):
            if waiting and waits_at != head.offset:
                remarks.add("grace notes that no note follows directly are left out", bar.number)
                waiting = []
            note = _one_note(head, voice, bar.number, remarks)
            if note.is_grace:
                if note.pitch is not None:
                    waiting.append(Ornament(note.pitch.pitch or 0, str(note.pitch)))
                    waits_at = head.offset
                continue
            _append(notes, head, note, tuple(waiting), bar, remarks)
            waiting = []
        waits_at -= bar.bar.length
        result.append(tuple(notes))
    if waiting:
        remarks.add("grace notes that no note follows directly are left out", bars[-1].number)
    return result


def _ranks(bars: Sequence[Numbered], voice: Voice) -> dict[int, float]:
    """For each voice its mean pitch over the piece, the best voice with the lowest value."""
    pitches: dict[int, list[int]] = defaultdict(list)
    for bar in bars:
        for head in bar.bar.heads:
            pitches[head.voice] += [note.pitch.pitch or 0 for note in head.token.notes if note.pitch is not None]
    sign = -1 if voice == "top" else 1
    return {key: sign * sum(found) / len(found) for key, found in pitches.items() if found}


def _one_voice(bar: Numbered, ranks: dict[int, float], voice: Voice, remarks: Remarks) -> list[Head]:
    """The heads of the best voice of a bar, and those that stand where the spine is not split, in order of time."""
    shared = {head.voice for head in bar.bar.heads if not head.is_alone and head.quarters}
    if len(shared) > 1:
        remarks.add(f"several voices: the {voice} one is taken", bar.number)
    best = min(shared, key=lambda key: (ranks.get(key, float("inf")), key), default=0)
    heads = [head for head in bar.bar.heads if head.is_alone or head.voice == best]
    return sorted(heads, key=lambda head: head.offset)


def _one_note(head: Head, voice: Voice, bar: int, remarks: Remarks) -> KernNote:
    notes = head.token.notes
    if len(notes) > 1 and not notes[0].is_grace:
        remarks.add(f"chords: the {voice} note is taken", bar)
    pitched = [note for note in notes if note.pitch is not None]
    if not pitched:
        return notes[0]
    choose = max if voice == "top" else min
    return choose(pitched, key=lambda note: (note.pitch.pitch or 0) if note.pitch is not None else 0)


def _append(
    notes: list[WrittenNote],
    head: Head,
    note: KernNote,
    ornaments: tuple[Ornament, ...],
    bar: Numbered,
    remarks: Remarks,
) -> None:
    start = tick(head.offset, remarks, bar.number)
    end = tick(head.offset + head.quarters, remarks, bar.number)
    if notes and notes[-1].offset_ticks + notes[-1].duration_ticks > start:
        remarks.add("a note lasts into the next one of its voice: cut short", bar.number)
        notes[-1] = replace(notes[-1], duration_ticks=start - notes[-1].offset_ticks)
        if notes[-1].duration_ticks <= 0:
            notes.pop()
    if end > start:
        pitch = note.pitch.pitch if note.pitch is not None else None
        spelling = str(note.pitch) if note.pitch is not None else ""
        notes.append(WrittenNote(start, end - start, pitch, spelling, note.is_tied, ornaments=ornaments))


def _written_bar(bar: Numbered, notes: tuple[WrittenNote, ...], remarks: Remarks) -> WrittenBar:
    signs = bar.bar.signs
    jump = next((name for name in ("da capo", "dal segno") if name in signs), None)
    return WrittenBar(
        number=bar.number,
        meter=bar.meter,
        length_ticks=bar.length_ticks,
        notes=notes,
        chords=tuple(WrittenChord(round(at * TICKS_PER_QUARTER), symbol) for at, symbol in bar.bar.chords),
        key=bar.bar.key,
        is_pickup=bar.is_pickup,
        starts_repeat=bar.bar.starts_repeat,
        times=2 if bar.bar.ends_repeat else 0,
        segno="segno" in signs,
        coda="coda" in signs,
        fine="fine" in signs,
        to_coda="to coda" in signs,
        jump=jump,
    )


def _details(said: dict[str, str], instrument: str, remarks: Remarks) -> Details:
    years = re.findall(r"(?<!\d)[12]\d{3}(?!\d)", said.get("MRD", "") or said.get("RRD", ""))
    form = None
    if said.get("wellworn-form"):
        try:
            form = parse_form(said["wellworn-form"])
        except QueryError as error:
            remarks.add(f"the form is left out: {error}")
    return Details(
        title=said.get("OTL", ""),
        player=said.get("MPN", ""),
        instrument=instrument,
        recording=said.get("RTL", ""),
        year=int(years[0]) if years else None,
        form=form,
    )
