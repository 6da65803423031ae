"""How many bytes contacts take in a radio's memory, and how many of a queue fit.

Receives how the memory is laid out and the number of characters of each text, hands on bytes per record, bytes of the
whole, and the largest part of a queue that fits.

The layout: a header; an index area with one entry per record, which is never paged; a record area. Records stand in written
order, each a fixed part and its texts. With pages, the record area begins on a page, a record that no longer fits on
its page begins the next one, and every page that is begun is taken whole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

Integers = npt.NDArray[np.int64]
Form = Literal["fixed", "terminated", "prefixed"]
Bits = Literal[6, 7, 8, 16, "utf-8"]

#: Records that one step of the walk over pages should pass on average, so that the walk is short.
_STRIDE: Final = 256


@dataclass(frozen=True, slots=True)
class TextField:
    """How one text of a record is stored.

    `bits` per character: 6, 7, 8 or 16 (UTF-16: characters above U+FFFF count twice), or "utf-8" (1 to 4 bytes). What is
    counted ("units") are characters, for "utf-8" bytes. Every text is rounded up to whole bytes.
    `fixed`: always `characters` units, the rest padded. `terminated`: the text and one closing unit. `prefixed`: the number
    of units in `prefix` bytes, then the text. Longer text is cut to `characters`, and to what the prefix can say.
    """

    name: str
    form: Form
    characters: int | None = None
    bits: Bits = 8
    prefix: int = 1

    def __post_init__(self) -> None:
        if self.form == "fixed" and self.characters is None:
            raise ValueError(f"{self.name}: a fixed field needs its number of characters")

    @property
    def longest(self) -> int | None:
        """The greatest number of units that the field holds, None if there is no end to it."""
        if self.form != "prefixed":
            return self.characters
        said = 256**self.prefix - 1
        return said if self.characters is None else min(said, self.characters)

    def stored(self, units: Integers) -> Integers:
        """Bytes that texts of so many units take, terminator or prefix included."""
        if self.form == "fixed":
            return np.full(len(units), self._rounded(np.array([self.characters or 0]))[0], dtype=np.int64)
        if self.form == "terminated":
            return self._rounded(units + 1)
        return self.prefix + self._rounded(units)

    def _rounded(self, units: Integers) -> Integers:
        return (units * (8 if self.bits == "utf-8" else self.bits) + 7) // 8


@dataclass(frozen=True, slots=True)
class MemoryModel:
    """Bytes of the header, of the fixed part of each record (the id included), of each index entry; bytes of a page (None: no
    pages); and the texts of a record."""

    fields: tuple[TextField, ...]
    header: int = 0
    record: int = 0
    index: int = 0
    page: int | None = None


def count_units(texts: Iterable[str], field: TextField) -> Integers:
    """Units of each text as the field stores it, cut where it is too long, never inside a character. int64 per text.

    Meant for distinct texts; the caller spreads the counts over the contacts.
    """
    return np.array([_units(text, field) for text in texts], dtype=np.int64)


def _units(text: str, field: TextField) -> int:
    if field.bits in ("utf-8", 16) and not text.isascii():
        encoding, width = ("utf-8", 1) if field.bits == "utf-8" else ("utf-16-le", 2)
        data = text.encode(encoding, "replace")
        if field.longest is not None and len(data) > field.longest * width:
            data = data[: field.longest * width].decode(encoding, "ignore").encode(encoding)
        return len(data) // width
    return len(text) if field.longest is None else min(len(text), field.longest)


def record_sizes(
    model: MemoryModel, characters: Mapping[str, npt.NDArray[np.integer]], contacts: int | None = None
) -> Integers:
    """Bytes of each record without its index entry, int64 per contact.

    `characters`: units per contact (`count_units`) by name of the field; a field that is not named holds no text, which costs
    a fixed field's room, a terminator or a prefix all the same. `contacts`: how many, needed if no field is named.
    Raises ValueError for names that the model lacks and for counts that a field cannot hold.
    """
    unknown = set(characters) - {field.name for field in model.fields}
    if unknown:
        raise ValueError(f"the memory has no field {sorted(unknown)[0]}")
    if contacts is None:
        if not characters:
            raise ValueError("the number of contacts is needed where no field is named")
        contacts = len(next(iter(characters.values())))
    sizes = np.full(contacts, model.record, dtype=np.int64)
    for field in model.fields:
        if field.name not in characters:
            sizes += field.stored(np.zeros(1, dtype=np.int64))[0]
            continue
        units = characters[field.name].astype(np.int64)
        if field.longest is not None and int(units.max(initial=0)) > field.longest:
            raise ValueError(f"{field.name}: a text is longer than the {field.longest} that the field holds")
        sizes += field.stored(units)
    return sizes


def level_sizes(
    model: MemoryModel, characters: Mapping[str, npt.NDArray[np.integer]], levels: Sequence[Collection[str]], contacts: int
) -> Integers:
    """Bytes of each record when only the fields of a level hold text: int64 [contacts, levels]."""
    return np.stack(
        [
            record_sizes(model, {name: units for name, units in characters.items() if name in level}, contacts)
            for level in levels
        ],
        axis=1,
    )


def total_bytes(model: MemoryModel, sizes: Integers) -> int:
    """Bytes of the whole memory that holds records of these sizes, given in written order."""
    records = int(sizes.sum()) if model.page is None else pages_needed(sizes, model.page) * model.page
    return model.header + model.index * len(sizes) + records


def pages_needed(sizes: Integers, page: int) -> int:
    """Pages that records of these sizes take in this order, none across a page end.

    Where each page would end is looked up in the running sum for all possible beginnings at once; jumps are put
    together until one passes many records, so the walk takes few steps. Raises ValueError if a record exceeds a page.
    """
    count = len(sizes)
    if not count:
        return 0
    jumps = [page_ends(sizes, page)]
    passed = count * page / max(int(sizes.sum()), 1)
    while passed * 2 ** (len(jumps) - 1) < min(_STRIDE, count):
        jumps.append(jumps[-1][jumps[-1]])
    position = pages = 0
    for doublings, jump in reversed(list(enumerate(jumps))):
        view = jump.data
        while (following := view[position]) < count:
            position = following
            pages += 1 << doublings
    return pages + 1


def page_ends(sizes: Integers, page: int) -> Integers:
    """For each record, which record begins the next page if this one begins a page; the last entry is its own end."""
    if int(sizes.max(initial=0)) > page:
        raise ValueError(f"a record of {int(sizes.max())} bytes does not fit on a page of {page}")
    ends = np.cumsum(sizes)
    return np.append(np.searchsorted(ends, ends - sizes + page, side="right"), len(sizes))


def largest_prefix(
    model: MemoryModel,
    sizes: Integers,
    order: Integers,
    key: npt.NDArray[np.integer],
    limit_bytes: int,
    limit_records: int | None = None,
) -> int:
    """How many contacts from the front of the queue fit: never over a limit, and the next one would not fit.

    `sizes`: bytes per contact; `order`: positions of contacts, first in line first; `key`: per contact, written order is
    ascending. In-order packing takes the fewest pages that any packing in this order can take, and leaving a record out of a
    packing leaves a packing: so more contacts never take fewer pages, and bisection is exact.
    """
    room = limit_bytes - model.header
    queue = sizes[order]
    plain = np.cumsum(queue + model.index)
    high = int(np.searchsorted(plain, room, side="right"))
    if limit_records is not None:
        high = min(high, limit_records)
    if model.page is None or not high:
        return high
    written = np.argsort(key[order[:high]], kind="stable")
    laid = queue[written]
    low = _surely(model, queue[:high], room)
    while low < high:
        middle = (low + high + 1) // 2
        if total_bytes(model, laid[written < middle]) <= limit_bytes:
            low = middle
        else:
            high = middle - 1
    return low


def _surely(model: MemoryModel, queue: Integers, room: int) -> int:
    """A number of contacts that fits for certain: every page but the last leaves less free than the largest record takes."""
    assert model.page is not None
    filled = model.page - int(queue.max()) + 1
    if filled <= 0:
        return 0
    counts = np.arange(1, len(queue) + 1)
    atmost = counts * model.index + (np.cumsum(queue) // filled + 1) * model.page
    return int(np.searchsorted(atmost, room, side="right"))
