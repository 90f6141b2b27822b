"""New values from old ones: a transcription in another key or over another form."""

from dataclasses import replace

from corpus.form import chorus_numbers, sections_from_form
from corpus.model import Form, Transcription
from corpus.pitch import Key


def with_key(transcription: Transcription, key: Key | None) -> Transcription:
    """The transcription heard in one key throughout."""
    return replace(
        transcription,
        details=replace(transcription.details, key=key),
        bars=tuple(replace(bar, key=key) for bar in transcription.bars),
    )


def with_form(transcription: Transcription, form: Form | None) -> Transcription:
    """The transcription over a form, which numbers its choruses.

    Sections follow the form unless the file marked its own.
    """
    numbers = chorus_numbers(transcription.bars, form)
    bars = tuple(replace(bar, chorus=chorus) for bar, chorus in zip(transcription.bars, numbers, strict=True))
    before = transcription.details.form
    from_form = () if before is None else sections_from_form(transcription.bars, before)
    sections = transcription.sections
    if sections == from_form:
        sections = () if form is None else sections_from_form(bars, form)
    return replace(transcription, details=replace(transcription.details, form=form), bars=bars, sections=sections)
