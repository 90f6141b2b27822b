"""The ABC reader: what a tune becomes, and what it refuses."""

import importlib.util
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import ReadingError, WellwornError
from corpus.model import Details, Meter
from corpus.pitch import Key
from corpus.read.abc import read_abc_tune, split_tunes
from corpus.read.assemble import assemble
from corpus.read.written import ReadingWishes
from tests.corpus.read.abc_help import HEAD, chords, lengths, names, read


def test_details_are_read() -> None:
    """Title, player, instrument, recording, year, form, key, meter and tempo."""
    head = (
        "T:Second Title\n%%wellworn-player Ann  Example\nI:wellworn-instrument double bass\nD:Some Record\n"
        "%%wellworn-year 1961\n%%wellworn-form A8 B8\nQ:1/4=180\nM:C|\nL:1/8\nK:Bbmaj transpose=-12\n"
    )
    line = read("C8|", head)
    assert line.details.title == "Test Tune"
    assert (line.details.player, line.details.instrument) == ("Ann Example", "double bass")
    assert (line.details.recording, line.details.year) == ("Some Record", 1961)
    assert str(line.details.form) == "A8 B8"
    assert (line.details.key, line.details.meter, line.details.tempo_bpm) == (Key("Bb"), Meter(2, 2), 180)
    assert names(line) == "C3"


def test_the_user_fills_gaps_only() -> None:
    """What the file says stands; what it does not say comes from the user."""
    wishes = ReadingWishes(details=Details(title="Other", player="Bob Example", year=1959))
    line = read("C8|", "%%wellworn-year 1961\n" + HEAD, wishes)
    assert (line.details.title, line.details.player, line.details.year) == ("Test Tune", "Bob Example", 1961)


def test_bad_details_become_findings() -> None:
    """A bad form, year, key or unit note is left out with a remark."""
    line = read("C8|", "%%wellworn-form Q\n%%wellworn-year soon\nM:4/4\nL:x\nK:Cxyz\n")
    texts = " / ".join(finding.text for finding in line.findings)
    assert all(word in texts for word in ("form", "year", "unit note", "unknown mode"))
    assert line.details.form is None


@pytest.mark.parametrize(
    ("key", "expected"),
    [("C transpose=-12", "C3 F#3"), ("C octave=-1", "C3 F#3"), ("C transpose=-2", "Bb3 E4"), ("C t=3", "Eb4 A4")],
)
def test_sounding_pitch(key: str, expected: str) -> None:
    """Transposition and octave shifts move pitch and spelling."""
    assert names(read("C4 ^F4|", f"M:4/4\nL:1/8\nK:{key}\n")) == expected


def test_transposition_moves_key_and_chords() -> None:
    """A part written a tone too high sounds in the sounding key with the sounding chords."""
    line = read('"Dm7"D8|', "M:4/4\nL:1/8\nK:D transpose=-2\n")
    assert (line.details.key, line.bars[0].key, chords(line)) == (Key("C"), Key("C"), [(1, "Cm7", 0)])


def test_pickup_has_number_zero_and_counts_to_the_bar_line() -> None:
    """A first bar shorter than the meter is bar 0; its beats are the last of the bar."""
    line = read("A2|B8|c8|")
    assert [(bar.number, bar.is_pickup) for bar in line.bars] == [(0, True), (1, False), (2, False)]
    assert assemble(line).beat_of(0) == 4


def test_bar_split_by_a_repeat_keeps_its_number() -> None:
    """Two halves of a bar around a repeat sign bear one number, the second counts to the bar line."""
    line = read("|:A2|B8|c6:||:d2|e8|f6:|")
    assert [bar.number for bar in line.bars] == [0, 1, 2, 2, 3, 4]
    assert line.bars[3].is_pickup


def test_bar_split_by_a_double_bar_is_one_bar() -> None:
    """A double bar before a pickup does not make two bars of one."""
    line = read("A8|B6||c2|d8|]")
    assert [(bar.number, len(bar.notes)) for bar in line.bars] == [(1, 1), (2, 2), (3, 1)]
    assert line.bars[1].notes[1].offset_ticks == 3 * 10_080


