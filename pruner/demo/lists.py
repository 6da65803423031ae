"""The demo's small files: the marshals, those who asked to be left out, and the settings.

Receives a plan and the well-written cells; hands on text.
"""

from __future__ import annotations

import csv
import io
from typing import Final

import numpy as np

from pruner.demo.cells import Cells
from pruner.demo.dirt import UNTOUCHED, Plan
from pruner.demo.draws import Draws, Integers
from pruner.demo.world import POSITION

MARSHAL_HEADINGS: Final = ("Call sign", "Id", "Name", "Post")
MARSHALS: Final = 60
LEFT_OUT_HEADING: Final = "# Four Passes Tour: stations that asked to be left out of our radios."
SETTINGS_HEADING: Final = "# Four Passes Tour: settings of the demo. Everything in this folder is invented."
_NEIGHBOURS: Final = ("DE", "CH", "LI", "IT", "SI", "HU", "SK", "CZ")
_POSTS: Final = (
    "first pass, summit",
    "",
    "sweep vehicle",
    "",
    "",
    "feeding station, valley",
    "has two handhelds",
    "",
)

SETTINGS: Final = (
    SETTINGS_HEADING
    + """
#
# The Four Passes Tour is a charity cycle tour across the borders of the Alps. Its marshals carry
# borrowed handhelds that hold 200,000 contacts; the world directory has more. These settings say who
# has to fit. Ids, call signs and names are generated at random: whoever bears one of them on the air has
# nothing to do with this.
# Try `pruner check`, `pruner fit`, `pruner coverage`, `pruner talkgroups`, `pruner forecast` in this folder.

# Where the radios are used. The country is a two-letter code or a name; the locator (a Maidenhead square,
# here in the mountains of Tyrol) is optional and gives distances.
[home]
country = "AT"
locator = "JN57"

# A directory to read: a file, or an address on the web. The system fixes which ids are legal. Its headings
# are understood as they are; where they are not, a line such as  columns = { id = "Number" }  helps.
[[source]]
name = "world"
location = "stations.csv"
system = "dmr"

# Logs of who called when on what talkgroup: a file or a pattern. `pruner fit` takes in what is new in them.
[[heard]]
location = "heard/calls-*.csv"

# The talkgroups that we listen to: national, one of a region, and one that is used the world over; and a list of all, which
# `pruner talkgroups` fits into the radio.
[talkgroups]
mine = [232, 2328, 91]
list = "talkgroups.csv"

# Drop rules come first: whoever one of them matches is not put into any radio.
[[drop]]
name = "asked to be left out"
list = "left-out.txt"

# Keep rules stand in order of importance. The first one that matches a contact owns it, and when the radio is
# full, those who stand further down are left over. First our own people, wherever their ids come from.
[[keep]]
name = "marshals"
list = "marshals.csv"

# Then whoever was heard lately where we listen, from any country. In the order `expected` those come first from whom most
# calls are to be expected. Other orders: recent, often, nearest, id; `pruner coverage` compares them.
[[keep]]
name = "heard on my talkgroups"
talkgroups = "mine"
heard_within_days = 90
order = "expected"

# Then whoever lives along the way, nearest first: distances of this rule are measured from the route.
[[keep]]
name = "along the tour"
route = "tour.gpx"
within_km = 30

# Then the country we ride in; "home" means the country above.
[[keep]]
name = "home"
countries = ["home"]

# Then every country that has a land border with it.
[[keep]]
name = "neighbours"
neighbours_of = ["home"]

# A rule without a condition matches everybody who is left; it fills what room there is, best first.
[[keep]]
name = "the rest"
order = "expected"

# A radio and what it can hold. Repeat the block for further radios.
[[radio]]
name = "loan-handheld"
contacts = 200_000
talkgroups = 10_000

# Where the results go: a folder per radio, with the contacts to import, the account of every row, a report.
[output]
folder = "out"
"""
)


def _well_written_persons(plan: Plan, draws: Draws) -> Integers:
    """Persons whose row carries no dirt and is not copied by one that does, shuffled."""
    proper = len(plan.stations.ids)
    suits = (plan.kind[:proper] == UNTOUCHED) & plan.stations.person
    suits[plan.source[proper:]] = False
    order = draws.order("lists", proper)
    suiting: Integers = order[suits[order]]
    return suiting


def choose_rows(plan: Plan, draws: Draws, cells: Cells) -> tuple[Integers, Integers]:
    """Rows (int64) of the marshals and of those left out.

    A third of the marshals are Austrian, the others from the countries around. Nobody who
    is left out shares a call sign with a marshal.
    """
    rows = _well_written_persons(plan, draws)
    country = plan.stations.country[rows]
    austrian = rows[country == POSITION["AT"]][: MARSHALS // 3]
    around = rows[np.isin(country, [POSITION[code] for code in _NEIGHBOURS])]
    marshals = np.concatenate([austrian, around[: MARSHALS - len(austrian)]])
    signs = cells.columns["Station"]
    taken = signs.is_in(signs.gather(marshals).unique().to_list()).to_numpy()
    return marshals, rows[~taken[rows]][:12]


def marshals_text(rows: Integers, cells: Cells) -> str:
    """The club list: one line per marshal with call sign, id, name and, for some, the post."""
    picked = {heading: column.gather(rows).to_list() for heading, column in cells.columns.items()}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(MARSHAL_HEADINGS)
    for number, (station, sign) in enumerate(zip(picked["Number"], picked["Station"], strict=True)):
        name = f"{picked['First name'][number]} {picked['Family name'][number]}"
        writer.writerow([sign, station, name, _POSTS[number % len(_POSTS)]])
    return out.getvalue()


def left_out_text(rows: Integers, cells: Cells) -> str:
    """One id or call sign a line; the first eight by id, the others by call sign."""
    ids = cells.columns["Number"].gather(rows).to_list()
    signs = cells.columns["Station"].gather(rows).to_list()
    return "\n".join(
        [
            LEFT_OUT_HEADING,
            "# One id or one call sign a line; what stands behind a # is for people only.",
            "",
            "# by id",
            *ids[:8],
            "",
            "# by call sign, with all their ids",
            *signs[8:],
            "",
        ]
    )
