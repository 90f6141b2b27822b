import random
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Details
from corpus.pitch import Key
from corpus.read import musicxml_notes
from corpus.read.assemble import assemble
from corpus.read.musicxml_pitch import nearest_semitone
from corpus.text import clean_text
from corpus.transposition import Transposition
from tests.corpus.read.musicxml_help import (
    C_MAJOR,
    FOUR_FOUR,
    WHOLE,
    barline,
    measure,
    note,
    notes_of,
    read,
    remarks_of,
    rest,
    score,
    voice,
)

# -- details -------------------------------------------------------------------------------------------------------


def test_details() -> None:
    """Title, player, recording, year, form, instrument, tempo, key and meter come from their places."""
    fields = {"player": "Ada  Vibe", "recording": "Take\t2", "year": "1958", "form": "A8 B8"}
    extra = "".join(f'<miscellaneous-field name="{name}">{text}</miscellaneous-field>' for name, text in fields.items())
    head = (
        "<work><work-title>Blue\n  Door</work-title></work><movement-title>Other</movement-title>"
        '<identification><creator type="performer">Nobody</creator>'
        f"<miscellaneous>{extra}</miscellaneous></identification>"
    )
    details = read(score(measure(f'<sound tempo="132"/>{WHOLE}'), head=head)).details
    assert (details.title, details.player, details.recording, details.year) == ("Blue Door", "Ada Vibe", "Take 2", 1958)
    assert (str(details.form), details.instrument, details.tempo_bpm) == ("A8 B8", "Vibraphone", 132.0)
    assert (str(details.key), str(details.meter)) == ("C major", "4/4")


def test_details_in_second_place() -> None:
    """Movement title and performer count where the first choice is missing; what cannot be read is reported."""
    extra = '<miscellaneous-field name="year">about 1960</miscellaneous-field>'
    extra += '<miscellaneous-field name="form">B</miscellaneous-field>'
    head = (
        "<work><work-title> </work-title></work><movement-title>Grey Hat</movement-title><identification>"
        f'<creator type="performer">Bo Reed</creator><miscellaneous>{extra}</miscellaneous></identification>'
    )
    line = read(score(measure(WHOLE), head=head))
    assert (line.details.title, line.details.player, line.details.year) == ("Grey Hat", "Bo Reed", None)
    assert "about 1960" in remarks_of(line)
    assert "form is left out" in remarks_of(line)


def test_the_user_fills_gaps() -> None:
    """The user's details count where the file is silent, and only there."""
    head = "<work><work-title>Blue Door</work-title></work>"
    line = read(score(measure(WHOLE), head=head), details=Details(title="Other", player="Ada Vibe"))
    assert (line.details.title, line.details.player) == ("Blue Door", "Ada Vibe")


def test_hostile_text_is_cleaned() -> None:
    """Control, C1 and direction-changing characters go, spaces are single, 200 characters remain."""
    assert clean_text("a\x1b[31m\x9bb\u202ec\u2066 \n\t d\u200b") == "a[31mbc d"
    assert len(clean_text("x" * 5000)) == 200


def test_tempo_of_a_metronome_mark() -> None:
    """A dotted quarter at 80 is 120 quarters a minute."""
    mark = "<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>ca. 80</per-minute>"
    direction = f"<direction><direction-type><metronome>{mark}</metronome></direction-type></direction>"
    assert read(score(measure(direction + WHOLE))).details.tempo_bpm == 120.0


# -- pitch ---------------------------------------------------------------------------------------------------------


def test_double_bass_sounds_an_octave_lower() -> None:
    """Bass clef with a transposition by an octave: a written Bb3 sounds Bb2."""
    clef = "<clef><sign>F</sign><line>4</line></clef>"
    octave = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    first = f"<divisions>1</divisions>{C_MAJOR}{FOUR_FOUR}{clef}{octave}"
    (found,) = read(score(measure(note("B", 3, 4, alter=-1)), first=first)).bars[0].notes
    assert (found.pitch, found.spelling) == (46, "Bb2")


def test_octave_clef_and_octave_shift_change_nothing() -> None:
    """MusicXML pitches under an octave clef or an 8va bracket are sounding ones already."""
    clef = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    shift = '<direction><direction-type><octave-shift type="down" size="8"/></direction-type></direction>'
    first = f"<divisions>1</divisions>{FOUR_FOUR}{clef}"
    assert notes_of(read(score(measure(shift + WHOLE), first=first)), 0) == [(0, 4, "C4")]


