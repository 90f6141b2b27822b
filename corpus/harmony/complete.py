"""What harmony adds to a transcription that has just been read: findings about its chords, and the form they show."""

from dataclasses import replace

from corpus.check import check
from corpus.harmony.analysis import analyse
from corpus.model import Finding, Transcription
from corpus.rework import with_form


def complete(transcription: Transcription) -> Transcription:
    """The transcription with the findings of its analysis, and with the form that its chords show.

    The form, and with it choruses and sections, is only filled in where neither the file nor the user said anything
    of either, and where the first chorus begins with the first full bar.
    """
    if not transcription.chords:
        return transcription
    analysis = analyse(transcription)
    findings = (*transcription.findings, *analysis.findings)
    found = analysis.form
    is_open = transcription.details.form is None and not transcription.sections
    pickups = 1 if transcription.bars[0].number == 0 else 0
    if found is None or not is_open or found.first_bar != pickups:
        return replace(transcription, findings=findings)
    remark = Finding("reading", f"the form was recognised from the chords: {found.name} ({found.form})")
    return replace(with_form(transcription, found.form), findings=(*findings, remark))


def checked_again(transcription: Transcription) -> Transcription:
    """The transcription with its findings made anew, all but the reader's remarks: after a change of key or form."""
    remarks = tuple(finding for finding in transcription.findings if finding.kind == "reading")
    found = analyse(transcription).findings if transcription.chords else ()
    return replace(transcription, findings=check(replace(transcription, findings=(*remarks, *found))))
