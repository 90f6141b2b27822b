"""The compiled scan and verification against the same steps in numpy, on generated lines, figures and prices."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from corpus.match.alignment import alignment_at, letter_told, notes_of
from corpus.match.columns import Columns, LineTexts, columns_of, wide_leaps
from corpus.match.figure import (
    Figure,
    Folds,
    figure_from_contour,
    figure_from_degrees,
    figure_from_intervals,
    figure_from_notes,
    figure_from_roles,
    figure_from_steps,
)
from corpus.match.kernels import Kernels
from corpus.match.prices import FIGURES, TABLES, VERSIONS, Prices
from corpus.match.scan import scan
from corpus.match.sought import Sought, sought
from corpus.match.verify import Verifier
from corpus.model import Transcription
from corpus.readings import Line, line_of, read
from tests.generators.lines import walking_line
from tests.generators.small import lines

PRICE = st.sampled_from((0.0, 0.01, 0.05, 0.1, 0.25, 0.3, 0.5, 0.7, 1.0))
PRICES = st.one_of(
    st.sampled_from((FIGURES, VERSIONS)),
    st.builds(Prices, **{field.name: PRICE for field in dataclasses.fields(Prices)}),
)
FIGURE_TEXTS = {
    "notes": ("C3 E3 G3", "C E G Bb A", "C3 C3 D3 Eb3 E3 G3 C4 C4", "C2 C4 C3 G3 F#3"),
    "intervals": ("+4 +3 -2", "+1 -1 +12 -5 +2 +2", "+60 -60 +60 +4"),
    "steps": ("+2 +1 -1", "+1 0 -2 +3"),
    "contour": ("*uududd", "*ururdd"),
    "degrees": ("1 3 5 6", "5 * 1 b7"),
    "roles": ("1 3 5 outside", "chord scale 5 1"),
}
MADE = {
    "notes": figure_from_notes,
    "intervals": figure_from_intervals,
    "steps": figure_from_steps,
    "contour": figure_from_contour,
    "degrees": figure_from_degrees,
    "roles": figure_from_roles,
}
FIGURES_TYPED = st.sampled_from([(way, text) for way, texts in FIGURE_TEXTS.items() for text in texts]).map(
    lambda asked: MADE[asked[0]](asked[1])
)


@pytest.fixture(scope="module")
def kernels() -> Kernels:
    """Compiled here and kept nowhere."""
    return Kernels()


SEEDS = st.integers(0, 50)


def folds_for(figure: Figure, data: st.DataObject) -> Folds:
    """Differences to ignore that make sense for a figure."""
    has_letters = figure.contour is None and figure.reading is None
    octaves = figure.contour is None and data.draw(st.booleans())
    mode = has_letters and figure.positions is not None and data.draw(st.booleans())
    return Folds(octaves=octaves, doubles=data.draw(st.booleans()), mode=mode)


def columns_for(asked: Sought, data: st.DataObject) -> Columns:
    """Some lines as columns: small ones full of oddities, and one that walks."""
    found = []
    for transcription in [
        *data.draw(st.lists(lines(), min_size=1, max_size=3)),
        walking_line(data.draw(SEEDS), bars=6),
    ]:
        line = line_of(transcription)
        searched = line.collapsed if asked.is_collapsed else line
        alphabet = asked.alphabet
        symbols = "" if alphabet == "pitch" or alphabet == "letter" else read(searched, alphabet)
        found.append(LineTexts(read(searched, "folded"), read(searched, "interval"), read(searched, "step"), symbols))
    return columns_of(asked.alphabet, found)


@settings(max_examples=200, deadline=None)
@given(
    line=lines(),
    names=st.lists(st.sampled_from(("C3", "D3", "Eb3", "E3", "F#3", "G3", "C4")), min_size=2, max_size=5),
    doubles=st.booleans(),
    prices=PRICES,
    threshold=st.sampled_from((0.0, 0.5, 0.7, 0.9)),
)
def test_elements_are_traced_back_to_the_notes_that_the_plain_way_puts_them_on(
    kernels: Kernels, line: Transcription, names: list[str], doubles: bool, prices: Prices, threshold: float
) -> None:
    """Under the transposition and the letters of what was verified."""
    assume(not doubles or len(set(names)) > 1)
    asked = sought(figure_from_notes(" ".join(names)), Folds(doubles=doubles), prices)
    known = line_of(line)
    searched, most = known.collapsed if doubles else known, asked.most_parts(threshold)
    texts = LineTexts(read(searched, "folded"), read(searched, "interval"), read(searched, "step"))
    leaps = {(0, note): _leap(searched, note) for note in wide_leaps(texts)}
    columns, notes = columns_of("pitch", [texts], leaps), notes_of(known, asked)
    endings = scan(columns, asked, most)
    verifier = kernels.verifier(columns, asked, most)
    for verified in verifier.verify(endings.places, endings.bounds(slice(None))):
        _, last = columns.line_and_note(np.array([verified.ending]))
        end = int(last[0])
        base = (notes.pitches[end] or 0) - verified.away - asked.heights[-1]
        letter = letter_told(asked, notes.positions[end], verified.letter)
        plain = alignment_at(asked, notes, (end - verified.back, end), most, base, letter)
        assert plain.weight == verified.weight
        assert tuple((index, end - back) for index, back in verifier.pairs(verified)) == plain.pairs


def _leap(line: Line, note: int) -> tuple[int, int]:
    semitones = (line.pitches[note] or 0) - (line.pitches[note - 1] or 0)
    return semitones, line.positions[note] - line.positions[note - 1]


@settings(max_examples=250, deadline=None)
@given(
    data=st.data(),
    figure=FIGURES_TYPED,
    prices=PRICES,
    threshold=st.sampled_from((0.0, 0.4, 0.6, 0.75, 0.85, 0.95, 1.0)),
)
def test_compiled_and_numpy_find_the_same(
    kernels: Kernels, data: st.DataObject, figure: Figure, prices: Prices, threshold: float
) -> None:
    """Every alphabet, fold and price: the same endings with the same bounds, the same occurrences on them."""
    asked = sought(figure, folds_for(figure, data), prices)
    columns, most = columns_for(asked, data), asked.most_parts(threshold)
    ours, plain = scan(columns, asked, most, kernels=kernels), scan(columns, asked, most)
    whole = slice(0, len(plain))
    assert ours.places[whole].tolist() == plain.places[whole].tolist()
    assert ours.bounds(whole).tolist() == plain.bounds(whole).tolist()
    verified = kernels.verifier(columns, asked, most).verify(plain.places[whole], plain.bounds(whole))
    assert verified == Verifier(columns, asked, most).verify(plain.places[whole], plain.bounds(whole))


@pytest.mark.parametrize("table", sorted(TABLES))
@pytest.mark.parametrize(("length", "lanes"), [(10, np.uint8), (64, np.uint16)])
def test_narrow_and_wide_lanes_find_the_same(kernels: Kernels, table: str, length: int, lanes: type) -> None:
    """Figures whose prices fit into bytes, and long ones that need two, looked for by two workers."""
    transcriptions = [walking_line(seed, bars=40) for seed in range(4)]
    found = [line_of(transcription) for transcription in transcriptions]
    texts = [LineTexts(read(line, "folded"), read(line, "interval"), read(line, "step")) for line in found]
    pitches = [pitch or 0 for pitch in found[1].pitches[10 : 10 + length]]
    figure = figure_from_intervals(" ".join(f"{b - a:+d}" for a, b in pairwise(pitches)))
    asked = sought(figure, Folds(), TABLES[table])
    columns, most = columns_of("pitch", texts), asked.most_parts(0.6)
    ours, plain = scan(columns, asked, most, 2, kernels), scan(columns, asked, most)
    assert plain.units.dtype == ours.units.dtype == lanes
    assert len(plain)
    part = slice(0, 300)
    assert ours.places[part].tolist() == plain.places[part].tolist()
    verified = kernels.verifier(columns, asked, most).verify(plain.places[part], plain.bounds(part))
    assert verified == Verifier(columns, asked, most).verify(plain.places[part], plain.bounds(part))
