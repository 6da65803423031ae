"""Secrets of a source: from the environment or from a file that only its owner can read.

They never come from the command line and never show in a repr, a message or a log.
"""

from __future__ import annotations

import base64
import os
import re
import stat
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pruner.words.errors import SettingsError

_PARTS: Final = ("user", "password", "token")
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Credentials:
    """A user name with a password, or a token. `where` says for messages where they come from."""

    user: str | None = field(default=None, repr=False)
    password: str | None = field(default=None, repr=False)
    token: str | None = field(default=None, repr=False)
    where: str = field(default="", compare=False)

    def header(self) -> str:
        """The value of the Authorization header: Basic in UTF-8 (RFC 7617, section 2.1) or Bearer (RFC 6750, section 2.1)."""
        if self.token is not None:
            return f"Bearer {self.token}"
        return "Basic " + base64.b64encode(f"{self.user}:{self.password}".encode()).decode("ascii")


def variables(name: str) -> dict[str, str]:
    """The environment variables of a source: "user" -> "PRUNER_WORLD_USER" and so on."""
    stem = "PRUNER_" + re.sub(r"[^A-Z0-9]", "_", name.upper())
    return {part: f"{stem}_{part.upper()}" for part in _PARTS}


def load(name: str, *, environ: Mapping[str, str], file: Path | None = None) -> Credentials | None:
    """The credentials of a source, None if there are none. The environment comes before the file.

    `file` is TOML with a table per source: `[world]` with `user` and `password`, or `token`. It may be absent. Raises
    SettingsError when others may read it, when it is malformed, or when parts are missing or too many.
    """
    given = {part: environ[variable] for part, variable in variables(name).items() if environ.get(variable)}
    if given:
        return _checked(given, f"environment {variables(name)['user'].removesuffix('_USER')}_...")
    if file is None:
        return None
    table = _document(file).get(name)
    if table is None:
        return None
    where = f"{file}: [{name}]"
    if not isinstance(table, dict):
        raise SettingsError(f"{where}: expected a table with user and password, or token")
    unknown = sorted(set(table) - set(_PARTS))
    if unknown:
        raise SettingsError(f"{where}: holds a key that is none of user, password, token; correct it")
    if not all(isinstance(value, str) and value for value in table.values()):
        raise SettingsError(f"{where}: user, password and token must be texts in quotes")
    return _checked(table, where)


def _document(file: Path) -> dict[str, Any]:
    try:
        opened = file.open("rb")
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise SettingsError(f"{file}: cannot be read ({error.strerror})") from error
    with opened:
        has_modes = hasattr(os, "geteuid")  # elsewhere modes say nothing of who may read
        if has_modes and os.fstat(opened.fileno()).st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise SettingsError(f"{file}: holds secrets and others may open it; run: chmod 600 {file}")
        try:
            return tomllib.load(opened)
        except tomllib.TOMLDecodeError as error:
            # The decoder's text may quote the file; only the place in it is safe to show.
            place = re.search(r"line \d+, column \d+", str(error))
            raise SettingsError(f"{file}: is not valid TOML ({place.group() if place else 'at its end'})") from None
        except (UnicodeDecodeError, OSError):
            raise SettingsError(f"{file}: is not a text file in UTF-8") from None


def _checked(parts: Mapping[str, str], where: str) -> Credentials:
    if any(_CONTROL.search(value) for value in parts.values()):
        raise SettingsError(f"{where}: a secret holds a line break or another control character; remove it")
    if set(parts) not in ({"token"}, {"user", "password"}):
        raise SettingsError(f"{where}: expected either a token, or a user and a password")
    if ":" in parts.get("user", ""):
        # RFC 7617, section 2: a user-id with a colon cannot be told from its password.
        raise SettingsError(f"{where}: a user name cannot hold a colon")
    if not parts.get("token", "").isascii():
        raise SettingsError(f"{where}: a token must be of ASCII characters")
    return Credentials(**parts, where=where)