def test_bar_split_by_brackets_keeps_its_number() -> None:
    """Both endings of a bar that a bracket divides bear its number."""
    line = read("|:A8|B4|1 c4:|2 d4||e8|")
    assert [bar.number for bar in line.bars] == [1, 2, 2, 2, 3]
    assert assemble(line).end_ticks == 10_080 * 4 * 5


def test_free_meter_makes_bars_of_their_own_length() -> None:
    """Without a meter each bar is its own measure and there is no pickup."""
    line = read("A3|B8 c2|", "M:none\nL:1/4\nK:C\n")
    assert [(bar.number, str(bar.meter)) for bar in line.bars] == [(1, "3/4"), (2, "10/4")]
    assert line.details.meter is None


def test_a_line_end_in_a_full_bar_is_a_bar_line() -> None:
    """Some collections write no bar line at a line end; a bar that is not full there goes on."""
    line = read("A2|^F8\nF8|A6\nB2|c4>d4\ne8|", "M:4/4\nL:1/8\nK:C\n")
    assert names(line) == "A4 | F#4 | F4 | A4 B4 | C5 D5 | E5"


def test_empty_bars_do_not_count() -> None:
    """Bar lines with nothing between them make no bar."""
    assert [bar.number for bar in read("| A8 |\n| B8 | |: c8 :|\n|| d8 [|]|]").bars] == [1, 2, 3, 4]


@pytest.mark.parametrize(("voice", "expected"), [("top", "G4 C5"), ("bottom", "C4 C5")])
def test_one_note_of_a_chord_is_read(voice: str, expected: str) -> None:
    """Of simultaneous notes the wished one is kept, and a remark says so with place and count."""
    line = read("[CEG]4 c4|[CE]8|", wishes=ReadingWishes(voice=voice))  # type: ignore[arg-type]
    assert names(line).startswith(expected)
    assert (line.findings[0].kind, line.findings[0].bar) == ("reading", 1)
    assert f"the {voice} one" in line.findings[0].text
    assert "2 places" in line.findings[0].text


def test_ties_in_chords_and_lengths_inside() -> None:
    """The chord lasts as long as its first note times the length after it; its ties count for the kept note."""
    line = read("[C2G2-]2 G4|[CE-]4 E4|")
    assert [note.tied_to_next for bar in line.bars for note in bar.notes] == [True, False, True, False]
    assert lengths(line) == [2, 2, 2, 2]


def test_dead_notes() -> None:
    """!style=x! makes the next note a dead one."""
    line = read("!style=x!A4 B4|")
    assert [note.pitch for note in line.bars[0].notes] == [None, 71]


TWO_VOICES = 'V:1 name="Melody"\nV:2 name="Bass" transpose=-12\nM:4/4\nL:1/8\nK:C\n'


def test_several_voices_need_a_choice() -> None:
    """A tune of several voices is refused with the list of its voices."""
    with pytest.raises(
        ReadingError, match=r'tunes\.abc tune 3 "Test Tune" has 2 voices \(1 Melody, 2 Bass\): choose one'
    ):
        read("[V:1]c8|\n[V:2]C8|", TWO_VOICES)


@pytest.mark.parametrize(("part", "expected"), [("2", "C3 | D3"), ("bass", "C3 | D3"), ("Melody", "C5 | D5")])
@pytest.mark.parametrize("body", ["[V:1]c8|\n[V:2]C8|\n[V:1]d8|\n[V:2]D8|", "V:1\nc8|d8|\nV:2\nC8|D8|"])
def test_a_voice_is_chosen_by_number_or_name(part: str, expected: str, body: str) -> None:
    """Voices may be interleaved or stand in blocks; each has its own transposition."""
    assert names(read(body, TWO_VOICES, ReadingWishes(part=part))) == expected


