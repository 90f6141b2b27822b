"""``add`` and ``check``: files in, with progress, and what became of each."""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace as replace_fields
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.new_places import shelf_places, tell_new_places, tell_refreshed
from cli.options import DETAILS_PANEL, MIDI_PANEL, DatabaseOption, PlacesArgument, chosen, database_at, finite
from corpus.errors import SystemTroubleError

if TYPE_CHECKING:
    from corpus.harmony.chart import Chart
    from corpus.model import Finding
    from corpus.read.written import ReadingWishes
    from db.intake import FileReport
    from db.paths import InputFile

_MOST_FINDINGS_SHOWN = 12
_LARGEST_CHART_BYTES = 1_000_000

PartOption = Annotated[
    str | None, typer.Option("--part", metavar="PART", help="Part, voice or spine, by number or name.")
]
VoiceOption = Annotated[
    str,
    typer.Option(
        "--voice",
        metavar="top|bottom",
        autocompletion=lambda: ["top", "bottom"],
        help="Which of several notes at once is the line.",
    ),
]
TrackOption = Annotated[
    str | None, typer.Option("--track", help="MIDI: track, by number or name.", rich_help_panel=MIDI_PANEL)
]
ChannelOption = Annotated[
    int | None, typer.Option("--channel", min=1, max=16, help="MIDI: channel.", rich_help_panel=MIDI_PANEL)
]
FirstBarOption = Annotated[
    int | None,
    typer.Option(
        "--first-bar", min=1, help="MIDI: the bar of the file that is bar 1 of the line.", rich_help_panel=MIDI_PANEL
    ),
]
SwingOption = Annotated[
    float | None,
    typer.Option(
        "--swing",
        metavar="RATIO",
        help="MIDI: how eighths are swung, 1 (straight) to 4 to one (else estimated).",
        rich_help_panel=MIDI_PANEL,
    ),
]


def add(
    context: typer.Context,
    places: PlacesArgument,
    title: Annotated[str, typer.Option("--title", rich_help_panel=DETAILS_PANEL)] = "",
    player: Annotated[str, typer.Option("--player", rich_help_panel=DETAILS_PANEL)] = "",
    instrument: Annotated[str, typer.Option("--instrument", rich_help_panel=DETAILS_PANEL)] = "",
    recording: Annotated[str, typer.Option("--recording", rich_help_panel=DETAILS_PANEL)] = "",
    year: Annotated[int | None, typer.Option("--year", min=1, max=9999, rich_help_panel=DETAILS_PANEL)] = None,
    tempo: Annotated[
        float | None, typer.Option("--tempo", min=1, max=999, help="Quarters a minute.", rich_help_panel=DETAILS_PANEL)
    ] = None,
    key: Annotated[str, typer.Option("--key", help="'Bb major', 'C minor'.", rich_help_panel=DETAILS_PANEL)] = "",
    meter: Annotated[str, typer.Option("--meter", help="4/4.", rich_help_panel=DETAILS_PANEL)] = "",
    form: Annotated[
        str,
        typer.Option("--form", help="Bars of a chorus (32), or sections (A8 A8 B8 A8).", rich_help_panel=DETAILS_PANEL),
    ] = "",
    chart: Annotated[
        Path | None,
        typer.Option(
            "--chart", metavar="FILE", help="A chart in text, for lines without chords ('wellworn chart --help')."
        ),
    ] = None,
    collection: Annotated[str, typer.Option("--collection", help="A name to find these files by.")] = "",
    part: PartOption = None,
    voice: VoiceOption = "top",
    track: TrackOption = None,
    channel: ChannelOption = None,
    first_bar: FirstBarOption = None,
    swing: SwingOption = None,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse files that the checks find fault with.")] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the stored state of files that changed.")] = False,
    processes: Annotated[int, typer.Option("--processes", min=0, max=64, help="Worker processes (0: as fits).")] = 0,
    db: DatabaseOption = None,
) -> None:
    """Add transcriptions: ABC, MusicXML, Humdrum and MIDI files, folders, typed ABC, collections that music21 ships.

    Each file is one transaction: it is stored whole or not at all. A file that is there already is skipped; one that
    changed since waits for --replace. Details come from the file where it has them, from the options otherwise.

    Examples:

      wellworn add chorus.musicxml --player "Orlo Quist" --form "A8 A8 B8 A8"

      wellworn add transcriptions/ --collection "spring term"

      wellworn add line.abc --chart changes.txt

      wellworn add session.mid --track bass --chart changes.txt --first-bar 3

      wellworn add music21:oneills1850
    """
    from corpus.read.midi_wishes import MidiWishes
    from corpus.text import clean_text
    from db.intake import IntakeOptions, add_files
    from db.paths import expand

    details = _details(title, player, instrument, recording, year, tempo, key, meter, form)
    midi = MidiWishes(track, channel, first_bar, finite(swing))
    wishes = replace_fields(_wishes(details, part, voice), chart=_chart(chart), midi=midi)
    options = IntakeOptions(wishes, clean_text(collection), strict, replace, processes)
    files = expand(places, _typed(places))
    database = database_at(context, db, create=True)
    places_before = shelf_places(database, [file.name for file in files] if replace else [])
    done: list[FileReport] = []
    code = _report_added(files, add_files(database, files, options), done)
    ids = [identity for report in done for identity in report.ids]
    tell_new_places(database, places_before, ids)
    tell_refreshed(database, ids)
    raise typer.Exit(code)


