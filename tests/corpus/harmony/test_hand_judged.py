"""Charts judged by hand, with and without a declared key."""

import pytest

from tests.corpus.harmony.charts_help import expected, found
from tests.corpus.harmony.hand_judged import DECLARED, MAJOR, MINOR, Judged

_IN_ONE_KEY = [judged for judged in (*MAJOR, *MINOR) if judged.numerals.count(":") == 1]


@pytest.mark.parametrize("judged", [*MAJOR, *MINOR], ids=lambda judged: judged.chart)
def test_charts_without_a_key_are_heard_as_a_musician_hears_them(judged: Judged) -> None:
    """Key and numeral of every chord."""
    assert found(judged.chart) == expected(judged.numerals)


@pytest.mark.parametrize("judged", _IN_ONE_KEY, ids=lambda judged: judged.chart)
def test_declaring_the_key_that_is_heard_changes_nothing(judged: Judged) -> None:
    """The key of a chart in one key, declared, leaves every chord as it was."""
    assert found(judged.chart, judged.numerals.split(":")[0]) == expected(judged.numerals)


@pytest.mark.parametrize("judged", DECLARED, ids=lambda judged: f"{judged.chart} in {judged.declared}")
def test_charts_are_heard_in_the_key_that_they_declare(judged: Judged) -> None:
    """Key and numeral of every chord, where the same chords could be in another key too."""
    assert found(judged.chart, judged.declared) == expected(judged.numerals)
