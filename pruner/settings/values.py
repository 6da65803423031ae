"""Types of single settings values: how each is checked, and what is said when it is wrong.

Receives values as the TOML reader gives them (lists already as tuples), hands on checked ones. A wrong value
raises a `PydanticCustomError` whose text reads "expected ...", with what would have been right.
"""

from __future__ import annotations

import difflib
import glob
import os
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any, Final, LiteralString
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo
from pydantic_core import PydanticCustomError

from pruner.reference import countries, geometry, regions
from pruner.words import schema

#: The word that stands for `[home] country` in a rule.
HOME: Final = "home"
#: The word that stands for `[talkgroups] mine` in a rule.
MINE: Final = "mine"
#: Who may read the files that are written.
MODES: Final = {"private": 0o600, "group": 0o640, "everyone": 0o644}
#: Error types that the functions here raise; the message of the first is followed by what was found.
WRONG: Final = "wrong_value"
COMPLETE: Final = "complete_sentence"

_ADDRESS: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://")
_RESERVED_NAMES: Final = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def wrong(message: str) -> PydanticCustomError:
    """The error of one value; `message` begins with "expected"."""
    return PydanticCustomError(WRONG, "{message}", {"message": message})


def complete(message: str) -> PydanticCustomError:
    """An error whose message says everything, the value that was found included."""
    return PydanticCustomError(COMPLETE, "{message}", {"message": message})


def custom(kind: LiteralString, context: dict[str, Any]) -> PydanticCustomError:
    """The error made again from its type and context, as `ValidationError.errors()` gives them."""
    return PydanticCustomError(kind, "{message}", context)


def suggestion(text: str, legal: Iterable[str]) -> str:
    """`; did you mean ...?` with the nearest legal word, or nothing."""
    by_fold = {word.casefold(): word for word in legal}
    near = difflib.get_close_matches(text.casefold(), by_fold, n=1, cutoff=0.6)
    return f'; did you mean "{by_fold[near[0]]}"?' if near else ""


def _pattern(pattern: str, expected: str) -> Callable[[str], str]:
    compiled = re.compile(pattern, re.ASCII)

    def check(text: str) -> str:
        if not compiled.fullmatch(text):
            raise wrong(f"expected {expected}")
        return text

    return check


def _label(text: str) -> str:
    if not 1 <= len(text) <= 80 or text != text.strip() or not text.isprintable():
        raise wrong("expected a name of 1 to 80 printable characters, without white space at its ends")
    return text


def _label_if_any(text: str) -> str:
    return _label(text) if text else text


def _folder_name(text: str) -> str:
    allowed = re.fullmatch(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,62}[A-Za-z0-9_-])?", text)
    if not allowed or _RESERVED_NAMES.fullmatch(text):
        raise wrong("expected a name that can be a folder: up to 64 letters, digits, dots, dashes, underscores")
    return text


def _country(text: str) -> str:
    if not countries.find(text):
        near = ", ".join(f'"{name}"' for name in countries.nearest_names(text))
        raise complete(
            f"expected an ISO 3166-1 code or the name of a country, got {shown(text)}"
            + (f"; did you mean {near}?" if near else "")
        )
    return text


def _country_or_home(text: str) -> str:
    if text == HOME:
        return HOME
    number, state = countries.read(_country(text))
    if state:
        raise complete(
            f"expected the name of a country, got {shown(text)}, a part of {countries.NAMES[number]}; "
            f'write countries = ["{countries.CODES[number]}"] or states = ["{state}"]'
        )
    return text


def _continent(text: str) -> str:
    if not regions.continent_members(text):
        legal = regions.continent_names()
        near = suggestion(text, legal) or f" (known: {', '.join(legal)})"
        raise complete(f"expected the name of a continent or part of one, got {shown(text)}{near}")
    return text


def _locator(text: str) -> str:
    try:
        geometry.locator_centre(text)
    except ValueError:
        raise wrong("expected a Maidenhead locator of 4, 6 or 8 characters, such as JN67 or JN67AB") from None
    return text


