"""The look at the dependencies, on declared bounds and on answers written by hand."""

import importlib.metadata
import json
from collections.abc import Mapping

from tests.audit import advisories_of, requirements, told, troubles_of


def test_own_dependencies_are_bounded_and_installed() -> None:
    """Everything that pyproject.toml asks for has two bounds, and what is installed lies between them."""
    wanted = requirements(importlib.metadata.requires("wellworn") or ())
    assert len(wanted) > 20
    assert troubles_of(wanted) == []


def test_troubles_are_named() -> None:
    """A bound that is missing, and an installed version outside its bounds."""
    open_ended, too_old, absent = requirements(["pytest>=1", "pytest>=1,<2", "no-such-package>=1,<2"])
    assert troubles_of([open_ended]) == ["pytest is declared without a lower or an upper bound"]
    (text,) = troubles_of([too_old])
    assert text.endswith("which lies outside <2,>=1")
    assert troubles_of([absent]) == []


def _answer(*packages: Mapping[str, object]) -> str:
    return json.dumps({"dependencies": packages, "fixes": []})


CLEAN = {"name": "a", "version": "1", "vulns": []}
UNKNOWN = {"name": "b", "skip_reason": "not found"}
FLAWED = {"name": "c", "version": "2", "vulns": [{"id": "X-1", "fix_versions": ["2.1"], "aliases": []}]}


def test_what_the_service_says_is_told() -> None:
    """Nothing known, something known, nothing answered: three different sentences."""
    assert told(advisories_of(_answer(CLEAN, UNKNOWN))).startswith(
        "audit: nothing known against 1 installed packages, 1"
    )
    assert told(advisories_of(_answer(CLEAN, FLAWED))) == "audit: c 2: X-1, mended in 2.1"
    for silent in (_answer(UNKNOWN), _answer(), "", "no JSON", "[]", '{"dependencies": [{}]}'):
        assert "NOT looked for" in told(advisories_of(silent))
