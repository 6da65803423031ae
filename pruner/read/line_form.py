"""A form of line of free text: which of its tokens all lines like it have, and the pattern that stands for it.

Receives the tokens of a line (None where a part varies), hands on patterns and the lines that they explain.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Final

from pruner.read.line_tokens import Token

#: What so many of the lines like a form lack varies.
_LACKING: Final = 0.004


def probed(parts: Sequence[Token | None], names: dict[int, str], texts: Sequence[str]) -> tuple[int, list[re.Match[str]]]:
    """How many parts vary, and the lines of the form, with groups `part0` and so on of these parts."""
    count = len(varying_from(parts))
    probe = re.compile(joined(parts, names, {part: f"(?P<part{part}>.*?)" for part in range(count)}))
    return count, [match for match in map(probe.fullmatch, texts) if match]


def varying_from(parts: Sequence[Token | None]) -> list[int]:
    """Where each part that varies begins."""
    return [place for place, token in enumerate(parts) if token is None and (place == 0 or parts[place - 1] is not None)]


def fixed(seed: list[str], forms: Counter[tuple[str, ...]], like: float) -> list[bool]:
    """Which tokens of a seed all lines like it have."""
    lacking = [0] * len(seed)
    alike = 0
    for form, count in forms.items():
        matcher = SequenceMatcher(None, seed, form, autojunk=False)
        if form != tuple(seed) and (matcher.real_quick_ratio() < like or matcher.ratio() < like):
            continue
        alike += count
        kept = {place for block in matcher.get_matching_blocks() for place in range(block.a, block.a + block.size)}
        for place in range(len(seed)):
            if place not in kept:
                lacking[place] += count
    return [key != "<word>" and lacking[place] <= _LACKING * alike for place, key in enumerate(seed)]


def joined(parts: Sequence[Token | None], names: dict[int, str], varying: Mapping[int, str] | None = None) -> str:
    """The pattern of a whole line; parts that vary are anything, or what `varying` says, by number."""
    made = ["^"]
    number = 0
    for place, token in enumerate(parts):
        follows_varying = place > 0 and parts[place - 1] is None
        if token is None:
            if not follows_varying:
                made.append((varying or {}).get(number, ".*?"))
                number += 1
            continue
        space = r"\s+" if token.is_apart and not follows_varying else r"\s*"
        made.append(f"{space}(?P<{names[place]}>{token.form})" if place in names else f"{space}(?:{token.form})")
    made.append(r"\s*$")
    return _plain("".join(made))


def _plain(pattern: str) -> str:
    """Without groups around single signs and words."""
    return re.sub(r"\(\?:((?:\\?[^\\()|?*+\[\]{}])+)\)(?![?*+{])", r"\1", pattern)
