"""The shelf file: round trips, the schema, and every kind of broken file in words."""

import json
import re
from copy import deepcopy
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError

from corpus.errors import ReadingError
from corpus.match.figure import figure_from_notes
from corpus.shelf.file import read_shelf, write_shelf
from corpus.shelf.keeping import from_typed, parse_lengths
from corpus.shelf.kept import KeptFigure
from corpus.shelf.schema import shelf_schema
from tests.generators.shelves import LATEST, SHELVES

# Written by hand from the description in README.md, not by the code under test.
BY_HAND: dict[str, Any] = {
    "format": "wellworn shelf",
    "version": 1,
    "ticks_per_quarter": 10080,
    "figures": [
        {
            "name": "Turn",
            "notes": [
                {"spelling": "F2", "onset": 0, "duration": 10080},
                {"spelling": "D2", "onset": 10080, "duration": 5040},
            ],
            "chords": [{"onset": 0, "symbol": "F7", "numeral": "V", "key": "Bb"}],
            "key": "Bb",
            "meter": "4/4",
            "beat": "7/2",
            "tags": ["blues"],
            "rating": 4,
            "comment": "first line\nsecond line",
            "family": "turns",
            "kept": "2024-02-29",
            "sources": [{"title": "Slow Ferry Home", "passage": "3:1-3:2", "notes": ["F2", "D2"]}],
            "practice": [{"day": "2024-03-01", "bpm": 92.5, "keys": ["C", "Fm"], "grade": 4}],
        },
        {"name": "Plain", "notes": [{"spelling": "C4"}, {"spelling": "G4"}]},
    ],
}


def read(content: Any) -> list[KeptFigure]:
    """What a file of this content holds."""
    data = content if isinstance(content, bytes) else json.dumps(content).encode()
    return read_shelf(data, "turns.json", LATEST)


