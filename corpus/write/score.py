"""A line made ready for verovio once, to be engraved at any number of widths.

Verovio reads MusicXML (``corpus.write.musicxml``) and tells its own MEI of it. Brackets are put into that, so that
verovio finds room for them, and the breaks of each width; reading MEI again costs a third of reading MusicXML.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from corpus.errors import QueryError, WellwornError
from corpus.model import Transcription
from corpus.text import clean_text
from corpus.write.breaks import line_starts
from corpus.write.musicxml import Page, musicxml_of

if TYPE_CHECKING:
    from corpus.write.engrave import Mark

HAS_FONT: Final = "@font-face"
"""What stands in a picture that holds verovio's font; it does where a chord symbol has an accidental."""

_MEASURE: Final = "<measure "
_HEADING: Final = """<pgHead func="first">
<rend halign="center" valign="middle"><rend fontsize="150%">{title}</rend>{by}</rend>
</pgHead>"""
_BY: Final = '<lb/><rend fontsize="40%"> </rend><lb/><rend fontsize="90%">{by}</rend><lb/><rend fontsize="60%"> </rend>'


class Score:
    """The MEI of a page's bars with brackets. Raises QueryError for marks on notes that are not shown."""

    def __init__(self, line: Transcription, page: Page, marks: Sequence["Mark"]) -> None:
        self.line, self.page = line, page
        toolkit = _toolkit()
        toolkit.setOptions({"breaks": "none"})  # nothing is laid out yet
        _load(toolkit, musicxml_of(line, page))
        self._mei = _with_brackets(toolkit.getMEI(), marks, page.prefix)

    def pages(
        self,
        settings: dict[str, object],
        per_line: int | None,
        *,
        by_line: bool,
        words: Sequence[str] | None,
        font: bool = True,
    ) -> list[str]:
        """Verovio's SVG pages, broken into lines of so many bars, with ``by_line`` a page a line.

        ``words`` stand under a heading at the top of the first page; None for no heading. Of pages by line only the
        first that needs the font holds it.
        """
        toolkit = _toolkit()
        toolkit.setOptions({**settings, "smuflTextFont": "embedded" if font else "none"})
        mei = self._mei if per_line is None else self._broken(per_line, "pb" if by_line else "sb")
        _load(toolkit, mei if words is None else _with_heading(mei, self.line, words))
        found: list[str] = []
        for number in range(1, toolkit.getPageCount() + 1):
            found.append(toolkit.renderToSVG(number))
            if by_line and HAS_FONT in found[-1]:
                toolkit.setOptions({"smuflTextFont": "none"})
        return found

    def _broken(self, per_line: int, element: str) -> str:
        last = len(self.line.bars) - 1 if self.page.last_bar is None else self.page.last_bar
        shown = range(self.page.first_bar, last + 1)
        starts = line_starts(self.line, shown, per_line)
        head, *measures = self._mei.split(_MEASURE)
        assert len(measures) == len(shown), "verovio keeps the bars that it was given"
        broken = (
            (f"<{element}/>" if index in starts else "") + _MEASURE + measure
            for index, measure in zip(shown, measures, strict=True)
        )
        return head + "".join(broken)


@lru_cache(maxsize=1)
def _toolkit() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _load(toolkit: Any, text: str) -> None:
    if not toolkit.loadData(text):
        raise WellwornError("the notation cannot be engraved: verovio refuses it (please report the line)")


def _with_heading(mei: str, transcription: Transcription, words: Sequence[str]) -> str:
    """The MEI with the title, and under it player, instrument, tempo and words, at the head of the first page."""
    details = transcription.details
    facts = [clean_text(details.player), clean_text(details.instrument)]
    facts += [] if details.tempo_bpm is None else [f"{details.tempo_bpm:g} quarters a minute"]
    by = " · ".join(fact for fact in facts if fact)
    told = _BY.format(by=escape(by)) if by else ""
    told += "".join(f'<lb/><rend fontsize="70%">{escape(clean_text(line))}</rend>' for line in words)
    heading = _HEADING.format(title=escape(clean_text(details.title)), by=told)
    mei = re.sub(r"<pgHead.*?</pgHead>|<pgFoot.*?</pgFoot>", "", mei, flags=re.DOTALL)
    start = mei.index(">", mei.index("<scoreDef")) + 1
    return mei[:start] + heading + mei[start:]


def _with_brackets(mei: str, marks: Sequence["Mark"], prefix: str) -> str:
    """The MEI with a ``<bracketSpan>`` for each mark in the measure in which it starts."""
    additions: dict[int, list[str]] = {}
    for number, mark in enumerate(marks):
        start = mei.find(f'xml:id="{prefix}note-{mark.first}"')
        if start < 0 or f'xml:id="{prefix}note-{mark.last}"' not in mei:
            raise QueryError(f"figure {mark.label!r} stands outside the bars that are shown")
        additions.setdefault(mei.index("</measure>", start), []).append(
            f'<bracketSpan xml:id="{prefix}mark-{number}" staff="1" place="above" func="coloration" '
            f'startid="#{prefix}note-{mark.first}" endid="#{prefix}note-{mark.last}" '
            f'lform="{mark.line}" lwidth="medium" color="{mark.colour}"/>'
        )
    pieces: list[str] = []
    before = 0
    for place in sorted(additions):
        pieces += [mei[before:place], *additions[place]]
        before = place
    return "".join([*pieces, mei[before:]])
