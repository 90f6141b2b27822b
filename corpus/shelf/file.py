"""The shelf file: one JSON document, the same bytes for the same shelf.

``write_shelf`` gives the bytes, ``read_shelf`` takes them apart; what was written is read back alike. A file from
outside may hold anything: its size and depth, its JSON, its version, its shape (``corpus.shelf.schema``) and its music
are looked at in this order, and the first fault is told with its place.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final, NoReturn

from corpus.errors import ReadingError, WellwornError
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.pitch import parse_spelling
from corpus.shelf.kept import (
    KeptChord,
    KeptFigure,
    KeptNote,
    KeptSource,
    Practice,
    clean_comment,
    clean_key,
    clean_name,
    clean_numeral,
    clean_tags,
    clean_word,
)
from corpus.shelf.schema import FORMAT, VERSION, shelf_schema
from corpus.text import clean_text

if TYPE_CHECKING:
    from jsonschema.exceptions import ValidationError

LARGEST_BYTES: Final = 20_000_000
NOTICE: Final = (
    "Transcriptions of recorded music can be protected by the rights of composers, players and publishers: "
    "mind them before you share this file."
)
_SHOWN: Final = 60
_KINDS: Final = {
    "array": "a list",
    "object": "an object",
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
}


def write_shelf(figures: Sequence[KeptFigure], with_practice: bool = False) -> bytes:
    """The figures as a file, in the order of their names. The practice history is the user's own: left out unless
    asked for.
    """
    ordered = sorted(figures, key=lambda figure: figure.id_name)
    content = {
        "format": FORMAT,
        "version": VERSION,
        "ticks_per_quarter": TICKS_PER_QUARTER,
        "notice": NOTICE,
        "figures": [figure_fields(figure, with_practice) for figure in ordered],
    }
    return (json.dumps(content, ensure_ascii=False, indent=1) + "\n").encode()


def figure_fields(figure: KeptFigure, with_practice: bool = False) -> dict[str, Any]:
    """A figure as the file tells it; what is empty is left out."""
    fields: dict[str, Any] = {
        "name": figure.name,
        **music_fields(figure),
        "tags": list(figure.tags),
        "rating": figure.rating,
        "comment": figure.comment,
        "family": figure.family,
        "kept": None if figure.kept_on is None else figure.kept_on.isoformat(),
        "sources": [_source_fields(source) for source in figure.sources],
    }
    if with_practice:
        fields["practice"] = [practice_fields(entry) for entry in figure.practice]
    return _filled(fields)


def music_fields(figure: KeptFigure) -> dict[str, Any]:
    """Notes, chords, key, meter and beat of a figure as the file tells them."""
    return _filled(
        {
            "notes": [_note_fields(note) for note in figure.notes],
            "chords": [_chord_fields(chord) for chord in figure.chords],
            "key": figure.key,
            "meter": "" if figure.meter is None else str(figure.meter),
            "beat": "" if figure.beat is None else str(figure.beat),
        }
    )


def read_music(fields: Mapping[str, Any]) -> dict[str, Any]:
    """What ``music_fields`` told, as arguments of a ``KeptFigure``."""
    return {
        "notes": tuple(map(_note, fields["notes"])),
        "chords": tuple(map(_chord, fields.get("chords", ()))),
        "key": clean_key(fields.get("key", "")),
        "meter": _meter(fields.get("meter")),
        "beat": Fraction(fields["beat"]) if "beat" in fields else None,
    }


def _filled(fields: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value not in ("", None, [])}


def _note_fields(note: KeptNote) -> dict[str, Any]:
    return _filled({"spelling": note.spelling, "onset": note.onset_ticks, "duration": note.duration_ticks})


def _chord_fields(chord: KeptChord) -> dict[str, Any]:
    return _filled({"onset": chord.onset_ticks, "symbol": chord.symbol, "numeral": chord.numeral, "key": chord.key})


def _source_fields(source: KeptSource) -> dict[str, Any]:
    fields = {"title": source.title, "player": source.player, "passage": source.passage, "notes": list(source.notes)}
    return {name: value for name, value in fields.items() if value or name != "player"}


def practice_fields(entry: Practice) -> dict[str, Any]:
    """An entry of the practice log as the file tells it."""
    bpm = int(entry.bpm) if entry.bpm == int(entry.bpm) else entry.bpm
    return _filled({"day": entry.day.isoformat(), "bpm": bpm, "keys": list(entry.keys), "grade": entry.grade})


def read_shelf(data: bytes, name: str, latest: date) -> list[KeptFigure]:
    """The figures in a file, in its order; days after ``latest`` are refused.

    Raises ReadingError, with the place of the first fault, for anything that is no shelf file of a version known here.
    """
    content = _json(data, name)
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise ReadingError(f'{name} is no shelf file: it does not begin with "format": "{FORMAT}"')
    version = content.get("version")
    if isinstance(version, (int, float)) and version > VERSION:
        raise ReadingError(
            f"{name} is a shelf file of version {_shown(version)}, made by a newer wellworn; this one reads version "
            f"{VERSION}: install the newer one, or ask for an older file"
        )
    _hold_to_schema(content, name)
    figures: list[KeptFigure] = []
    places: dict[str, int] = {}
    for index, fields in enumerate(content["figures"]):
        place = _place(content, ("figures", index))
        try:
            figure = _figure(fields, latest)
        except WellwornError as error:
            raise ReadingError(f"{name}: {place}: {error}") from error
        if figure.id_name in places:
            first = _place(content, ("figures", places[figure.id_name]))
            raise ReadingError(f"{name}: {place} has the name of {first}: give each figure a name of its own")
        places[figure.id_name] = index
        figures.append(figure)
    return figures


def _json(data: bytes, name: str) -> Any:
    if len(data) > LARGEST_BYTES:
        raise ReadingError(f"{name} is too large to be a shelf file: at most {LARGEST_BYTES // 1_000_000} MB")
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_number, object_pairs_hook=_once)
    except UnicodeDecodeError as error:
        raise ReadingError(f"{name} is no text in UTF-8 (byte {error.start + 1:,})") from error
    except json.JSONDecodeError as error:
        raise ReadingError(f"{name}: line {error.lineno} column {error.colno}: broken JSON: {error.msg}") from error
    except RecursionError as error:
        raise ReadingError(f"{name} is nested too deeply to be a shelf file") from error
    except ValueError as error:
        raise ReadingError(f"{name} is no shelf file: {str(error)[:200]}") from error


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    fields = dict(pairs)
    if len(fields) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{_shown(twice)} stands twice in one object")
    return fields


def _hold_to_schema(content: Any, name: str) -> None:
    """Raises ReadingError, telling the first fault in the file's order, when a file has not the schema's shape."""
    from jsonschema import Draft202012Validator

    fault = next(Draft202012Validator(shelf_schema()).iter_errors(content), None)
    if fault is not None:
        raise ReadingError(f"{name}: {_place(content, tuple(fault.absolute_path))}: {_in_words(fault)}") from None


def _shown(value: Any) -> str:
    """A value of any kind and size, short enough for a message; texts in quotes."""
    if isinstance(value, (dict, list)):
        return _KINDS["array" if isinstance(value, list) else "object"]
    text = clean_text(value if isinstance(value, str) else json.dumps(value))
    text = text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
    return f'"{text}"' if isinstance(value, str) else text


def _place(content: Any, path: Sequence[str | int]) -> str:
    """Where something stands, as in ``figure 3 ("Turn"), notes 2, spelling``."""
    words: list[str] = []
    for depth, step in enumerate(path):
        if isinstance(step, int):
            words[-1] = f"{words[-1].removesuffix('s') if depth == 1 else words[-1]} {step + 1}"
        else:
            words.append(step)
        if depth == 1 and isinstance(content["figures"][step], dict):
            named = content["figures"][step].get("name")
            words[-1] += f" ({_shown(named)})" if isinstance(named, str) else ""
    return ", ".join(words) or "the file"


def _in_words(fault: "ValidationError") -> str:
    """A fault of shape in words."""
    value: Any = fault.instance
    wanted: Any = fault.validator_value
    schema: Any = fault.schema
    kind = str(fault.validator)
    if kind == "type":
        return f"{_shown(value)} should be {_KINDS[wanted]}"
    if kind == "required":
        return f"{', '.join(name for name in wanted if name not in value)} is missing"
    if kind == "additionalProperties":
        known = schema["properties"]
        return f"{_shown(next(name for name in value if name not in known))} is unknown here"
    words = {
        "const": f"{_shown(value)} should be {_shown(wanted)}",
        "pattern": f"{_shown(value)} is not written as it should be ({schema.get('description', '')})",
        "minimum": f"{_shown(value)} is less than {wanted}",
        "maximum": f"{_shown(value)} is more than {wanted}",
        "minLength": "is empty",
        "maxLength": f"is longer than {wanted:,} characters" if isinstance(wanted, int) else "",
        "minItems": f"has fewer than {wanted} items",
        "maxItems": f"has more than {wanted} items",
    }
    return words[kind]


def _figure(fields: Mapping[str, Any], latest: date) -> KeptFigure:
    return KeptFigure(
        name=clean_name(fields["name"]),
        **read_music(fields),
        tags=clean_tags(fields.get("tags", ())),
        rating=_whole(fields.get("rating")),
        comment=clean_comment(fields.get("comment", "")),
        family=clean_name(fields["family"]) if fields.get("family") else "",
        kept_on=_day(fields["kept"], latest) if "kept" in fields else None,
        sources=tuple(map(_source, fields.get("sources", ()))),
        practice=tuple(_practice(entry, latest) for entry in fields.get("practice", ())),
    )


def _note(fields: Mapping[str, Any]) -> KeptNote:
    return KeptNote(_spelling(fields["spelling"]), _whole(fields.get("onset")), _whole(fields.get("duration")))


def _spelling(text: str) -> str:
    return str(parse_spelling(text))


def _whole(number: float | None) -> int | None:
    """A whole number; JSON may write 4 as 4.0."""
    return None if number is None else int(number)


def _meter(text: str | None) -> Meter | None:
    return None if text is None else Meter(*map(int, text.split("/")))


def _chord(fields: Mapping[str, Any]) -> KeptChord:
    return KeptChord(
        clean_word(fields.get("symbol", "")),
        clean_numeral(fields.get("numeral", "")),
        clean_key(fields.get("key", "")),
        _whole(fields.get("onset")),
    )


def _source(fields: Mapping[str, Any]) -> KeptSource:
    title, player, passage = (clean_word(fields.get(name, "")) for name in ("title", "player", "passage"))
    return KeptSource(title, player, passage, tuple(map(_spelling, fields["notes"])))


def _practice(fields: Mapping[str, Any], latest: date) -> Practice:
    keys = tuple(clean_key(key) for key in fields.get("keys", ()))
    return Practice(_day(fields["day"], latest), float(fields["bpm"]), keys, _whole(fields.get("grade")))


def _day(text: str, latest: date) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise ReadingError(f"{text} is no day of the calendar") from error
    if day > latest:
        raise ReadingError(f"{text} is a day to come")
    return day
