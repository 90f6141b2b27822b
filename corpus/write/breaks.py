"""Where lines of music begin: so many bars a line, counted anew from every section."""

from corpus.model import Transcription


def line_starts(line: Transcription, shown: range, per_line: int) -> frozenset[int]:
    """The bars (indexes) with which a new line begins; the first of those shown is none of them.

    A pickup stands before the first bar of its line and is none of its bars.
    """
    sections = {section.onset_ticks for section in line.sections}
    starts: set[int] = set()
    in_line = 0
    for index in shown:
        bar = line.bars[index]
        is_new = in_line > 0 and (bar.onset_ticks in sections or in_line >= per_line)
        if is_new:
            starts.add(index)
        in_line = (0 if is_new else in_line) + (0 if bar.padding_ticks and index == 0 else 1)
    return frozenset(starts)
