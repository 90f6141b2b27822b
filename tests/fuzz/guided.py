"""``make fuzz-guided``: inputs that atheris alters so that they reach lines of ``corpus`` that none before has reached.

It begins with what ``make fuzz`` tries first, for ``FUZZ_SECONDS`` (300) a target; ``FUZZ_TARGETS`` as there. What
raises anything but the project's own errors ends the target's turn: it is kept in ``.fuzz/guided/`` and makes the exit
code 1. atheris (libFuzzer under Python, for Linux) is installed by the target of the Makefile alone.
"""

import os
import subprocess
import sys
from pathlib import Path
from typing import Final

FOUND: Final = Path(".fuzz") / "guided"
_FIRST_INPUTS: Final = 300
_LONGEST_INPUT: Final = 8192
_SECONDS_AN_INPUT: Final = 30
"""Watching each branch makes Python several times slower."""
_MOST_MEGABYTES: Final = 3072


def _fuzz(name: str, seconds: int) -> None:
    """Fuzz one target in this process, which ends with it."""
    import atheris

    with atheris.instrument_imports(include=["corpus"]):
        from tests.fuzz.__main__ import source_of
        from tests.fuzz.targets import targets
    target = targets()[name]
    inputs = FOUND / f"{name}-inputs"
    inputs.mkdir(parents=True, exist_ok=True)
    mutate = target.mutator()
    for number in range(_FIRST_INPUTS):
        (inputs / f"{number:04}").write_bytes(mutate(source_of(name, number))[:_LONGEST_INPUT])
    options = {
        "max_total_time": seconds,
        "max_len": _LONGEST_INPUT,
        "timeout": _SECONDS_AN_INPUT,
        "rss_limit_mb": _MOST_MEGABYTES,
        "artifact_prefix": f"{FOUND}/{name}-",
        "print_final_stats": 1,
    }
    words = [sys.argv[0], *(f"-{option}={value}" for option, value in options.items()), str(inputs)]
    atheris.Setup(words, target.run)
    atheris.Fuzz()


def main() -> int:
    """Fuzz what the environment asks for, each target in a process of its own; 1 when there is something to look at."""
    from tests.fuzz.targets import targets

    seconds = int(os.environ.get("FUZZ_SECONDS", "300"))
    wanted = os.environ.get("FUZZ_TARGETS", "").split() or list(targets())
    failed = []
    for name in wanted:
        sys.stdout.write(f"{name}: {seconds} s\n")
        sys.stdout.flush()
        done = subprocess.run([sys.executable, "-m", "tests.fuzz.guided", name, str(seconds)], check=False)
        failed += [name] * (done.returncode != 0)
    sys.stdout.write(f"to look at: {', '.join(failed) or 'nothing'}\n")
    return int(bool(failed))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        _fuzz(sys.argv[1], int(sys.argv[2]))
    else:
        sys.exit(main())
