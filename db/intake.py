"""Adding files: read, check, store, one transaction a file, with word of each file as it is finished.

``add_files`` is a generator of ``FileReport``; who stops asking leaves what is finished in the database and nothing
else. Pieces are read ahead in worker processes, files are stored in the order given.
"""

import hashlib
import os
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from typing import Final, Literal

from corpus.errors import AlreadyThereError, SystemTroubleError, WellwornError
from corpus.harmony.chart_text import parse_chart, print_chart
from corpus.model import Finding
from corpus.read.formats import Piece, is_same_part, pieces_of
from corpus.read.written import ReadingWishes
from db.connection import Database
from db.history import Deed
from db.paths import InputFile
from db.store import SourceFile, Stored, add_source, known, other_parts
from db.workers import PieceResult, read_pieces, worker_pool

State = Literal["added", "replaced", "skipped", "changed", "failed"]
_PIECES_AT_ONCE: Final = 20
_FILES_AHEAD: Final = 24
_WORTH_A_POOL_BYTES: Final = 60_000


@dataclass(frozen=True, slots=True)
class IntakeOptions:
    """How files are added: what readers are asked for, the collection, and what to do with doubtful ones."""

    wishes: ReadingWishes
    collection: str = ""
    is_strict: bool = False
    replace_older: bool = False
    processes: int = 0
    """Worker processes; 0 chooses by the work at hand and the processor."""


@dataclass(frozen=True, slots=True)
class PieceReport:
    """A line that was read, with its findings, or the reason why it was not."""

    label: str
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    is_unexpected: bool = False


@dataclass(frozen=True, slots=True)
class FileReport:
    """What became of a file. ``ids`` are the transcriptions stored, ``notes`` their number of notes."""

    file: InputFile
    state: State
    reason: str = ""
    ids: tuple[int, ...] = ()
    notes: int = 0
    pieces: tuple[PieceReport, ...] = ()
    is_trouble: bool = False


@dataclass(slots=True)
class _Pending:
    """A file on its way: its identity and the readings under way, or a report that is ready."""

    file: InputFile
    source: SourceFile | None = None
    replaces: bool = False
    results: list["Future[list[PieceResult]] | list[PieceResult]"] | None = None
    report: FileReport | None = None


def _hash(data: bytes, wishes: ReadingWishes) -> str:
    digest = hashlib.sha256(data)
    digest.update(f"\0{wishes.part or ''}\0{wishes.voice}".encode())
    if wishes.midi.words:
        digest.update(f"\0{wishes.midi.words}".encode())
    return digest.hexdigest()


class _Reading:
    """Starts the reading of files, in workers when there is enough to do."""

    def __init__(self, options: IntakeOptions, total_bytes: int) -> None:
        self.options = options
        wanted = options.processes or min(os.cpu_count() or 1, 8)
        is_worth_it = total_bytes > _WORTH_A_POOL_BYTES or options.processes > 1
        self.pool: ProcessPoolExecutor | None = worker_pool(wanted) if wanted > 1 and is_worth_it else None

    def start(
        self, pieces: Sequence[Piece], wishes: ReadingWishes
    ) -> list["Future[list[PieceResult]] | list[PieceResult]"]:
        chunks = [pieces[i : i + _PIECES_AT_ONCE] for i in range(0, len(pieces), _PIECES_AT_ONCE)]
        if self.pool is None:
            return [read_pieces(chunk, wishes) for chunk in chunks]
        return [self.pool.submit(read_pieces, chunk, wishes) for chunk in chunks]

    def close(self) -> None:
        if self.pool is not None:
            self.pool.shutdown(wait=True, cancel_futures=True)


def _collect(pending: _Pending) -> list[PieceResult]:
    assert pending.results is not None
    try:
        return [result for part in pending.results for result in (part.result() if isinstance(part, Future) else part)]
    except BrokenProcessPool as error:
        raise SystemTroubleError("a worker process died (out of memory?): try again with --processes 1") from error


def add_files(database: Database, files: Iterable[InputFile], options: IntakeOptions) -> Iterator[FileReport]:
    """Add files in order; yields a report for each as soon as it is stored, skipped or refused.

    Raises SystemTroubleError when the database cannot be written or the workers die.
    """
    waiting = list(files)
    reading = _Reading(options, sum(file.byte_count for file in waiting))
    ahead: deque[_Pending] = deque()
    under_way: set[str] = set()
    deed = Deed("add")
    try:
        position = 0
        while position < len(waiting) or ahead:
            while position < len(waiting) and len(ahead) < _FILES_AHEAD:
                ahead.append(_begin(database, waiting[position], options, reading, under_way))
                position += 1
            yield _finish(database, ahead.popleft(), options, deed)
    finally:
        reading.close()


