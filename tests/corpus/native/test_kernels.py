"""What the compiled kernel does is what the interpreter makes of the same lines."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.native.language import LANES, Bytes, Int32s, Int64s, Lanes, ManyLanes, least, lower
from corpus.native.machine import loaded
from corpus.native.translate import UnknownConstructError, module_of

SMALL = 7
NUMBERS = st.integers(-(1 << 40), 1 << 40)


def arithmetic(one: int, other: int) -> int:
    """Every operator of numbers."""
    total = one + other * 3 - (one & other) + (one | 5)
    total += one // SMALL + one % SMALL + (other >> 2) + ((other & 7) << 3)
    return total + min(one, other) - max(-one, SMALL)


def branches(one: int, other: int) -> int:
    """Every comparison, and what is decided by more than one."""
    found = 0
    if one < other:
        found += 1
    elif one == other:
        found += 2
    else:
        found += 4
    if one <= 0 and other >= 0:
        found += 8
    if one > 0 or not (other < 3 or other > 3):
        found += 16
    return found


def loops(values: Int64s, count: int) -> int:
    """Loops that are left early and that go on early."""
    total = 0
    for place in range(count):
        if values[place] < 0:
            continue
        for back in range(1, place + 1):
            if values[place - back] > values[place]:
                break
            total += back
    while total > 100:
        total -= 17
    return total


def guarded(values: Int64s, count: int, place: int) -> int:
    """What comes after ``and`` is not looked at outside the array."""
    if place < count and values[place] > 0:
        return 1
    return 0


def widths(small: Bytes, middle: Int32s, count: int) -> int:
    """Entries are cut to their width, and come back with their sign or without."""
    total = 0
    for place in range(count):
        small[place] = small[place] + 1
        middle[place] = middle[place] - 1
        total += small[place] + middle[place]
    return total


def lowest(many: ManyLanes, out: ManyLanes, count: int) -> int:
    """Sums of lanes stay at the highest number."""
    best = many[0]
    for place in range(1, count):
        best = lower(best + many[place], many[place])
        out[place] = best
    return least(best)


def doubled(value: int) -> int:
    """For another kernel."""
    return value + value


def calling(value: int) -> int:
    """A kernel may call those before it."""
    return doubled(value) + 1


ALL = (arithmetic, branches, loops, guarded, widths, lowest, doubled, calling)


@pytest.fixture(scope="module", params=[8, 16])
def compiled(request: pytest.FixtureRequest) -> tuple[int, Callable[..., int]]:
    """The width of lanes, and how compiled kernels are called."""
    return request.param, loaded(ALL, request.param).call


@settings(max_examples=200, deadline=None)
@given(one=NUMBERS, other=NUMBERS, values=st.lists(st.integers(-3, 9), min_size=1, max_size=12))
def test_numbers_branches_and_loops(
    compiled: tuple[int, Callable[..., int]], one: int, other: int, values: list[int]
) -> None:
    """Any numbers, also negative ones, through every construct."""
    _, call = compiled
    array = np.array(values, dtype=np.int64)
    for kernel in (arithmetic, branches):
        for pair in ((one, other), (one % 5 - 2, other % 5 - 2)):
            assert call(kernel.__name__, *pair) == kernel(*pair)
    assert call("loops", array, len(values)) == loops(values, len(values))
    assert call("calling", one) == calling(one)
    for place in (0, len(values) - 1, len(values)):
        assert call("guarded", array, len(values), place) == guarded(values, len(values), place)


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_lanes_stay_at_their_highest_number(compiled: tuple[int, Callable[..., int]], data: st.DataObject) -> None:
    """Lanes of either width are what ``Lanes`` says, up to the highest number."""
    bits, call = compiled
    most = (1 << bits) - 1
    row = st.lists(st.integers(0, most), min_size=LANES, max_size=LANES)
    rows = data.draw(st.lists(row, min_size=1, max_size=4))
    array = np.array(rows, dtype=f"uint{bits}")
    out = array.copy()
    many = [Lanes(tuple(row), most) for row in rows]
    plain = list(many)
    assert call("lowest", array, out, len(rows)) == lowest(many, plain, len(rows))
    assert out.tolist() == [list(lanes.values) for lanes in plain]


def test_entries_are_cut_to_their_width(compiled: tuple[int, Callable[..., int]]) -> None:
    """A byte goes from 255 to 0, a number of 32 bits from its lowest to its highest: by hand."""
    small, middle = np.array([255, 3], dtype=np.uint8), np.array([-(1 << 31), 0], dtype=np.int32)
    assert compiled[1]("widths", small, middle, 2) == 0 + (1 << 31) - 1 + 4 - 1
    assert (small.tolist(), middle.tolist()) == ([0, 4], [(1 << 31) - 1, -1])


def divides(value: int) -> int:
    """True division gives no whole number."""
    return value / 2  # type: ignore[return-value]


def without_type(value: Bytes, text: str) -> int:
    """Texts are no numbers."""
    return value[0] + len(text)


def unknown_name(value: int) -> int:
    """Only whole numbers are known by name."""
    return value + __name__  # type: ignore[operator]


@pytest.mark.parametrize("kernel", [divides, without_type, unknown_name])
def test_what_no_kernel_may_contain_is_refused(kernel: Callable[..., int]) -> None:
    """The message names the line."""
    with pytest.raises(UnknownConstructError, match=r"line \d+ of a kernel"):
        module_of([kernel], 8)
