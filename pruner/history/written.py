"""What was last written to a radio, kept without any name, and how far the present result has moved away from it.

Receives contacts, keeps per contact its system, id, country, rule and a fingerprint of its text: a keyed hash (BLAKE2b, RFC
7693) with a new random key at every marking. Whoever is erased at the source does not live on here by name or call sign.
"""

from __future__ import annotations

import datetime
import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.history.compare import Difference, difference, matched
from pruner.history.contacts import COUNTRY_CODE, RULE, SYSTEM, ResultContacts, ordered
from pruner.history.files import whole_file
from pruner.words import schema
from pruner.words.errors import SettingsError

WRITTEN_SCHEMA: Final = "1"
#: One contact in so many: with fewer changes, writing a radio anew is not worth the time unless the user says otherwise.
WORTH_ONE_IN: Final = 200
_FINGERPRINT: Final = "fingerprint"
_KEY_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class Written:
    """A marking: `frame` has system, id, country_code, rule and fingerprint (uint64); `fields` are the columns hashed, with
    `whole` all that was written but running numbers and ranks."""

    day: datetime.date | None
    key: bytes
    fields: tuple[str, ...]
    frame: pl.DataFrame
    whole: bool = False


def default_threshold(contacts: int) -> int:
    """How many contacts must differ to make writing worth it: one in 200 of the radio's contacts, at least one."""
    return max(1, -(-contacts // WORTH_ONE_IN))


def marked_file(state: Path, radio: str) -> Path:
    """Where the marking of a radio lies."""
    return state / "written" / radio / "contacts.parquet"


def mark(state: Path, radio: str, contacts: ResultContacts, day: datetime.date | None = None) -> Path:
    """Remembers contacts as written to a radio (`day`: when). A marking replaces the one before; returns its file."""
    key = os.urandom(_KEY_BYTES)
    fields = [field for field in contacts.fields if field not in contacts.running]
    frame = contacts.frame.select(
        SYSTEM, schema.ID, COUNTRY_CODE, RULE, pl.Series(_FINGERPRINT, fingerprints(contacts.frame, fields, key))
    )
    about = {
        "schema": WRITTEN_SCHEMA,
        "day": day.isoformat() if day else "",
        "key": key.hex(),
        "fields": " ".join(fields),
        "whole": str(int(contacts.whole)),
    }
    path = marked_file(state, radio)
    with whole_file(path, mode=0o600) as making:
        frame.write_parquet(making, compression="zstd", metadata=about)
    return path


def read_written(state: Path, radio: str) -> Written | None:
    """The marking of a radio, None if it was never marked. Raises SettingsError when the file cannot be read."""
    path = marked_file(state, radio)
    if not path.is_file():
        return None
    try:
        about = pl.read_parquet_metadata(path)
        frame = pl.read_parquet(path).select(SYSTEM, schema.ID, COUNTRY_CODE, RULE, _FINGERPRINT)
        if about["schema"] != WRITTEN_SCHEMA:
            raise ValueError(about["schema"])
        day = datetime.date.fromisoformat(about["day"]) if about["day"] else None
        return Written(day, bytes.fromhex(about["key"]), tuple(about["fields"].split()), frame, about.get("whole") == "1")
    except (OSError, KeyError, ValueError, pl.exceptions.PolarsError):
        raise SettingsError(f"{path}: cannot be read; mark the radio again after writing it: pruner compare --mark") from None


def compare_with_written(state: Path, radio: str, contacts: ResultContacts) -> Difference | None:
    """What differs between the last marking of a radio and its present contacts; None if it was never marked.

    Which fields of a contact changed cannot be told from a fingerprint; removed contacts have no call sign. Where all that was
    written is known of both, a text that one of them does not write is empty there. Else, where fewer text columns are known
    now than at the marking, changes cannot be told (`compared` is then empty). Running numbers and ranks are not remembered.
    """
    written = read_written(state, radio)
    if written is None:
        return None
    match = matched(written.frame, contacts.frame)
    both = contacts.frame[match.new]
    now = tuple(field for field in contacts.fields if field not in contacts.running)
    fields, fresh, not_compared = _to_compare(written, contacts, now)
    if fields:
        both = both.with_columns(pl.lit("").alias(field) for field in fields if field not in contacts.fields)
        before = written.frame[_FINGERPRINT].to_numpy()[match.old] + _of_nothing(fresh, written.key)
        differs = fingerprints(both, fields, written.key) != before
    else:
        differs = np.zeros(both.height, dtype=bool)
    changed = both.filter(pl.Series(differs, dtype=pl.Boolean)).with_columns(pl.lit("").alias("fields"))
    removed = ordered(written.frame[match.gone].drop(_FINGERPRINT))
    found = difference(removed, contacts.frame[match.fresh], changed, written.frame.height, len(contacts), fields)
    return replace(found, not_compared=not_compared)


def _to_compare(
    written: Written, contacts: ResultContacts, now: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """The texts to compare, those of them that the marking did not hash, and what cannot be compared, a sentence each."""
    sentences = list(contacts.unknown)
    if contacts.running:
        sentences.append(f"{', '.join(contacts.running)}: moves with every contact that comes or goes")
    if written.whole and contacts.whole:
        fields = tuple(dict.fromkeys((*written.fields, *now)))
        return fields, tuple(field for field in now if field not in written.fields), tuple(sentences)
    fields = written.fields if set(written.fields) <= set(now) else ()
    rest = [field for field in now if field not in fields]
    if rest:
        sentences.append(f"{', '.join(rest)}: the marking does not know them; mark the radio again after writing it")
    return fields, (), tuple(sentences)


def _of_nothing(fields: Sequence[str], key: bytes) -> npt.NDArray[np.uint64]:
    """What empty texts add to a fingerprint."""
    return (
        fingerprints(pl.DataFrame({field: [""] for field in fields}), fields, key) if fields else np.zeros(1, dtype=np.uint64)
    )


def fingerprints(frame: pl.DataFrame, fields: Sequence[str], key: bytes) -> npt.NDArray[np.uint64]:
    """One number per contact: the sum of the keyed hashes of its texts, each column hashed apart, once per distinct text."""
    total = np.zeros(frame.height, dtype=np.uint64)
    for column in fields:
        distinct = frame[column].unique()
        codes = frame[column].cast(pl.Enum(distinct)).to_physical().to_numpy()
        total += _hashes(distinct.to_list(), column, key)[codes]
    return total


def _person(column: str) -> bytes:
    name = column.encode()
    return name if len(name) <= hashlib.blake2b.PERSON_SIZE else hashlib.blake2b(name, digest_size=16).digest()


def _hashes(texts: Sequence[str], column: str, key: bytes) -> npt.NDArray[np.uint64]:
    start = hashlib.blake2b(key=key, digest_size=8, person=_person(column))
    digests = bytearray()
    for text in texts:
        one = start.copy()
        one.update(text.encode())
        digests += one.digest()
    return np.frombuffer(bytes(digests), dtype="<u8").astype(np.uint64)