def test_transposition_changes_inside_a_bar() -> None:
    """From alto saxophone to flute on beat 3."""
    alto = "<transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></transpose>"
    flute = "<attributes><transpose><diatonic>0</diatonic><chromatic>0</chromatic></transpose></attributes>"
    first = f"<divisions>1</divisions>{FOUR_FOUR}{alto}"
    line = read(score(measure(note("C", 5, 2) + flute + note("C", 5, 2)), first=first))
    assert notes_of(line, 0) == [(0, 2, "Eb4"), (2, 2, "C5")]


def test_transposition_without_letter_names() -> None:
    """Semitones alone are enough: 2 down is a major second, 7 down a fifth."""
    for semitones, spelling in ((-2, "Bb3"), (-7, "F3"), (-9, "Eb3"), (-14, "Bb2"), (3, "Eb4")):
        first = f"<divisions>1</divisions>{FOUR_FOUR}<transpose><chromatic>{semitones}</chromatic></transpose>"
        assert notes_of(read(score(measure(WHOLE), first=first)), 0) == [(0, 4, spelling)]


def test_impossible_keys_are_respelled() -> None:
    """An alto part in Db major sounds E major, not F flat: key and notes agree."""
    key = "<key><fifths>-5</fifths><mode>major</mode></key>"
    alto = "<transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></transpose>"
    line = read(score(measure(note("D", 5, 4, alter=-1)), first=f"<divisions>1</divisions>{key}{FOUR_FOUR}{alto}"))
    assert str(line.bars[0].key) == "E major"
    assert notes_of(line, 0) == [(0, 4, "E4")]


@pytest.mark.parametrize("steps_semitones", [(-1, -2), (-5, -9), (2, 3), (-8, -14), (-12, -21), (4, 7), (3, 6)])
def test_transposition_agrees_with_music21(steps_semitones: tuple[int, int]) -> None:
    """Every letter and accidental lands where music21's intervals put it."""
    from music21 import interval, pitch

    steps, semitones = steps_semitones
    generic = interval.GenericInterval(steps + 1 if steps >= 0 else steps - 1)
    distance = interval.intervalFromGenericAndChromatic(generic, interval.ChromaticInterval(semitones))
    for name in ("C", "D-", "D", "E-", "F#", "G", "A-", "B-", "B"):
        theirs = distance.transposePitch(pitch.Pitch(f"{name}4"))
        letter = "CDEFGAB".index(name[0])
        ours = Transposition(steps, semitones).sounding(letter, name.count("#") - name.count("-"), 4)
        assert ours.pitch == theirs.midi
        assert str(ours) == theirs.nameWithOctave.replace("-", "b")


def test_microtones() -> None:
    """Quarter tones go to the plain letter, three quarters to the accidental, with a remark."""
    assert [nearest_semitone(alter) for alter in (0.5, -0.5, 0.75, 1, 1.5, -1.5, -2)] == [0, 0, 1, 1, 1, -1, -2]
    line = read(score(measure(note("C", duration=4, alter=0.5))))
    assert notes_of(line, 0) == [(0, 4, "C4")]
    assert "microtones" in remarks_of(line)


def test_heads() -> None:
    """x, cross and slash heads and unpitched notes are dead; parentheses make a ghost; a diamond is a note."""
    heads = ["x", "cross", "slash", "diamond"]
    bar = "".join(note("C", extra=f"<notehead>{head}</notehead>") for head in heads)
    bar += note("C", extra='<notehead parentheses="yes">normal</notehead>')
    bar += "<note><unpitched/><duration>1</duration></note>"
    found = read(score(measure(bar))).bars[0].notes
    assert [n.pitch for n in found] == [None, None, None, 60, 60, None]
    assert [n.is_ghost for n in found] == [False] * 4 + [True, False]
    assert not any(n.spelling for n in found if n.pitch is None)


# -- time ----------------------------------------------------------------------------------------------------------


