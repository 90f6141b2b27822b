"""The one root of all errors that wellworn raises on purpose.

A message names the bad value, where it stands (file, bar, beat) and the likely cure. The command line maps the
classes to exit codes in one place (``cli.main``): what the user can mend is 2, what the system refused is 1.
"""


class WellwornError(Exception):
    """Anything that wellworn refuses on purpose: the root of every error of ours."""

    exit_code = 2


class ReadingError(WellwornError):
    """A file that cannot be read as music: damaged, too large, of another kind, without notes."""


class QueryError(WellwornError):
    """A question that cannot be asked: unknown note name, empty figure, a fold that makes no sense."""


class RangeError(QueryError):
    """A place that does not exist: a bar, beat or pass outside the transcription."""


class CorpusError(WellwornError):
    """A database that does not hold what was asked for, or must not be touched: unknown ID, newer schema."""


class AlreadyThereError(CorpusError):
    """The same content is in the database already."""


class SystemTroubleError(WellwornError):
    """The system refused: a full disk, a read-only file, a locked database."""

    exit_code = 1
