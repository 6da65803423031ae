"""The text of a new settings file, with comments that say what can be changed.

Receives what is known of the user, hands on TOML text that `load_settings` accepts as it stands.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from pruner.reference import borders, countries
from pruner.settings.names import source_names


def commented_settings(
    country: str | None,
    locator: str | None,
    sources: Sequence[str],
    contacts: int,
    radio_name: str,
    folder: str,
    *,
    talkgroups: Sequence[int] = (),
    heard: Sequence[str] = (),
    talkgroup_limit: int | None = None,
    layout: str | None = None,
    columns: Sequence[Mapping[str, str | int]] = (),
    heard_columns: Sequence[Mapping[str, str | int]] = (),
) -> str:
    """A commented settings file; `sources` are locations (none: one to be filled in), `folder` the output, `talkgroups` the
    user's own, `heard` locations of heard logs, `talkgroup_limit` what the radio holds of them, `layout` a path; `columns` and
    `heard_columns`: for each source and log which column holds what, as far as that was said."""
    locations = list(sources) or ["stations.csv"]
    parts = [
        "# Settings of pruner. Relative paths are relative to this file.",
        _home(country, locator),
        *(
            _source(name, location, said, first=not number)
            for number, (name, location, said) in enumerate(
                zip(source_names(locations), locations, columns or ({},) * len(locations), strict=True)
            )
        ),
        _heard(heard, heard_columns or ({},) * len(heard)),
        _talkgroups(talkgroups),
        _DROP,
        _keep(country, locator is not None, bool(talkgroups and heard)),
        radio_table(radio_name, contacts, talkgroup_limit, layout),
        "[clean]\none_per_callsign = false  # true: one id per call sign, unless a keep rule says otherwise",
        f'[output]\nfolder = {_text(folder)}\n# state = ".pruner"  # what the tool keeps for itself',
        "# For unattended runs (pruner refresh), see the README.\n# [refresh]\n# keep_versions = 4",
    ]
    return "\n\n".join(parts) + "\n"


_DROP = """\
# Rules are tried from the top. What a drop rule matches is left out.
# [[drop]]
# name = "asked to be left out"
# list = "left-out.txt"  # one id or call sign a line, or a table with such a column"""


def _home(country: str | None, locator: str | None) -> str:
    named = f"country = {_text(country)}" if country is not None else '# country = "AT"'
    placed = f"locator = {_text(locator)}" if locator is not None else '# locator = "JN67"'
    return (
        "[home]\n"
        f"{named}  # an ISO 3166-1 code or a name\n"
        f"{placed}  # Maidenhead, makes distances possible: order nearest, within_km"
    )


def _source(name: str, location: str, columns: Mapping[str, str | int], first: bool) -> str:
    text = f"[[source]]\nname = {_text(name)}\nlocation = {_text(location)}"
    if not first:
        return text + _columns(columns)
    return (
        "# Where two sources have the same id, the one that stands first counts.\n"
        f"{text}  # or a pattern: data/*.csv\n"
        'system = "dmr"  # or nxdn, p25\n'
        + (
            _columns(columns).lstrip("\n") + "\n"
            if columns
            else '# columns = { id = "Number", callsign = 2 }  # headings or positions, only where they are not understood\n'
        )
        + '# encoding = "cp1252"  # only where the text is neither UTF-8 nor that\n'
        "# rejected_share_at_most = 0.05  # more unreadable rows than this, and the source is refused"
    )


def _columns(columns: Mapping[str, str | int]) -> str:
    """A line of settings that says which column holds what, none where nothing is said."""
    said = ", ".join(
        f"{meaning} = {_text(column) if isinstance(column, str) else column}" for meaning, column in columns.items()
    )
    return f"\ncolumns = {{ {said} }}" if said else ""


def _heard(locations: Sequence[str], columns: Sequence[Mapping[str, str | int]]) -> str:
    if not locations:
        return (
            "# Logs of heard calls: who called, when, on which talkgroup. They show whom to keep.\n"
            "# [[heard]]\n"
            '# location = "heard/*.csv"\n'
            '# zone = "UTC"  # of times that name none'
        )
    return "\n\n".join(
        f'[[heard]]\nlocation = {_text(location)}{_columns(said)}\n# zone = "UTC"'
        for location, said in zip(locations, columns, strict=True)
    )


def _talkgroups(numbers: Sequence[int]) -> str:
    mine = f"mine = [{', '.join(map(str, numbers))}]" if numbers else "# mine = [232, 91]"
    return (
        f'[talkgroups]\n{mine}  # those you use\n# list = "talkgroups.csv"  # for pruner talkgroups\n'
        "# countries = true  # a talkgroup that begins with a country code makes its contacts relevant"
    )


def radio_table(name: str, contacts: int, talkgroups: int | None, layout: str | None) -> str:
    """The commented table of one radio; `talkgroups` is its limit of them, `layout` a path."""
    return "\n".join(
        [
            "# A radio and how many contacts it holds; its files are written to a folder of its name.",
            f"[[radio]]\nname = {_text(name)}\ncontacts = {contacts:_}",
            f"talkgroups = {talkgroups:_}" if talkgroups is not None else "# talkgroups = 10_000",
            f"layout = {_text(layout)}"
            if layout is not None
            else '# layout = "my-radio.layout.toml"  # see: pruner layout learn',
            "# keep_free = 50  # room for entries made by hand",
        ]
    )


def _keep(country: str | None, locator: bool, calls: bool) -> str:
    """The keep rules; those that could match nobody (without logs, without a land border) are commented out."""
    order = '# order = "nearest"' + ("" if locator else "  # needs a locator")
    home = '[[keep]]\nname = "home"\ncountries = ["home"]  # or codes and names: ["AT", "Germany"]'
    neighbours = f'[[keep]]\nname = "neighbours"\nneighbours_of = ["home"]\n{order}'
    heard = '[[keep]]\nname = "heard on my talkgroups"\ntalkgroups = "mine"\nheard_within_days = 90'
    number = countries.find(country or "")
    rules = [
        heard if calls else _off(f"{heard}  # needs [[heard]] and [talkgroups] mine"),
        home if country else _off(home),
        neighbours if borders.neighbours(number) else _off(neighbours),
    ]
    rest = '[[keep]]\nname = "the rest"\n# at_most = 50_000\n# one_per_callsign = true'
    heading = (
        "# What no drop rule matched belongs to the first keep rule that matches, in this order.\n"
        "# Conditions (all given ones must hold): list, ids, callsigns, countries, neighbours_of, hops,\n"
        "# continents, itu_regions, states, within_km (of home, or of route or locators), talkgroups,\n"
        "# heard_within_days, heard_at_least, kind, sources.\n"
        "# Options: order (recent, often, expected, nearest, id), at_most, one_per_callsign."
    )
    return "\n\n".join([f"{heading}\n{rules[0]}", *rules[1:], rest])


def _off(text: str) -> str:
    return "\n".join(f"# {line.removeprefix('# ')}" for line in text.split("\n"))


def _text(value: str) -> str:
    """A TOML basic string. JSON's differs only in U+007F, which TOML wants escaped."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
