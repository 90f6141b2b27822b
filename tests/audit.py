"""``make check``'s look at the dependencies: what is declared, what is installed, and what is known against it.

Three looks, the first two without a network:

1. every dependency is declared with a lower and an upper bound, and what is installed lies between them;
2. ``pip check``: no installed package lacks, or contradicts, what another needs;
3. ``pip-audit`` asks an advisory service for known vulnerabilities of all installed versions.

Where no service can be reached, that is said and breaks nothing: the look was not taken. A known vulnerability, a
missing bound or a contradiction makes the exit code 1.
"""

import importlib.metadata
import json
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from packaging.requirements import Requirement

SECONDS_TO_WAIT = 90


@dataclass(frozen=True)
class Advisories:
    """What the service said: how many packages it knew, how many it did not, and what is known against which."""

    audited: int
    unknown: int
    vulnerable: tuple[str, ...]

    @property
    def was_reached(self) -> bool:
        """Whether the service answered for anything at all."""
        return self.audited > 0


def requirements(declared: Iterable[str]) -> list[Requirement]:
    """Requirements from their texts, our own extras left out."""
    return [one for text in declared if (one := Requirement(text)).name != "wellworn"]


def troubles_of(wanted: Iterable[Requirement]) -> list[str]:
    """What is wrong with declared requirements: bounds that are missing, versions that lie outside them."""
    found: list[str] = []
    for one in wanted:
        operators = {bound.operator for bound in one.specifier}
        if not operators & {">=", "=="} or not operators & {"<", "=="}:
            found.append(f"{one.name} is declared without a lower or an upper bound")
        try:
            version = importlib.metadata.version(one.name)
        except importlib.metadata.PackageNotFoundError:
            continue  # an extra that is not installed here
        if not one.specifier.contains(version, prereleases=True):
            found.append(f"{one.name} {version} is installed, which lies outside {one.specifier}")
    return found


def advisories_of(output: str) -> Advisories | None:
    """What ``pip-audit --format json`` printed; None when that is no such document."""
    try:
        listed: list[dict[str, Any]] = json.loads(output)["dependencies"]
        audited = [one for one in listed if "skip_reason" not in one]
        vulnerable = tuple(
            f"{one['name']} {one['version']}: {flaw['id']}, mended in {', '.join(flaw['fix_versions']) or 'no version'}"
            for one in audited
            for flaw in one["vulns"]
        )
    except (ValueError, KeyError, TypeError):
        return None
    return Advisories(len(audited), len(listed) - len(audited), vulnerable)


def ask_for_advisories() -> Advisories | None:
    """Ask the service; None when it does not answer in time."""
    command = [sys.executable, "-m", "pip_audit", "--format", "json", "--progress-spinner", "off", "--skip-editable"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS_TO_WAIT, check=False)
    except subprocess.TimeoutExpired:
        return None
    return advisories_of(done.stdout)


def told(advisories: Advisories | None) -> str:
    """What the service said, in a line or a few."""
    if advisories is None or not advisories.was_reached:
        return "audit: no advisory service can be reached from here: known vulnerabilities were NOT looked for"
    rest = f", {advisories.unknown} packages unknown to it" if advisories.unknown else ""
    if not advisories.vulnerable:
        return f"audit: nothing known against {advisories.audited} installed packages{rest}"
    return "\n".join(f"audit: {text}" for text in advisories.vulnerable)


def main() -> int:
    """Take the three looks and say what was seen."""
    troubles = troubles_of(requirements(importlib.metadata.requires("wellworn") or ()))
    checked = subprocess.run([sys.executable, "-m", "pip", "check"], capture_output=True, text=True, check=False)
    if checked.returncode:
        troubles += checked.stdout.splitlines()
    advisories = ask_for_advisories()
    lines = [*(f"audit: {text}" for text in troubles), told(advisories)]
    if not troubles:
        lines.insert(0, "audit: declared bounds hold, and no package contradicts another")
    sys.stdout.write("\n".join(lines) + "\n")
    return int(bool(troubles) or bool(advisories and advisories.vulnerable))


if __name__ == "__main__":
    sys.exit(main())
