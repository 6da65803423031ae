"""Connections with an end: every read ends at the deadline and at the limit of bytes, whatever the server does.

Receives a location and a budget, hands on a urllib3 manager that asks it, through the proxy that the environment names.
"""

from __future__ import annotations

import http.client
import io
import logging
import socket
import ssl
import time
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote
from urllib.request import getproxies, proxy_bypass

import urllib3
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.exceptions import LocationParseError
from urllib3.util import parse_url

from pruner.sources.location import origin
from pruner.words.errors import SettingsError

_BUFFER: Final = 1 << 16
_CONNECT_SECONDS: Final = 30.0
_SILENCE_SECONDS: Final = 60.0

# At lower levels urllib3 writes whole addresses into the log, and their queries may hold secrets.
logging.getLogger("urllib3").setLevel(logging.CRITICAL)


class TooMuchError(Exception):
    """The server sent more than the budget allows."""


class Budget:
    """What one try may still use: seconds until `ends` (by `time.monotonic`) and bytes from the network."""

    def __init__(self, ends: float, bytes_at_most: int) -> None:
        self.ends = ends
        self.bytes_left = bytes_at_most

    def seconds_left(self) -> float:
        """Seconds to the end, 0 when it is over."""
        return max(self.ends - time.monotonic(), 0.0)

    def timeout(self) -> urllib3.Timeout:
        """How long a connection and a silence may last. Never 0, which would mean a socket that does not wait."""
        left = max(self.seconds_left(), 0.001)
        return urllib3.Timeout(connect=min(left, _CONNECT_SECONDS), read=min(left, _SILENCE_SECONDS))


class _Guarded(io.RawIOBase):
    """Reads of a socket, each counted and none beyond the deadline: a slow drip does not renew it."""

    def __init__(self, raw: io.RawIOBase, connected: socket.socket, budget: Budget) -> None:
        self._raw = raw
        self._socket = connected
        self._budget = budget

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int | None:
        left = self._budget.seconds_left()
        if left <= 0:
            raise TimeoutError("deadline")
        self._socket.settimeout(min(left, _SILENCE_SECONDS))
        count: int | None = self._raw.readinto(buffer)
        self._budget.bytes_left -= count or 0
        if self._budget.bytes_left < 0:
            raise TooMuchError
        return count

    def close(self) -> None:
        self._raw.close()
        super().close()


class _WholeLines(io.BufferedReader):
    """A line that the end of the connection cuts is no line: http.client would take the "0" of "01000" for the last chunk."""

    def readline(self, size: int | None = -1, /) -> bytes:
        line = super().readline(size)
        if line and not line.endswith(b"\n") and len(line) != size:
            raise http.client.IncompleteRead(line)
        return line


def manager(url: str, budget: Budget, certificates: Path | None) -> urllib3.PoolManager:
    """A manager for one request. Raises SettingsError for unusable certificates or an unusable proxy."""
    proxy = _proxy(url)
    options: dict[str, Any] = {"retries": False, "num_pools": 1, "maxsize": 1}
    if proxy is not None or url.startswith("https:"):
        options["ssl_context"] = _context(certificates)
    made: urllib3.PoolManager
    if proxy is None:
        made = urllib3.PoolManager(**options)
    else:
        made = _proxy_manager(proxy, options)
    made.pool_classes_by_scheme = _pools(budget)
    return made


def _pools(budget: Budget) -> dict[str, type[HTTPConnectionPool]]:
    class Response(http.client.HTTPResponse):
        def __init__(self, sock: socket.socket, *arguments: Any, **options: Any) -> None:
            super().__init__(sock, *arguments, **options)
            # Nothing has been read yet, so the buffer can be laid anew over the guarded socket.
            raw: Any = self.fp.detach()
            self.fp = _WholeLines(_Guarded(raw, sock, budget), _BUFFER)

    class Plain(HTTPConnection):
        response_class = Response

    class Secure(HTTPSConnection):
        response_class = Response

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class SecurePool(HTTPSConnectionPool):
        ConnectionCls = Secure

    return {"http": PlainPool, "https": SecurePool}


def _context(certificates: Path | None) -> ssl.SSLContext:
    context = ssl.create_default_context()
    if certificates is not None:
        try:
            context.load_verify_locations(cafile=str(certificates))
        except (OSError, ssl.SSLError) as error:
            raise SettingsError(f"{certificates}: no file of certificates in PEM form; correct the settings") from error
    return context


def _proxy(url: str) -> str | None:
    """The proxy for a location by HTTP_PROXY, HTTPS_PROXY, ALL_PROXY and NO_PROXY (common practice, no standard)."""
    scheme, host, port = origin(url)
    proxies = getproxies()
    proxy = proxies.get(scheme) or proxies.get("all")
    if not proxy or proxy_bypass(f"{host}:{port}"):
        return None
    return proxy if "://" in proxy else f"http://{proxy}"


def _proxy_manager(proxy: str, options: dict[str, Any]) -> urllib3.ProxyManager:
    problem = SettingsError("the proxy in the environment is no http:// or https:// address; correct HTTP_PROXY, HTTPS_PROXY")
    try:
        parsed = parse_url(proxy)
    except LocationParseError:
        raise problem from None
    if parsed.scheme not in ("http", "https") or not parsed.host:
        raise problem
    headers = urllib3.make_headers(proxy_basic_auth=unquote(parsed.auth)) if parsed.auth else None
    return urllib3.ProxyManager(parsed._replace(auth=None).url, proxy_headers=headers, **options)
