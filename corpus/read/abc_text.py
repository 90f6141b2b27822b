"""ABC files as text: bytes to characters, files to tunes, tunes to header, directives and voices.

Nothing here needs music21, so listing the tunes of a file is cheap. Source: the ABC standard 2.1.

What is lenient, because files in the wild are:

- A blank line ends a tune only when no music or field follows it before the next ``X:``.
- A file without any ``X:`` is one tune; text before the first ``X:`` is a tune of its own when it has a ``K:`` line.
- ``%%wellworn-…`` and ``I:wellworn-…`` may stand anywhere in a tune.

What is lost: free text between tunes, typeset text (``%%begintext``), macros (``m:``), and of the header the fields
that nothing here uses (composer, source, notes, transcriber, rhythm, history).
"""

import codecs
import html
import re
import unicodedata
from dataclasses import dataclass, field
from typing import Final

from corpus.errors import ReadingError
from corpus.text import LONGEST_TEXT, clean_text

LONGEST_TUNE: Final = 1_000_000
"""Characters of one tune that are still read."""

_TUNE_START = re.compile(r"^[ \t]*X:[ \t]*(\d*)", re.MULTILINE)
_KEY_LINE = re.compile(r"^[ \t]*K:", re.MULTILINE)
_FIELD = re.compile(r"[ \t]*([A-Za-z+]):(.*)", re.DOTALL)
_DIRECTIVE = re.compile(r"(?:%%|I:)[ \t]*([A-Za-z][\w-]*)[ \t]*(.*)")
_BLOCK_START = re.compile(r"%%begin(\w+)")
_COMMENT = re.compile(r"(?<!\\)%.*")
_MUSIC = re.compile(r"[\sA-Ga-gzxyZX0-9|:\[\](){}<>/,'^_=.~\-`\\!+&*HJLMOPRSTkuvV]*")
_QUOTED = re.compile(r'"[^"\n]*"')
_VOICE_SWITCH = re.compile(r"\[V:[ \t]*([^\]\n]*)\]")


@dataclass(frozen=True, slots=True)
class AbcTune:
    """One tune of a file, not yet parsed.

    ``file`` is the name shown in messages, ``ordinal`` counts the file's tunes from 1, ``number`` is the text after
    ``X:`` (empty without), ``title`` the first ``T:`` cleaned, ``inherited`` the fields of the file's header.
    """

    file: str
    ordinal: int
    number: str
    title: str
    text: str
    inherited: tuple[str, ...] = ()

    @property
    def place(self) -> str:
        """``tunes.abc tune 3 "Title"``: how messages name the tune."""
        return f"{self.file} tune {self.number or self.ordinal}" + (f' "{self.title}"' if self.title else "")


@dataclass(frozen=True, slots=True)
class VoiceText:
    """One voice: its id in ``V:``, its properties' text, and its music lines in order."""

    name: str
    properties: str
    body: str


@dataclass(frozen=True, slots=True)
class AbcHeader:
    """A tune taken apart: header fields by letter in order, directives by name, and the body's text."""

    fields: dict[str, list[str]] = field(default_factory=dict)
    directives: dict[str, str] = field(default_factory=dict)
    body: str = ""

    def first(self, letter: str) -> str:
        """The first value of a field, or an empty string."""
        return next(iter(self.fields.get(letter, ())), "")

    def last(self, letter: str) -> str:
        """The last value of a field (what a tune says overrides its file's header), or an empty string."""
        return (self.fields.get(letter) or [""])[-1]


