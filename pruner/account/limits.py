"""What a radio would hold at other limits, how long that lasts and what the next size gains; as frozen models.

`limits.schema.json` beside this module is the same as a JSON Schema (draft 2020-12).
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from pruner.account.coverage import Ahead
from pruner.account.parts import Part

LIMITS_SCHEMA: Final = 1
#: The probability of the interval of a date.
LEVEL: Final = 0.9
#: How many contacts handhelds hold (common practice, no source).
COMMON_SIZES: Final = (10_000, 50_000, 200_000, 500_000)


class LimitHolds(Part):
    """A limit: `contacts` that the radio holds, how many of them would be `kept`, of how many countries (those of directories;
    unknown ones are not counted), and the share of the calls to come that will have a name."""

    contacts: int
    kept: int
    countries: int
    to_come: Ahead = Ahead()


class Lasts(Part):
    """Until when a limit holds all that the rules ask for; days are ISO 8601 dates.

    `full`: it does not today (`day`: the first recorded day since which that is so, null where not known; `earliest`: the same,
    null where it may have been so before the records begin); `expected`: until `day`, with an interval (null: later than the
    horizon); `later` than the horizon; `never` as long as the rules are these, which ask for no more; `unknown`, and `why`."""

    status: Literal["full", "expected", "later", "never", "unknown"]
    day: str | None = None
    earliest: str | None = None
    latest: str | None = None
    why: str | None = None


class Gain(Part):
    """What the next size of the table, `limit`, holds more: contacts, and percentage points of the calls to come (null where
    one of both has no figure)."""

    limit: int
    contacts: int
    points: float | None = None


class LimitRow(LimitHolds):
    """A row of the table; `radios`: those of the settings with this limit; `bytes`: the limit of such a radio where it is one
    of bytes (`contacts` is then what it keeps)."""

    radios: tuple[str, ...] = ()
    bytes: int | None = None
    lasts: Lasts
    next_size: Gain | None = None


class LimitGroup(Part):
    """Radios that fill up alike: the same rules in the same orders, as much kept free, the same entries carried.

    `wanted`: contacts that the rules ask for, of those of the `directory`; `why`: why there is no figure of the calls to come,
    or only a lower bound; `end`: why the largest limits name as many of them as a smaller one; `advice`: what follows, in
    sentences."""

    radios: tuple[str, ...]
    rules: tuple[str, ...]
    keep_free: int = 0
    carried: int = 0
    wanted: int
    directory: int
    why: str | None = None
    end: str | None = None
    rows: tuple[LimitRow, ...]
    advice: tuple[str, ...] = ()


class LimitTable(Part):
    """All groups. Of the calls to come: the next `period_days`, the `confidence` of their interval, on `talkgroups` ("mine" or
    "all"); null without logs. Of the dates: the `interval` (a probability), the `horizon` and the last recorded day (ISO 8601),
    and why there are none."""

    schema_: int = Field(default=LIMITS_SCHEMA, alias="schema")
    period_days: int | None = None
    confidence: float | None = None
    talkgroups: str | None = None
    interval: float
    recorded_until: str | None = None
    horizon: str | None = None
    why_no_dates: str | None = None
    groups: tuple[LimitGroup, ...]
