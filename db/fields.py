"""Lines, notes and hits as plain dictionaries: what JSON, tables and notebooks hold.

The names in the dictionaries are a contract with scripts.
"""

from itertools import groupby
from typing import TYPE_CHECKING, Any

from corpus.model import TICKS_PER_QUARTER, Finding, Note, Transcription
from corpus.pitch import degree_name

if TYPE_CHECKING:
    from corpus.harmony.roles import NoteRole
    from corpus.harmony.spans import HarmonySpan
    from corpus.match.changes import Change
    from db.catalogue import Entry
    from db.search import Hit


def number(value: Any) -> int | float:
    """A fraction as a plain number: whole where it is whole, else rounded to six places."""
    return int(value) if value == int(value) else round(float(value), 6)


def entry_fields(entry: "Entry") -> dict[str, Any]:
    """A transcription as ``list --json`` tells it."""
    details = entry.details
    return {
        "transcription": entry.id,
        "title": details.title,
        "player": details.player or None,
        "collection": entry.collection or None,
        "source": entry.source,
        "notes": entry.note_count,
        "bars": entry.bar_count,
        "key": str(details.key) if details.key else None,
        "meter": str(details.meter) if details.meter else None,
    }


ENTRY_COLUMNS = ("transcription", "title", "player", "collection", "source", "notes", "bars", "key", "meter")


def finding_fields(finding: Finding) -> dict[str, Any]:
    """A finding as JSON tells it."""
    return {
        "kind": finding.kind,
        "bar": finding.bar,
        "beat": None if finding.beat is None else number(finding.beat),
        "pass": finding.pass_number,
        "text": finding.text,
    }


def note_fields(
    transcription: Transcription, index: int, span: "HarmonySpan | None" = None, role: "NoteRole | None" = None
) -> dict[str, Any]:
    """A note as ``show --json`` tells it; onset and duration in quarters.

    ``degree`` counts in the local key (the bar's where no chord tells one), ``chord_degree`` in the chord.
    """
    note: Note = transcription.notes[index]
    bar = transcription.bars[note.bar_index]
    key = span.key if span is not None and span.key is not None else bar.key
    return {
        "index": index,
        "bar": bar.number,
        "beat": number(bar.beat_at(note.onset_ticks)),
        "pass": bar.pass_number,
        "chorus": bar.chorus,
        "onset": round(note.onset_ticks / TICKS_PER_QUARTER, 6),
        "duration": round(note.duration_ticks / TICKS_PER_QUARTER, 6),
        "pitch": note.pitch,
        "spelling": note.spelling or None,
        "chord": None if span is None else span.symbol_text,
        "degree": degree_name(note.spelling, key) if key and note.spelling else None,
        "chord_degree": role.degree if role else None,
        "role": role.kind if role else None,
        "movement": role.movement if role else None,
        "numeral": None if span is None or span.numeral is None else str(span.numeral),
        "key": str(key) if key else None,
        "ghost": note.is_ghost,
        "dead": note.is_dead,
        "grace": [ornament.spelling for ornament in note.ornaments],
    }


def all_note_fields(transcription: Transcription) -> list[dict[str, Any]]:
    """Every note as ``show --json`` tells it."""
    from corpus.harmony.analysis import analyse
    from corpus.harmony.roles import roles_of

    analysis = analyse(transcription)
    roles = roles_of(transcription, analysis.spans)
    return [
        note_fields(transcription, index, analysis.span_at(note.onset_ticks), roles[index])
        for index, note in enumerate(transcription.notes)
    ]


NOTE_COLUMNS = (
    "index",
    "bar",
    "beat",
    "pass",
    "chorus",
    "onset",
    "duration",
    "pitch",
    "spelling",
    "chord",
    "degree",
    "chord_degree",
    "role",
    "movement",
    "numeral",
    "key",
    "ghost",
    "dead",
    "grace",
)


def transcription_fields(entry: "Entry", transcription: Transcription) -> dict[str, Any]:
    """A whole transcription as ``show --json`` tells it."""
    details = entry.details
    return {
        **entry_fields(entry),
        "instrument": details.instrument or None,
        "recording": details.recording or None,
        "year": details.year,
        "tempo": details.tempo_bpm,
        "form": str(details.form) if details.form else None,
        "bars": entry.bar_count,
        "sections": [
            {"label": section.label, **span_fields(transcription, section.onset_ticks, section.end_ticks)}
            for section in transcription.sections
        ],
        "chords": [
            {"symbol": chord.symbol, **span_fields(transcription, chord.onset_ticks, chord.end_ticks)}
            for chord in transcription.chords
        ],
        "findings": [finding_fields(finding) for finding in transcription.findings],
        "notes": all_note_fields(transcription),
    }


def span_fields(transcription: Transcription, onset_ticks: int, end_ticks: int) -> dict[str, Any]:
    """Where a stretch of time begins, and how long it lasts, in quarters."""
    bar = next(bar for bar in reversed(transcription.bars) if bar.onset_ticks <= onset_ticks)
    return {
        "bar": bar.number,
        "beat": number(bar.beat_at(onset_ticks)),
        "pass": bar.pass_number,
        "chorus": bar.chorus,
        "onset": round(onset_ticks / TICKS_PER_QUARTER, 6),
        "duration": round((end_ticks - onset_ticks) / TICKS_PER_QUARTER, 6),
    }


def chords_under(transcription: Transcription, first: int, last: int) -> list[str]:
    """The chord symbols under notes ``first`` to ``last``, in order, one that is only written again told once."""
    start, end = transcription.notes[first].onset_ticks, transcription.notes[last].end_ticks
    chords = transcription.chords_between(start, max(end, start + 1))
    return [symbol for symbol, _ in groupby(chord.symbol for chord in chords)]


def change_fields(change: "Change") -> dict[str, Any]:
    """A change as ``find --json`` tells it: see ``corpus.match.changes`` for what the numbers mean."""
    return {
        "kind": change.kind,
        "notes": list(change.notes),
        "amounts": list(change.amounts),
        "how": change.how or None,
        "words": change.words or None,
    }


def hit_fields(hit: "Hit") -> dict[str, Any]:
    """A hit as ``find --json`` tells it."""
    transcription, occurrence = hit.transcription, hit.occurrence
    first, last = occurrence.first, occurrence.last
    bar = transcription.bar_of(first)
    section = transcription.section_at(transcription.notes[first].onset_ticks)
    return {
        "transcription": hit.entry.id,
        "title": hit.entry.details.title,
        "player": hit.entry.details.player or None,
        "collection": hit.entry.collection or None,
        "source": hit.entry.source,
        "chorus": bar.chorus,
        "section": section.label if section else None,
        "bar": bar.number,
        "beat": number(transcription.beat_of(first)),
        "pass": bar.pass_number,
        "first": first,
        "last": last,
        "transposed": occurrence.transposed,
        "likeness": occurrence.likeness,
        "changes": [change.words for change in occurrence.changes if change.words],
        "edits": [change_fields(change) for change in occurrence.changes],
        "notes": [note.spelling for note in transcription.notes[first : last + 1]],
        "chords": chords_under(transcription, first, last),
    }


HIT_COLUMNS = (
    "transcription",
    "title",
    "player",
    "collection",
    "source",
    "chorus",
    "section",
    "bar",
    "beat",
    "pass",
    "first",
    "last",
    "transposed",
    "likeness",
    "changes",
    "notes",
    "chords",
)