def broken(path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """The file written by hand with another value in one place; ``...`` takes it out."""
    content = deepcopy(BY_HAND)
    here: Any = content
    for step in path[:-1]:
        here = here[step]
    if value is ...:
        del here[path[-1]]
    else:
        here[path[-1]] = value
    return content


def test_a_file_written_by_hand_is_read_as_it_says() -> None:
    """Every field arrives; what is left out is empty."""
    turn, plain = read(BY_HAND)
    assert [(n.spelling, n.onset_ticks, n.duration_ticks) for n in turn.notes] == [
        ("F2", 0, 10080),
        ("D2", 10080, 5040),
    ]
    assert (turn.chords[0].symbol, turn.chords[0].numeral, turn.chords[0].key) == ("F7", "V", "Bb")
    assert (str(turn.meter), turn.beat, turn.rating, turn.tags) == ("4/4", Fraction(7, 2), 4, ("blues",))
    assert (turn.comment, turn.family, turn.kept_on) == ("first line\nsecond line", "turns", date(2024, 2, 29))
    assert turn.sources[0].passage == "3:1-3:2"
    assert turn.sources[0].transcription is None
    assert (turn.practice[0].bpm, turn.practice[0].keys, turn.practice[0].grade) == (92.5, ("C", "Fm"), 4)
    assert (plain.has_rhythm, plain.tags, plain.practice, plain.rating) == (False, (), (), None)


@settings(max_examples=80, deadline=None)
@given(SHELVES)
def test_what_is_written_is_read_back_and_written_alike(shelf: list[KeptFigure]) -> None:
    """Figures come back equal in the order of their names, and give the same bytes again."""
    data = write_shelf(shelf, with_practice=True)
    back = read_shelf(data, "x.json", LATEST)
    assert back == sorted(shelf, key=lambda figure: figure.id_name)
    assert write_shelf(back, with_practice=True) == data


@settings(max_examples=40, deadline=None)
@given(SHELVES, st.booleans())
def test_what_is_written_keeps_to_the_schema(shelf: list[KeptFigure], with_practice: bool) -> None:
    """The jsonschema library finds no fault with it, and none with the schema itself."""
    Draft202012Validator.check_schema(shelf_schema())
    content = json.loads(write_shelf(shelf, with_practice))
    Draft202012Validator(shelf_schema()).validate(content)
    assert with_practice or not any("practice" in figure for figure in content["figures"])


def test_the_example_in_the_readme_is_a_shelf_file() -> None:
    """It keeps to the schema and is read as it stands there."""
    page = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```json\n(.*?)```", page, re.DOTALL)
    Draft202012Validator(shelf_schema()).validate(json.loads(example))
    (figure,) = read(example.encode())
    assert (figure.name, figure.spellings, figure.comment) == ("Turn", ("F2", "D2"), "slowly")


def test_the_schema_refuses_by_itself() -> None:
    """Another program that checks with it is told."""
    with pytest.raises(ValidationError):
        Draft202012Validator(shelf_schema()).validate(broken(("figures", 0, "rating"), 9))


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("version",), 2, r"version 2, made by a newer wellworn; this one reads version 1"),
        (("version",), 10**400, r"version 1000.*newer"),
        (("version",), "1", r'version: "1" should be 1'),
        (("version",), True, r"version: true should be 1"),
        (("format",), "another", r"is no shelf file"),
        (("figures",), {}, r"figures: an object should be a list"),
        (("figures", 0), [], r"figure 1: a list should be an object"),
        (("figures", 0, "name"), ..., r"figure 1: name is missing"),
        (("figures", 0, "name"), "", r'figure 1 \(""\), name: is empty'),
        (("figures", 0, "name"), "\x1b\x07", r"figure 1 .*holds nothing that can be printed"),
        (("figures", 0, "name"), "x" * 81, r"name: is longer than 80"),
        (("figures", 0, "name"), 7, r"figure 1, name: 7 should be a text"),
        (("figures", 1, "name"), "tURN", r'figure 2 \("tURN"\) has the name of figure 1 \("Turn"\)'),
        (("figures", 0, "rating"), 6, r'figure 1 \("Turn"\), rating: 6 is more than 5'),
        (("figures", 0, "rating"), "5", r'rating: "5" should be a whole number'),
        (("figures", 0, "rating"), True, r"rating: true should be a whole number"),
        (("figures", 0, "colour"), "red", r'"colour" is unknown here'),
        (("figures", 0, "notes"), [{"spelling": "F2"}], r"notes: has fewer than 2 items"),
        (("figures", 0, "notes", 1, "spelling"), "H2", r'notes 2, spelling: "H2" is not written as it should be'),
        (("figures", 0, "notes", 1, "spelling"), "F", r'notes 2, spelling: "F" is not written'),
        (("figures", 0, "notes", 0, "spelling"), "Cb-1", r"note 1, Cb-1, is out of every range"),
        (("figures", 0, "notes", 1, "onset"), 0, r"note 2, D2: onsets begin at 0 and rise"),
        (("figures", 0, "notes", 1, "onset"), ..., r"either all notes .* have an onset, or none"),
        (("figures", 0, "notes", 1, "duration"), ..., r"note 2, D2, needs both onset and duration"),
        (("figures", 0, "notes", 1, "onset"), 1.5, r"onset: 1.5 should be a whole number"),
        (("figures", 0, "chords", 0, "numeral"), "IX", r"numeral 'IX'"),
        (("figures", 0, "key"), "H major", r"unknown key"),
        (("figures", 0, "meter"), "4/5", r'meter: "4/5" is not written'),
        (("figures", 0, "beat"), "0", r'beat: "0" is not written'),
        (("figures", 0, "kept"), "2024-02-30", r"2024-02-30 is no day of the calendar"),
        (("figures", 0, "kept"), "2031-01-01", r"2031-01-01 is a day to come"),
        (("figures", 0, "practice", 0, "day"), "2024-07-01", r"2024-07-01 is a day to come"),
        (("figures", 0, "practice", 0, "bpm"), 0, r"bpm: 0 is less than 10"),
        (("figures", 0, "practice", 0, "bpm"), 10000, r"bpm: 10000 is more than 999"),
        (("figures", 0, "practice", 0, "grade"), -1, r"grade: -1 is less than 0"),
        (("figures", 0, "comment"), "x" * 4001, r"comment: is longer than 4,000 characters"),
        (("figures", 0, "tags"), ["a"] * 51, r"tags: has more than 50 items"),
        (("figures",), [[]] * 20_001, r"figures: has more than 20000 items|should be an object"),
    ],
)
def test_a_fault_is_told_with_its_place(path: tuple[str | int, ...], value: Any, words: str) -> None:
    """Which figure, which field, what is wrong; and not a whole screen of it."""
    with pytest.raises(ReadingError, match=words) as caught:
        read(broken(path, value))
    assert str(caught.value).startswith("turns.json")
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", r"line 1 column 1: broken JSON"),
        (b'{\n "format": "wellworn shelf",\n "version": 1,,\n}', r"line 3 column 15: broken JSON"),
        (b"\xff\xfe{}", r"no text in UTF-8"),
        (b"[" * 1_000_000, r"nested too deeply|broken JSON"),
        (b'{"a":' * 300_000 + b"1" + b"}" * 300_000, r"nested too deeply"),
        (b'{"format": NaN}', r"NaN is no number"),
        (b'{"format": "wellworn shelf", "format": "x"}', r'"format" stands twice'),
        (b'{"version": ' + b"9" * 5000 + b"}", r"is no shelf file"),
        (b"[1, 2]", r"is no shelf file"),
        (b'"wellworn shelf"', r"is no shelf file"),
        (b" " * 20_000_001, r"too large"),
    ],
)
def test_files_that_are_no_json_of_ours(data: bytes, words: str) -> None:
    """Empty, broken (with line and column), another encoding, nested a million times, too large."""
    with pytest.raises(ReadingError, match=words):
        read(data)


