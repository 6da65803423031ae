"""A cluster by Spark Connect: reached, of a version that is understood, asked for tables.

Receives an address (`sc://host:port`), hands on a session. Needs the extra `cluster`. What goes wrong is one line that shows no
more of the address than host and port: the rest may hold a secret.
"""

from __future__ import annotations

import contextlib
import importlib
import re
import socket
import warnings
from collections.abc import Callable, Iterator
from typing import Any, Final, TypeVar

from pruner.words.errors import InputRefusedError, PrunerError, SettingsError, SourceMissingError
from pruner.words.process import with_frames
from pruner.words.threads import LateError, within

#: The port of Spark Connect where the address names none (its client's documentation).
_PORT: Final = 15_002
_ADDRESS: Final = re.compile(r"sc://(\[[0-9A-Fa-f:]+\]|[A-Za-z0-9._-]+)(?::([0-9]{1,5}))?(?:/.*)?", re.ASCII)
_REACH_SECONDS: Final = 5.0
_ANSWER_SECONDS: Final = 60.0
_LEAVE_SECONDS: Final = 10.0
#: The oldest version whose answers are understood.
_OLDEST: Final = 4
_LONGEST: Final = 200
Result = TypeVar("Result")


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Any]:
    """A session with a cluster, for the block.

    Raises SettingsError for a malformed address or where the extra is missing, SourceMissingError where nothing answers there
    or what does is too old.
    """
    host, port = _checked(address)
    shown = f"{host}:{port}"
    library = _library()
    try:
        socket.create_connection((host.strip("[]"), port), timeout=_REACH_SECONDS).close()
    except OSError as error:
        raise SourceMissingError(
            f"{shown}: no cluster answers there ({error.strerror or 'no answer'}); check the address"
        ) from error
    session = _in_time(lambda: library.SparkSession.builder.remote(address).create(), shown)
    try:
        version = _in_time(lambda: str(session.version), shown)
        if not re.match(r"\d+\.", version) or int(version.split(".")[0]) < _OLDEST:
            raise SourceMissingError(f"{shown}: speaks version {version[:20]}; {_OLDEST} or newer is needed on the cluster")
        # Clusters write times without a zone in that of the session.
        _in_time(lambda: session.conf.set("spark.sql.session.timeZone", "UTC"), shown)
        yield session
    finally:
        with contextlib.suppress(Exception):  # nothing of it is of use any more, nor that it is late
            within(_LEAVE_SECONDS, session.stop, "cluster")


@contextlib.contextmanager
def asking(what: str) -> Iterator[None]:
    """Errors of the cluster about one path as one line."""
    try:
        yield
    except PrunerError:
        raise
    except Exception as error:  # the client has no common base of its errors
        raise InputRefusedError(f"{what}: the cluster cannot read it ({_one_line(error)})") from error


def _checked(address: str) -> tuple[str, int]:
    found = _ADDRESS.fullmatch(address)
    if not found or not 0 < int(found[2] or _PORT) < 1 << 16:
        raise SettingsError("heard cluster: expected the address of a cluster, such as sc://cluster.example.org:15002")
    return found[1], int(found[2] or _PORT)


def _library() -> Any:
    with_frames()
    with warnings.catch_warnings():
        # Nothing that is used of it goes through pandas.
        warnings.filterwarnings("ignore", message="PySpark does not yet fully support pandas", category=FutureWarning)
        try:
            return importlib.import_module("pyspark.sql.connect.session")
        except ImportError as error:
            raise SettingsError(
                "heard cluster: needs the extra `cluster`; in the folder of the project: pip install '.[cluster]'"
            ) from error


def _in_time(work: Callable[[], Result], shown: str) -> Result:
    """Does work in a thread that is left alone when its time is over: the client itself tries for minutes."""
    try:
        return within(_ANSWER_SECONDS, work, "cluster")
    except LateError:
        raise SourceMissingError(f"{shown}: does not answer as a cluster does within {_ANSWER_SECONDS:g} s") from None
    except Exception as error:
        raise SourceMissingError(
            f"{shown}: does not answer as a cluster of version {_OLDEST} does ({_one_line(error)})"
        ) from None


def _one_line(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text[:_LONGEST]}" if text else type(error).__name__