def _begin(
    database: Database, file: InputFile, options: IntakeOptions, reading: _Reading, under_way: set[str]
) -> _Pending:
    try:
        data = file.read()
        wishes = _as_asked_before(database, file.name, data, options.wishes)
        part = f"{wishes.part or ''}/{wishes.voice}"
        if wishes.midi.stream:
            part += f"/{wishes.midi.stream}"
        chart = "" if wishes.chart is None else print_chart(wishes.chart)
        source = SourceFile(file.name, _hash(data, wishes), part, len(data), chart)
        with database.reading() as connection:
            state = known(connection, source)
        if state.state == "same" or source.content_hash in under_way:
            elsewhere = f" as {state.name}" if state.name and state.name != file.name else ""
            pieces = tuple(PieceReport(label, reason=reason) for label, reason in state.refused)
            return _Pending(file, report=FileReport(file, "skipped", f"already there{elsewhere}", pieces=pieces))
        if state.state == "changed" and not options.replace_older:
            reason = "changed since it was added: add it again with --replace to replace the stored lines"
            return _Pending(file, report=FileReport(file, "changed", reason))
        under_way.add(source.content_hash)
        if state.chart and wishes.chart is None:
            # The chart that was laid over the older state goes on to the new one.
            wishes = replace(wishes, chart=parse_chart(state.chart, "stored chart"))
            source = replace(source, chart=state.chart)
        return _Pending(file, source, state.state == "changed", reading.start(pieces_of(data, file.name), wishes))
    except WellwornError as error:
        is_trouble = isinstance(error, SystemTroubleError)
        return _Pending(file, report=FileReport(file, "failed", str(error), is_trouble=is_trouble))


def _as_asked_before(database: Database, name: str, data: bytes, wishes: ReadingWishes) -> ReadingWishes:
    """The same wishes, the part called as when the file (or a copy of it) was added.

    A part may be asked for by number or by name: it is one part all the same, and is stored once.
    """
    # Copies under another name are known by their size, which has no index: they are looked for when it matters.
    size = None if wishes.part is None else len(data)
    with database.reading() as connection:
        others = other_parts(connection, name, f"{wishes.part or ''}/{wishes.voice}", size)
    for stored in others:
        part, _, voice = stored.rpartition("/")
        if voice == wishes.voice and is_same_part(pieces_of(data, name), part or None, wishes.part):
            return replace(wishes, part=part or None)
    return wishes


def _finish(database: Database, pending: _Pending, options: IntakeOptions, deed: Deed) -> FileReport:
    if pending.report is not None:
        return pending.report
    results = _collect(pending)
    assert pending.source is not None
    pieces = tuple(PieceReport(r.label, r.findings, r.reason, r.is_unexpected) for r in results)
    lines = [result.line for result in results if result.line is not None]
    trouble = any(result.is_unexpected for result in results)
    if not lines:
        reason = results[0].reason if results else "no lines in it"
        return FileReport(pending.file, "failed", reason, pieces=pieces, is_trouble=trouble)
    # What a reader left out is no fault of the music: only the checks' own findings count here.
    doubtful = [(piece, f) for piece in pieces for f in piece.findings if f.kind != "reading"]
    if options.is_strict and doubtful:
        piece, finding = doubtful[0]
        place = f"{finding.place}: " if finding.place else ""
        count = "a finding" if len(doubtful) == 1 else f"{len(doubtful)} findings"
        reason = f"{count}, and --strict lets none pass; {piece.label}: {place}{finding.text}"
        return FileReport(pending.file, "failed", reason, pieces=pieces)
    collection = options.collection or pending.file.collection
    refused = [(piece.label, piece.reason) for piece in pieces if piece.reason]
    try:
        stored = add_source(database, pending.source, lines, collection, options.replace_older, refused, deed)
    except AlreadyThereError as error:
        return FileReport(pending.file, "skipped", str(error))  # another process was faster
    notes = sum(line.columns["note_count"] for line in lines)
    state: State = "replaced" if pending.replaces else "added"
    return FileReport(pending.file, state, _gone(stored), stored.ids, notes, pieces, trouble)


def _gone(stored: Stored) -> str:
    """Words for lines of an older state that are gone, when something had been edited in them."""
    edited = [line for line in stored.gone if line.edited["set"]]
    if not edited:
        return ""
    names = ", ".join(f"{line.id} {line.details['title']}" for line in edited)
    return f"no longer in the file, and gone with what was edited in them: {names}"


def check_files(files: Iterable[InputFile], wishes: ReadingWishes) -> Iterator[FileReport]:
    """Read and check files without storing anything; a report for each, its state ``added`` meaning readable."""
    for file in files:
        try:
            results = read_pieces(pieces_of(file.read(), file.name), wishes)
        except WellwornError as error:
            yield FileReport(file, "failed", str(error))
            continue
        pieces = tuple(PieceReport(r.label, r.findings, r.reason, r.is_unexpected) for r in results)
        notes = sum(r.line.columns["note_count"] for r in results if r.line is not None)
        state: State = "added" if any(r.line is not None for r in results) else "failed"
        yield FileReport(file, state, "" if state == "added" else results[0].reason, (), notes, pieces)
