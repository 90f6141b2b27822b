"""Charts judged by hand, with and without a declared key, in the key they were written in and in all others."""

import pytest

from tests.corpus.harmony.charts_help import bars, chords, expected, moved
from tests.corpus.harmony.hand_judged import DECLARED, MAJOR, MINOR, Judged
