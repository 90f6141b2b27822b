"""Altered copies of good inputs: text by its tokens, tables by their cells, XML and JSON by their trees, raw bytes.

Most alterations keep the grammar, so that an input gets past the first check and reaches what lies behind it. All are
made by a ``random.Random`` that is handed in: the same seed gives the same input.
"""

import io
import json
import random
import re
import zipfile
from collections.abc import Callable, Sequence
from copy import deepcopy
from typing import Any
from xml.etree.ElementTree import Element, fromstring, tostring

SCRAPS = (
    "",
    " ",
    "0",
    "-1",
    "1",
    "3",
    "00",
    "1/0",
    "0/4",
    "1e9",
    "1e309",
    "-0.0",
    "nan",
    "inf",
    "9" * 12,
    "9" * 400,
    "1" * 4301,
    "\u0663",
    "½",
    "²",
    "\x00",
    "\x1b[31m",
    "\u202e",
    "\ufeff",
    "\ud7ff",
    "𝄪",
    "♭",
    "♯♯♯",
    "##",
    "bbb",
    "x",
    "A",
    "%s",
    "{0}",
    "'",
    '"',
    "\\",
    "(" * 60,
    "[" * 60,
    "|:" * 40,
    "a" * 3000,
)


def alter_characters(text: str, source: random.Random) -> str:
    """A text with a character or a few left out, doubled, exchanged or put in."""
    for _ in range(source.randint(1, 3)):
        at = source.randrange(len(text) + 1)
        match source.randrange(5):
            case 0:
                text = text[:at] + text[at + source.randint(1, 4) :]
            case 1:
                text = text[:at] + source.choice(SCRAPS) + text[at:]
            case 2:
                text = text[:at] + text[at : at + 1] * source.choice((2, 3, 40)) + text[at + 1 :]
            case 3:
                text = text[:at] + source.choice("0123456789") + text[at + 1 :]
            case _:
                text = (
                    text[:at] + chr(source.choice((source.randrange(32, 127), source.randrange(1, 0x2FFF)))) + text[at:]
                )
    return text


def token_mutator(pattern: str, seeds: Sequence[str]) -> Callable[[random.Random], bytes]:
    """Alters texts by the tokens that ``pattern`` finds in them; tokens move from one seed into another."""
    token = re.compile(pattern, re.MULTILINE | re.DOTALL)
    cut = [token.findall(seed) for seed in seeds]
    pool = sorted({one for tokens in cut for one in tokens if one.strip()})

    def mutate(source: random.Random) -> bytes:
        tokens = list(source.choice(cut))
        for _ in range(source.choice((1, 1, 1, 2, 3, 8))):
            _alter_row(tokens, pool, source)
        return "".join(tokens).encode("utf-8", "surrogatepass")

    return mutate


def _alter_row(tokens: list[str], pool: Sequence[str], source: random.Random) -> None:
    """One change to a row of tokens."""
    at = source.randrange(len(tokens) + 1)
    to = min(at + source.randint(1, 6), len(tokens))
    match source.randrange(8):
        case 0:
            del tokens[at:to]
        case 1:
            tokens[at:at] = tokens[at:to] * source.choice((1, 1, 2, 30))
        case 2 if at < len(tokens):
            other = source.randrange(len(tokens))
            tokens[at], tokens[other] = tokens[other], tokens[at]
        case 3 if at < len(tokens):
            tokens[at] = alter_characters(tokens[at], source)
        case 4 if at < len(tokens):
            tokens[at] = source.choice(SCRAPS)
        case 5 if source.random() < 0.1:
            del tokens[at:]
        case _:
            tokens.insert(at, source.choice(pool))


def table_mutator(seeds: Sequence[str]) -> Callable[[random.Random], bytes]:
    """Alters tables of tab-parted cells, by lines and by cells of the same and of other columns."""
    tables = [[line.split("\t") for line in seed.splitlines()] for seed in seeds]
    pool = sorted({cell for table in tables for line in table for cell in line})

    def mutate(source: random.Random) -> bytes:
        table = [list(line) for line in source.choice(tables)]
        for _ in range(source.choice((1, 1, 2, 3, 6, 15))):
            _alter_table(table, pool, source)
        text = "\n".join("\t".join(line) for line in table)
        return text.encode("utf-8", "surrogatepass")

    return mutate


def _alter_table(table: list[list[str]], pool: Sequence[str], source: random.Random) -> None:
    if not table:
        table.append(["**kern"])
    at = source.randrange(len(table))
    line = table[at]
    cell = source.randrange(len(line)) if line else 0
    match source.randrange(9):
        case 0:
            del table[at]
        case 1:
            table[at:at] = [list(line) for _ in range(source.choice((1, 1, 2, 30)))]
        case 2:
            table.insert(at, list(source.choice(table)))
        case 3 if line:
            line[cell] = alter_characters(line[cell], source)
        case 4 if line:
            line[cell] = source.choice(SCRAPS).replace("\n", "")
        case 5 if line:
            _follow(table, at, cell, source)
        case 6 if line and source.random() < 0.2:
            del line[cell]
        case _ if line:
            line[cell] = source.choice(pool)
        case _:
            line.append(source.choice(pool))


def _follow(table: list[list[str]], at: int, cell: int, source: random.Random) -> None:
    """Put a line of spine operations in and give the lines behind it the columns that it makes."""
    width = len(table[at])
    operation = source.choice(("*^", "*+", "*-", "*v", "*x"))
    row = ["*"] * width
    row[cell] = operation
    if operation in ("*v", "*x") and cell + 1 < width:
        row[cell + 1] = operation
    table.insert(at, row)
    more = {"*^": 1, "*+": 1, "*-": -1, "*v": -1, "*x": 0}[operation]
    for line in table[at + 1 :]:
        if line and more > 0:
            line.insert(min(cell, len(line)), source.choice((line[min(cell, len(line) - 1)], ".", "*")))
        elif line and more < 0 and cell < len(line):
            del line[cell]


