"""One try: ask, follow redirects, receive.

Receives a request, the record of the stored body and an empty file; hands on an Answer or raises FailedError.
"""

from __future__ import annotations

import re
import ssl
from dataclasses import dataclass
from http import HTTPStatus
from typing import BinaryIO, Final

from urllib3.exceptions import (
    ConnectTimeoutError,
    HTTPError,
    NameResolutionError,
    NewConnectionError,
    ProtocolError,
    ProxyError,
    SSLError,
    TimeoutError,
)
from urllib3.response import BaseHTTPResponse

from pruner import __version__
from pruner.sources import location
from pruner.sources.body import receive, too_large
from pruner.sources.connection import Budget, TooMuchError, manager
from pruner.sources.credentials import variables
from pruner.sources.request import FailedError, Request
from pruner.sources.store import Record

_REDIRECTS: Final = (301, 302, 303, 307, 308)
_PERMANENT: Final = (301, 308)
_PASSING: Final = (500, 502, 503, 504)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a server answered: a body (written to the file) or "not modified" (`sha256` is "")."""

    answered_by: str
    sha256: str = ""
    bytes: int = 0
    etag: str | None = None
    last_modified: str | None = None
    notes: tuple[str, ...] = ()


def ask(request: Request, record: Record | None, file: BinaryIO, ends: float) -> Answer:
    """Asks once. `record` describes the stored body if it came from the same location; `ends` is by `time.monotonic`."""
    limit = request.raw_bytes_at_most
    budget = Budget(ends, limit + limit // 8 + (1 << 20))
    try:
        return _follow(request, record, file, budget)
    except TooMuchError:
        raise too_large(limit) from None
    except (HTTPError, ssl.SSLError) as error:
        if not budget.seconds_left():
            raise late(request) from None
        raise failure(error) from None


def late(request: Request) -> FailedError:
    """The failure of a request that did not end within its time."""
    return FailedError(f"did not answer completely within {request.deadline_seconds:g} s; try again later")


def _follow(request: Request, record: Record | None, file: BinaryIO, budget: Budget) -> Answer:
    url = first = location.checked(request.location, request.subject)
    notes = []
    for _ in range(request.redirects_at_most + 1):
        if location.is_open(url):
            secrets = ", and the credentials too" if request.credentials else ""
            notes.append(f"{location.shown(url)} is not encrypted: others can read and change it on the way{secrets}")
        headers = _headers(request, record, url, first)
        with manager(url, budget, request.certificates) as pools:
            response = pools.request(
                "GET", url, headers=headers, redirect=False, preload_content=False, timeout=budget.timeout(), retries=False
            )
            try:
                if response.status not in _REDIRECTS:
                    return _answer(response, request, file, url, headers, notes)
                target = _target(url, response)
                if response.status in _PERMANENT:
                    notes.append(f"{location.shown(url)} has moved to {location.shown(target)}: change the location")
                url = target
            finally:
                response.close()
    raise FailedError(f"redirects more than {request.redirects_at_most} times; check the location")


def _target(url: str, response: BaseHTTPResponse) -> str:
    try:
        return location.redirected(url, _as_utf8(response.headers.get("Location")))
    except location.RedirectRefusedError as error:
        raise FailedError(f"{error}; check the location", status=response.status) from None


def _as_utf8(header: str | None) -> str | None:
    """A header that was read as Latin-1 although it is UTF-8, as addresses sometimes are."""
    try:
        return header.encode("latin-1").decode() if header else header
    except UnicodeError:
        return header


def _headers(request: Request, record: Record | None, url: str, first: str) -> dict[str, str]:
    contact = re.sub(r"[^\x20-\x7e]|[()\\]", "", request.user_agent_contact or "").strip()
    headers = {
        "User-Agent": f"pruner/{__version__}" + (f" (+{contact})" if contact else ""),
        "Accept": "*/*",
        "Accept-Encoding": "gzip",
        "Connection": "close",
    }
    # Credentials are for the origin they were given for, never for where it redirects to (RFC 9110, section 15.4).
    if request.credentials is not None and location.origin(url) == location.origin(first):
        headers["Authorization"] = request.credentials.header()
    # Both validators, verbatim; the server ignores the date if it knows the tag (RFC 9110, sections 13.1.2 and 13.1.3).
    # They hold for the resource that gave them, not for one that redirects to it.
    if record is not None and record.answered_by == location.fingerprint(location.without_query(url)):
        if record.etag is not None:
            headers["If-None-Match"] = record.etag
        if record.last_modified is not None:
            headers["If-Modified-Since"] = record.last_modified
    return headers


def _answer(
    response: BaseHTTPResponse, request: Request, file: BinaryIO, url: str, headers: dict[str, str], notes: list[str]
) -> Answer:
    answered_by = location.fingerprint(location.without_query(url))
    if response.status == HTTPStatus.NOT_MODIFIED:
        if "If-None-Match" in headers or "If-Modified-Since" in headers:
            return Answer(answered_by, notes=tuple(notes))
        raise FailedError('answered "not modified" although it was asked for the whole; tell its keeper', status=304)
    if response.status != HTTPStatus.OK:
        raise _refusal(response, request)
    digest, size, whole = receive(response, request, file)
    if not whole:
        # RFC 9112, section 6.3, rule 8: such a body ends where the connection does, be it complete or not.
        notes.append("the server did not say how long the answer is, so nobody can tell whether it is complete")
    etag, last_modified = _validator(response, "ETag"), _validator(response, "Last-Modified")
    return Answer(answered_by, digest, size, etag, last_modified, tuple(notes))


def _validator(response: BaseHTTPResponse, name: str) -> str | None:
    """A validator as it was sent; None if it is absent, given twice or cannot be sent back."""
    values = response.headers.getlist(name)
    return values[0] if len(values) == 1 and re.fullmatch(r"[\x20-\x7e\x80-\xff]{1,1024}", values[0]) else None


def _refusal(response: BaseHTTPResponse, request: Request) -> FailedError:
    status = response.status
    try:
        phrase = f"{status} ({HTTPStatus(status).phrase})"
    except ValueError:
        phrase = f"{status}"
    if status in (401, 403):
        advice = _advice_on_credentials(request)
    elif status in (404, 410):
        advice = "check the location"
    elif status == HTTPStatus.PROXY_AUTHENTICATION_REQUIRED:
        advice = "check user and password of the proxy"
    else:
        advice = "try again later"
    retry_after = response.headers.get("Retry-After") if status in (429, 503) else None
    return FailedError(f"answered {phrase}; {advice}", again=status in _PASSING, status=status, retry_after=retry_after)


def _advice_on_credentials(request: Request) -> str:
    if request.credentials is not None:
        return "check its credentials" + (f" ({request.credentials.where})" if request.credentials.where else "")
    name = request.secret_name
    names = variables(name or "log")
    named = "" if name else 'write credentials = "log" into its table of the settings and '
    return f"if it wants credentials, {named}give {names['user']} and {names['password']}, or {names['token']}"


def failure(error: Exception) -> FailedError:
    """An error of urllib3 in words of ours; its own words hold addresses."""
    if isinstance(error, ProxyError):
        return FailedError("the proxy cannot be used; check HTTP_PROXY, HTTPS_PROXY, NO_PROXY", again=True)
    if isinstance(error, NameResolutionError):
        return FailedError("the name does not resolve; check the location and the network", again=True)
    if isinstance(error, NewConnectionError):
        cause = error.__cause__
        reason = (cause.strerror if isinstance(cause, OSError) else None) or "no route"
        return FailedError(f"cannot be reached ({reason}); check the location and the network", again=True)
    certificate = _certificate(error)
    if certificate is not None:
        return FailedError(
            f"shows a certificate that cannot be trusted ({certificate}); if it is right, name its authority in the settings"
        )
    if isinstance(error, SSLError | ssl.SSLError):
        return FailedError("cannot agree on an encrypted connection; try again later", again=True)
    if isinstance(error, ConnectTimeoutError):
        return FailedError("does not take the connection; try again later", again=True)
    if isinstance(error, TimeoutError):
        return FailedError("stopped answering; try again later", again=True)
    if isinstance(error, ProtocolError):
        return FailedError("broke off the connection; try again later", again=True)
    return FailedError("does not answer as a web server does; check the location")


def _certificate(error: BaseException | None) -> str | None:
    while error is not None:
        for found in (error, *error.args):
            if isinstance(found, ssl.SSLCertVerificationError):
                return re.sub(r"[^\x20-\x7e]", "?", found.verify_message)
        error = error.__cause__ or error.__context__
    return None
