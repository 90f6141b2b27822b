"""Dull bars, and what could stand there: for people, as JSON, and as files with the line."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.model import Note, Transcription
    from corpus.profile.sentences import Side
    from corpus.suggest.replace import Alternative, Joint
    from db.dull import DullPlace, DullPlaces


def print_dull(dull: "DullPlaces | None", side: "Side") -> None:
    """Each dull bar with its notes and why, and under it the figures with their place, notes and joints."""
    from cli.output import plain, say, tell, wrapped

    if dull is None:
        return
    if dull.places:
        say()
        more = dull.count - len(dull.places)
        others = f" ({more} more like {'these' if len(dull.places) > 1 else 'it'})" if more > 0 else ""
        say(f"Dull bars, and what could stand there{others}:")
    for place in dull.places:
        for text in wrapped(plain(_bar_words(place, side)), "- ", "  "):
            say(text)
        for alternative in place.replaced.alternatives:
            for text in wrapped(plain(_alternative_words(alternative)), "    ", "      "):
                say(text)
        if not place.replaced.alternatives:
            say("    no figure at hand fits its functions and joins the notes beside it")
    for remark in dull.remarks:
        tell(f"! {remark}")


def _bar_words(place: "DullPlace", side: "Side") -> str:
    line, found = place.transcription, place.replaced.dull
    where = f" of {side.line_names[place.line]}" if len(side.line_names) > 1 else ""
    notes = " ".join(note.spelling or "x" for note in line.notes[found.first : found.last + 1])
    return f"bar {_bar(line, found.bar_index)}{where} ({_chords(line, found.bar_index)}: {notes}): {_listed(found)}"


def _listed(found: Any) -> str:
    return ", ".join(found.reasons)


def _bar(line: "Transcription", index: int) -> str:
    from cli.output import bar_text

    return bar_text(line.bars[index].number, line.bars[index].pass_number)


def _chords(line: "Transcription", index: int) -> str:
    bar = line.bars[index]
    return " ".join(span.symbol for span in line.chords_between(bar.onset_ticks, bar.onset_ticks + bar.length_ticks))


def _alternative_words(found: "Alternative") -> str:
    from corpus.pitch import transposition_name

    origin = f" ({found.source.origin})" if found.source.origin else ""
    joints = [
        f"{how} by {_interval(joint)}"
        for joint, how in (
            (found.before, f"comes from {found.before.before}" if found.before else ""),
            (found.after, f"goes on to {found.after.after}" if found.after else ""),
        )
        if joint is not None
    ]
    notes = " ".join(_note_words(found))
    return (
        f"{notes}  {found.source.group}{origin} {transposition_name(found.transposed)}; "
        f"{', '.join(joints) or 'nothing to join'}"
    )


def _note_words(found: "Alternative") -> Iterator[str]:
    """The new notes, those that the figure did not give in parentheses, a stroke at each bar line."""
    before = None
    for index, note in enumerate(found.notes, start=found.first):
        if before is not None and note.bar_index != before:
            yield "|"
        before = note.bar_index
        yield note.spelling if found.figure[0] <= index <= found.figure[1] else f"({note.spelling})"


def _interval(joint: "Joint") -> str:
    from corpus.pitch import interval_name

    return f"a {interval_name(abs(joint.semitones))}" if joint.semitones else "the same note"


def dull_fields(dull: "DullPlaces | None", side: "Side") -> dict[str, Any]:
    """Dull bars as ``compare --json`` tells them; onsets in quarters from the beginning of the line."""
    if dull is None:
        return {}
    return {
        "dull_bars": dull.count,
        "suggestions": [_place_fields(place, side) for place in dull.places],
        "suggestion_remarks": list(dull.remarks),
    }


def _place_fields(place: "DullPlace", side: "Side") -> dict[str, Any]:
    line, found = place.transcription, place.replaced.dull
    bar = line.bars[found.bar_index]
    return {
        "line": place.line,
        "title": side.line_names[place.line],
        "bar": bar.number,
        "pass": bar.pass_number,
        "chords": _chords(line, found.bar_index),
        "why": list(found.reasons),
        "notes": _notes_fields(line.notes[found.first : found.last + 1]),
        "alternatives": [_alternative_fields(alternative) for alternative in place.replaced.alternatives],
    }


def _alternative_fields(found: "Alternative") -> dict[str, Any]:
    return {
        "figure": found.source.group,
        "origin": found.source.origin or None,
        "players": sorted(found.source.players),
        "transposed": found.transposed,
        "price": found.price,
        "notes": _notes_fields(found.notes),
        "figure_notes": [found.figure[0] - found.first, found.figure[1] - found.first],
        "joint_before": _joint_fields(found.before),
        "joint_after": _joint_fields(found.after),
    }


def _notes_fields(notes: "Sequence[Note]") -> list[dict[str, Any]]:
    from corpus.model import TICKS_PER_QUARTER

    return [
        {
            "onset": round(note.onset_ticks / TICKS_PER_QUARTER, 6),
            "duration": round(note.duration_ticks / TICKS_PER_QUARTER, 6),
            "pitch": note.pitch,
            "spelling": note.spelling,
        }
        for note in notes
    ]


def _joint_fields(joint: "Joint | None") -> dict[str, Any] | None:
    if joint is None:
        return None
    return {"from": joint.before, "to": joint.after, "semitones": joint.semitones}


def write_dull(dull: "DullPlaces", paths: Mapping[str, Path]) -> None:
    """The line with the first figure of each dull bar put in. Raises QueryError for several lines, or no figure."""
    from cli.line_files import write_line
    from corpus.suggest.replace import put_in

    if not paths:
        return
    lines = {place.line: place.transcription for place in dull.places if place.replaced.alternatives}
    if not lines:
        raise QueryError("there is no dull bar that a figure at hand could replace: nothing to write")
    if len(lines) > 1:
        raise QueryError("dull bars are replaced in several lines: a file shows one, so name a line by its ID")
    (line,) = lines.values()
    chosen = [place.replaced.alternatives[0] for place in dull.places if place.replaced.alternatives]
    made, figures = put_in(line, chosen)
    write_line(made, figures, paths)
