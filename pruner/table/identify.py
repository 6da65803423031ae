"""A table that was cut -> which column holds what, and why.

Receives a `Board` and the kind of table, hands on `Identified`. Heading and cells speak together: a heading that its cells
contradict never wins, and what the settings say beats both. Weights and margins were measured on invented files of many kinds
(DEVELOPERS.md, "Columns").
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.fold import fold, words_of
from pruner.table.forms import joined_column
from pruner.table.headings import KNOWN, PARTLY, WHOLE
from pruner.table.kinds import ENTRY_KIND, Kind, Meaning

Evidence = Literal["heading", "cells", "heading and cells", "settings", "left over", "rows", "pattern"]
#: A second column that is nearer than this to the first is asked about.
MARGIN: Final = 0.12
#: What heading and cells that agree score: more than any column without that heading can.
_AGREED: Final = 0.6
#: Cells that fit less than this contradict any heading.
_CONTRADICTION: Final = 0.25
_TEXT_CONTRADICTION: Final = 0.3
#: The least that a heading must say of a column of text.
_TEXT_HEADING: Final = 0.3
#: Keys that were handed out one after the other are denser than this.
DENSE: Final = 5.0
#: Further columns of ids in one row have this before their number, as meanings of their own.
MORE_IDS: Final = "more ids "
_OTHER_HEADING: Final = -0.2
#: What is left of the heading "number" where another heading is that of ids.
_BARE_NUMBER: Final = 0.3
#: Cells that fit so well are ids whatever their heading says.
_SURE_IDS: Final = 0.9
_FOREIGN_HEADING: Final = -0.5


@dataclass(frozen=True, slots=True)
class Choice:
    """One column: its position from 0, what spoke for it, and its score."""

    position: int
    evidence: Evidence
    score: float


@dataclass(slots=True)
class Identified:
    """Which column holds what.

    `choices` by meaning; `unused`: positions of the other columns that hold text; `trouble`: why the table is refused, a
    sentence without the name of the file, "" where it is not; `rivals`: positions between which nothing decides; `is_joined`:
    the column of ids holds call signs too.
    """

    choices: dict[str, Choice]
    unused: list[int] = field(default_factory=list)
    trouble: str = ""
    rivals: dict[str, list[int]] = field(default_factory=dict)
    is_joined: bool = False

    @property
    def total(self) -> float:
        """All evidence together: what two ways of cutting are compared by."""
        return sum(choice.score for choice in self.choices.values())

    @property
    def positions(self) -> dict[str, int]:
        """Position of each meaning."""
        return {meaning: choice.position for meaning, choice in self.choices.items()}


def identify(board: Board, kind: Kind, answers: Mapping[str, str | int]) -> Identified:
    """Which column holds what. `answers`: meaning -> heading or position (from 1), as settings and options say.

    Raises KeyError with a heading or position of `answers` that is not there.
    """
    taken = {meaning: Choice(_answered(board, answer), "settings", 1.0) for meaning, answer in answers.items()}
    if len({choice.position for choice in taken.values()}) < len(taken):
        return Identified(taken, trouble="columns names the same column twice; give each meaning its own")
    agreed = _agreed(board, kind, taken)
    taken |= agreed
    scores = _scores(board, kind, taken)
    for score, meaning, place in sorted(scores, key=lambda entry: (-entry[0], kind.names.index(entry[1].name), entry[2])):
        if meaning.name in taken or any(choice.position == place for choice in taken.values()):
            continue
        taken[meaning.name] = Choice(place, _evidence(board, meaning, place), score)
    found = Identified(taken)
    if any("id" in names for names in kind.needed) and "id" not in answers and board.system == "dmr":
        _take_joined(board, found)
    _settle_rivals(board, kind, scores, found, agreed)
    _settle_swapped(board, kind, found)
    _settle_places(board, kind, found)
    _settle_names(board, found, answers)
    _take_left_over(board, kind, found)
    kinds = kind.kind_column([column.cells for column in board.columns], found.positions.values())
    if kinds is not None:
        found.choices[ENTRY_KIND] = Choice(kinds, "cells", 0.0)
    used = set(found.positions.values())
    found.unused = [
        place for place, column in enumerate(board.columns) if place not in used and (column.filled or column.heading)
    ]
    found.trouble = _trouble(board, kind, found, answers)
    return found


def _answered(board: Board, answer: str | int) -> int:
    if isinstance(answer, int):
        if not 1 <= answer <= len(board.columns):
            raise KeyError(answer)
        return answer - 1
    folded = [heading.strip() for heading in board.headings]
    if answer.strip() in folded:
        return folded.index(answer.strip())
    folded = [fold(heading) for heading in board.headings]
    if not fold(answer) or fold(answer) not in folded:
        raise KeyError(answer)
    return folded.index(fold(answer))


def _agreed(board: Board, kind: Kind, taken: Mapping[str, Choice]) -> dict[str, Choice]:
    """The columns whose heading says one thing, as no other heading does, and whose cells agree: no rival can beat them, so
    that none is scored."""
    free = _free(board, taken)
    weights = {
        meaning.name: {place: weight for place in free if (weight := board.senses[place].weight(meaning.words)) > 0}
        for meaning in kind.meanings
        if meaning.name not in taken
    }
    agreed = {}
    for name, claims in weights.items():
        place, weight = next(iter(claims.items()), (0, 0.0))
        if len(claims) != 1 or weight < KNOWN or not board.columns[place].filled:
            continue
        if any(other.get(place, 0.0) >= weight for rival, other in weights.items() if rival != name):
            continue
        meaning = kind.meaning(name)
        found = score(board, meaning, place)
        if found >= _AGREED and (name not in kind.rivals or board.columns[place].density >= DENSE):
            agreed[name] = Choice(place, _evidence(board, meaning, place), found)
    return agreed


def _free(board: Board, taken: Mapping[str, Choice]) -> list[int]:
    used = {choice.position for choice in taken.values()}
    return [place for place in range(len(board.columns)) if place not in used]


def _scores(board: Board, kind: Kind, taken: Mapping[str, Choice]) -> list[tuple[float, Meaning, int]]:
    free = _free(board, taken)
    scored = [
        (score(board, meaning, place), meaning, place)
        for meaning in kind.meanings
        if meaning.name not in taken
        for place in free
    ]
    return [entry for entry in scored if entry[0] > 0]


def score(board: Board, meaning: Meaning, place: int) -> float:
    """How much speaks for a column; 0 or less: nothing, or its cells contradict."""
    heading = heading_weight(board, meaning, place)
    column = board.columns[place]
    if meaning.cells is None:
        if heading < _TEXT_HEADING:
            return 0.0
        fits = column.may_be_text if column.filled else 0.5
        if column.filled >= ENOUGH_ROWS and fits < _TEXT_CONTRADICTION:
            return 0.0
        return 0.75 * heading + 0.3 * fits - 0.35
    if not column.filled:
        return 0.5 * heading - 0.25 if heading > 0.6 else 0.0
    fits = meaning.cells(board, place)
    if fits < _CONTRADICTION and (column.filled >= ENOUGH_ROWS or fits == 0):
        return 0.0
    return 0.5 * heading + 0.6 * fits - 0.25


def heading_weight(board: Board, meaning: Meaning, place: int) -> float:
    """What the heading says for a meaning, from -0.5 (it names a column that is none of ours) to 1."""
    sense = board.senses[place]
    if not sense.classes:
        return 0.0
    weight = sense.weight(meaning.words)
    if weight <= 0:
        return _FOREIGN_HEADING if sense.is_other else _OTHER_HEADING
    if meaning.name == "id":
        if sense.systems and board.system not in sense.systems:
            return _FOREIGN_HEADING
        if sense.classes == {"number": WHOLE} and not sense.systems and board.has_other_ids(place):
            weight *= _BARE_NUMBER
    return min(1.0, weight + 0.1 * bool(sense.systems & {board.system}))


def _evidence(board: Board, meaning: Meaning, place: int) -> Evidence:
    if heading_weight(board, meaning, place) <= 0:
        return "cells"
    return "heading and cells" if meaning.cells is not None and board.columns[place].filled else "heading"


def _take_joined(board: Board, found: Identified) -> None:
    """Where ids and call signs stand in one cell."""
    place = joined_column(board, found.choices["id"].position if "id" in found.choices else None)
    if place is None:
        return
    for meaning in [meaning for meaning, choice in found.choices.items() if choice.position == place or meaning == "callsign"]:
        del found.choices[meaning]
    found.choices["id"] = Choice(place, "cells", 0.6)
    found.is_joined = True


def _settle_swapped(board: Board, kind: Kind, found: Identified) -> None:
    """Where a column headed as a text holds countries, and the one headed as the country holds texts, the headings are
    swapped."""
    if "country" not in kind.names or "country" in found.choices:
        return
    country = kind.meaning("country")
    headed = [
        place
        for place, column in enumerate(board.columns)
        if heading_weight(board, country, place) >= PARTLY and column.is_text >= 0.5
    ]
    texts = [
        meaning
        for meaning, choice in found.choices.items()
        if choice.evidence != "settings" and board.columns[choice.position].names_countries >= 0.8
    ]
    if len(headed) == 1 and len(texts) == 1 and headed[0] not in found.positions.values():
        swapped = found.choices[texts[0]]
        found.choices["country"] = Choice(swapped.position, "cells", swapped.score)
        found.choices[texts[0]] = Choice(headed[0], "left over", swapped.score)


def _settle_places(board: Board, kind: Kind, found: Identified) -> None:
    """A heading that means a town or a state ("il") is the state where another column is headed as the town."""
    if not {"town", "state"} <= set(kind.names) or "state" in found.choices or "town" not in found.choices:
        return
    either = found.choices["town"]
    is_state = heading_weight(board, kind.meaning("state"), either.position) >= PARTLY
    if either.evidence == "settings" or not is_state:
        return
    used = found.positions.values()
    others = [(-score(board, kind.meaning("town"), place), place) for place in range(len(board.columns)) if place not in used]
    value, place = min(others, default=(0.0, 0))
    if value < 0:
        found.choices["town"] = Choice(place, _evidence(board, kind.meaning("town"), place), -value)
        found.choices["state"] = either


def _settle_rivals(
    board: Board, kind: Kind, scores: list[tuple[float, Meaning, int]], found: Identified, agreed: Collection[str]
) -> None:
    """Where a second column is as good: the one that is not dense, else the same cells, else it is asked about."""
    for name in kind.rivals:
        choice = found.choices.get(name)
        if choice is None or choice.evidence == "settings" or name in agreed:
            continue
        near = sorted(
            (-value, place)
            for value, meaning, place in scores
            if meaning.name == name
            and place != choice.position
            and (choice.score - value < MARGIN or _may_be_the_key_of(board, meaning, choice.position, place))
        )
        others = [place for _, place in near if board.columns[place].cells != board.columns[choice.position].cells]
        if not others:
            continue
        rivals = [choice.position, *others]
        if name == "id" and _are_alike(board, rivals):
            for number, place in enumerate(sorted(rivals)[1:], start=2):
                found.choices[f"{MORE_IDS}{number}"] = Choice(place, "heading and cells", 0.0)
            found.choices[name] = Choice(min(rivals), choice.evidence, choice.score)
            continue
        sparse = [place for place in rivals if board.columns[place].density >= DENSE]
        if len(sparse) == 1:
            value = next(value for value, meaning, place in scores if meaning.name == name and place == sparse[0])
            for meaning, other in list(found.choices.items()):
                if other.position == sparse[0]:
                    del found.choices[meaning]
            found.choices[name] = Choice(sparse[0], _evidence(board, kind.meaning(name), sparse[0]), value)
        elif name == "id" or not _is_ahead(board, choice.position, others):
            found.rivals[name] = sorted(rivals)


def _may_be_the_key_of(board: Board, meaning: Meaning, dense: int, place: int) -> bool:
    """Whether a column looks like the key of the records beside one whose cells alone make it the column of ids: dense numbers
    under a heading that names no system, and sparse ids under one that speaks of nothing else."""
    return (
        meaning.name == "id"
        and board.columns[dense].density < DENSE <= board.columns[place].density
        and not board.senses[dense].systems
        and heading_weight(board, meaning, place) >= 0
        and meaning.cells is not None
        and meaning.cells(board, place) >= _SURE_IDS
    )


def _are_alike(board: Board, places: list[int]) -> bool:
    """Whether columns have the same heading but for a number, so that each row has several ids."""
    stems = {tuple(word for word in words_of(board.headings[place]) if not word.isdigit()) for place in places}
    return len(stems) == 1 and stems != {()} and all(board.columns[place].density >= DENSE for place in places)


def _is_ahead(board: Board, place: int, others: list[int]) -> bool:
    """Whether a column is fuller or more varied than its rivals, or stands first."""
    return all(len(board.columns[place].counts) >= len(board.columns[other].counts) or place < other for other in others)


def _settle_names(board: Board, found: Identified, answers: Mapping[str, str | int]) -> None:
    """One column of whole names, or first and last names: beside a first name, a column headed "name" holds last names,
    unless its cells hold the first names too."""
    choices = found.choices
    if "name" not in choices or "name" in answers:
        return
    first, last = choices.get("first_name"), choices.get("last_name")
    if first and last:
        whole = board.columns[choices["name"].position].filled
        if whole > 2 * max(board.columns[first.position].filled, board.columns[last.position].filled):
            del choices["first_name"], choices["last_name"]
        else:
            del choices["name"]
        return
    other = first or last
    if other is None:
        return
    if _holds(board, choices["name"].position, other.position):
        del choices["first_name" if first else "last_name"]
        return
    choices["last_name" if first else "first_name"] = choices.pop("name")


def _holds(board: Board, whole: int, part: int) -> bool:
    """Whether most cells of a column hold the cell of another as a word."""
    pairs = [
        (text.casefold().replace(",", " ").split(), word.casefold().split())
        for text, word in zip(board.columns[whole].cells, board.columns[part].cells, strict=True)
        if text and word
    ]
    return bool(pairs) and sum(set(words) <= set(text) and len(text) > len(words) for text, words in pairs) > len(pairs) / 2


def _take_left_over(board: Board, kind: Kind, found: Identified) -> None:
    for meaning in kind.meanings:
        if not meaning.is_left_over or meaning.name in found.choices:
            continue
        used = set(found.positions.values())
        texts = [
            place for place, column in enumerate(board.columns) if place not in used and column.filled and column.is_text >= 0.5
        ]
        if not texts and "country" in found.choices and found.choices["country"].evidence == "cells":
            texts = [found.choices.pop("country").position]
        if len(texts) == 1:
            found.choices[meaning.name] = Choice(texts[0], "left over", 0.1)


def _trouble(board: Board, kind: Kind, found: Identified, answers: Mapping[str, str | int]) -> str:
    missing = [names for names in kind.needed if not any(name in found.choices for name in names)]
    if missing:
        return f"no column of {' and '.join(' or '.join(kind.plurals.get(name, name) for name in names) for names in missing)}"
    asked = [name for name in found.rivals if name not in answers]
    is_open = any(not kind.judge(board, found.positions | {name: place}) for name in asked for place in found.rivals[name])
    if asked and is_open:
        return f"more than one column may hold the {asked[0]}"
    is_settled = found.is_joined or not board.rows or any(name in answers for name in kind.rivals)
    return "" if is_settled else kind.judge(board, found.positions)
