"""A sign of life: an address is asked, and only whether it answered counts.

Receives an http(s) address, hands on nothing; raises FailedError. Addresses of this kind are secrets themselves, so no error
shows more of them than the host.
"""

from __future__ import annotations

import ssl
import time
from functools import partial
from typing import Final

from urllib3.exceptions import HTTPError

from pruner import __version__
from pruner.sources import location
from pruner.sources.connection import Budget, TooMuchError, manager
from pruner.sources.exchange import failure
from pruner.sources.fetch import in_time
from pruner.sources.request import FailedError, Request
from pruner.words.errors import SettingsError

_BYTES_AT_MOST: Final = 1 << 20


def ping(address: str, *, deadline_seconds: float = 10.0) -> None:
    """Asks an address with GET, once; the body of the answer is not read. No redirect is followed.

    Raises FailedError when no answer of success (RFC 9110, section 15.3) came within the deadline.
    """
    request = Request("ping", address, deadline_seconds=deadline_seconds)
    ends = time.monotonic() + deadline_seconds
    in_time(partial(_ask, address, Budget(ends, _BYTES_AT_MOST)), ends, request)


def host_of(address: str) -> str:
    """What may be shown of an address."""
    try:
        return location.origin(address)[1] or "(malformed address)"
    except (ValueError, HTTPError):
        return "(malformed address)"


def _ask(address: str, budget: Budget) -> None:
    try:
        url = location.checked(address, "ping")
        headers = {"User-Agent": f"pruner/{__version__}", "Accept": "*/*", "Connection": "close"}
        with manager(url, budget, None) as pools:
            response = pools.request(
                "GET", url, headers=headers, redirect=False, preload_content=False, timeout=budget.timeout(), retries=False
            )
            status = response.status
            response.close()
    except SettingsError:
        raise FailedError("is no http:// or https:// address that can be asked") from None
    except TooMuchError:
        raise FailedError("answered with far too much") from None
    except (HTTPError, ssl.SSLError) as error:
        raise failure(error) from None
    if not 200 <= status < 300:
        raise FailedError(f"answered {status}", status=status)