def test_terminal_escapes_and_turns_of_direction_are_left_out_of_all_texts() -> None:
    """What is read is fit to print."""
    content = broken(("figures", 0, "name"), "Tu\x1b[31mrn\u202e!")
    content["figures"][0]["comment"] = "a\x1b]0;x\x07b\r\nc\u2066"
    content["figures"][0]["sources"][0]["title"] = "Fer\x1bry"
    figure = read(content)[0]
    assert figure.name == "Tu[31mrn!"
    assert figure.comment == "a]0;xb\nc"
    assert figure.sources[0].title == "Ferry"


def test_numbers_with_a_point_and_a_byte_order_mark_are_read() -> None:
    """JSON has one kind of number, and some editors mark their files."""
    content = broken(("figures", 0, "rating"), 4.0)
    content["figures"][0]["notes"][1]["onset"] = 10080.0
    figure = read(b"\xef\xbb\xbf" + json.dumps(content).encode())[0]
    assert (figure.rating, figure.notes[1].onset_ticks) == (4, 10080)
    assert isinstance(figure.rating, int)


def test_the_practice_log_is_left_out_unless_asked_for() -> None:
    """A student need not see when the teacher practised."""
    shelf = read(BY_HAND)
    assert b"practice" not in write_shelf(shelf)
    assert b'"grade": 4' in write_shelf(shelf, with_practice=True)


def test_a_figure_without_rhythm_has_no_onsets_in_the_file() -> None:
    """And one with lengths has them in ticks: a half is 5040."""
    plain = from_typed("Plain", figure_from_notes("C3 D3"))
    timed = from_typed("Timed", figure_from_notes("C3 D3"), parse_lengths("1/2 1"))
    written = json.loads(write_shelf([timed, plain]))["figures"]
    assert written[0]["notes"] == [{"spelling": "C3"}, {"spelling": "D3"}]
    assert written[1]["notes"] == [
        {"spelling": "C3", "onset": 0, "duration": 5040},
        {"spelling": "D3", "onset": 5040, "duration": 10080},
    ]