def test_ties() -> None:
    """Ties by sound or by print only are merged; an accidental holds through the tie."""
    tied = '<notations><tied type="start"/></notations>'
    both = '<tie type="stop"/><tie type="start"/>'
    line = read(
        score(
            measure(note("F", duration=4, extra=tied, alter=1)),
            measure(note("F", duration=4, extra=both, alter=1), 2),
            measure(note("F", duration=1, extra='<tie type="stop"/>', alter=1) + note("F", duration=3, alter=1), 3),
        )
    )
    assert [(n.spelling, n.duration_ticks // TICKS_PER_QUARTER) for n in assemble(line).notes] == [
        ("F#4", 9),
        ("F#4", 3),
    ]


def test_rounded_tuplets_are_exact() -> None:
    """Septuplet eighths that the file rounds to 69 of 480 divisions are sevenths; a second voice still starts at 0."""
    ratio = "<time-modification><actual-notes>7</actual-notes><normal-notes>4</normal-notes></time-modification>"
    durations = [137, 137, 137, 137, 137, 137, 138]
    seven = "".join(note("C", 5, d, f"{voice(1)}<type>eighth</type>{ratio}") for d in durations)
    bar = (
        f"{seven}{note('D', 5, 960, voice(1))}<backup><duration>1920</duration></backup>{note('C', 3, 1920, voice(2))}"
    )
    first = f"<divisions>480</divisions>{FOUR_FOUR}"
    top = read(score(measure(bar), first=first))
    seventh = 2 * TICKS_PER_QUARTER // 7
    assert [n.offset_ticks for n in top.bars[0].notes] == [i * seventh for i in range(7)] + [2 * TICKS_PER_QUARTER]
    assert top.bars[0].length_ticks == 4 * TICKS_PER_QUARTER
    assert notes_of(read(score(measure(bar), first=first), voice="bottom"), 0) == [(0, 4, "C3")]


def test_grid_and_odd_durations() -> None:
    """A duration finer than the grid is rounded with a remark; one of zero is skipped; one without any is left out."""
    first = f"<divisions>11</divisions>{FOUR_FOUR}"
    line = read(score(measure(note("C", duration=1) + note("D", duration=0) + note("E", duration=43)), first=first))
    assert [n.spelling for n in line.bars[0].notes] == ["C4", "E4"]
    assert [n.duration_ticks for n in line.bars[0].notes] == [916, 39404]
    assert "finer than the time grid" in remarks_of(line)
    eleven = read(score(measure("".join(note("C") for _ in range(44))), first=first))
    assert [n.offset_ticks for n in eleven.bars[0].notes] == [round(i * TICKS_PER_QUARTER / 11) for i in range(44)]
    assert eleven.bars[0].length_ticks == 4 * TICKS_PER_QUARTER
    bare = "<note><pitch><step>D</step><octave>4</octave></pitch></note>"
    assert "without a duration" in remarks_of(read(score(measure(bare + WHOLE))))


def test_duration_from_the_note_value() -> None:
    """A note without a duration but with a value and a dot lasts as printed."""
    dotted = "<note><pitch><step>D</step><octave>4</octave></pitch><type>half</type><dot/></note>"
    assert notes_of(read(score(measure(dotted + note("C")))), 0) == [(0, 3, "D4"), (3, 1, "C4")]


def test_divisions_change_inside_a_bar() -> None:
    """Durations count in the divisions in force."""
    bar = note("C") + "<attributes><divisions>4</divisions></attributes>" + note("D", duration=12)
    assert notes_of(read(score(measure(bar))), 0) == [(0, 1, "C4"), (1, 3, "D4")]


def test_meters_and_keys() -> None:
    """They hold until they change; a change inside a bar counts from the next one."""
    waltz = "<attributes><key><fifths>-3</fifths><mode>minor</mode></key>"
    waltz += "<time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    line = read(score(measure(WHOLE), measure(WHOLE + waltz, 2), measure(note("C", duration=3), 3)))
    assert [str(bar.meter) for bar in line.bars] == ["4/4", "4/4", "3/4"]
    assert [str(bar.key) for bar in line.bars] == ["C major", "C major", "C minor"]


def test_signature_without_a_mode() -> None:
    """It reads as major with a remark, or as the user's key."""
    first = f"<divisions>1</divisions><key><fifths>-3</fifths></key>{FOUR_FOUR}"
    guessed = read(score(measure(WHOLE), first=first))
    told = read(score(measure(WHOLE), first=first), details=Details(key=Key("C", "minor")))
    assert (str(guessed.bars[0].key), str(told.bars[0].key)) == ("Eb major", "C minor")
    assert "no mode" in remarks_of(guessed)
    assert "no mode" not in remarks_of(told)


def test_full_bar_rests_and_empty_bars() -> None:
    """A rest for the whole bar and a bar without content last as the meter says."""
    first = f"<divisions>1</divisions>{C_MAJOR}<time><beats>3</beats><beat-type>4</beat-type></time>"
    whole_rest = '<note><rest measure="yes"/><duration>4</duration></note>'
    line = read(score(measure(note("C", duration=3)), measure(whole_rest, 2), measure("", 3), first=first))
    assert {bar.length_ticks for bar in line.bars} == {3 * TICKS_PER_QUARTER}


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        (["1", "2", "3"], [1, 2, 3]),
        (["5", "12a", "7"], [5, 12, 7]),
        (["", "x", "9", "bar"], [1, 2, 9, 10]),
        (["1", "99999999999", "3"], [1, 2, 3]),
    ],
)
def test_written_numbers(numbers: list[str], expected: list[int]) -> None:
    """Numbers are kept as written; text gives its digits, else the running number."""
    line = read(score(*(measure(WHOLE, number) for number in numbers)))
    assert [bar.number for bar in line.bars] == expected


