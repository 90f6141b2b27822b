"""The counting stage of discovery on Dask: the text goes to every worker once, the parts to whoever is free.

Needs the package ``distributed`` (extra ``dask``), which is loaded only here. Workers on other machines must have this
wellworn installed. Dask's workers run whatever they are sent and encrypt nothing unless set up to: a scheduler belongs
on a network of one's own.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from corpus.errors import QueryError, SystemTroubleError
from corpus.recur.parts import SUFFIXES_A_PART, Part, RepeatsInParts, repeats_in
from corpus.recur.repeats import Repeats

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LOCAL: Final = "local"
"""In place of an address: workers on this machine, for as long as the work takes."""
_LOOPBACK: Final = "127.0.0.1"
_WAIT_SECONDS: Final = 10


class _Dealer:
    """Deals parts out to the workers of a client."""

    def __init__(self, client: Any) -> None:
        self._client = client

    def __call__(self, symbols: "NDArray[np.uint8]", parts: Sequence[Part]) -> list[Repeats]:
        # A future that is an argument of each task: the text travels once a worker.
        text = self._client.scatter(symbols, broadcast=True, hash=False)
        futures = self._client.map(_part_of, parts, text=text, pure=False)
        found: list[Repeats] = self._client.gather(futures)
        return found


def _part_of(part: Part, text: "NDArray[np.uint8]") -> Repeats:
    return repeats_in(text, part)


@contextmanager
def repeats_on_dask(address: str, workers: int = 2, size: int = SUFFIXES_A_PART) -> Iterator[RepeatsInParts]:
    """``maximal_repeats`` on the workers of a scheduler at an address (``tcp://host:8786``), or on as many processes
    of this machine (``local``, loopback only); parts have about ``size`` suffixes.

    Raises QueryError where ``distributed`` is not installed, SystemTroubleError where nobody answers.
    """
    try:
        import distributed
    except ImportError as error:
        raise QueryError(
            "--dask needs the package 'distributed', which is not installed: pip install 'wellworn[dask]'"
        ) from error
    # Its constructors have no types.
    dask: Any = distributed
    if address == LOCAL:
        cluster = dask.LocalCluster(
            n_workers=workers, threads_per_worker=1, host=_LOOPBACK, dashboard_address=None, silence_logs=50
        )
        with cluster, dask.Client(cluster) as client:
            yield RepeatsInParts(_Dealer(client), size)
        return
    try:
        client = dask.Client(address, timeout=_WAIT_SECONDS)
    except (OSError, ValueError) as error:
        raise SystemTroubleError(
            f"no Dask scheduler answers at {address!r} ({error}): start one, or use local"
        ) from error
    with client:
        yield RepeatsInParts(_Dealer(client), size)
