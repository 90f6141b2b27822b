"""Reading pieces in several processes: jobs go out, plain values come back.

A worker ignores Ctrl-C (the parent decides when to stop) and ends when its parent is gone, however that died.
"""

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from corpus.errors import WellwornError
from corpus.model import Finding
from corpus.read.formats import Piece, read_piece
from corpus.read.written import ReadingWishes
from db.replacing import PreparedLine
from db.store import prepare


@dataclass(frozen=True, slots=True)
class PieceResult:
    """What became of a piece: a line ready to store with its findings, or the reason why there is none."""

    position: int
    label: str
    line: PreparedLine | None
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    is_unexpected: bool = False


def read_pieces(pieces: Sequence[Piece], wishes: ReadingWishes) -> list[PieceResult]:
    """Read and prepare pieces; a piece that fails is reported and never loses the others."""
    return [_read_one(piece, wishes) for piece in pieces]


def _read_one(piece: Piece, wishes: ReadingWishes) -> PieceResult:
    try:
        transcription = read_piece(piece, wishes)
        return PieceResult(piece.position, piece.label, prepare(transcription), transcription.findings)
    except WellwornError as error:
        return PieceResult(piece.position, piece.label, None, reason=str(error))
    except Exception as error:
        # A fault of ours or of a library in one file among hundreds: told as such, and the others go on.
        reason = f"{piece.label}: unexpected {type(error).__name__}: {error}"
        return PieceResult(piece.position, piece.label, None, reason=reason[:500], is_unexpected=True)


def _end_with_parent(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


def _start_worker(parent: int) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, args=(parent,), daemon=True).start()


def worker_pool(processes: int) -> ProcessPoolExecutor:
    """A pool of workers; forked where the system can, which shares what is already imported."""
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else "spawn")
    return ProcessPoolExecutor(processes, mp_context=context, initializer=_start_worker, initargs=(os.getpid(),))