def check(
    places: PlacesArgument,
    instrument: Annotated[str, typer.Option("--instrument", help="Whose range counts.")] = "",
    form: Annotated[str, typer.Option("--form", help="Bars of a chorus (32), or sections (A8 A8 B8 A8).")] = "",
    part: PartOption = None,
    voice: VoiceOption = "top",
    track: TrackOption = None,
    channel: ChannelOption = None,
    first_bar: FirstBarOption = None,
    swing: SwingOption = None,
    strict: Annotated[bool, typer.Option("--strict", help="Exit with 2 when anything is found.")] = False,
) -> None:
    """Check files without adding them: bars, range, chords, form, leaps, with bar and beat.

    Example:

      wellworn check chorus.musicxml --instrument "Double bass" --form 32
    """
    from cli.output import tell
    from corpus.read.midi_wishes import MidiWishes
    from db.intake import check_files
    from db.paths import expand

    details = _details("", "", instrument, "", None, None, "", "", form)
    wishes = replace_fields(_wishes(details, part, voice), midi=MidiWishes(track, channel, first_bar, finite(swing)))
    reports = list(check_files(expand(places, _typed(places)), wishes))
    findings = sum(len(piece.findings) for report in reports for piece in report.pieces)
    lines = sum(1 for report in reports for piece in report.pieces if not piece.reason)
    _print_findings(reports)
    unread = _print_reasons(reports)
    tell(f"{_count(lines, 'line')} read, {_count(findings, 'finding')}")
    raise typer.Exit(2 if unread or (strict and findings) else 0)


def _chart(path: Path | None) -> "Chart | None":
    """The chart in a file. Raises ReadingError when there is none, or it cannot be read."""
    from corpus.errors import ReadingError
    from corpus.harmony.chart import parse_chart

    if path is None:
        return None
    try:
        if not path.is_file():
            raise ReadingError(f"chart {str(path)!r} is no file: name a text file")
        if path.stat().st_size > _LARGEST_CHART_BYTES:
            raise ReadingError(f"chart {path} is too large to be a chart")
        return parse_chart(path.read_text(encoding="utf-8-sig"), path.name)
    except OSError as error:
        raise ReadingError(f"chart {path} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ReadingError(f"chart {path} is no text in UTF-8 (byte {error.start})") from error


def _typed(places: list[str]) -> bytes | None:
    if "-" not in places:
        return None
    return b"" if sys.stdin is None else sys.stdin.buffer.read()


def _details(*values: Any) -> Any:
    from corpus.form import parse_form
    from corpus.model import Details
    from corpus.pitch import parse_key
    from corpus.read.written import parse_meter
    from corpus.text import clean_text

    title, player, instrument, recording, year, tempo, key, meter, form = values
    return Details(
        title=clean_text(title),
        player=clean_text(player),
        instrument=clean_text(instrument),
        recording=clean_text(recording),
        year=year,
        tempo_bpm=finite(tempo),
        key=parse_key(key) if key else None,
        meter=parse_meter(meter) if meter else None,
        form=parse_form(form) if form else None,
    )


def _wishes(details: Any, part: str | None, voice: str) -> "ReadingWishes":
    from corpus.read.written import ReadingWishes

    is_top = chosen(voice, ("top", "bottom"), "--voice") == "top"
    return ReadingWishes(part=part, voice="top" if is_top else "bottom", details=details)


@contextmanager
def _progress(files: "list[InputFile]") -> Iterator[Any]:
    """A progress bar on standard error, for people only: rate in notes and the time left by bytes."""
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from cli.output import console

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
    )
    shown = len(files) > 1 and sys.stderr.isatty()
    with Progress(*columns, console=console(is_error=True), transient=True, disable=not shown) as progress:
        task = progress.add_task("adding", total=max(sum(file.byte_count for file in files), 1), rate="")

        def advance(report: "FileReport", notes: int, seconds: float) -> None:
            rate = f"{notes / max(seconds, 0.1):,.0f} notes/s"
            progress.update(task, advance=report.file.byte_count, rate=rate)

        yield advance


