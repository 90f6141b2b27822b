"""``play``: a stored line as sound: MIDI always, WAV and Ogg where FluidSynth is installed."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.files import ForceOption, target_of, write_files
from cli.notation import shown_bars
from cli.options import OUTPUT_PANEL, DatabaseOption, IdArgument, database_at, finite
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.model import Transcription
    from corpus.write.midi import MidiOptions

SOUND_PANEL = "Sound"
LOUDNESS = "Begin softly, above all with headphones: hearing that is lost does not come back."

MidiOption = Annotated[
    str | None, typer.Option("--midi", metavar="FILE", help="Standard MIDI File.", rich_help_panel=OUTPUT_PANEL)
]
WavOption = Annotated[
    str | None, typer.Option("--wav", metavar="FILE", help="WAV, by FluidSynth.", rich_help_panel=OUTPUT_PANEL)
]
OggOption = Annotated[
    str | None, typer.Option("--ogg", metavar="FILE", help="Ogg Vorbis, by FluidSynth.", rich_help_panel=OUTPUT_PANEL)
]
SoundFontOption = Annotated[
    str | None,
    typer.Option("--sound-font", metavar="FILE", help="Sound font, if not one installed.", rich_help_panel=SOUND_PANEL),
]
CountInOption = Annotated[
    int, typer.Option("--count-in", metavar="BARS", min=0, max=16, help="Bars counted in.", rich_help_panel=SOUND_PANEL)
]
MetronomeOption = Annotated[bool, typer.Option("--metronome", help="Click on every beat.", rich_help_panel=SOUND_PANEL)]
ChordsOption = Annotated[bool, typer.Option("--chords", help="Simple chords.", rich_help_panel=SOUND_PANEL)]


def write_sound(
    transcription: "Transcription",
    options: "MidiOptions",
    files: dict[str, str | None],
    *,
    font: str | None,
    force: bool,
) -> list[Path]:
    """Write the files that are asked for (by kind: midi, wav, ogg), all or none; their paths.

    Raises QueryError or SystemTroubleError before anything is written.
    """
    from cli.sound import check_sound, rendered
    from corpus.write.midi import midi_of

    paths = {kind: target_of(name, force) for kind, name in files.items() if name is not None}
    if len(set(paths.values())) < len(paths):
        raise QueryError("two kinds of sound cannot go into one file: give each a name of its own")
    synth = check_sound(font) if paths.keys() - {"midi"} else None
    midi = midi_of(transcription, options)
    contents = {
        path: midi if synth is None or kind == "midi" else rendered(midi, kind, *synth) for kind, path in paths.items()
    }
    write_files(contents, force)
    return list(contents)


def play(
    context: typer.Context,
    identity: IdArgument,
    midi: MidiOption = None,
    wav: WavOption = None,
    ogg: OggOption = None,
    bars: Annotated[
        str, typer.Option("--bars", metavar="BARS", help="Only these bars (5-8).", rich_help_panel=SOUND_PANEL)
    ] = "",
    tempo: Annotated[
        float | None,
        typer.Option(
            "--tempo", metavar="BPM", help="Quarters a minute, if not the line's.", rich_help_panel=SOUND_PANEL
        ),
    ] = None,
    count_in: CountInOption = 0,
    metronome: MetronomeOption = False,
    chords: ChordsOption = False,
    sound_font: SoundFontOption = None,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write a transcription as sound: a MIDI file for any player, WAV or Ogg where FluidSynth is installed.

    Begin softly, above all with headphones: hearing that is lost does not come back. Mind the rights in the music
    before you pass a file on.

    Examples:

      wellworn play 3 --midi line.mid --count-in 1 --metronome

      wellworn play 3 --bars 5-8 --tempo 80 --chords --ogg slow.ogg
    """
    from cli.output import tell
    from corpus.write.midi import MidiOptions
    from db.catalogue import load

    if midi is None and wav is None and ogg is None:
        raise QueryError("say what to write: --midi FILE, --wav FILE or --ogg FILE")
    speed = finite(tempo)
    with database_at(context, db).reading() as connection:
        _, line = load(connection, identity)
    first, last = shown_bars(line, bars)
    options = MidiOptions(() if speed is None else (speed,), count_in, metronome, chords, first, last)
    for path in write_sound(line, options, {"midi": midi, "wav": wav, "ogg": ogg}, font=sound_font, force=force):
        tell(f"{path}: {last - first + 1} bar{'' if last == first else 's'}")
    tell(LOUDNESS)
