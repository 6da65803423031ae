"""A table that was cut -> which column holds what, and why.

Receives a `Board` and the kind of table, hands on `Identified`. Heading and cells speak together: a heading that its cells
contradict never wins, and what the settings say beats both. Weights and margins were measured on invented files of many kinds
(DEVELOPERS.md, "Columns").
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import islice
from typing import Final

from pruner.table import lexicon
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.choices import MORE_IDS, Choice, Identified, evidence_of, heading_weight, score
from pruner.table.facts import Facts
from pruner.table.fold import fold, words_of
from pruner.table.forms import joined_column
from pruner.table.headings import KNOWN
from pruner.table.keys import KEY_OF
from pruner.table.kinds import ENTRY_KIND, Kind, Meaning
from pruner.table.settle import (
    settle_names,
    settle_places,
    settle_swapped,
    take_call_in_name,
    take_left_over,
    take_persons,
    take_place_in_one,
)
from pruner.table.side_by_side import identify_blocks, identify_parted, parted_blocks, repeated_blocks

#: A second column that is nearer than this to the first is asked about.
MARGIN: Final = 0.12
#: What heading and cells that agree score: more than any column without that heading can.
_AGREED: Final = 0.6
#: Keys that were handed out one after the other are denser than this.
DENSE: Final = 5.0
#: Cells that fit so well are ids whatever their heading says.
_SURE_IDS: Final = 0.9
_FIRST_CELLS: Final = 3
#: Columns of ids that are somebody else's, or no longer held.
_NEVER_MORE_IDS: Final = frozenset({"previous_callsign", "other_station"})
#: The cells of several columns that are headed alike are ids where they fit so well each.
_IDS: Final = 0.5


def identify(board: Board, kind: Kind, answers: Mapping[str, str | int]) -> Identified:
    """Which column holds what. `answers`: meaning -> heading or position (from 1), as settings and options say.

    Raises KeyError with a heading or position of `answers` that is not there.
    """
    blocks = repeated_blocks(board.headings) if kind.may_be_side_by_side else []
    if blocks:
        answered = {meaning: _answered(board, answer) for meaning, answer in answers.items()}
        found = identify_blocks(board, blocks, kind, answered, _identify_table)
        if found is not None:
            return found
    elif kind.may_be_side_by_side and not answers and (blocks := parted_blocks(board.headings)):
        found = identify_parted(board, blocks, kind, _identify_table)
        if found is not None:
            return found
    return _identify_table(board, kind, answers)


def _identify_table(board: Board, kind: Kind, answers: Mapping[str, str | int]) -> Identified:
    taken = {meaning: Choice(_answered(board, answer), "settings", 1.0) for meaning, answer in answers.items()}
    if len({choice.position for choice in taken.values()}) < len(taken):
        return Identified(taken, trouble="columns names the same column twice; give each meaning its own")
    agreed = _agreed(board, kind, taken)
    taken |= agreed
    scores = _scores(board, kind, taken)
    for value, meaning, place in sorted(scores, key=lambda entry: (-entry[0], kind.names.index(entry[1].name), entry[2])):
        if meaning.name in taken or any(choice.position == place for choice in taken.values()):
            continue
        taken[meaning.name] = Choice(place, evidence_of(board, meaning, place), value)
    found = Identified(taken)
    if any("id" in names for names in kind.needed) and "id" not in answers and board.system == "dmr":
        _take_joined(board, found)
    _settle_rivals(board, kind, scores, found, agreed)
    settle_swapped(board, kind, found)
    settle_places(board, kind, found)
    settle_names(board, found, answers)
    take_call_in_name(board, kind, found)
    names = found.choices.get("name")
    found.is_turned = kind.takes_names_apart and names is not None and board.senses[names.position].is_turned
    take_place_in_one(board, kind, found)
    take_persons(board, kind, found)
    names = found.choices.get("name")
    if kind.takes_names_apart and names is not None and not found.is_turned:
        found.has_marked_surnames = board.columns[names.position].marks_surnames
    take_left_over(board, kind, found)
    kinds = kind.kind_column([column.cells for column in board.columns], found.positions.values())
    if kinds is not None:
        found.choices[ENTRY_KIND] = Choice(kinds, "cells", 0.0)
    used = set(found.positions.values())
    found.unused = [
        place for place, column in enumerate(board.columns) if place not in used and (column.filled or column.heading)
    ]
    kind.settle(board, found)
    found.more_ids = _unused_ids(board, kind, found)
    found.trouble = _trouble(board, kind, found, answers)
    return found


def _answered(board: Board, answer: str | int) -> int:
    if isinstance(answer, int):
        if not 1 <= answer <= len(board.columns):
            raise KeyError(answer)
        return answer - 1
    for form in (str.strip, fold, _name_in_database):
        headings, wanted = [form(heading) for heading in board.headings], form(answer)
        if wanted and wanted in headings:
            return headings.index(wanted)
    raise KeyError(answer)


def _name_in_database(heading: str) -> str:
    """A heading without what it is a key of, which a database does not say."""
    return fold(heading.partition(KEY_OF)[0])


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
            agreed[name] = Choice(place, evidence_of(board, meaning, place), found)
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


def _take_joined(board: Board, found: Identified) -> None:
    """Where ids and call signs stand in one cell."""
    place = joined_column(board, found.choices["id"].position if "id" in found.choices else None)
    if place is None:
        return
    for meaning in [meaning for meaning, choice in found.choices.items() if choice.position == place or meaning == "callsign"]:
        del found.choices[meaning]
    found.choices["id"] = Choice(place, "cells", 0.6)
    found.is_joined = True


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
            and (
                choice.score - value < MARGIN
                or _may_be_the_key_of(board, meaning, choice.position, place)
                or _are_ids_of_a_row(board, meaning, choice.position, place)
            )
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
            found.choices[name] = Choice(sparse[0], evidence_of(board, kind.meaning(name), sparse[0]), value)
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


def _are_ids_of_a_row(board: Board, meaning: Meaning, one: int, other: int) -> bool:
    """Whether two columns, headed alike, hold ids both."""
    return (
        meaning.name == "id"
        and _are_alike(board, [one, other])
        and meaning.cells is not None
        and min(meaning.cells(board, place) for place in (one, other)) >= _IDS
    )


def _are_alike(board: Board, places: list[int]) -> bool:
    """Whether columns have the same heading but for a number or a word such as "second", so that each row has several ids."""
    kinds = lexicon.qualifiers()
    stems = {
        tuple(word for word in words_of(board.headings[place]) if not word.isdigit() and kinds.get(word) != "ordinal")
        for place in places
    }
    return len(stems) == 1 and stems != {()} and all(board.columns[place].density >= DENSE for place in places)


def _unused_ids(board: Board, kind: Kind, found: Identified) -> list[int]:
    """The unused columns that nearly all rows have an id in too, such as that of a second radio: not those that no person would
    take for it, and no copy."""
    if not kind.may_have_several_ids or board.system != "dmr" or "id" not in found.choices or found.is_joined:
        return []
    ids, meaning = board.columns[found.choices["id"].position], kind.meaning("id")
    return [
        place
        for place in found.unused
        if 2 * board.columns[place].filled > board.rows >= ENOUGH_ROWS
        and not board.senses[place].classes.keys() & _NEVER_MORE_IDS
        and _has_ids_at_first(board.columns[place])
        and board.columns[place].density >= DENSE
        and board.columns[place].cells != ids.cells
        and meaning.cells is not None
        and meaning.cells(board, place) >= _SURE_IDS
    ]


def _has_ids_at_first(column: Facts) -> bool:
    """Whether one of the first cells may be an id: what most columns are not is seen without looking at all."""
    return any(column.looks_of(cell).country_of_id for cell in islice(column.counts, _FIRST_CELLS))


def _is_ahead(board: Board, place: int, others: list[int]) -> bool:
    """Whether a column is fuller or more varied than its rivals, or stands first."""
    return all(len(board.columns[place].counts) >= len(board.columns[other].counts) or place < other for other in others)


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
