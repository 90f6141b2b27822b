"""Sound files from MIDI, through FluidSynth when it is there."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from corpus.errors import QueryError, SystemTroubleError

KINDS = {"wav": "wav", "ogg": "oga"}
"""What can be rendered, and FluidSynth's word for it."""
_FONT_FOLDERS = (
    "/usr/share/sounds/sf2",
    "/usr/share/sounds/sf3",
    "/usr/share/soundfonts",
    "/usr/local/share/soundfonts",
)
_FONT_SUFFIXES = (".sf2", ".sf3")
_LONGEST_SECONDS = 600
_HOW = (
    "MIDI needs nothing. For WAV and Ogg install FluidSynth and a sound font "
    "(Debian, Ubuntu: apt install fluidsynth timgm6mb-soundfont; macOS: brew install fluid-synth)"
)


def check_sound(font: str | None) -> tuple[str, Path]:
    """The FluidSynth program and the sound font to use.

    Raises SystemTroubleError, saying what to install, when either is missing; QueryError for a font that is no file.
    """
    program = shutil.which("fluidsynth")
    if program is None:
        raise SystemTroubleError(f"FluidSynth is not installed. {_HOW}")
    if font is not None:
        path = Path(font).expanduser()
        if not path.is_file():
            raise QueryError(f"{font} is no sound font: name a file (.sf2, .sf3)")
        return program, path
    found = next(_fonts(), None)
    if found is None:
        raise SystemTroubleError(f"no sound font is installed: name one with --sound-font FILE. {_HOW}")
    return program, found


def _fonts() -> Iterator[Path]:
    home = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    for folder in (home / "soundfonts", home / "sounds" / "sf2", *map(Path, _FONT_FOLDERS)):
        if folder.is_dir():
            yield from sorted(path for path in folder.iterdir() if path.suffix.lower() in _FONT_SUFFIXES)


def rendered(midi: bytes, kind: str, program: str, font: Path) -> bytes:
    """A MIDI file as a sound file of a kind (``wav``, ``ogg``).

    Raises SystemTroubleError, with what FluidSynth said, when it fails or takes more than ten minutes.
    """
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, "line.mid"), Path(folder, f"line.{kind}")
        source.write_bytes(midi)
        words = [program, "-ni", "-q", "-r", "44100", "-T", KINDS[kind], "-F", str(target), str(font), str(source)]
        try:
            done = subprocess.run(words, capture_output=True, stdin=subprocess.DEVNULL, timeout=_LONGEST_SECONDS)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise SystemTroubleError(
                f"FluidSynth did not render the sound ({error}): MIDI is written without it"
            ) from error
        if done.returncode != 0 or not target.is_file() or not target.stat().st_size:
            said = " ".join((done.stderr or done.stdout).decode("utf-8", "replace").split())[:300]
            raise SystemTroubleError(f"FluidSynth did not render the sound with {font}: {said or 'it gave no reason'}")
        return target.read_bytes()
