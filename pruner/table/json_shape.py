"""A JSON text -> which of its lists and objects may be tables.

Receives blocks of UTF-8, hands on containers in the order of the text. Long lists are not walked element by element.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from pruner.table.json_marks import KEY, LONGEST, OPEN_LIST, OPEN_OBJECT, Bytes, marks, steps
from pruner.table.opened import Indices
from pruner.words.errors import InputRefusedError

#: A container with so many elements is a table if it is any: what lies inside its elements is not looked at.
ENOUGH: Final = 50
_DEEPEST: Final = 10
_MOST: Final = 5000
#: From an opening bracket to the closing one of its kind.
_TO_CLOSE: Final = 2
_LINES_LOOKED_AT: Final = 20


@dataclass(slots=True)
class Container:
    """A list (`kind` is the byte `[`) or object (`{`): where it opens, its key, how many lists and objects stand in it."""

    kind: int
    begin: int
    parent: Container | None
    key: str
    objects: int = 0
    lists: int = 0

    @property
    def size(self) -> int:
        """How many lists and objects stand in it directly."""
        return self.objects + self.lists

    @property
    def label(self) -> str:
        """The keys that lead to it, joined by points."""
        above = self.parent.label if self.parent is not None else ""
        return ".".join(part for part in (above, self.key) if part)


def is_lines(head: bytes) -> bool:
    """Whether the lines of a text are JSON values of their own, several of them."""
    lines = [line for line in head.split(b"\n")[:-1] if line.strip()][:_LINES_LOOKED_AT]
    good = sum(map(_is_value, lines))
    return len(lines) > 1 and good > 1 and 2 * good >= len(lines)


def _is_value(line: bytes) -> bool:
    try:
        return isinstance(json.loads(line), (dict, list))
    except (ValueError, RecursionError):
        return False


def containers_of(blocks: Iterator[bytes], where: str) -> list[Container]:
    """The containers of a text, without those inside the elements of a long list. The first stands for the text as a whole.

    Raises InputRefusedError for an endless text.
    """
    top = Container(0, -1, None, "")
    found = [top]
    stack = [top]
    base = inner = 0
    text = b""
    for block in blocks:
        text = text + block if text else block
        places, codes = marks(text)
        if len(places):
            ups = steps(codes)
            index = 0
            while index < len(places):
                current = stack[-1]
                level = len(stack) - 1
                if current.size >= ENOUGH or len(found) > _MOST:
                    index, inner = _passed(current, level, index, codes, level + inner + np.cumsum(ups[index:]))
                    if index == len(places):
                        break
                place, code = int(places[index]), int(codes[index])
                index += 1
                if ups[index - 1] < 0:
                    # One that closes something else is part of a broken record.
                    if len(stack) > 1 and code == current.kind + _TO_CLOSE:
                        stack.pop()
                    continue
                current.objects += code == OPEN_OBJECT
                current.lists += code == OPEN_LIST
                named = current.kind == OPEN_OBJECT and len(stack) < _DEEPEST
                key = KEY.search(text[max(place - 1000, 0) : place]) if named else None
                made = Container(code, base + place, current, key[1].decode(errors="replace") if key else "")
                stack.append(made)
                if len(stack) <= _DEEPEST:
                    found.append(made)
            base += int(places[-1]) + 1
            text = text[int(places[-1]) + 1 :]
        if len(text) > 4 * LONGEST:
            raise InputRefusedError(f"{where}: a text without end; expected a list of records")
        if len(stack) <= 2 and stack[-1].size >= ENOUGH:
            break
    return found


def _passed(current: Container, level: int, index: int, codes: Bytes, depths: Indices) -> tuple[int, int]:
    """The mark that closes a container, its elements counted; the number of marks where it is not among them, and how deep the
    last of them lies in the container. `depths` begin at `index`."""
    over = np.flatnonzero((depths < level) & (codes[index:] == current.kind + _TO_CLOSE))
    end = index + int(over[0]) if len(over) and level else len(codes)
    opened = depths[: end - index] == level + 1
    current.objects += int(np.count_nonzero(opened & (codes[index:end] == OPEN_OBJECT)))
    current.lists += int(np.count_nonzero(opened & (codes[index:end] == OPEN_LIST)))
    return end, int(depths[-1]) - level if end == len(codes) else 0


def candidates_of(found: list[Container]) -> list[Container]:
    """The containers that may be tables: long enough, and no part of one record of another that is as long."""
    inside: dict[int, list[Container]] = defaultdict(list)
    alike: Counter[tuple[int, str]] = Counter()  # records under the same key of all records of a list, taken together
    around = [records_around(container) for container in found]
    for container, above in zip(found, around, strict=True):
        if container.parent is not None:
            inside[id(container.parent)].append(container)
        if above is not None:
            alike[id(above), container.label] += container.objects
    return [
        container
        for container, above in zip(found, around, strict=True)
        if (
            _is_long(container, inside[id(container)])
            if above is None
            else container.kind == OPEN_LIST and alike[id(above), container.label] > above.objects
        )
    ]


def _is_long(container: Container, inside: list[Container]) -> bool:
    if container.kind == 0:
        return container.objects > 1
    if container.kind == OPEN_LIST:
        return container.size > 0
    is_of_columns = container.kind == OPEN_OBJECT and container.lists > 1 and not any(one.size for one in inside)
    return container.objects > 1 or is_of_columns


def records_around(container: Container) -> Container | None:
    """The list of several records in one of which a container lies."""
    above = container.parent
    while above is not None and not (above.kind == OPEN_LIST and above.objects > 1):
        above = above.parent
    return above
