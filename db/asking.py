"""One way to ask: what the command ``find`` and the Python interface both call.

Light to load: searches are imported when they begin.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.context import Context
    from corpus.match.exact import Rhythm
    from corpus.match.figure import Figure, Folds
    from corpus.match.forms import Form
    from corpus.match.prices import Prices
    from db.catalogue import Selection
    from db.connection import Database
    from db.readers import Reader
    from db.search import Answer, Hit, Question


@dataclass(frozen=True)
class HowNear:
    """What is wished of near search, turned figures and sequences."""

    is_near: bool = False
    threshold: float | None = None
    prices: "Prices | None" = None
    forms: "tuple[Form, ...]" = field(default=("",))
    is_sequence: bool = False

    @property
    def is_plain(self) -> bool:
        """Whether exact search of the figure as it stands answers."""
        return not self.is_near and not self.is_sequence and len(self.forms) == 1

    def answer(self, connection: "Reader", question: "Question", most: int | None) -> "Answer":
        """What is found, at most ``most`` places; what had been found when the user stops the search."""
        from corpus.match.prices import Prices
        from db.near import DEFAULT_THRESHOLD, NearQuestion, near_hits, near_sequences
        from db.search import Answer

        threshold = DEFAULT_THRESHOLD if self.threshold is None else self.threshold
        asked = NearQuestion(question, threshold if self.is_near else 1.0, self.prices or Prices(), self.forms)
        hits: list[Hit] = []
        try:
            if self.is_sequence:
                found = near_sequences(connection, asked)
                return Answer(found[:most], len(found))
            places = near_hits(connection, asked)
            hits.extend(islice(places, most))
            is_complete = most is None or len(hits) < most or next(places, None) is None
        except KeyboardInterrupt:
            return Answer(hits, len(hits), is_complete=False, is_stopped=True)
        return Answer(hits, len(hits), is_complete)


@dataclass(frozen=True)
class Asked:
    """A whole question: a figure (None: whatever is played over a progression), how it may differ, and where."""

    figure: "Figure | None"
    folds: "Folds"
    rhythm: "Rhythm"
    selection: "Selection"
    around: "Context"
    how_near: HowNear = field(default_factory=HowNear)

    @property
    def text(self) -> str:
        """The question in words. Raises QueryError when nothing is asked for."""
        over = "" if self.around.over is None else f"over {self.around.over.text}"
        if self.figure is None and not over:
            raise QueryError(
                "say which figure: --notes, --intervals, --steps, --contour, --roles, --degrees or --like; "
                "or which progression: --over"
            )
        return " ".join(filter(None, (self.figure.text if self.figure else "", over)))


def answer_of(database: "Database", asked: Asked, most: int | None) -> "Answer":
    """The answer, at most ``most`` hits in it. Raises QueryError for a question that makes no sense."""
    from corpus.match.figure import Folds
    from db.search import Question, search, search_over

    around, how_near = asked.around, asked.how_near
    if asked.figure is None and asked.text:
        if not how_near.is_plain:
            raise QueryError("--near, --also and --sequence need a figure beside --over")
        is_bare = around.first_over is None and around.last_over is None
        if not is_bare or asked.folds != Folds() or asked.rhythm != "any":
            raise QueryError("--first-over, --last-over, --ignore and --rhythm need a figure beside --over")
    with database.asking() as connection:
        if asked.figure is None:
            return search_over(connection, around, asked.selection, most)
        question = Question(asked.figure, asked.folds, asked.rhythm, asked.selection, around)
        if how_near.is_plain:
            return search(connection, question, most)
        return how_near.answer(connection, question, most)


def figure_of(**typed: str | None) -> "Figure | None":
    """The figure that is typed in one way: ``notes``, ``intervals``, ``steps``, ``contour``, ``roles``, ``degrees``.

    Raises QueryError for a bad one, for several, and for an unknown way.
    """
    from corpus.match import figure

    ways: dict[str, Callable[[str], Figure]] = {
        "notes": figure.figure_from_notes,
        "intervals": figure.figure_from_intervals,
        "steps": figure.figure_from_steps,
        "contour": figure.figure_from_contour,
        "roles": figure.figure_from_roles,
        "degrees": figure.figure_from_degrees,
    }
    given = {name: text for name, text in typed.items() if text is not None}
    if len(given) > 1:
        raise QueryError(f"say which figure in one way: {' and '.join(given)} are given")
    for name, text in given.items():
        return ways[name](text)
    return None
