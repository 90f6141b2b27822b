"""The analysed chord: a written symbol with its place, its numeral and its local key."""

from dataclasses import dataclass

from corpus.harmony.functions import Numeral
from corpus.harmony.symbols import ChordSymbol
from corpus.pitch import Key


@dataclass(frozen=True, slots=True)
class HarmonySpan:
    """One written chord symbol, from its place to the next, in ticks of the played line.

    ``symbol`` is None for unreadable text and ``numeral`` for that and for no chord (``N.C.``); ``key`` is the local
    key, None only where the chart has no chord at all.
    """

    onset_ticks: int
    end_ticks: int
    symbol_text: str
    symbol: ChordSymbol | None
    numeral: Numeral | None
    key: Key | None

    @property
    def length_ticks(self) -> int:
        """How long the chord lasts."""
        return self.end_ticks - self.onset_ticks
