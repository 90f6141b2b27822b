"""The fuzzing itself, in small: findings of before stay mended, and a few new inputs for every target."""

import random
from pathlib import Path

import pytest

from corpus.errors import ReadingError
from corpus.read.formats import SUFFIXES
from tests.fuzz.__main__ import run_one, source_of
from tests.fuzz.targets import READERS, Target, targets

FINDINGS = Path(__file__).parent / "findings"
_KEPT = sorted(path for path in FINDINGS.rglob("*") if path.is_file())
_FEW = 25


@pytest.mark.parametrize("path", _KEPT, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_findings_stay_mended(path: Path) -> None:
    """What once raised something of another kind, took too long or broke a law is read or refused now."""
    assert run_one(targets()[path.parent.name], path.read_bytes()) == ""


@pytest.mark.parametrize("name", targets())
def test_a_few_inputs(name: str) -> None:
    """The first inputs of each target hold; that there are many more of them is for ``make fuzz``."""
    target = targets()[name]
    mutate = target.mutator()
    inputs = [mutate(source_of(name, number)) for number in range(_FEW)]
    assert len(set(inputs)) > _FEW / 2
    assert [place for data in inputs if (place := run_one(target, data))] == []


@pytest.mark.parametrize("name", targets())
def test_inputs_follow_from_their_number(name: str) -> None:
    """The same number gives the same input, so that a finding can be made again."""
    mutate = targets()[name].mutator()
    assert mutate(random.Random(f"{name} 7")) == mutate(source_of(name, 7))


def test_every_format_is_fuzzed() -> None:
    """Each suffix that is read belongs to a target's format."""
    others = {".xml": ".musicxml", ".mxl": ".musicxml", ".kern": ".krn", ".midi": ".mid"}
    assert {others.get(suffix, suffix) for suffix in SUFFIXES} <= {target.suffix for target in READERS}


def _raising(error: Exception) -> Target:
    def run(data: bytes) -> None:
        raise error

    return Target("raising", ".txt", lambda: lambda source: b"", run)


def test_what_comes_out_is_told() -> None:
    """Any exception that a target lets through, and an input without end, is something to look at."""

    def forever(data: bytes) -> None:
        while True:
            pass

    assert "ValueError at test_fuzz.py" in run_one(_raising(ValueError("odd")), b"")
    assert "ReadingError" in run_one(_raising(ReadingError("a target catches these itself")), b"")
    assert "TooSlowError" in run_one(Target("slow", ".txt", lambda: lambda source: b"", forever), b"", seconds=0.05)