def decode(data: bytes, name: str) -> str:
    """The text of an ABC file: UTF-8 with or without BOM, UTF-16 with one, else Windows-1252 or Latin-1.

    Line ends become ``\\n``. Raises ReadingError for data with NUL characters, which is no text.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            try:
                text = data.decode("cp1252")
            except UnicodeDecodeError:
                text = data.decode("latin-1")
    if "\0" in text:
        raise ReadingError(f"{name}: no tune found: the file holds NUL characters, so it is no ABC text")
    return text.replace("\r\n", "\n").replace("\r", "\n")


_ACCENTS: Final = {
    "`": "\u0300",
    "'": "\u0301",
    "^": "\u0302",
    "~": "\u0303",
    "=": "\u0304",
    "u": "\u0306",
    '"': "\u0308",
    "v": "\u030c",
    "c": "\u0327",
    ";": "\u0328",
}
_LIGATURES: Final = {
    "ss": "ß",
    "ae": "æ",
    "AE": "Æ",
    "oe": "œ",
    "OE": "Œ",
    "aa": "å",
    "AA": "Å",
    "/o": "ø",
    "/O": "Ø",
    "/d": "đ",
    "/D": "Đ",
    "dh": "ð",
    "DH": "Ð",
    "th": "þ",
    "TH": "Þ",
}
_ESCAPE = re.compile(
    r"\\(?:u(?P<code>[0-9A-Fa-f]{4})|(?P<ligature>ss|ae|AE|oe|OE|aa|AA|/[oOdD]|dh|DH|th|TH)"
    r"|(?P<accent>[`'^~=\"uvc;])(?P<letter>[A-Za-z])|(?P<plain>[\\%&]))"
)


def _escaped(match: re.Match[str]) -> str:
    if match["code"]:
        code = int(match["code"], 16)
        return "" if 0xD800 <= code < 0xE000 else chr(code)
    if match["ligature"]:
        return _LIGATURES[match["ligature"]]
    if match["accent"]:
        return unicodedata.normalize("NFC", match["letter"] + _ACCENTS[match["accent"]])
    return match["plain"]


def clean(text: str) -> str:
    """A text for people: ABC escapes (``\\'e``, ``&eacute;``) resolved, then as ``clean_text`` makes it."""
    cut = text[: 8 * LONGEST_TEXT]
    if "\\" in cut:
        cut = _ESCAPE.sub(_escaped, cut)
    if "&" in cut:
        cut = html.unescape(cut)
    return clean_text(cut)


def without_comment(value: str) -> str:
    """A field's value up to an unescaped ``%``, stripped."""
    return (_COMMENT.sub("", value) if "%" in value else value).strip()


def _is_music(line: str) -> bool:
    """Whether a line after a blank one continues the tune: a field, a directive, or notes with a bar line."""
    if line.lstrip().startswith("%"):
        return line.startswith("%%")
    matched = _FIELD.match(line)
    if matched and matched[1] in "KLMPQVwWs":
        return True
    bare = _QUOTED.sub("", without_comment(line))
    return "|" in bare and _MUSIC.fullmatch(bare) is not None


def _tune_text(text: str) -> str:
    """A tune's lines without the free text that may follow it after a blank line."""
    kept: list[str] = []
    blank = False
    in_body = False
    for line in text.split("\n"):
        if not line.strip():
            blank = True
            continue
        if blank and in_body and not _is_music(line):
            if line.lstrip().startswith("%"):
                continue
            break
        blank = False
        in_body = in_body or _KEY_LINE.match(line) is not None
        kept.append(line)
    return "\n".join(kept)


def split_tunes(data: bytes, name: str) -> list[AbcTune]:
    """The tunes of an ABC file in order. ``name`` is the file's name for messages.

    Fields before the first ``X:`` apply to every tune. Raises ReadingError when no tune is found (no ``K:`` line).
    """
    text = decode(data, name)
    if _KEY_LINE.search(text) is None:
        raise ReadingError(f"{name}: no tune found (no K: line): is this an ABC file?")
    starts = list(_TUNE_START.finditer(text))
    preamble = text[: starts[0].start()] if starts else text
    inherited: tuple[str, ...] = ()
    parts: list[tuple[str, str]] = []
    if _KEY_LINE.search(preamble) is not None:
        parts.append(("", preamble))
    else:
        lines = [line.strip() for line in preamble.split("\n")]
        inherited = tuple(line for line in lines if re.match(r"[A-Z]:|%%[a-z]", line))
    ends = [*(match.start() for match in starts), len(text)][1:]
    parts += [(match[1][:20], text[match.start() : end]) for match, end in zip(starts, ends, strict=True)]
    tunes: list[AbcTune] = []
    for ordinal, (number, part) in enumerate(parts, start=1):
        title = re.search(r"^[ \t]*T:(.*)$", part, re.MULTILINE)
        shown = clean(without_comment(title[1])) if title else ""
        tunes.append(AbcTune(name, ordinal, number, shown, _tune_text(part), inherited))
    return tunes


def parse_header(tune: AbcTune) -> AbcHeader:
    """Take a tune apart into header fields, directives and body.

    Raises ReadingError when the tune has no ``K:`` line, which ends every header, or is too long.
    """
    if len(tune.text) > LONGEST_TUNE:
        raise ReadingError(
            f"{tune.place}: the tune has {len(tune.text):,} characters, more than the {LONGEST_TUNE:,} that are read: "
            "is an X: line missing between tunes?"
        )
    header = AbcHeader()
    lines = tune.text.split("\n")
    for line in tune.inherited:
        _header_line(header, line)
    body: list[str] = []
    block = ""
    in_body = False
    letter = ""
    for line in lines:
        stripped = line.strip()
        if block:
            block = "" if stripped == f"%%end{block}" else block
            continue
        if started := _BLOCK_START.match(stripped):
            block = started[1]
            continue
        if directive := _DIRECTIVE.match(stripped):
            header.directives[directive[1].lower()] = without_comment(directive[2])
            continue
        if in_body:
            body.append(line)
        else:
            letter = _header_line(header, line, letter)
            in_body = letter == "K"
    if not in_body:
        raise ReadingError(f"{tune.place}: the tune has no K: line, which ends a header: write K: and the key")
    return AbcHeader(header.fields, header.directives, "\n".join(body))


def _header_line(header: AbcHeader, line: str, before: str = "") -> str:
    """Take in one header line and return its field's letter; ``+:`` continues the field ``before``."""
    stripped = line.strip()
    if directive := _DIRECTIVE.match(stripped):
        header.directives[directive[1].lower()] = without_comment(directive[2])
        return before
    matched = _FIELD.match(stripped)
    if matched is None:
        return before
    letter, value = matched[1], without_comment(matched[2])
    if letter == "+":
        if before in header.fields:
            header.fields[before][-1] += " " + value
        return before
    header.fields.setdefault(letter, []).append(value)
    return letter


def voice_texts(header: AbcHeader) -> list[VoiceText]:
    """The voices of a tune in order of appearance, those without any music left out.

    Music before the first ``V:`` belongs to the first voice that is named. Fields that stand directly before a
    change of voice belong to all voices, as in a score where ``P:B`` precedes each system; other fields belong to the
    voice they stand in.
    """
    if "V:" not in header.body:
        declared = header.fields.get("V", [])
        name, properties = _voice_value(declared[0]) if len(declared) == 1 else ("", "")
        return [VoiceText(name, properties, header.body)]
    properties_of = dict(_voice_value(value) for value in header.fields.get("V", []))
    bodies: dict[str, list[str]] = {name: [] for name in properties_of}
    shared: list[str] = []
    everywhere: list[str] = []
    current = ""
    for line in _VOICE_SWITCH.sub(r"\nV:\1\n", header.body).split("\n"):
        matched = _FIELD.match(line)
        if matched and matched[1] == "V":
            name, properties = _voice_value(without_comment(matched[2]))
            if name and name not in bodies:
                bodies[name] = list(everywhere)
            for lines in bodies.values():
                lines.extend(shared)
            everywhere.extend(shared)
            shared = []
            current = name or current
            properties_of[current] = " ".join(filter(None, (properties_of.get(current, ""), properties)))
        elif matched and matched[1] in "KLMPQ" and not re.match(r"[ \t]*[A-Z]:[|:]", line):
            shared.append(line)
        elif line.strip() and not line.lstrip().startswith("%"):
            current = current or next(iter(bodies), "1")
            bodies.setdefault(current, []).extend([*shared, line])
            shared = []
    found = [VoiceText(name, properties_of.get(name, ""), "\n".join(lines)) for name, lines in bodies.items()]
    return [voice for voice in found if _has_music(voice.body)]


def _voice_value(value: str) -> tuple[str, str]:
    name, _, properties = value.strip().partition(" ")
    return name, properties.strip()


def _has_music(body: str) -> bool:
    """Whether a voice has a note at all (not only fields and rests)."""
    for line in body.split("\n"):
        matched = _FIELD.match(line)
        is_field = matched is not None and not re.match(r"[ \t]*[A-Za-z]:[|:]", line)
        if not is_field and re.search(r"[A-Ga-g]", re.sub(r'"[^"]*"|![^!\s]*!|\[[A-Za-z]:[^\]]*\]|%.*', "", line)):
            return True
    return False