@pytest.mark.parametrize("attributes", ["", 'implicit="yes"'])
def test_pickup(attributes: str) -> None:
    """A first bar 0, or an implicit short one, is a pickup whose beats count to the bar line."""
    number = 0 if not attributes else 1
    line = read(score(measure(note("G"), number, attributes), measure(WHOLE, 1)))
    assert (line.bars[0].number, line.bars[0].is_pickup) == (0, True)
    played = assemble(line)
    assert [played.beat_of(0), played.beat_of(1)] == [4, 1]


# -- bad input -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (score(measure(WHOLE), first="<divisions>0</divisions>"), "bar 1: divisions of 0"),
        (score(measure(WHOLE), first="<divisions>-4</divisions>"), "divisions of -4"),
        (score(measure(WHOLE), first="<divisions>nan</divisions>"), "divisions 'nan'"),
        (score(measure(WHOLE), first="<divisions>many</divisions>"), "is not a number"),
        (score(measure(note("C", duration=-4))), "negative duration"),
        (score(measure(note("C", duration="1e999999999"))), "out of reason"),
        (score(measure(note("C", duration="9" * 400))), "out of reason"),
        (score(measure(note("C", duration=100_000))), "longer than any bar"),
        (score(measure("<forward><duration>1000</duration></forward>" * 3 + WHOLE)), "no end"),
        (score(measure("<backup><duration>-9</duration></backup>" + WHOLE)), "negative duration"),
        (score(measure(note("H"))), "unknown note name 'H'"),
        (score(measure(note("C", octave=99))), "cannot be read"),
        (score(measure(note("C", octave=-1, alter=-3))), "cannot be read"),
        (score(measure("<note><pitch/><duration>4</duration></note>")), "cannot be read"),
        (score(measure(WHOLE), first="<transpose><chromatic>900</chromatic></transpose>"), "transposition"),
        (score(measure(WHOLE), first="<transpose><chromatic>x</chromatic></transpose>"), "transposition"),
        (b"<score-partwise><part-list/></score-partwise>", "without a single bar"),
        (b"<score-partwise><part id='P1'/></score-partwise>", "without a single bar"),
    ],
)
def test_impossible_numbers(data: bytes, message: str) -> None:
    """Numbers that no music has are refused with file, bar and value."""
    with pytest.raises(ReadingError, match=message) as caught:
        read(data)
    assert str(caught.value).startswith("study.xml")


def test_strange_values_are_tolerated() -> None:
    """Meters, keys and counts out of the ordinary are left out with a remark; nothing stops."""
    odd = "<time><beats>x</beats><beat-type>4</beat-type></time><key><fifths>99</fifths></key><staves>-1</staves>"
    line = read(score(measure(WHOLE + barline('<repeat direction="backward" times="-7"/>')), first=odd))
    assert (str(line.bars[0].meter), line.bars[0].key, line.bars[0].times) == ("4/4", None, 2)
    assert "meter that cannot be read" in remarks_of(line)


