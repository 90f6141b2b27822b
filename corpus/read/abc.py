"""The ABC reader: a tune of an ABC file becomes a written line.

Source: the ABC standard 2.1. The steps: ``abc_text`` splits files into tunes and voices, ``abc_cure`` resolves what
depends on context, music21's ABC tokenizer reads the notes, ``abc_bars`` counts the bars. music21's own scores are
not built: they lose parts, inline keys, numbered brackets and changes of meter, and cost most of its time.

Read: notes, rests, ties, tuplets, broken rhythm, grace notes, x heads (``!style=x!``), chord symbols, keys, meters,
unit notes, transposition and octave shifts, repeats and brackets, D.C., D.S., Fine and Coda, sections (``P:``) and
their order, one voice of several, tempo, title, and the fields ``%%wellworn-player``, ``-instrument``,
``-recording``, ``-year`` and ``-form`` (also as ``I:wellworn-…``).

Lost: see ``abc_text`` and ``abc_cure``. Also ``%%MIDI`` and all other directives, tempo changes, ghost notes.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final

from corpus.errors import QueryError, ReadingError
from corpus.form import parse_form
from corpus.model import TICKS_PER_QUARTER, Details, Finding
from corpus.pitch import Key
from corpus.read.abc_bars import BarBuilder
from corpus.read.abc_cure import CuredVoice, CureSetting, Propagation, cure
from corpus.read.abc_fields import (
    Signature,
    default_length,
    parse_key_field,
    parse_length_field,
    parse_meter_field,
    parse_parts_field,
    parse_tempo_field,
    properties,
    semitones_of,
    transpose_key,
)
from corpus.read.abc_text import AbcHeader, AbcTune, VoiceText, clean, parse_header, split_tunes, voice_texts
from corpus.read.abc_tokens import BarMark, user_symbols
from corpus.read.written import ReadingWishes, WrittenLine, fill_details

__all__ = ["AbcTune", "read_abc_tune", "split_tunes"]

_PLAIN_BAR: Final = BarMark()
_WHOLE_ENOUGH: Final = 1e-4
"""Ticks by which a length may miss a whole number through floating point."""


def read_abc_tune(tune: AbcTune, wishes: ReadingWishes) -> WrittenLine:
    """Read one tune.

    Pitches are sounding, offsets in ticks from the start of their bar. Raises ReadingError, naming file, tune and
    where known the bar, for a tune without key line or notes, for several voices when ``wishes.part`` chooses none,
    and for numbers out of all bounds.
    """
    header = parse_header(tune)
    try:
        return _read(tune, header, wishes)
    except ReadingError as error:
        if str(error).startswith(tune.file):
            raise
        raise ReadingError(f"{tune.place}: {error}") from error


def _read(tune: AbcTune, header: AbcHeader, wishes: ReadingWishes) -> WrittenLine:
    voice = _chosen_voice(tune, voice_texts(header), wishes)
    remarks: list[str] = []
    signature, key_remark = parse_key_field(header.last("K"))
    meter, meter_remark = parse_meter_field(header.last("M"))
    remarks += filter(None, (key_remark, meter_remark))
    unit = parse_length_field(header.last("L"))
    if unit is None and header.last("L"):
        remarks.append(f"unknown unit note (L:) {header.last('L')[:20]!r}: the meter's default is read")
    voice_properties = properties(voice.properties)
    semitones = semitones_of({**properties(header.last("K")), **voice_properties})
    setting = CureSetting(
        signature=signature,
        semitones=semitones,
        meter=meter,
        unit=unit or default_length(meter),
        propagation=_propagation(header),
        voice=wishes.voice,
        voice_properties=voice_properties,
        symbols=user_symbols(header.fields.get("U", [])),
    )
    cured = cure(voice.body, setting)
    builder = BarBuilder(meter, _sounding_key(signature, semitones), semitones)
    _fill(builder, cured)
    bars, findings = builder.finish()
    if not any(bar.notes for bar in bars):
        raise ReadingError("the tune has no notes: nothing to store")
    details, more = _details(tune, header, voice, voice_properties)
    order = _part_order(header, remarks)
    if order and any(bar.section for bar in bars) and any(bar.jump for bar in bars):
        # Tune books write a Da capo on the page and spell it out in P:, so playing both would play it twice.
        bars = tuple(replace(bar, jump=None) for bar in bars)
        remarks.append("the order of parts (P:) says what is played: D.C. and D.S. are not played as well")
    details = replace(details, key=_sounding_key(signature, semitones), meter=meter)
    told = [Finding("reading", text) for text in remarks]
    return WrittenLine(fill_details(details, wishes.details), bars, (*told, *more, *findings), order)


def voice_place(tune: AbcTune, wishes: ReadingWishes) -> int:
    """Which of a tune's voices is asked for, counted from 0. Raises ReadingError as ``read_abc_tune``."""
    voices = voice_texts(parse_header(tune))
    return voices.index(_chosen_voice(tune, voices, wishes))


def _sounding_key(signature: Signature, semitones: int) -> Key | None:
    return None if signature.key is None else transpose_key(signature.key, semitones)


