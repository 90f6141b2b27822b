"""``table``: the same rows as CSV, JSON lines and Parquet, read back by other programs."""

import csv
import io
import json
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pandas
import pytest
from music21 import converter
from music21.note import Note
from pyarrow import parquet

from cli.table_files import write_table
from db import rows as table_rows
from db.catalogue import Selection, load_entries
from db.opening import open_database
from tests.cli.conftest import Run
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line

COLUMNS = {**table_rows.OF_LINES, **table_rows.OF_FAMILIES}


def rows_of(text: str) -> list[dict[str, str]]:
    """CSV as dictionaries."""
    return list(csv.DictReader(io.StringIO(text)))


def test_notes_are_those_of_an_independent_reader(stored: Run, study: Path) -> None:
    """Pitches, onsets and durations of the second tune as music21 reads its ABC."""
    tune = converter.parse(study, forceSource=True, number=2).flatten()
    wanted = [(n.pitch.midi, float(n.offset), float(n.quarterLength)) for n in tune.notes if isinstance(n, Note)]
    rows = rows_of(stored("table", "notes", "--tune", "paper", "--csv", "-").out)
    assert [(int(r["pitch"]), float(r["onset"]), float(r["duration"])) for r in rows] == wanted
    assert {row["player"] for row in rows} == {"Tamsin Vey"}


def test_notes_have_all_their_roles_as_show_tells_them(stored: Run) -> None:
    """Every value of ``show --json`` is in the table; sections and details of the line beside it."""
    shown = stored("show", "1", "--json").json["notes"]
    rows = [json.loads(line) for line in stored("table", "notes", "--jsonl", "-").out.splitlines()]
    first = [row for row in rows if row["transcription"] == 1]
    for note, row in zip(shown, first, strict=True):
        assert {name: row[name] for name in note if name != "grace"} == {n: v for n, v in note.items() if n != "grace"}
    assert {row["section"] for row in first} == {"A"}
    assert {row["title"] for row in rows} == {"Harbour Steps", "Paper Boats"}


def test_a_section_and_filters_choose_rows(stored: Run) -> None:
    """Names of sections without regard to case; what no line answers to is an empty table with its headings."""
    assert len(rows_of(stored("table", "notes", "--section", "a", "--csv", "-").out)) == 33
    empty = stored("table", "notes", "--player", "nobody", "--csv", "-")
    assert (empty.code, empty.out.count("\n"), "0 rows" in empty.err) == (0, 1, True)


@pytest.mark.parametrize("what", ["notes", "lines", "families", "occurrences"])
def test_the_three_forms_hold_the_same_and_other_programs_read_them(stored: Run, tmp_path: Path, what: str) -> None:
    """pandas reads CSV and JSON lines, pyarrow Parquet; every column is described, with its meaning in the file."""
    files = {form: tmp_path / f"t.{form}" for form in ("csv", "jsonl", "parquet")}
    for form, file in files.items():
        told = stored("table", what, f"--{form}", str(file))
        assert (told.code, told.out) == (0, ""), told.err
    columns = COLUMNS[what][0]
    names = [column.name for column in columns]
    from_csv = pandas.read_csv(files["csv"])
    from_json = pandas.read_json(files["jsonl"], lines=True)
    from_parquet = parquet.read_table(  # type: ignore[no-untyped-call]
        files["parquet"]
    )
    assert list(from_csv.columns) == list(from_json.columns) == from_parquet.column_names == names
    assert len(from_csv) == len(from_json) == from_parquet.num_rows > 0
    written = [json.loads(line) for line in files["jsonl"].read_text(encoding="utf-8").splitlines()]
    assert from_parquet.to_pylist() == written
    assert len(set(names)) == len(names)
    assert all(column.meaning for column in columns)
    assert from_parquet.schema.field(names[0]).metadata[b"meaning"].decode() == columns[0].meaning
    meanings = stored("table", what, "--columns").out
    assert all(column.name in meanings for column in columns)


def test_families_and_their_places_agree(run: Run, tmp_path: Path) -> None:
    """Counts of the families are those of their places; the typical form has the intervals of its notes."""
    assert run("add", Path(__file__).parents[2] / "seed_data" / "walking_lines.abc").code == 0
    families = [json.loads(line) for line in run("table", "families", "--jsonl", "-").out.splitlines()]
    places = [json.loads(line) for line in run("table", "occurrences", "--jsonl", "-").out.splitlines()]
    assert len(families) > 3
    for family in families:
        own = [place for place in places if place["family"] == family["family"]]
        assert len([place for place in own if not place["replay"]]) == family["places"]
        assert any((p["transcription"], p["first"]) == (family["transcription"], family["first"]) for p in own)
        assert all(0 <= place["likeness"] <= 1 for place in own)
        assert len(json.loads(family["intervals"])) + 1 == family["length"]
    assert [family["rank"] for family in families] == list(range(1, len(families) + 1))


def test_a_formula_is_a_text_in_csv_and_itself_elsewhere(stored: Run) -> None:
    """Titles and players that a spreadsheet would run."""
    assert stored("edit", "1", "--title", "=1+1", "--player", "@cmd", "--collection", "+9").code == 0
    [row] = rows_of(stored("table", "lines", "--csv", "-", "--tune", "=1+1").out)
    assert (row["title"], row["player"], row["collection"]) == ("'=1+1", "'@cmd", "'+9")
    assert json.loads(stored("table", "lines", "--jsonl", "-", "--tune", "=1+1").out)["title"] == "=1+1"


def test_files_are_whole_or_not_written(stored: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No writing over, no half a file when something breaks, one target at a time, no Parquet without its library."""
    target = tmp_path / "t.csv"
    target.write_text("mine")
    assert "--force" in stored("table", "notes", "--csv", str(target)).err
    assert stored("table", "notes").code == 2
    assert stored("table", "notes", "--csv", "-", "--jsonl", "-").code == 2
    assert stored("table", "chords", "--csv", "-").code == 2
    assert stored("table", "notes", "--parquet", "-").code == 2
    assert stored("table", "notes", "--csv", str(tmp_path / "no" / "where.csv")).code == 2
    assert stored("table", "lines", "--section", "A", "--csv", "-").code == 2

    def broken() -> object:
        yield {"title": "one"}
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_table("csv", str(target), table_rows.LINE_COLUMNS, broken(), force=True)  # type: ignore[arg-type]
    assert target.read_text() == "mine"
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert "wellworn[parquet]" in stored("table", "notes", "--parquet", str(tmp_path / "t.parquet")).err


def test_rows_are_made_while_they_are_written(new_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of twelve lines five are asked for at a time, and the next five only when the rows of those are taken."""
    asked: list[int] = []

    def recording(connection: Any, ids: Sequence[int]) -> Any:
        asked.extend(ids)
        return load_entries(connection, ids)

    monkeypatch.setattr(table_rows, "_AT_ONCE", 5)
    monkeypatch.setattr(table_rows, "load_entries", recording)
    with closing(open_database(new_url, create=True)) as database:
        ids = store_lines(database, [walking_line(seed, 2) for seed in range(12)])
        with database.reading() as connection:
            known: dict[int, int] = {}
            for row in table_rows.note_rows(connection, Selection()):
                known.setdefault(row["transcription"], len(asked))
    assert list(known) == asked == ids
    assert [known[identity] for identity in ids] == [5] * 5 + [10] * 5 + [12] * 2