def _encoding(text: str) -> str:
    try:
        "0".encode(text)
    except (LookupError, ValueError):
        raise wrong('expected the name of a text encoding, such as "cp1252" or "utf-8"') from None
    return text


def _glob(text: str) -> str:
    if not text or "/" in text or any(not character.isprintable() or character.isspace() for character in text):
        raise wrong('expected a call sign, * and ? allowed, without "/" and white space (such as "OE1*")')
    return text.upper()


def _mode(value: object) -> int:
    """The mode of files from a word, or from octal digits as text or as TOML writes an octal number."""
    if isinstance(value, str) and value in MODES:
        return MODES[value]
    if isinstance(value, str) and re.fullmatch(r"(0o?)?[0-7]{3}", value, re.ASCII):
        value = int(value[-3:], 8)
    if isinstance(value, int) and not isinstance(value, bool) and value & ~0o664 == 0 and value & 0o600 == 0o600:
        return value
    words = ", ".join(f'"{word}"' for word in MODES)
    raise wrong(f'expected {words}, or an octal mode such as "0640" (the owner reads and writes, strangers read at most)')


def _words(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise wrong("expected printable text")
    return text


def _column(value: object) -> str | int:
    if isinstance(value, str) and value.strip():
        return value
    if isinstance(value, int) and not isinstance(value, bool) and value >= 1:
        return value
    raise wrong("expected a heading, or a position counted from 1")


def _meaning(legal: tuple[str, ...]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text not in legal:
            raise complete(f"unknown key{suggestion(text, legal) or '; legal here: ' + ', '.join(legal)}")
        return text

    return check


def _different(columns: dict[str, str | int]) -> dict[str, str | int]:
    if len(set(columns.values())) < len(columns):
        raise complete("expected a different column for each meaning")
    return columns


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise wrong('expected the name of a time zone, such as "UTC" or "Europe/Vienna"') from None
    return text


def _talkgroups(value: object) -> tuple[int, ...] | str:
    if value == MINE:
        return MINE
    if isinstance(value, tuple) and value and all(type(n) is int and 0 < n < schema.ADDRESSES for n in value):
        return value
    raise wrong('expected "mine" or a list of talkgroup numbers')


def _folder(info: ValidationInfo) -> Path:
    folder = (info.context or {}).get("folder")
    return Path(folder).absolute() if folder is not None else Path.cwd()


def _path(value: object, info: ValidationInfo) -> Path:
    if isinstance(value, Path):
        value = str(value)
    if not isinstance(value, str) or not is_path(value):
        raise wrong("expected the path of a file or folder")
    return _home_folder(value) if value.startswith("~") else _folder(info) / value


def is_path(text: str) -> bool:
    """Whether a text can name a file or folder at all."""
    try:
        return bool(text.strip()) and b"\0" not in os.fsencode(text)
    except UnicodeEncodeError:
        return False


def _home_folder(value: str) -> Path:
    try:
        return Path(value).expanduser().absolute()
    except RuntimeError:
        raise wrong("expected a path; the folder that ~ stands for is not known") from None


def _list_file(value: object, info: ValidationInfo) -> Path:
    path = _path(value, info)
    if not os.path.isfile(path):  # noqa: PTH113 (Path.is_file raises for names that are too long)
        raise complete(f"expected a file of ids or call signs, but there is no file {shown(str(path), 200)}")
    return path


def _route_file(value: object, info: ValidationInfo) -> Path:
    path = _path(value, info)
    if not os.path.isfile(path):  # noqa: PTH113
        raise complete(f"expected a GPX file, but there is no file {shown(str(path), 200)}")
    return path


def _layout_file(value: object, info: ValidationInfo) -> Path:
    path = _path(value, info)
    if not os.path.isfile(path):  # noqa: PTH113
        raise complete(f"expected a file, but there is no file {shown(str(path), 200)}")
    return path


def _location(value: object, info: ValidationInfo) -> str:
    if isinstance(value, str) and value in (info.context or {}).get("held", ()):  # a table in memory
        return value
    if isinstance(value, str) and is_address(value):
        if not re.match(r"https?://[^/?#@\s]+([/?#]\S*)?$", value, re.IGNORECASE):
            # The address is not shown: it may hold a secret.
            raise complete("expected a file, a pattern of files or an http(s) address without user name and password in it")
        return value
    return _local(value, info)


def is_address(location: str) -> bool:
    """Whether a location is an address on a network (`scheme://...`), not a file."""
    return _ADDRESS.match(location) is not None


def _local(value: object, info: ValidationInfo) -> str:
    path = _path(value, info)
    exists = os.path.exists(path)  # noqa: PTH110 (Path.exists raises for names that are too long)
    if exists or not glob.has_magic(str(value)):
        return glob.escape(str(path))
    folder = _folder(info)
    if path.is_relative_to(folder) and not Path(str(value)).is_absolute():
        return str(Path(glob.escape(str(folder))) / path.relative_to(folder))
    return str(path)


def shown(value: object, length: int = 40) -> str:
    """A value as TOML would write it, shortened to `length`, nothing in it that could steer a terminal."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**length:
        return "a far larger number"
    if isinstance(value, str):
        cut = value if len(value) <= length else value[: length - 3] + "..."
        plain = cut.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in plain) + '"'
    if isinstance(value, tuple | list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    text = str(value)
    return text if len(text) <= length else text[: length - 3] + "..."


Label = Annotated[str, AfterValidator(_label)]
LabelIfAny = Annotated[str, AfterValidator(_label_if_any)]
SourceName = Annotated[str, AfterValidator(_pattern("[A-Za-z0-9_-]{1,64}", "up to 64 letters, digits, dashes, underscores"))]
FolderName = Annotated[str, AfterValidator(_folder_name)]
Country = Annotated[str, AfterValidator(_country)]
CountryOrHome = Annotated[str, AfterValidator(_country_or_home)]
Continent = Annotated[str, AfterValidator(_continent)]
Locator = Annotated[str, AfterValidator(_locator)]
Encoding = Annotated[str, AfterValidator(_encoding)]
Glob = Annotated[str, AfterValidator(_glob)]
FileMode = Annotated[int, BeforeValidator(_mode)]
Words = Annotated[str, AfterValidator(_words)]
Column = Annotated[str | int, BeforeValidator(_column)]
#: Which column holds what: meaning -> heading, or position from 1, which counts columns whether or not there are headings.
Columns = Annotated[dict[Annotated[str, AfterValidator(_meaning(schema.STATION_ANSWERS))], Column], AfterValidator(_different)]
HeardColumns = Annotated[
    dict[Annotated[str, AfterValidator(_meaning(schema.HEARD_MEANINGS))], Column], AfterValidator(_different)
]
TalkgroupColumns = Annotated[
    dict[Annotated[str, AfterValidator(_meaning(schema.TALKGROUP_MEANINGS))], Column], AfterValidator(_different)
]
ListColumns = Annotated[dict[Annotated[str, AfterValidator(_meaning(schema.LIST_ANSWERS))], Column], AfterValidator(_different)]
AnyPath = Annotated[Path, BeforeValidator(_path)]
ListFile = Annotated[Path, BeforeValidator(_list_file)]
LayoutFile = Annotated[Path, BeforeValidator(_layout_file)]
RouteFile = Annotated[Path, BeforeValidator(_route_file)]
Location = Annotated[str, BeforeValidator(_location)]
Zone = Annotated[str, AfterValidator(_zone)]
TalkgroupNumber = Annotated[int, Field(ge=1, lt=schema.ADDRESSES)]
TalkgroupsOfRule = Annotated[tuple[int, ...] | str, BeforeValidator(_talkgroups)]
Days = Annotated[int, Field(ge=1, le=36_500)]
ToleranceSeconds = Annotated[int, Field(ge=0, le=30)]
StationId = Annotated[int, Field(ge=1, lt=schema.ADDRESSES)]
Count = Annotated[int, Field(ge=0, lt=1 << 31)]
Hops = Annotated[int, Field(ge=1, le=250)]
ItuRegion = Annotated[int, Field(ge=1, le=3)]
