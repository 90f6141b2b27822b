"""No test may reach beyond this machine: connections go to the loopback or to a socket of this system, or nowhere."""

import ipaddress
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest


class NetworkUsedError(BaseException):
    """Something wanted to leave this machine. No handler of errors may swallow it."""


def _is_here(host: object) -> bool:
    if not isinstance(host, str) or host in ("", "localhost"):
        return True
    try:
        return ipaddress.ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _guarded(name: str, original: Callable[..., Any], allows_loopback: bool) -> Callable[..., Any]:
    def call(self: socket.socket, *arguments: Any) -> Any:
        address = arguments[-1]
        if self.family in (socket.AF_INET, socket.AF_INET6) and not (allows_loopback and _is_here(address[0])):
            raise NetworkUsedError(f"socket.{name} to {address!r}")
        return original(self, *arguments)

    return call


@contextmanager
def only_this_machine(*, allows_loopback: bool = True) -> Iterator[None]:
    """Within this block a connection, a datagram or a look-up of a name beyond the loopback raises.

    Without ``allows_loopback`` the loopback counts as beyond too. Making a socket is no sign of anything: a library
    that music21 imports makes one to see whether the system knows IPv6.
    """
    look_up = socket.getaddrinfo

    def looked_up(host: Any, *arguments: Any, **named: Any) -> Any:
        if not (allows_loopback and _is_here(host)):
            raise NetworkUsedError(f"socket.getaddrinfo of {host!r}")
        return look_up(host, *arguments, **named)

    with pytest.MonkeyPatch.context() as patch:
        for name in ("connect", "connect_ex", "sendto"):
            patch.setattr(socket.socket, name, _guarded(name, getattr(socket.socket, name), allows_loopback))
        patch.setattr(socket, "getaddrinfo", looked_up)
        yield
