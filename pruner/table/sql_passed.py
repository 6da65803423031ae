"""What stands in a dump and is no statement that a database runs as it reads it: comments, bodies of functions and triggers.

Receives the text of a dump and where such a part begins, hands on where it ends. Where nothing ends a part, it is none.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from functools import cached_property
from typing import Final

#: How such a part begins: a comment (those that some databases run are none), another sign than `;` that ends statements, a
#: text between dollars, a trigger.
PASSED: Final = (
    r"--[^\n]*+|^\#[^\n]*+|(?P<comment>/\*(?!!))|^DELIMITER\s++(?!;[ \t\r]*+$)(?:.*?(?:^DELIMITER\s++;[ \t\r]*+$|\Z))"
    r"|(?P<tag>\$\w*+\$)|\bCREATE\s++(?:\w++\s++){0,3}?(?P<trigger>TRIGGER)\b"
)
_TAG: Final = re.compile(r"(?=(\$\w*+\$))")
_BEGIN: Final = re.compile(r"\bBEGIN\b", re.IGNORECASE)
_END: Final = re.compile(r"\bEND\s*+;", re.IGNORECASE)
_COMMENT_END: Final = re.compile(r"\*/")
_SEMICOLON: Final = re.compile(r";")


class PassedOver:
    """Finds ends of parts in a dump that is gone through from its beginning to its end."""

    def __init__(self, dump: str) -> None:
        self._dump = dump
        #: Of each sign the match that was found last, None where no more follow.
        self._found: dict[re.Pattern[str], re.Match[str] | None] = {}

    def end(self, found: re.Match[str]) -> int:
        """Where a part ends; `found`: a match of `PASSED`."""
        place = found.end()
        if found["comment"]:
            return self._behind(_COMMENT_END, place)
        if found["tag"]:
            places = self._tags[found["tag"]]
            at = bisect_left(places, place)
            return places[at] + len(found["tag"]) if at < len(places) else place
        if found["trigger"]:
            end = self._behind(_SEMICOLON, place)
            begin = _BEGIN.search(self._dump, place, end)
            return max(end, self._behind(_END, begin.end())) if begin else end
        return place

    def _behind(self, sign: re.Pattern[str], place: int) -> int:
        """The place behind the first such sign from a place on, which is never before the one that was asked for last; the same
        place where there is none."""
        if sign not in self._found or ((known := self._found[sign]) is not None and known.start() < place):
            self._found[sign] = sign.search(self._dump, place)
        found = self._found[sign]
        return found.end() if found else place

    @cached_property
    def _tags(self) -> dict[str, list[int]]:
        places: dict[str, list[int]] = defaultdict(list)
        for found in _TAG.finditer(self._dump):
            places[found[1]].append(found.start())
        return places
