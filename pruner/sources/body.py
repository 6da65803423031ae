"""The body of an answer -> a file, whole and within its limits, or a reason why not."""

from __future__ import annotations

import gzip
import hashlib
import io
import re
import zlib
from collections.abc import Callable
from typing import Any, BinaryIO, Final

from urllib3.exceptions import ProtocolError
from urllib3.response import BaseHTTPResponse

from pruner.sources.request import FailedError, Request

_PIECE: Final = 1 << 18
_START: Final = 1 << 12
_PAGES: Final = ("text/html", "application/xhtml+xml")
# How a page or XML begins: WHATWG "MIME Sniffing", section 7.1, the table of tags that mean text/html (from memory), and <?xml.
_PAGE_START: Final = re.compile(
    rb"(?i)(\xef\xbb\xbf)?[\t\n\x0c\r ]*(<\?xml|<!--"
    rb"|<(!doctype html|html|head|script|iframe|h1|div|font|table|a|style|title|b|body|br|p)[\t\n\x0c\r />])"
)
#: What a page has that holds rows.
_ROWS: Final = re.compile(rb"(?i)<(?:table|pre)[\s>]")
_LONGEST_TAG: Final = 8


class _Raw(io.RawIOBase):
    """The bytes of an answer as sent, counted."""

    def __init__(self, response: BaseHTTPResponse, at_most: int) -> None:
        self._response = response
        self._at_most = at_most
        self._count = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        data = self._response.read1(len(buffer), decode_content=False)
        self._count += len(data)
        if self._count > self._at_most:
            raise too_large(self._at_most)
        buffer[: len(data)] = data
        return len(data)


def receive(response: BaseHTTPResponse, request: Request, file: BinaryIO) -> tuple[str, int, bool]:
    """Writes the body into a file; returns its SHA-256, its size in bytes and whether its end could be checked.

    Raises FailedError for a page (where pages are taken: one without a table), for a body that is empty, larger than allowed,
    damaged or not complete (RFC 9112, section 8; for gzip also RFC 1952, section 2.3.1: checksum and length at the end), and
    what urllib3 raises for a lost connection.
    """
    encoding = _encoding(response)
    kind = _page_kind(response)
    if kind and not request.takes_pages:
        raise _page(kind, of_log=False)
    length = response.headers.get("Content-Length", "")
    if re.fullmatch("[0-9]+", length, re.ASCII) and (len(length) > 18 or int(length) > request.raw_bytes_at_most):
        raise too_large(request.raw_bytes_at_most)
    chunked = "chunked" in response.headers.get("Transfer-Encoding", "").lower()
    stream: io.BufferedIOBase = io.BufferedReader(_Raw(response, request.raw_bytes_at_most), _PIECE)
    if encoding == "gzip":
        stream = gzip.GzipFile(fileobj=stream, mode="rb")
    digest, size = _copy(stream, file, request, kind)
    return digest, size, bool(chunked or length or encoding)


def _copy(stream: io.BufferedIOBase, file: BinaryIO, request: Request, kind: str) -> tuple[str, int]:
    digest = hashlib.sha256()
    size = 0
    piece = _read(stream.read, _START)
    begins_as_page = _PAGE_START.match(piece) is not None
    if begins_as_page and not request.takes_pages:
        raise _page("", of_log=False)
    lacks_rows, end = begins_as_page or bool(kind), b""
    while piece:
        size += len(piece)
        if size > request.decoded_bytes_at_most:
            raise too_large(request.decoded_bytes_at_most, unpacked=True)
        digest.update(piece)
        file.write(piece)
        if lacks_rows:
            lacks_rows = _ROWS.search(end + piece) is None
            end = piece[-_LONGEST_TAG:]
        piece = _read(stream.read1, _PIECE)
    if not size:
        raise FailedError("sent an empty answer; check the location", refused=True)
    if lacks_rows:
        raise _page(kind, of_log=True)
    return digest.hexdigest(), size


def _read(read: Callable[[int], bytes], size: int) -> bytes:
    try:
        return read(size)
    except ProtocolError as error:
        raise FailedError("sent an answer that ends early; try again later", refused=True, again=True) from error
    except EOFError as error:
        raise FailedError("sent compressed data that ends early; tell its keeper", refused=True) from error
    except (gzip.BadGzipFile, zlib.error) as error:
        raise FailedError("sent compressed data that is damaged; tell its keeper", refused=True) from error


def _encoding(response: BaseHTTPResponse) -> str:
    """ "gzip" or "" (RFC 9110, section 8.4.1: x-gzip is the same as gzip). Only these were asked for."""
    encoding = response.headers.get("Content-Encoding", "").strip().lower()
    if encoding in ("", "identity"):
        return ""
    if encoding in ("gzip", "x-gzip"):
        return "gzip"
    raise FailedError("sent a compressed answer that was not asked for; tell its keeper that only gzip is", refused=True)


def _page_kind(response: BaseHTTPResponse) -> str:
    """The media type of what is said to be a page, "" of anything else."""
    kind = response.headers.get("Content-Type", "").partition(";")[0].strip().lower()
    return kind if kind in _PAGES else ""


def _page(kind: str, *, of_log: bool) -> FailedError:
    """The refusal of a page of some media type, "" where it was told by its content. `of_log`: it lacks a table, as pages of
    logs may have."""
    named = f" ({kind})" if kind else ""
    way = "" if of_log else "; where it shows the table, save the page and name that file as location, as saved pages are read"
    text = f"sent a page{named} where a table is due; open it in a browser and see what it asks for{way}"
    return FailedError(text, refused=True)


def too_large(at_most: int, *, unpacked: bool = False) -> FailedError:
    """The refusal of an answer beyond a limit in bytes."""
    state = " when unpacked" if unpacked else ""
    return FailedError(f"sent more than {at_most:,} bytes{state}; raise the limit if that is right", refused=True)