def test_an_unknown_part_is_refused() -> None:
    """A part that is not there is an error that lists those that are."""
    with pytest.raises(ReadingError, match=r"no part 'tenor': its voices are 1 Melody, 2 Bass"):
        read("[V:1]c8|\n[V:2]C8|", TWO_VOICES, ReadingWishes(part="tenor"))
    with pytest.raises(ReadingError, match="only one voice"):
        read("c8|", wishes=ReadingWishes(part="tenor"))


@pytest.mark.parametrize(
    ("body", "order"),
    [
        ("A8|B8!fine!|c8!D.C.!|", [1, 2, 3, 1, 2]),
        ('A8|"Fine"B8|c8 "D.C. al Fine"|', [1, 2, 3, 1, 2]),
        ("!segno!A8|B8!dacoda!|c8!D.S.!|!coda!d8|", [1, 2, 3, 1, 2, 4]),
        ("A8|SB8|Oc8|d8 !D.S.!|Oe8|", [1, 2, 3, 4, 2, 5]),
        ("A8|B8|!D.C.!|", [1, 2, 1, 2]),
    ],
)
def test_jumps(body: str, order: list[int]) -> None:
    """Da capo, dal segno, fine and coda as decorations, shorthand or words."""
    assert [bar.number for bar in assemble(read(body)).bars] == order


def test_an_order_of_parts_overrules_a_jump() -> None:
    """P:ABA spells the da capo out that stands on the page, so it is played once."""
    line = read("P:A\nA8|\nP:B\nB8 !D.C.!|", "P:ABA\n" + HEAD)
    assert [bar.number for bar in assemble(line).bars] == [1, 2, 1]


def test_lengths_beyond_ticks_are_rounded_with_a_remark() -> None:
    """Eleven notes in the time of two are no whole ticks; the bar keeps its length."""
    line = read("(11:8:11AAAAAAAAAAA|B8|")
    assert line.bars[0].length_ticks == line.bars[1].length_ticks
    assert any("rounded" in finding.text for finding in line.findings)


BAD_BODIES = [
    ("A999999999|", "note length"),
    ("A8|B/99999|", "near bar 2"),
    ("A/0|", "0"),
    ("(9:9:999999 A|", "tuplet"),
    ("(999999A|", "tuplet"),
    ("AZ999999|", "rest of 999999 bars"),
    ("C,,,,,,,,|", "octaves"),
    ("A8|a''''|", "near bar 2: the note A9 sounds outside the MIDI range"),
    ("A" * 60_000, "notes in one tune"),
    ("z8|z8|", "no notes"),
    ("", "no notes"),
    ('"C"z8|[K:G]{a}|', "no notes"),
]


@pytest.mark.parametrize(("body", "message"), BAD_BODIES)
def test_bad_input_is_refused_with_its_place(body: str, message: str) -> None:
    """Numbers out of all bounds and tunes without notes are refused with file, tune and title."""
    with pytest.raises(ReadingError, match=message) as caught:
        read(body)
    assert str(caught.value).startswith('tunes.abc tune 3 "Test Tune"')


@pytest.mark.parametrize(
    "body", ["A", "((((" * 5000 + "A", "[[[[A]]", "{{{A", '"""A B', "[A", "A]", "!!!A", "[1[2[3A:|:|", "&&A|B"]
)
def test_broken_input_still_reads(body: str) -> None:
    """Unbalanced brackets, nesting and single notes do not stop the reader."""
    assert any(bar.notes for bar in read(body).bars)


@pytest.mark.parametrize(
    "char", ["A", '"', "!", "[", "(", "{", "|", ":", "&", "%", "+", "^", "1", "[K:", "A-", "\n\n", '["']
)
def test_very_long_input_ends_soon(char: str) -> None:
    """Ten million characters in one line are refused, a hundred thousand read or refused, without running away."""
    with pytest.raises(ReadingError, match="characters"):
        read("A" + "x" * 10_000_000)
    with suppress(ReadingError):
        read(f"A8|{char * (40_000 // len(char))}")


