"""``play``: MIDI always, sound files through a program that may be missing or fail."""

import io
import stat
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import STUDY, Run

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")


@pytest.fixture
def stored(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A run with two stored lines, in an empty folder, with no program on the path."""
    (tmp_path / "study.abc").write_text(STUDY, encoding="utf-8")
    assert run("add", str(tmp_path / "study.abc")).code == 0
    (tmp_path / "bin").mkdir()
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    monkeypatch.chdir(tmp_path)
    return run


def synth(folder: Path, body: str) -> None:
    """A stand-in for FluidSynth: what it is told is ours to check, what it renders is not."""
    program = folder / "bin" / "fluidsynth"
    program.write_text(f"#!{sys.executable}\nimport sys\nwords = sys.argv[1:]\n{body}\n", encoding="utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)


def test_a_line_is_written_as_midi(stored: Run, tmp_path: Path) -> None:
    """Bars, tempo, count-in: as said; the loudness caution beside it."""
    import mido

    done = stored("play", "1", "--midi", "line.mid", "--bars", "1-2", "--tempo", "80", "--count-in", "1", "--metronome")
    assert (done.code, done.out) == (0, "")
    assert "line.mid: 2 bars" in done.err
    assert "Begin softly" in done.err
    file = mido.MidiFile(file=io.BytesIO((tmp_path / "line.mid").read_bytes()))
    assert file.length == pytest.approx(3 * 4 * 60 / 80)
    assert [message.note for message in file.tracks[1] if message.type == "note_on"] == [34, 38, 39, 40, 41, 33, 36, 39]
    assert len(file.tracks) == 3


def test_nothing_is_overwritten_unasked(stored: Run, tmp_path: Path) -> None:
    """An existing file stays as it is without --force; with it, it is replaced."""
    target = tmp_path / "line.mid"
    target.write_text("mine", encoding="utf-8")
    done = stored("play", "1", "--midi", "line.mid")
    assert (done.code, "--force" in done.err, target.read_text(encoding="utf-8")) == (2, True, "mine")
    assert stored("play", "1", "--midi", "line.mid", "--force").code == 0
    assert target.read_bytes().startswith(b"MThd")


def test_without_fluidsynth_it_is_said_how_to_install_it(stored: Run, tmp_path: Path) -> None:
    """Exit code 1, the packages by name, and no MIDI file left half of the order."""
    done = stored("play", "1", "--midi", "line.mid", "--wav", "line.wav")
    assert (done.code, "FluidSynth is not installed" in done.err, "apt install fluidsynth" in done.err) == (
        1,
        True,
        True,
    )
    assert not (tmp_path / "line.mid").exists()
    assert stored("play", "1", "--midi", "line.mid").code == 0


def test_fluidsynth_gets_the_midi_file_and_the_font(stored: Run, tmp_path: Path) -> None:
    """WAV and Ogg by its own words for them; the files hold what it gave."""
    (tmp_path / "own.sf2").write_bytes(b"font")
    synth(
        tmp_path,
        "midi = open(words[-1], 'rb').read(4).decode()\n"
        "open(words[words.index('-F') + 1], 'w').write(' '.join([midi, words[words.index('-T') + 1], words[-2]]))",
    )
    assert stored("play", "1", "--wav", "a.wav", "--ogg", "a.ogg", "--sound-font", "own.sf2").code == 0
    assert (tmp_path / "a.wav").read_text(encoding="utf-8") == "MThd wav own.sf2"
    assert (tmp_path / "a.ogg").read_text(encoding="utf-8") == "MThd oga own.sf2"


def test_what_fluidsynth_says_is_told_when_it_fails(stored: Run, tmp_path: Path) -> None:
    """A failing program, one that renders nothing, a font that is no file."""
    (tmp_path / "own.sf2").write_bytes(b"font")
    order = ("play", "1", "--midi", "a.mid", "--wav", "a.wav", "--sound-font", "own.sf2")
    synth(tmp_path, "sys.exit('no such font')")
    done = stored(*order)
    assert (done.code, "no such font" in done.err) == (1, True)
    synth(tmp_path, "pass")
    assert stored(*order).code == 1
    assert not list(tmp_path.glob("a.*"))
    done = stored("play", "1", "--wav", "a.wav", "--sound-font", "none.sf2")
    assert (done.code, "is no sound font" in done.err) == (2, True)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "say what to write"),
        (("--midi", "a.mid", "--tempo", "nan"), "must be a number"),
        (("--midi", "a.mid", "--tempo", "0"), "10 to 999"),
        (("--midi", "a.mid", "--bars", "99"), "no bar 99"),
        (("--midi", "a.mid", "--bars", "1:2-2"), "whole bars"),
        (("--midi", "."), "is no file"),
        (("--midi", "missing/a.mid"), "no folder"),
        (("--midi", "a.x", "--wav", "a.x"), "a name of its own"),
    ],
)
def test_orders_that_make_no_sound_are_refused(stored: Run, words: tuple[str, ...], message: str) -> None:
    """With the reason."""
    done = stored("play", "1", *words)
    assert (done.code, message in done.err) == (2, True), done.err
