"""What a summary says of calls: looking back, to come, and who is missed; as frozen models."""

from __future__ import annotations

from pydantic import Field

from pruner.account.parts import Part, ReadOnly, no_table


class Coverage(Part):
    """Looking back: calls in the window, how many of them were named by the choice, how many of the callers stand in a
    directory; shares of all calls, null without calls."""

    calls: int
    named: int
    in_directory: int = 0
    share: float | None = None
    best_share: float | None = None


class CallsignCalls(Part):
    """Calls in the window that name only a call sign, and how many of them bear one that a directory has."""

    calls: int
    in_directory: int


class LimitShare(Part):
    """Looking back: the share of calls that another limit would have named."""

    contacts: int
    share: float


class Ahead(Part):
    """To come: a share of calls and its interval; only `low` where only a lower bound is known."""

    share: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def interval(self) -> tuple[float, float, float] | None:
        """Share, low and high, where all are known."""
        if self.share is None or self.low is None or self.high is None:
            return None
        return self.share, self.low, self.high


class ShareToCome(Ahead):
    """To come, at another limit."""

    contacts: int


class Strangers(Part):
    """To come: the share of calls from stations never heard before, and which share of those has a name."""

    share: float
    named: float


class CallsToCome(Ahead):
    """To come: the share of the calls of the next period that will have a name, with an interval of `confidence`; only `low`
    where only a lower bound is known; none of them, and `why`, where there is no figure."""

    period_days: int
    confidence: float
    talkgroups: str
    why: str | None = None
    calls: int | None = None
    strangers: Strangers | None = None
    by_limit: tuple[ShareToCome, ...] = ()

    def at(self, room: int) -> Ahead:
        """The share at a limit, from that of the largest one that is no larger; nothing where there is none."""
        found = [one for one in self.by_limit if one.contacts <= room]
        return Ahead(share=found[-1].share, low=found[-1].low, high=found[-1].high) if found else Ahead()


class MissedStation(Part):
    """A contact that was heard in the window and is not kept; `country` is null where unknown, `calls_on_mine` where the
    settings name no talkgroups; `rule`: which one owns it or left it out."""

    id: int
    system: str
    callsign: str | None = None
    country: str | None = None
    calls: int
    calls_on_mine: int | None = None
    reason: str
    rule: str | None = None


class Elsewhere(Part):
    """Stations that an order passed by because they were heard on other talkgroups only; their calls, and the share of all
    calls in the window."""

    stations: int
    calls: int
    share: float


class Missed(Part):
    """Looking back over `window_days`: contacts that were heard and are not kept, their calls on all talkgroups, and the first
    of them, those heard most."""

    window_days: int
    stations: int
    calls: int
    first: tuple[MissedStation, ...] = ()
    elsewhere: Elsewhere | None = None


class Calendar(Part):
    """The days that the logs of a system cover; days are ISO 8601 dates."""

    first_day: str
    last_day: str
    covered_days: int
    left_out: tuple[str, ...] = ()
    silent: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


class CoverageSummary(Part):
    """Calls and who made them: looking back over `window_days`, and to come."""

    window_days: int
    all: Coverage
    mine: Coverage | None = None
    by_callsign: CallsignCalls | None = None
    to_come: CallsToCome | None = None
    missed: Missed | None = None
    by_limit: tuple[LimitShare, ...] = ()
    expected_by: ReadOnly[str] = Field(default_factory=no_table)
    calendar: ReadOnly[Calendar] = Field(default_factory=no_table)

    @property
    def own(self) -> Coverage:
        """The coverage that counts: on the user's talkgroups where they are named, else on all."""
        return self.mine or self.all

    @property
    def day_notes(self) -> list[str]:
        """What is to be known of the days that count; where logs are of several systems, of which one each note speaks."""
        named = len(self.calendar) > 1
        return [f"{system}: {note}" if named else note for system, days in self.calendar.items() for note in days.notes]