def xml_mutator(seeds: Sequence[bytes]) -> Callable[[random.Random], bytes]:
    """Alters XML trees: elements emptied, filled, moved, doubled, renamed; now and then zipped, or bytes changed."""
    trees = [fromstring(seed) for seed in seeds]
    tags = sorted({element.tag for tree in trees for element in tree.iter()})
    texts = sorted({(element.text or "").strip() for tree in trees for element in tree.iter()})
    parts = [element for tree in trees for element in tree.iter() if len(element) < 12]

    def mutate(source: random.Random) -> bytes:
        root = deepcopy(source.choice(trees))
        for _ in range(source.choice((1, 1, 2, 4, 8, 20))):
            _alter_tree(root, tags, texts, parts, source)
        data = tostring(root)
        if source.random() < 0.04:
            data = alter_bytes(data, source)
        if source.random() < 0.08:
            data = _zipped(data, source)
        return data

    return mutate


def _alter_tree(
    root: Element, tags: Sequence[str], texts: Sequence[str], parts: Sequence[Element], source: random.Random
) -> None:
    elements = list(root.iter())
    parent = source.choice(elements)
    element = source.choice(list(parent)) if len(parent) else parent
    match source.randrange(8):
        case 0 if element is not parent:
            parent.remove(element)
        case 1 if element is not parent:
            for _ in range(source.choice((1, 1, 2, 20))):
                parent.insert(source.randrange(len(parent) + 1), deepcopy(element))
        case 2:
            element.text = _xml_text(source.choice(SCRAPS))
        case 3:
            element.text = source.choice(texts)
        case 4 if element is not parent:
            element.tag = source.choice(tags)
        case 5 if element.attrib:
            element.set(
                source.choice(sorted(element.attrib)), _xml_text(source.choice((*SCRAPS, "yes", "no", "start", "stop")))
            )
        case 6 if element is not parent:
            parent.remove(element)
            target = source.choice(list(root.iter()))
            target.insert(source.randrange(len(target) + 1), element)
        case _:
            parent.insert(source.randrange(len(parent) + 1), deepcopy(source.choice(parts)))


def _xml_text(text: str) -> str:
    return "".join(character for character in text if character >= " ")


def _zipped(data: bytes, source: random.Random) -> bytes:
    target = io.BytesIO()
    names = ("score.xml", "META-INF/container.xml", "../score.xml", "a/b.musicxml", "", "score.xml/")
    container = b'<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>'
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in source.sample(names, k=source.randint(1, 3)):
            archive.writestr(name or "x", container if "META" in name else data)
    packed = target.getvalue()
    return alter_bytes(packed, source) if source.random() < 0.7 else packed


def alter_bytes(data: bytes, source: random.Random) -> bytes:
    """Bytes with some of them changed, left out, doubled or cut off."""
    changed = bytearray(data)
    for _ in range(source.choice((1, 1, 2, 5, 20))):
        at = source.randrange(len(changed) + 1)
        match source.randrange(5):
            case 0 if at < len(changed):
                changed[at] = source.randrange(256)
            case 1 if at < len(changed):
                changed[at] = source.choice((0, 1, 0x7F, 0x80, 0xFF))
            case 2:
                del changed[at : at + source.randint(1, 8)]
            case 3:
                changed[at:at] = changed[at : at + source.randint(1, 16)]
            case _ if source.random() < 0.1:
                del changed[at:]
    return bytes(changed)


def json_mutator(seeds: Sequence[bytes]) -> Callable[[random.Random], bytes]:
    """Alters JSON documents value by value; now and then their bytes."""
    documents = [json.loads(seed) for seed in seeds]

    def mutate(source: random.Random) -> bytes:
        document = deepcopy(source.choice(documents))
        for _ in range(source.choice((1, 1, 2, 4, 10))):
            document = _alter_value(document, source, below="figures")
        data = json.dumps(document, ensure_ascii=source.random() < 0.5).encode("utf-8", "surrogatepass")
        return alter_bytes(data, source) if source.random() < 0.05 else data

    return mutate


def _alter_value(value: Any, source: random.Random, below: str = "") -> Any:
    """One change somewhere inside a value; mostly under the key ``below`` where there is one."""
    if isinstance(value, dict) and below in value and source.random() < 0.9:
        value[below] = _alter_value(value[below], source)
        return value
    if isinstance(value, dict) and value and source.random() < 0.9:
        key = source.choice(sorted(value))
        if source.random() < 0.08:
            value.pop(key)
        elif source.random() < 0.05:
            value[source.choice(SCRAPS)] = value.pop(key)
        else:
            value[key] = _alter_value(value[key], source)
        return value
    if isinstance(value, list) and value and source.random() < 0.9:
        at = source.randrange(len(value))
        if source.random() < 0.1:
            value[at:at] = [deepcopy(value[at])] * source.choice((1, 2, 60))
        elif source.random() < 0.1:
            del value[at]
        else:
            value[at] = _alter_value(value[at], source)
        return value
    if isinstance(value, str) and source.random() < 0.6:
        return alter_characters(value, source)
    if isinstance(value, int) and source.random() < 0.6:
        return value + source.choice((-1, 1, 12, -(10**6), 10**6, 10**30, 2**63))
    return source.choice((None, True, 0, -1, 10**400, 1.5, float("inf"), [], {}, [[]] * 5, *SCRAPS))
