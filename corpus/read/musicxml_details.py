"""Title, player, tempo and the other details of a MusicXML file, as clean text.

Title: ``work-title``, else ``movement-title``. Player: the miscellaneous field ``player``, else the creator of type
``performer``. Recording, year and form: miscellaneous fields of these names. Instrument: the part's name, else its
instrument's.

Losses: composer, rights, credits, lyrics and every other word on the page.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final
from xml.etree.ElementTree import Element

from corpus.errors import QueryError
from corpus.form import parse_form
from corpus.model import Details, Form
from corpus.text import clean_text

TYPE_QUARTERS: Final = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    **{f"{2**n}{'nd' if n == 5 else 'th'}": Fraction(4, 2**n) for n in range(4, 11)},
}
"""Quarter notes of each note value that MusicXML names (``32nd``, ``1024th`` …)."""

_PLACEHOLDERS: Final = ("MusicXML Part",)
"""Part names that converters write where nobody gave one."""

_PLAUSIBLE_BPM: Final = (10.0, 1_000.0)


def text_of(root: Element, path: str) -> str:
    """The clean text at a path, or an empty string."""
    return clean_text(root.findtext(path) or "")


@dataclass(frozen=True, slots=True)
class PartNames:
    """What the part list says about one part: its name as listed, and the instrument that plays it."""

    name: str
    instrument: str


def part_names(root: Element) -> dict[str, PartNames]:
    """The names of the parts by their ``id``."""
    names: dict[str, PartNames] = {}
    for part in root.iterfind("part-list/score-part"):
        name = text_of(part, "part-name")
        if name in _PLACEHOLDERS:
            name = ""
        instrument = text_of(part, "score-instrument/instrument-name")
        names[part.get("id", "")] = PartNames(name or instrument, name or instrument)
    return names


def read_details(root: Element, instrument: str, tempo_bpm: float | None) -> tuple[Details, list[str]]:
    """The details of the whole file, and remarks on fields that could not be read."""
    remarks: list[str] = []
    fields = {
        field.get("name", "").strip().lower(): clean_text(field.text or "")
        for field in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    performer = next(
        (
            clean_text(creator.text or "")
            for creator in root.iterfind("identification/creator")
            if creator.get("type", "").strip().lower() == "performer"
        ),
        "",
    )
    details = Details(
        title=text_of(root, "work/work-title") or text_of(root, "movement-title"),
        player=fields.get("player", "") or performer,
        instrument=instrument,
        recording=fields.get("recording", ""),
        year=_year(fields.get("year", ""), remarks),
        tempo_bpm=tempo_bpm,
        form=_form(fields.get("form", ""), remarks),
    )
    return details, remarks


def _year(text: str, remarks: list[str]) -> int | None:
    if re.fullmatch(r"[0-9]{4}", text):
        return int(text)
    if text:
        remarks.append(f"the year {text!r} is not a year of four digits: left out")
    return None


def _form(text: str, remarks: list[str]) -> Form | None:
    if not text:
        return None
    try:
        return parse_form(text)
    except QueryError as error:
        remarks.append(f"the form is left out: {error}")
        return None


def tempo_of_sound(sound: Element) -> float | None:
    """Quarter notes a minute that a ``<sound tempo>`` asks for, or None."""
    return _plausible(sound.get("tempo", ""), Fraction(1))


def tempo_of_direction(direction: Element) -> float | None:
    """Quarter notes a minute of a ``<direction>``: its sound, else its metronome mark; None without either."""
    sound = direction.find("sound")
    tempo = tempo_of_sound(sound) if sound is not None else None
    if tempo is not None:
        return tempo
    for metronome in direction.iterfind("direction-type/metronome"):
        unit = TYPE_QUARTERS.get((metronome.findtext("beat-unit") or "").strip())
        per_minute = re.search(r"\d{1,4}(\.\d{1,6})?", metronome.findtext("per-minute") or "")
        if unit is None or per_minute is None:
            continue
        dots = min(len(metronome.findall("beat-unit-dot")), 4)
        tempo = _plausible(per_minute[0], unit * (2 - Fraction(1, 2**dots)))
        if tempo is not None:
            return tempo
    return None


def _plausible(text: str, unit: Fraction) -> float | None:
    """``text`` units a minute in quarter notes a minute, or None for what no music has."""
    try:
        tempo = float(text) * float(unit)
    except ValueError:
        return None
    slowest, fastest = _PLAUSIBLE_BPM
    return round(tempo, 3) if math.isfinite(tempo) and slowest <= tempo <= fastest else None
