"""Pieces of JSON -> runs of records with named columns.

Receives pieces and the names that are wanted, hands on Arrow arrays of text. Plain records go through one fast reader; a piece
in which anything is odd is read record by record, with the same result.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.table.json_marks import Piece
from pruner.table.opened import Indices, Run

KEY_COLUMN: Final = "key"
_FALLBACK: Final = "cp1252"
_DEEPEST: Final = 6
#: The keys that lead to a value of a record.
Path = tuple[str, ...]
_NO_OBJECT: Final = "not a JSON object"


def parsed(text: bytes) -> Any:
    """A JSON value with its numbers as they are written; NaN and infinities are missing values.

    Raises ValueError where it is none, RecursionError where it is nested too deeply.
    """
    return json.loads(text.decode(), parse_float=str, parse_int=str, parse_constant=lambda _: None)


def flat(record: Mapping[str, Any]) -> dict[str, str | None]:
    """The values of a record as text by name.

    Inner objects become `name.part`, also those written as text; lists of values are joined by blanks; the properties of a
    feature (RFC 7946) stand under their own names.
    """
    found: dict[str, str | None] = {}
    for name, value in _flat(record, "", 0):
        if found.get(name) is None:
            found[name] = value
    return found


def _flat(record: Mapping[str, Any], prefix: str, depth: int) -> Iterator[tuple[str, str | None]]:
    for key, value in record.items():
        name = prefix + key
        inner = value
        if isinstance(value, str) and value[:1] == "{" and value.rstrip()[-1:] == "}":
            inner = _inside(value)
        if isinstance(inner, list) and len(inner) == 1:
            inner = inner[0]
        if isinstance(inner, dict):
            if depth < _DEEPEST:
                yield from _flat(inner, "" if name == "properties" else f"{name}.", depth + 1)
        elif isinstance(inner, list):
            texts = [_scalar(one) for one in inner if not isinstance(one, (dict, list))]
            yield name, " ".join(text for text in texts if text) or None
        else:
            yield name, _scalar(inner)


def _inside(text: str) -> Any:
    """The object that a text holds, if it holds one with members; else the text."""
    try:
        return parsed(text.encode(errors="replace")) or text
    except (ValueError, RecursionError):
        return text


def _scalar(value: Any) -> str | None:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    # A half of a surrogate pair is no text.
    return str(value).encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def record_of(text: bytes) -> tuple[dict[str, Any] | None, bool]:
    """One record, None where the text is none, and whether it had to be read in another encoding than UTF-8."""
    recoded = False
    try:
        text.decode()
    except UnicodeDecodeError:
        text, recoded = text.decode(_FALLBACK, errors="replace").encode(), True
    try:
        value = parsed(text)
    except (ValueError, RecursionError):
        return None, recoded
    return (value if isinstance(value, dict) else None), recoded


def paths_of(record: Mapping[str, Any]) -> Iterator[tuple[str, Path]]:
    """Each name of `flat` with the keys that lead to it through objects; () where a list or a text stands between."""
    return _paths_of(record, "", ())


def _paths_of(record: Mapping[str, Any], prefix: str, above: Path) -> Iterator[tuple[str, Path]]:
    for key, value in record.items():
        name, path = prefix + key, (*above, key)
        if isinstance(value, dict) and len(above) < _DEEPEST:
            yield from _paths_of(value, "" if name == "properties" else f"{name}.", path)
        elif isinstance(value, (dict, list)) or (isinstance(value, str) and value[:1] == "{"):
            yield from ((inner, ()) for inner in flat({name: value}))
        else:
            yield name, path


def run_of(piece: Piece, wanted: Sequence[str], key_column: str, paths: Mapping[str, Path] | None) -> Run:
    """A piece as a run of records; `key_column` names the keys of a keyed piece ("" where they are left out), `paths` the keys
    that lead to each wanted column (None where a list or a text stands between)."""
    names = [name for name in wanted if name != key_column]
    made = _fast(piece, paths) if paths and names else None
    run = _slow(piece, names) if made is None else Run(len(piece.begins), made)
    if key_column in wanted and piece.keys is not None:
        run.columns[key_column] = pa.array([key or None for key in piece.keys], pa.string())
    run.lines, run.origin = piece.lines + piece.before, _origin_of(piece)
    return run


def _fast(piece: Piece, paths: Mapping[str, Path]) -> dict[str, pa.Array] | None:
    """The columns of plain records; None where a record is anything else."""
    tree: dict[str, Any] = {}
    for path in paths.values():
        branch = tree
        for key in path[:-1]:
            branch = branch.setdefault(key, {})
        branch[path[-1]] = pl.String
    try:
        frame = pl.read_ndjson(_as_lines(piece), schema={key: _type_of(branch) for key, branch in tree.items()})
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException):
        return None
    if frame.height != len(piece.begins):
        return None
    columns = {}
    for name, (first, *inner) in paths.items():
        column = frame[first]
        for key in inner:
            column = column.struct.field(key)
        columns[name] = column.to_arrow().cast(pa.string())
    for found in columns.values():
        # Inner objects and lists come as their text, and so do objects written as text.
        if pc.any(pc.or_(pc.starts_with(found, "{"), pc.starts_with(found, "["))).as_py():
            return None
    return columns


def _type_of(branch: Any) -> Any:
    return pl.Struct({key: _type_of(inner) for key, inner in branch.items()}) if isinstance(branch, dict) else branch


def _as_lines(piece: Piece) -> bytes:
    """The records, one per line."""
    if not piece.is_clean:
        return b"\n".join(text.replace(b"\n", b" ") for text in piece.elements())
    data = np.frombuffer(piece.text, dtype=np.uint8).copy()
    if piece.lines:
        data[data == 10] = 32
    data[: int(piece.begins[0])] = 32
    gaps = piece.begins[1:] - piece.ends[:-1]
    for place in range(int(gaps.max(initial=0))):
        data[piece.ends[:-1][gaps > place] + place] = 32
    data[piece.ends[:-1]] = 10
    return data.tobytes()


def _slow(piece: Piece, names: Sequence[str]) -> Run:
    cells: dict[str, list[str | None]] = {name: [] for name in names}
    unreadable: dict[int, str] = {}
    recoded = 0
    for index, text in enumerate(piece.elements()):
        record, is_recoded = record_of(text)
        recoded += is_recoded
        if record is None:
            unreadable[index] = _NO_OBJECT
        values = flat(record or {})
        for name, column in cells.items():
            column.append(values.get(name))
    columns = {name: pa.array(column, pa.string()) for name, column in cells.items()}
    return Run(len(piece.begins), columns, unreadable, recoded=recoded)


def _origin_of(piece: Piece) -> Callable[[Indices], list[tuple[int, str]]]:
    def origin(indices: Indices) -> list[tuple[int, str]]:
        begins, ends = piece.begins[indices].tolist(), piece.ends[indices].tolist()
        feeds = np.flatnonzero(np.frombuffer(piece.text, dtype=np.uint8) == 10)
        lines = (np.searchsorted(feeds, piece.begins[indices]) + 1 + piece.before).tolist()
        texts = [piece.text[begin:end].decode(errors="replace") for begin, end in zip(begins, ends, strict=True)]
        return list(zip(lines, texts, strict=True))

    return origin