def _propagation(header: AbcHeader) -> Propagation:
    match header.directives.get("propagate-accidentals", "pitch").lower():
        case "not":
            return "not"
        case "octave":
            return "octave"
    return "pitch"


def _chosen_voice(tune: AbcTune, voices: Sequence[VoiceText], wishes: ReadingWishes) -> VoiceText:
    """The voice that is asked for, or the only one. Raises ReadingError when the choice is open or unknown."""
    if not voices:
        raise ReadingError("the tune has no notes: nothing to store")
    listed = ", ".join(f"{number} {_voice_name(voice)}".strip() for number, voice in enumerate(voices, start=1))
    choose = "choose one with --part NUMBER or --part NAME"
    if wishes.part is None:
        if len(voices) == 1:
            return voices[0]
        raise ReadingError(f"{tune.place} has {len(voices)} voices ({listed}): {choose}")
    wanted = wishes.part.strip()
    if wanted.isascii() and wanted.isdecimal() and 1 <= int(wanted[:6]) <= len(voices):
        return voices[int(wanted[:6]) - 1]
    for voice in voices:
        if wanted.lower() in (voice.name.lower(), _voice_name(voice).lower()):
            return voice
    if len(voices) == 1:
        raise ReadingError(f"{tune.place} has no part {wanted[:40]!r}, only one voice: leave --part out")
    raise ReadingError(f"{tune.place} has no part {wanted[:40]!r}: its voices are {listed}: {choose}")


def _voice_name(voice: VoiceText) -> str:
    found = properties(voice.properties)
    return clean(found.get("name") or found.get("nm") or voice.name)


def _details(
    tune: AbcTune, header: AbcHeader, voice: VoiceText, voice_properties: dict[str, str]
) -> tuple[Details, list[Finding]]:
    """What header and directives say, without key and meter, and remarks on what they say badly."""
    findings: list[Finding] = []
    said = {name[9:]: clean(value) for name, value in header.directives.items() if name.startswith("wellworn-")}
    year_text = said.get("year", "")
    year = int(year_text) if re.fullmatch(r"[12][0-9]{3}", year_text) else None
    if year_text and year is None:
        findings.append(Finding("reading", f"the year {year_text[:20]!r} is no year of four digits: left out"))
    form = None
    if said.get("form"):
        try:
            form = parse_form(said["form"])
        except QueryError as error:
            findings.append(Finding("reading", f"{error}: left out"))
    tempo_text = header.last("Q") or _first_tempo(voice.body)
    details = Details(
        title=tune.title or clean(header.first("T")),
        player=said.get("player", ""),
        instrument=said.get("instrument") or clean(voice_properties.get("name") or voice_properties.get("nm") or ""),
        recording=said.get("recording") or clean(header.last("D")),
        year=year,
        tempo_bpm=parse_tempo_field(tempo_text),
        form=form,
    )
    return details, findings


def _first_tempo(body: str) -> str:
    match = re.search(r"^[ \t]*Q:([^\n]*)|\[Q:([^\]\n]*)\]", body, re.MULTILINE)
    return (match[1] or match[2] or "") if match else ""


def _part_order(header: AbcHeader, remarks: list[str]) -> tuple[str, ...]:
    text = header.last("P")
    if not text:
        return ()
    try:
        order = parse_parts_field(text)
    except ValueError as error:
        raise ReadingError(f"{error} (P:{text[:40]})") from error
    if order is None:
        remarks.append(f"the header's P: {clean(text)[:40]!r} is no order of parts such as AABA: left out")
    return order or ()


def _fill(builder: BarBuilder, cured: CuredVoice) -> None:
    """Hand music21's tokens and the marks between them to the builder.

    Raises ReadingError when music21 refuses the text.
    """
    from music21 import abcFormat

    handler = abcFormat.ABCHandler()
    try:
        handler.process(cured.text)
    except Exception as error:
        # The one place where music21 runs: whatever it raises means that this text cannot be read.
        raise ReadingError(f"music21 cannot read the music: {error}") from error
    marks = cured.marks
    bar_class, meta_class, note_class = abcFormat.ABCBar, abcFormat.ABCMetadata, abcFormat.ABCNote
    tokens: list[Any] = handler.tokens
    for token in tokens:
        kind = type(token)
        if kind is note_class:
            ticks = _ticks(token.quarterLength)
            if type(ticks) is not int:
                builder.remark("lengths that are no whole number of ticks are rounded", token.src)
            if token.isRest:
                builder.rest(ticks)
            else:
                builder.note(token.pitchName, ticks, token.tie in ("start", "continue"))
        elif kind is bar_class:
            builder.bar(_PLAIN_BAR)
        elif kind is meta_class and token.tag == "N":
            builder.mark(marks[int(token.data)])


@lru_cache(maxsize=1024)
def _ticks(quarters: float | Fraction) -> int | Fraction:
    """A length in ticks, a Fraction when that is no whole number."""
    exact = Fraction(quarters) * TICKS_PER_QUARTER
    whole = round(exact)
    return whole if abs(exact - whole) < _WHOLE_ENOUGH else exact