def _report_added(files: "list[InputFile]", reports: "Iterator[FileReport]", done: "list[FileReport]") -> int:
    """Follow the adding into ``done``, print the summary, return the exit code; Ctrl-C keeps what is finished."""
    import time

    begun = time.monotonic()
    notes = 0
    stopped = False
    try:
        first = next(reports, None)  # starts the workers before the progress display starts its thread
        with _progress(files) as advance:
            for report in _chained(first, reports):
                done.append(report)
                notes += report.notes
                advance(report, notes, time.monotonic() - begun)
    except KeyboardInterrupt:
        stopped = True
    except SystemTroubleError as error:
        # What is finished stays: say how far it went before saying what went wrong.
        _print_summary(done, len(files), stopped=True)
        raise error
    _print_summary(done, len(files), stopped)
    if stopped:
        return 130
    if any(report.is_trouble for report in done):
        return 1
    return 2 if any(r.state in ("failed", "changed") or any(p.reason for p in r.pieces) for r in done) else 0


def _chained(first: "FileReport | None", rest: "Iterator[FileReport]") -> "Iterator[FileReport]":
    if first is not None:
        yield first
    yield from rest


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def _print_summary(done: "list[FileReport]", asked: int, stopped: bool) -> None:
    from cli.output import aligned, tell

    rows = [("", "files", "transcriptions", "notes")]
    for state in ("added", "replaced", "skipped", "changed", "failed"):
        of_state = [report for report in done if report.state == state]
        if of_state or state == "added":
            ids, notes = sum(len(r.ids) for r in of_state), sum(r.notes for r in of_state)
            rows.append((state, f"{len(of_state):,}", f"{ids:,}" if ids else "", f"{notes:,}" if notes else ""))
    for line in aligned(rows):
        tell(line)
    _print_finding_kinds(done)
    _print_skipped(done)
    _print_reasons(done)
    if stopped:
        tell(f"stopped: {len(done)} of {asked} files are finished and kept")


def _print_findings(reports: "Iterable[FileReport]") -> None:
    """Every finding on standard output, a line each."""
    from cli.output import say

    for report in reports:
        for piece in report.pieces:
            for finding in piece.findings:
                place = f"{finding.place}: " if finding.place else ""
                say(f"{piece.label}: {place}{finding.text} [{finding.kind}]")


def _sort_of(finding: "Finding") -> str:
    """What makes two findings of a kind the same but for their place: the words after names and numbers."""
    return "" if finding.kind in ("range", "leap", "meter") else finding.text


def _print_finding_kinds(reports: "Iterable[FileReport]") -> None:
    """A line for each tune and kind of finding: how many, and the first of them."""
    from cli.output import tell

    lines: list[str] = []
    for report in reports:
        for piece in report.pieces:
            for kind, sort in dict.fromkeys((f.kind, _sort_of(f)) for f in piece.findings):
                of_kind = [f for f in piece.findings if (f.kind, _sort_of(f)) == (kind, sort)]
                place = f"{of_kind[0].place}: " if of_kind[0].place else ""
                more = f" (and {_count(len(of_kind) - 1, 'place')} more)" if len(of_kind) > 1 else ""
                lines.append(f"  {piece.label}: {place}{of_kind[0].text}{more} [{kind}]")
    for line in lines[:_MOST_FINDINGS_SHOWN]:
        tell(line)
    if len(lines) > _MOST_FINDINGS_SHOWN:
        tell(f"  … and {len(lines) - _MOST_FINDINGS_SHOWN:,} more such lines: 'wellworn show ID' tells them all")


def _print_skipped(reports: "Iterable[FileReport]") -> None:
    """Why files were skipped, and what was gone with those replaced, a line each up to a limit."""
    from cli.output import tell

    lines = [
        f"  {r.state}: {r.file.name}: {r.reason}" for r in reports if r.state in ("skipped", "replaced") and r.reason
    ]
    for line in lines[:_MOST_FINDINGS_SHOWN]:
        tell(line)
    if len(lines) > _MOST_FINDINGS_SHOWN:
        tell(f"  … and {len(lines) - _MOST_FINDINGS_SHOWN:,} more skipped")


def _print_reasons(reports: "Iterable[FileReport]") -> int:
    """Print why files and tunes were not added; returns how many."""
    from cli.output import tell

    count = 0
    for report in reports:
        reasons = [piece.reason for piece in report.pieces if piece.reason]
        if not reasons and report.reason and report.state in ("failed", "changed"):
            reasons = [report.reason]
        for reason in reasons:
            count += 1
            word = report.state if report.state in ("failed", "changed") else "refused"
            is_named = PurePath(report.file.name).name in reason
            tell(f"  {word}: {reason}" if is_named else f"  {word}: {report.file.name}: {reason}")
    return count