def test_no_notes() -> None:
    """A file of rests reads, and is refused when it is to be played."""
    with pytest.raises(ReadingError, match="no notes"):
        assemble(read(score(measure(rest(4)))))


def test_troubles_of_the_parser_are_wrapped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever music21 raises, also a RecursionError, arrives as a ReadingError with its cause."""
    from music21.musicxml import xmlToM21

    def fail(*_: Any) -> None:
        raise RecursionError("maximum recursion depth exceeded")

    monkeypatch.setattr(xmlToM21.MusicXMLImporter, "xmlRootToScore", fail)
    with pytest.raises(ReadingError, match=r"study\.xml: its notes cannot be parsed \(maximum recursion") as caught:
        read(score(measure(WHOLE)))
    assert isinstance(caught.value.__cause__, RecursionError)


# -- outside references --------------------------------------------------------------------------------------------


def _written_by_music21(score_to_write: Any) -> bytes:
    from music21.musicxml import m21ToXml

    exporter: Any = m21ToXml.GeneralObjectExporter
    data = exporter(score_to_write).parse()
    assert isinstance(data, bytes)
    return data


def _stream(seed: int, instrument_name: str) -> Any:
    """Twelve bars of random notes, rests, ties and tuplets in a stream of music21, at written pitch."""
    from music21 import instrument, meter, note, pitch, stream, tie

    random_source = random.Random(seed)
    make_part: Any = stream.Part
    make_tie: Any = tie.Tie
    part = make_part()
    part.insert(0, getattr(instrument, instrument_name)())
    for number in range(1, 13):
        bar: Any = stream.Measure(number=number)
        if number == 1:
            bar.append(meter.TimeSignature("4/4"))
        for _ in range(4):
            count, length = random_source.choice([(1, Fraction(1)), (2, Fraction(1, 2)), (3, Fraction(1, 3))])
            for _ in range(count):
                if random_source.random() < 0.15:
                    bar.append(note.Rest(quarterLength=length))
                    continue
                name = random_source.choice(["C", "D", "E-", "F#", "G", "A-", "B-", "B"])
                bar.append(note.Note(f"{name}{random_source.choice('345')}", quarterLength=length))
        part.append(bar)
    notes = list(part.recurse().notes)
    for first, second in pairwise(notes):
        if random_source.random() < 0.1 and first.tie is None:
            second.pitch = pitch.Pitch(first.nameWithOctave)
            first.tie, second.tie = make_tie("start"), make_tie("stop")
    part.atSoundingPitch = False
    return part


@pytest.mark.parametrize("instrument_name", ["Flute", "AltoSaxophone", "Contrabass", "Trumpet"])
@pytest.mark.parametrize("seed", range(3))
def test_round_trip_through_music21(seed: int, instrument_name: str) -> None:
    """What music21 writes sounds here as music21 says it sounds: pitch, spelling, onset and length, ties merged."""
    part = _stream(seed, instrument_name)
    data = _written_by_music21(part)
    theirs: list[tuple[Fraction, Fraction, int]] = []
    sounding = part.toSoundingPitch()
    for element in sounding.flatten().notes:
        onset = Fraction(element.offset).limit_denominator(1000)
        length = Fraction(element.quarterLength).limit_denominator(1000)
        if element.tie is not None and element.tie.type == "stop" and sum(theirs[-1][:2]) == onset:
            theirs[-1] = (theirs[-1][0], theirs[-1][1] + length, theirs[-1][2])
        else:
            theirs.append((onset, length, element.pitch.midi))
    ours = [
        (Fraction(n.onset_ticks, TICKS_PER_QUARTER), Fraction(n.duration_ticks, TICKS_PER_QUARTER), n.pitch)
        for n in assemble(read(data)).notes
    ]
    assert ours == theirs


def test_nothing_is_cached_or_warned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recwarn: pytest.WarningsRecorder
) -> None:
    """Reading leaves the working folder empty and no warning behind; music21 is called in one place only."""
    monkeypatch.chdir(tmp_path)
    read(score(measure(note("C", duration="4.03125"))))
    assert list(tmp_path.iterdir()) == []
    assert not recwarn.list
    assert musicxml_notes.__doc__ is not None
