"""Tables as files: CSV, JSON lines and Parquet, written row by row beside their place and moved there when complete."""

import csv
import json
import os
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import IO, Any, Final, Literal

from cli.files import target_of
from cli.output import csv_cell, plain
from corpus.errors import QueryError, SystemTroubleError
from db.rows import Column, Row

Form = Literal["csv", "jsonl", "parquet"]
_ROWS_A_GROUP: Final = 50_000


def write_table(form: Form, target: str, columns: Sequence[Column], rows: Iterable[Row], force: bool) -> int:
    """Write a table; returns how many rows it has. ``-`` is standard output (not for Parquet).

    Raises QueryError for a target that exists or a library that is missing, SystemTroubleError when the system refuses.
    """
    if form == "parquet":
        if target == "-":
            raise QueryError("Parquet is no text for standard output: name a file")
        _require_pyarrow()
        with _whole_or_not(target_of(target, force)) as file:
            return _write_parquet(file.buffer, columns, rows)  # type: ignore[attr-defined]
    write = _write_csv if form == "csv" else _write_json_lines
    if target == "-":
        return write(sys.stdout, columns, rows)
    with _whole_or_not(target_of(target, force)) as file:
        return write(file, columns, rows)


def flat(columns: Sequence[Column], row: Row) -> dict[str, Any]:
    """The values of a row by column, lists as one text, without anything that a terminal would obey."""
    return {column.name: _flat(row.get(column.name)) for column in columns}


def _flat(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        # Changes are phrases, all other lists are single words.
        value = ("; " if any(" " in str(item) for item in value) else " ").join(map(str, value)) or None
    return plain(value) if isinstance(value, str) else value


def form_by_name(target: str, force: bool) -> Form:
    """The form that a file's name asks for. Raises QueryError for another name, or a target that exists."""
    forms: dict[str, Form] = {".csv": "csv", ".jsonl": "jsonl", ".parquet": "parquet"}
    form = forms.get(Path(target).suffix.lower())
    if form is None:
        raise QueryError(f"{target} is no table by its name: let it end in {', '.join(forms)}")
    target_of(target, force)
    return form


def write_table_by_name(target: str, columns: Sequence[Column], rows: Iterable[Row], force: bool) -> int:
    """As ``write_table``, in the form that the file's name asks for."""
    return write_table(form_by_name(target, force), target, columns, rows, force)


@contextmanager
def _whole_or_not(target: Path) -> Iterator[IO[str]]:
    """A file beside the target that takes its place at the end, or leaves no trace."""
    name = ""
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", newline="", dir=target.parent, prefix=f".{target.name[:40]}-", delete=False
        ) as file:
            name = file.name
            yield file
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)
        Path(name).replace(target)
        name = ""
    except OSError as error:
        raise SystemTroubleError(f"{target} cannot be written ({error.strerror}): choose another place") from error
    finally:
        if name:
            Path(name).unlink(missing_ok=True)


def _write_csv(file: IO[str], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    count = 0
    for row in rows:
        writer.writerow([csv_cell(value) for value in flat(columns, row).values()])
        count += 1
    return count


def _write_json_lines(file: IO[str], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    count = 0
    for row in rows:
        file.write(json.dumps(flat(columns, row), ensure_ascii=False) + "\n")
        count += 1
    return count


def _require_pyarrow() -> None:
    try:
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise QueryError("Parquet needs the library pyarrow: install wellworn[parquet], or write --csv") from error


def _write_parquet(file: IO[bytes], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    """Row groups of 50,000 rows; the meaning of each column stands in the metadata of its field."""
    import pyarrow as pa
    from pyarrow import parquet

    kinds = {"text": pa.string(), "integer": pa.int64(), "number": pa.float64(), "flag": pa.bool_()}
    schema = pa.schema(
        [pa.field(column.name, kinds[column.kind], metadata={"meaning": column.meaning}) for column in columns]
    )
    count, remaining = 0, iter(rows)
    with parquet.ParquetWriter(file, schema) as writer:  # type: ignore[no-untyped-call]
        while group := [_typed(columns, row) for row in islice(remaining, _ROWS_A_GROUP)]:
            writer.write_table(pa.Table.from_pylist(group, schema))
            count += len(group)
    return count


def _typed(columns: Sequence[Column], row: Row) -> dict[str, Any]:
    values = flat(columns, row)
    return {
        column.name: float(values[column.name])
        if column.kind == "number" and values[column.name] is not None
        else values[column.name]
        for column in columns
    }
