"""Timing helpers: medians of repeated calls, whole processes, and one line of report."""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence


def median_seconds(call: Callable[[], object], times: int = 9) -> float:
    """The median time of a call after one call to warm up."""
    call()
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        call()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def process_seconds(
    commands: Sequence[Sequence[str]], times: int = 9, settings: Sequence[Mapping[str, str]] = ()
) -> list[float]:
    """The median wall time of each command as a whole process; commands take turns, so that drift hits all alike.

    ``settings`` are environment variables of each command. Python may keep its compiled modules, as it does for users.
    """
    plain = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    taken: list[list[float]] = [[] for _ in commands]
    for turn in range(times + 1):
        for index, command in enumerate(commands):
            begun = time.perf_counter()
            environment = {**plain, **(settings[index] if settings else {})}
            silent = subprocess.DEVNULL
            subprocess.run(command, check=True, stdout=silent, stderr=silent, env=environment)
            if turn:
                taken[index].append(time.perf_counter() - begun)
    return [statistics.median(values) for values in taken] if times else []


def report(what: str, figure: str, target: str = "", is_met: bool | None = None) -> None:
    """Print one line: what was measured, the figure, and how it stands to its target."""
    verdict = "" if is_met is None else ("  met" if is_met else "  NOT MET")
    aim = f"  (target {target})" if target else ""
    sys.stdout.write(f"  {what:<66} {figure}{aim}{verdict}\n")
    sys.stdout.flush()


def heading(text: str) -> None:
    """Print a heading."""
    sys.stdout.write(f"\n{text}\n")
    sys.stdout.flush()
