"""What the user asks of the MIDI reader beside what every reader is asked."""

from dataclasses import dataclass

from corpus.errors import QueryError


@dataclass(frozen=True, slots=True)
class MidiWishes:
    """Track by number (from 1) or beginning of its name; channel from 1 to 16; the bar of the file that is bar 1.

    ``swing`` settles how eighths are swung, as the first to the second (1 is straight), instead of estimating it.
    Raises QueryError for numbers that cannot be.
    """

    track: str | None = None
    channel: int | None = None
    first_bar: int | None = None
    swing: float | None = None

    def __post_init__(self) -> None:
        if self.channel is not None and not 1 <= self.channel <= 16:
            raise QueryError(f"channel {self.channel} is none: MIDI has channels 1 to 16")
        if self.first_bar is not None and self.first_bar < 1:
            raise QueryError(f"bar {self.first_bar} is none: the bars of a file count from 1")
        if self.swing is not None and not 1 <= self.swing <= 4:
            raise QueryError(f"a swing of {self.swing:g} to 1 is none: give 1 (straight) to 4")

    @property
    def stream(self) -> str:
        """What names the line among others of the file; empty where the choice is left to the reader."""
        track = "" if self.track is None else f"track {self.track.strip().casefold()}"
        channel = "" if self.channel is None else f"channel {self.channel}"
        return " ".join(filter(None, (track, channel)))

    @property
    def words(self) -> str:
        """All that changes what is read; empty where nothing is asked for."""
        bar = "" if self.first_bar is None else f"from bar {self.first_bar}"
        swing = "" if self.swing is None else f"swing {self.swing:g}"
        return " ".join(filter(None, (self.stream, bar, swing)))
