"""Locations on the network: which they are, how they may be shown, where a redirect may lead.

Receives URLs, hands on URLs that are safe to ask. What is shown never holds a user, a password or a query.
"""

from __future__ import annotations

import hashlib
import ipaddress
import re
from typing import Final
from urllib.parse import urljoin

from urllib3.exceptions import LocationParseError
from urllib3.util import Url, parse_url

from pruner.words.errors import SettingsError

_PORTS: Final = {"http": 80, "https": 443}


class RedirectRefusedError(Exception):
    """A redirect leads where it must not; the text says why, without secrets."""


def checked(location: str, subject: str) -> str:
    """The location as it will be asked, without fragment. Raises SettingsError, which begins with `subject`, for anything but a
    plain http(s) URL."""
    url = _parsed(location)
    if url is None or url.scheme not in _PORTS or not url.host:
        hint = "correct it" if location.isascii() else "correct it (the name of a host must be in its ASCII form, xn--...)"
        raise SettingsError(f"{subject}: the location is no http:// or https:// address; {hint}")
    if url.auth is not None:
        # RFC 9110, section 4.2.4: user information in such an address is to be treated as an error.
        raise SettingsError(f"{subject}: holds a user or password; put them into the credentials file")
    return _plain(url)


def shown(location: str) -> str:
    """A location for messages: no user, no password, no query, no fragment, no control characters."""
    url = _parsed(location)
    if url is None or not url.host or not url.scheme:
        return "(malformed address)"
    port = f":{url.port}" if url.port else ""
    text = f"{url.scheme}://{url.host}{port}{url.path or ''}{'?...' if url.query else ''}"
    return re.sub(r"[^\x21-\x7e]", "?", text)[:300]


def fingerprint(location: str) -> str:
    """SHA-256 of a location, to tell whether it is the same as before without storing secrets in it."""
    return hashlib.sha256(location.encode()).hexdigest()


def without_query(location: str) -> str:
    """The location up to its query, which may hold a signature that changes each time."""
    return location.partition("?")[0]


def origin(location: str) -> tuple[str, str, int]:
    """Scheme, host and port (RFC 9110, section 4.3.1)."""
    url = parse_url(location)
    scheme = url.scheme or ""
    return scheme, url.host or "", url.port or _PORTS.get(scheme, 0)


def is_open(location: str) -> bool:
    """Whether others on the way can read along: http to anything but this machine."""
    scheme, host, _ = origin(location)
    if scheme != "http" or host == "localhost" or host.endswith(".localhost"):
        return False
    try:
        return not ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return True


def redirected(location: str, target: str | None) -> str:
    """Where a redirect leads (RFC 9110, section 10.2.2). Raises RedirectRefusedError."""
    if not target:
        raise RedirectRefusedError("redirects without saying where")
    try:
        url = _parsed(urljoin(location, target))
    except ValueError:
        url = None
    if url is None or not url.host or url.scheme not in _PORTS:
        scheme = re.match(r"[A-Za-z][A-Za-z0-9+.-]{0,15}(?=:)", target)
        foreign = scheme is not None and scheme.group().lower() not in _PORTS
        whither = f"{scheme.group()}:" if scheme and foreign else "a malformed address"
        raise RedirectRefusedError(f"redirects to {whither}, which is not followed")
    if origin(location)[0] == "https" and url.scheme == "http":
        raise RedirectRefusedError("redirects from https to http, which is not followed")
    return _plain(url)


def _plain(url: Url) -> str:
    return url._replace(auth=None, fragment=None).url


def _parsed(location: str) -> Url | None:
    # Whether urllib3 translates other letters in the name of a host depends on what else is installed: so never.
    if re.search(r"[\x00-\x20\x7f]", location) or re.match(r"[^/?#]*//[^/?#]*[^\x00-\x7f]", location):
        return None
    try:
        url = parse_url(location)
    except (LocationParseError, ValueError, UnicodeError):
        return None
    return url if url.host else None
