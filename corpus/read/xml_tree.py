"""From the bytes of a file that nobody vouches for to the root of a MusicXML tree.

Takes plain and compressed (``.mxl``) MusicXML. Nothing is written to disk and nothing outside the bytes is opened:

- a zip is read in memory, one member of it, at most ``LARGEST_BYTES``; members that leave the archive are refused;
- a score of more than ``MOST_TAGS`` tags is refused before a tree is made of it;
- XML that declares entities or refers to other files is refused (a DOCTYPE alone is allowed: MusicXML carries one);
- ``score-timewise`` is turned into ``score-partwise``, the form that readers know.

Every refusal is a ``ReadingError`` that names the file and the likely cure.
"""

import io
import re
import zipfile
import zlib
from typing import Final
from xml.etree.ElementTree import Element, ParseError

from corpus.errors import ReadingError

LARGEST_BYTES: Final = 64 * 1024 * 1024
MOST_MEMBERS: Final = 1_000
MOST_TAGS: Final = 5_000_000
"""Opening and closing tags of one score: ten times what an orchestral one has; a tree takes some 100 bytes for each."""

_MAGIC_NAMES: Final = (
    (b"%PDF", "a PDF"),
    (b"MThd", "a MIDI file"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)
_CONTAINER: Final = "META-INF/container.xml"
_EXPORT_HINT: Final = "export the score as MusicXML (.musicxml, .xml or .mxl) from the notation program"


def musicxml_root(data: bytes, name: str) -> Element:
    """The ``score-partwise`` root of a MusicXML file, tags without namespaces.

    ``data`` is the whole file, plain or zipped; ``name`` is used in messages only. Raises ReadingError when the bytes
    are empty, damaged, too large, of another kind, or try to reach outside themselves.
    """
    _refuse_other_kinds(data, name)
    if data[:1] in (b" ", b"\n", b"\r", b"\t"):
        data = data.lstrip()  # an XML declaration must be the first thing in a file, and in some it is not
    if data.startswith(b"PK"):
        data = _member_of_zip(data, name)
        _refuse_other_kinds(data, name)
    root = _parse(data, name)
    if "}" in root.tag:
        for element in root.iter():
            element.tag = element.tag.rpartition("}")[2]
    if root.tag == "score-timewise":
        root = _partwise(root)
    if root.tag != "score-partwise":
        raise ReadingError(f"{name} is XML but not MusicXML (root element <{root.tag[:60]}>): {_EXPORT_HINT}")
    return root


def _refuse_other_kinds(data: bytes, name: str) -> None:
    if not data.strip(b" \t\r\n\0"):
        raise ReadingError(f"{name} is empty: {_EXPORT_HINT} again")
    if len(data) > LARGEST_BYTES:
        raise ReadingError(f"{name} is larger than {LARGEST_BYTES // 2**20} MiB: too large for one transcription")
    for magic, kind in _MAGIC_NAMES:
        if data.startswith(magic):
            raise ReadingError(f"{name} is {kind}, not MusicXML: {_EXPORT_HINT}")


def _parse(data: bytes, name: str) -> Element:
    if data.count(b"<") > MOST_TAGS:
        raise ReadingError(f"{name} has more than {MOST_TAGS:,} tags: too large for one transcription")
    declared = re.search(rb"<\?xml[^>]{0,200}?encoding\s*=\s*[\"']([A-Za-z0-9._-]{1,40})", data[:400])
    if declared is not None and not _is_plain_encoding(declared[1].decode("ascii")):
        raise ReadingError(f"{name} is damaged, or written in {declared[1].decode()}: {_EXPORT_HINT} in UTF-8")
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(data, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    except DefusedXmlException as error:
        raise ReadingError(
            f"{name} declares XML entities or refers to other files, which a score never needs: refused for safety"
        ) from error
    except (ParseError, ValueError, LookupError) as error:
        if re.match(rb"\s*(<!doctype\s+html|<html)", data[:400], re.IGNORECASE):
            raise ReadingError(f"{name} is a web page (HTML), not MusicXML: download the score itself") from error
        if b"<" not in data[:400].replace(b"\0", b""):
            raise ReadingError(f"{name} is not XML at all: {_EXPORT_HINT}") from error
        raise ReadingError(f"{name} is damaged or cut off ({error}): {_EXPORT_HINT} again") from error
    return root


def _is_plain_encoding(encoding: str) -> bool:
    """Whether an encoding writes ``<`` as that byte, so that the tags could be counted."""
    try:
        return b"<" in "<".encode(encoding)
    except (LookupError, UnicodeError):
        return False


def _member_of_zip(data: bytes, name: str) -> bytes:
    """The score inside a compressed MusicXML file."""
    damaged = f"{name} is a damaged or cut-off zip archive: export or copy it again"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                raise ReadingError(
                    f"{name} is an archive of {len(members)} files, not one score (limit {MOST_MEMBERS}):"
                    " unpack it and add the scores"
                )
            for member in members:
                path = member.filename
                if path.startswith(("/", "\\")) or ".." in re.split(r"[/\\]", path) or re.match(r"[A-Za-z]:", path):
                    raise ReadingError(
                        f"{name} holds a file that leaves the archive ({path[:80]!r}): refused for safety"
                    )
            return _read_member(archive, _score_path(archive, name), name)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, KeyError, ValueError, NotImplementedError) as error:
        raise ReadingError(damaged) from error


def _score_path(archive: zipfile.ZipFile, name: str) -> str:
    """The member that the container names, or without a container the first score by its ending."""
    paths = archive.namelist()
    if _CONTAINER in paths:
        container = _parse(_read_member(archive, _CONTAINER, name), name)
        for element in container.iter():
            path = element.get("full-path")
            media = element.get("media-type", "application/vnd.recordare.musicxml+xml")
            if element.tag.rpartition("}")[2] == "rootfile" and path and media.endswith("xml"):
                if path not in paths:
                    raise ReadingError(f"{name} names a score that it does not hold ({path[:80]!r}): export it again")
                return path
    for path in paths:
        if path.lower().endswith((".musicxml", ".xml")) and not path.startswith("META-INF/"):
            return path
    raise ReadingError(f"{name} is a zip archive without a MusicXML score in it: {_EXPORT_HINT}")


def _read_member(archive: zipfile.ZipFile, path: str, name: str) -> bytes:
    member = archive.getinfo(path)
    if member.flag_bits & 1:
        raise ReadingError(f"{name} is an encrypted zip archive: unpack it with its password and add the score inside")
    with archive.open(member) as stream:
        # The size in the directory may lie: what counts is what comes out.
        content = stream.read(LARGEST_BYTES + 1)
    if len(content) > LARGEST_BYTES:
        raise ReadingError(f"{name} unpacks to more than {LARGEST_BYTES // 2**20} MiB: too large for one transcription")
    return content


def _partwise(root: Element) -> Element:
    """Turn measures that hold parts into parts that hold measures."""
    result = Element("score-partwise", root.attrib)
    parts: dict[str, Element] = {}
    for child in root:
        if child.tag != "measure":
            result.append(child)
            continue
        for part in child.findall("part"):
            part_id = part.get("id", "")
            if part_id not in parts:
                parts[part_id] = Element("part", part.attrib)
            measure = Element("measure", child.attrib)
            measure.extend(list(part))
            parts[part_id].append(measure)
    result.extend(parts.values())
    return result
