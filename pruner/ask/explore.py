"""The page on which rules, limit and countries can be tried: from a settings file to one HTML file.

Receives the path of a settings file and the name of a radio, hands on the file that was written. The settings that the page
copies are made of the tables as they stand in the file, so its paths stay what they were.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from pruner.ask.short_form import file_of
from pruner.ask.tally import Tally, refuse, tally_of
from pruner.job.load import Loaded, load
from pruner.pages.explore_page import FIRST_LINE, Numbers, explore_page
from pruner.publish.switch import is_among_results
from pruner.reference import countries
from pruner.settings.load import load_settings
from pruner.settings.models import Radio, Settings
from pruner.settings.toml_text import toml_key, toml_table, toml_value
from pruner.words.disk import creating, write_whole
from pruner.words.errors import SettingsError
from pruner.words.progress import Progress, silent

#: The file that is written when none is named.
DEFAULT_FILE: Final = Path("explore.html")
#: For about so many limits the page has a forecast.
_STEPS: Final = 50
_DROP_NAME: Final = "countries left out"
#: Conditions that list stations: they stay out of the page. Where a rule has one, or where other radios use the rules as they
#: stand, the page tells the order by names, in the table of the radio.
_PERSONAL: Final = ("ids", "callsigns")


@dataclass(frozen=True, slots=True)
class Explored:
    """What was written: `contacts` is how many the tally counts."""

    path: Path
    radio: str
    contacts: int
    bytes: int


def explore(settings_file: Path, radio_name: str | None, out: Path | None, progress: Progress = silent) -> Explored:
    """Writes the page of one radio. Raises SettingsError where counts cannot tell the outcome or `out` is no place for it."""
    settings_file = file_of(settings_file)
    settings = load_settings(settings_file)
    document = tomllib.loads(settings_file.read_text(encoding="utf-8-sig"))
    radio = _radio(settings, radio_name)
    path = (out or DEFAULT_FILE).absolute()
    _check_place(path, settings)
    refuse(settings, radio)
    loaded = load(settings, progress)
    progress("counting")
    tally = tally_of(loaded, radio)
    progress("looking ahead")
    facts = {**page_facts(settings, radio, tally, document), "to_come": _to_come(loaded, radio)}
    text = explore_page(facts, tally_numbers(tally))
    try:
        with creating(settings.output.mode):
            write_whole(path, text, of_user=True)
    except OSError as error:
        raise SettingsError(f"{path}: cannot be written ({error.strerror}); name another file with --out") from error
    return Explored(path, radio.name, int(tally.cells.contacts.sum()), len(text.encode()))


def _to_come(loaded: Loaded, radio: Radio) -> dict[str, object] | None:
    """The calls to come by limit, with the rules as they stand in the file; None without logs."""
    if loaded.calls is None:
        return None
    from pruner.job.contact_calls import round_step
    from pruner.job.to_come import calls_to_come  # for those who have heard logs

    step = round_step(len(loaded.contacts) / _STEPS)
    found = calls_to_come(loaded, radio, range(step, len(loaded.contacts), step))
    return found.model_dump(mode="json") if found else None


def page_facts(settings: Settings, radio: Radio, tally: Tally, document: Mapping[str, Any]) -> dict[str, object]:
    """Everything on the page but the numbers of the tally; `document` is the settings file as plain tables."""
    written = {table["name"]: table for table in document.get("keep", ())}
    position = settings.radios.index(radio)
    personal = any(key in table for table in written.values() for key in _PERSONAL)
    by_name = radio.rules is not None or len(settings.radios) > 1 or personal
    taken = {rule.name for rule in (*settings.drop, *settings.keep)}
    drop_name = next(name for name in _numbered(_DROP_NAME) if name not in taken)
    known = sorted({int(number) for number in tally.cells.country})
    all_calls, my_calls = tally.total_calls or (0, 0)
    return {
        "radio": radio.name,
        "contacts": radio.contacts,
        "keep_free": radio.keep_free,
        "carried": tally.carried,
        "carried_calls": tally.carried_calls,
        "left_out": tally.left_out,
        "table": [[toml_key(key), toml_value(value)] for key, value in document["radio"][position].items()],
        "order_by_name": by_name,
        "several_radios": len(settings.radios) > 1,
        "drop_name": toml_value(drop_name),
        "rules": [
            {
                "name": rule.name,
                "quoted": toml_value(rule.name),
                "order": order,
                "at_most": rule.at_most,
                "line": line,
                "table": "" if by_name else toml_table("[[keep]]", written.get(rule.name, {"name": rule.name})),
            }
            for rule, order, line in zip(tally.rules, tally.orders, tally.line_of, strict=True)
        ],
        "combinations": tally.combinations,
        "countries": [[countries.CODES[number], countries.NAMES[number]] for number in known],
        "calls": {
            "days": settings.calls.window_days,
            "all": all_calls,
            "mine": my_calls,
            "has_mine": bool(settings.talkgroups.mine),
        }
        if tally.total_calls
        else None,
    }


def tally_numbers(tally: Tally) -> Numbers:
    """The arrays of a tally by the names under which the page's script finds them; countries counted from 0 as on the page."""
    cells = tally.cells
    named = {
        "combination": cells.combination,
        "country": np.searchsorted(np.unique(cells.country), cells.country),
        "contacts": cells.contacts,
        "calls_all": cells.calls[0],
        "calls_mine": cells.calls[1],
    }
    for index, line in enumerate(tally.lines):
        named |= {
            f"{index}.cell": line.cell,
            f"{index}.length": line.length,
            f"{index}.band_runs": np.diff(line.band_end, prepend=0),
            f"{index}.row_step": np.diff(line.row_band, prepend=0),
            f"{index}.row_cell": line.row_cell,
            f"{index}.row_all": line.row_calls[0],
            f"{index}.row_mine": line.row_calls[1],
        }
    return named


def _radio(settings: Settings, name: str | None) -> Radio:
    names = [radio.name for radio in settings.radios]
    if name is None and len(names) > 1:
        raise SettingsError(f"explore: the settings name several radios ({', '.join(names)}); say which with --radio")
    if name is not None and name not in names:
        raise SettingsError(f"explore: no radio is named {name!r}; the settings name {', '.join(names)}")
    return settings.radios[names.index(name) if name is not None else 0]


def _check_place(path: Path, settings: Settings) -> None:
    """Refuses places where results or the tool's own files lie, and files that are no page of ours."""
    folder, state = settings.output.folder, settings.output.state
    names = [*(radio.name for radio in settings.radios), "talkgroups"]
    if is_among_results(path, folder, names) or path.parent.resolve().is_relative_to(state.resolve()):
        raise SettingsError(f"{path}: lies among the results of pruner; name another file with --out")
    if path.exists() and not _is_own(path):
        raise SettingsError(f"{path}: exists and is no page of pruner explore; name another file with --out")


def _is_own(path: Path) -> bool:
    first = FIRST_LINE.encode()
    try:
        with path.open("rb") as file:
            return file.read(len(first)) == first
    except OSError:
        return False


def _numbered(name: str) -> list[str]:
    return [name, *(f"{name} {number}" for number in range(2, 1000))]
