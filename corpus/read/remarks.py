"""What a reader left out or guessed, each remark once."""

from corpus.model import Finding


class Remarks:
    """Remarks of a reader, the same one kept once with its first bar and how often it applies."""

    def __init__(self) -> None:
        self._found: dict[str, tuple[int | None, int]] = {}

    def add(self, text: str, bar: int | None = None) -> None:
        """Note a remark about a written bar, or about the whole line."""
        first, times = self._found.get(text, (bar, 0))
        self._found[text] = (first, times + 1)

    def findings(self) -> tuple[Finding, ...]:
        """All remarks as findings, in the order in which they were first made."""
        return tuple(
            Finding("reading", text if times == 1 else f"{text} (first here, {times} times in all)", bar=bar)
            for text, (bar, times) in self._found.items()
        )