def test_parts_out_of_bounds_are_refused() -> None:
    """An order of more than a thousand parts is refused."""
    with pytest.raises(ReadingError, match="more than 1000 parts"):
        read("P:A\nA8|", "P:A9999\n" + HEAD)


_LETTERS = "CDEFGABcdefgab"
_SEMITONES = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))
_NOTES = st.tuples(
    st.sampled_from(["", "", "", "^", "_", "=", "^^", "__"]),
    st.sampled_from(_LETTERS),
    st.sampled_from(["", ",", "'"]),
    st.sampled_from(["", "2", "3", "/", "3/2"]),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(_NOTES, min_size=1, max_size=6), min_size=1, max_size=4))
def test_generated_lines_match_an_obvious_oracle(music: list[list[tuple[str, str, str, str]]]) -> None:
    """Random notes, lengths, accidentals and bars in D major read as a slow and obvious reading says."""
    expected: list[tuple[int, Fraction]] = []
    for bar in music:
        held: dict[str, int] = {}
        for sign, letter, height, length in bar:
            name = letter.upper()
            if sign:
                held[name] = {"^": 1, "_": -1, "=": 0, "^^": 2, "__": -2}[sign]
            alteration = held.get(name, 1 if name in "FC" else 0)
            octave = 5 + letter.islower() + {"": 0, ",": -1, "'": 1}[height]
            quarters = Fraction({"": "1/2", "2": "1", "3": "3/2", "/": "1/4", "3/2": "3/4"}[length])
            expected.append((12 * octave + _SEMITONES[name] + alteration, quarters))
    body = "|".join(" ".join("".join(note) for note in bar) for bar in music) + "|"
    line = read(body, "M:none\nL:1/8\nK:D\n")
    found = [note.pitch for bar in line.bars for note in bar.notes]
    assert list(zip(found, lengths(line), strict=True)) == expected
    assert [len(bar.notes) for bar in line.bars] == [len(bar) for bar in music]


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ABCdefz|:[]()\"!+{}<>-=^_/123 ,'&%\n\\KMPV", max_size=60))
def test_any_text_reads_or_is_refused(body: str) -> None:
    """Whatever stands in a body, the reader reads it or refuses it with an error of ours; bars add up."""
    try:
        line = read("A" + body)
        assemble(line)
    except WellwornError:
        return
    for bar in line.bars:
        assert all(0 <= note.offset_ticks <= bar.length_ticks for note in bar.notes)


def test_shipped_tunes_read_or_are_refused_for_a_reason() -> None:
    """A sample of music21's own collections reads; only tunes of several voices are refused."""
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    root = Path(spec.origin).parent / "corpus"
    names_of_files = ("oneills1850/0051-0100.abc", "miscFolk/americanfifeopus.abc", "essenFolksong/folkHaydn.abc")
    refused: list[str] = []
    read_count = 0
    for name in names_of_files:
        for tune in split_tunes((root / name).read_bytes(), name):
            try:
                read_abc_tune(tune, ReadingWishes())
                read_count += 1
            except ReadingError as error:
                refused.append(str(error))
    assert read_count > 150
    assert len(refused) == 4
    assert all("has 2 voices" in text for text in refused)


def test_chords_past_the_end_of_a_bar_are_told() -> None:
    """A chord before the bar line: where the next bar has none it counts there, else it is left out, as at the end."""
    line = assemble(read('"C"C2E2G2c2 "F"|F2A2C2F2 "Dm"|"G7"G2B2d2f2 "Am"|]'))
    assert [(span.symbol, span.onset_ticks // (4 * 10080)) for span in line.chords] == [("C", 0), ("F", 1), ("G7", 2)]
    assert [(f.bar, f.text) for f in line.findings if f.kind == "chord"] == [
        (1, "F past the end of the bar: taken for the next bar's"),
        (2, "Dm past the end of the bar: left out"),
        (3, "Am past the end of the bar: left out"),
    ]
