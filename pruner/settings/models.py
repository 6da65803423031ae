"""The settings as frozen models.

Receives the TOML document as plain tables (lists as tuples; `context={"folder": ...}` says what relative
paths are relative to), hands on `Settings`, in which every name is known and every path absolute.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    Field,
    ModelWrapValidatorHandler,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic_core import InitErrorDetails

from pruner.reference import countries, geometry, regions
from pruner.settings import values
from pruner.settings.cross import Problem, cross_problems, plain
from pruner.settings.memory_models import LevelList, Memory
from pruner.settings.refresh_models import Refresh
from pruner.settings.table import Table
from pruner.settings.terms import terms_of
from pruner.words.disk import PRIVATE

Order = Literal["recent", "often", "expected", "nearest", "id"]


class Home(Table):
    """Where the user is; both parts may be absent."""

    country: values.Country | None = None
    locator: values.Locator | None = None

    @property
    def country_number(self) -> int:
        """The number of the country in `reference.countries`, 0 if none is given."""
        return countries.find(self.country) if self.country else 0

    @property
    def place(self) -> tuple[float, float] | None:
        """Latitude and longitude of the locator's centre in degrees, None if no locator is given."""
        return geometry.locator_centre(self.locator) if self.locator else None


class Source(Table):
    """A directory: the file or files that `glob.glob(location)` finds (an absolute pattern), or an http(s) address.

    `credentials` names an entry of the credentials file or the environment, for addresses that ask for one.
    `columns` maps meanings (`schema.STATION_ANSWERS`) to headings, or to positions counted from 1; what it does not name is
    found out.
    """

    name: values.SourceName
    location: values.Location
    system: Literal["dmr", "nxdn", "p25"] = "dmr"
    columns: values.Columns = Field(default_factory=dict)
    encoding: values.Encoding | None = None
    credentials: values.SourceName | None = None
    rejected_share_at_most: Annotated[float, Field(ge=0, le=1)] = 0.05

    @property
    def is_remote(self) -> bool:
        """Whether the location is an address on a network, from which `refresh` fetches."""
        return values.is_address(self.location)


class Heard(Table):
    """Heard logs: the files that `glob.glob(location)` finds, or an http(s) address; `zone` holds for times that name none,
    `dates` for dates in numbers; `pattern` explains lines of free text by named groups; `credentials` as in a source."""

    location: values.Location
    system: Literal["dmr", "nxdn", "p25"] = "dmr"
    zone: values.Zone = "UTC"
    columns: values.HeardColumns = Field(default_factory=dict)
    dates: Literal["day first", "month first", "year first"] | None = None
    pattern: str | None = None
    credentials: values.SourceName | None = None

    @property
    def stated_zone(self) -> str:
        """The zone where the settings name one, else ""."""
        return self.zone if "zone" in self.model_fields_set else ""

    @property
    def is_remote(self) -> bool:
        """Whether the location is an address on a network, from which `heard fetch` and `refresh` fetch."""
        return values.is_address(self.location)


class Talkgroups(Table):
    """The user's talkgroups (`mine`), a list of talkgroups to fit (`list_columns`: which column holds what), and whether a
    talkgroup that begins with a country code makes that country's contacts relevant (common practice, no source)."""

    mine: tuple[values.TalkgroupNumber, ...] = ()
    list: values.LayoutFile | None = None
    list_columns: values.TalkgroupColumns = Field(default_factory=dict)
    countries: bool = True


class Calls(Table):
    """How calls are weighed: the window of coverage and of order `often`, the period of order `expected`, in days; for how
    many days up to the last one with calls they are kept; how many seconds apart one call may have been written down twice."""

    window_days: values.Days = 90
    period_days: values.Days = 28
    keep_days: values.Days = 730
    tolerance_seconds: values.ToleranceSeconds = 3


class Rule(Table):
    """The conditions that a contact must meet, all that are given (not None); without any, all match.

    `list_columns` says which column of `list` holds what, `route` (a GPX file) and `locators` from where distances of the
    rule are measured, instead of from home; these are no conditions.
    """

    name: values.Label
    list: values.ListFile | None = None
    list_columns: values.ListColumns = Field(default_factory=dict)
    ids: Annotated[tuple[values.StationId, ...], Field(min_length=1)] | None = None
    callsigns: Annotated[tuple[values.Glob, ...], Field(min_length=1)] | None = None
    countries: Annotated[tuple[values.CountryOrHome, ...], Field(min_length=1)] | None = None
    neighbours_of: Annotated[tuple[values.CountryOrHome, ...], Field(min_length=1)] | None = None
    hops: values.Hops = 1
    continents: Annotated[tuple[values.Continent, ...], Field(min_length=1)] | None = None
    itu_regions: Annotated[tuple[values.ItuRegion, ...], Field(min_length=1)] | None = None
    states: Annotated[tuple[values.Words, ...], Field(min_length=1)] | None = None
    within_km: Annotated[float, Field(gt=0)] | None = None
    route: values.RouteFile | None = None
    locators: Annotated[tuple[values.Locator, ...], Field(min_length=1)] | None = None
    talkgroups: values.TalkgroupsOfRule | None = None
    heard_within_days: values.Days | None = None
    heard_at_least: Annotated[int, Field(ge=1)] | None = None
    kind: Literal["person", "repeater", "other"] | None = None
    sources: Annotated[tuple[str, ...], Field(min_length=1)] | None = None

    @property
    def has_route(self) -> bool:
        """Whether the rule says itself from where its distances are measured."""
        return self.route is not None or self.locators is not None

    @property
    def grows(self) -> bool:
        """Whether more may match as directories grow: not where the rule names the stations."""
        return self.list is None and self.ids is None

    def country_numbers(self, home: Home) -> frozenset[int] | None:
        """The countries of the condition `countries` as country numbers, None if not given."""
        return _numbers(self.countries, home)

    def neighbour_numbers(self, home: Home) -> frozenset[int] | None:
        """The countries whose neighbours the condition `neighbours_of` asks for, None if not given."""
        return _numbers(self.neighbours_of, home)

    def continent_numbers(self) -> frozenset[int] | None:
        """All countries of the condition `continents`, None if not given."""
        if self.continents is None:
            return None
        return frozenset().union(*(regions.continent_members(name) for name in self.continents))


def _numbers(names: tuple[str, ...] | None, home: Home) -> frozenset[int] | None:
    if names is None:
        return None
    return frozenset(home.country_number if name == values.HOME else countries.find(name) for name in names)


class DropRule(Rule):
    """A rule whose contacts are left out."""


class KeepRule(Rule):
    """A rule whose contacts are kept, as far as there is room.

    `order` None means: `expected` where calls are known, else by distance or in turns (`rules.matching.order_of`);
    `one_per_callsign` None: as `[clean] one_per_callsign` says.
    """

    order: Order | None = None
    at_most: values.Count | None = None
    one_per_callsign: bool | None = None


class Radio(Table):
    """A radio and what it holds. `name` is also the folder of its files.

    `contacts` and `talkgroups` are its limits; `keep_free` records stay empty for entries made by hand; `carried` is an
    export of the radio whose entries come first and unchanged (`carried_columns`: which column holds what); `rules` names the
    keep rules that count for this radio, in its own order (None: all, as they stand); `orders` gives rules another order.
    `memory` is a limit in bytes; `levels` say what text may be left out there. `aim` "order" keeps the front of the queue, at
    one level for all or one per rule (`detail`); "coverage" keeps what is worth most calls, each contact at a level of its own.
    """

    name: values.FolderName
    contacts: values.Count | None = None
    talkgroups: values.Count | None = None
    layout: values.LayoutFile | None = None
    keep_free: values.Count = 0
    carried: values.LayoutFile | None = None
    carried_columns: values.Columns = Field(default_factory=dict)
    rules: Annotated[tuple[str, ...], Field(min_length=1)] | None = None
    orders: dict[str, Order] = Field(default_factory=dict)
    memory: Memory | None = None
    levels: LevelList = Field(default=(), alias="level")
    aim: Literal["order", "coverage"] = "order"
    detail: Literal["one", "per rule"] = "one"


class Clean(Table):
    """How contacts are cleaned."""

    one_per_callsign: bool = False


class Output(Table):
    """Where results (`folder`) and what the tool keeps for itself (`state`) are written; absolute paths. `mode` of new files;
    folders may be entered by whoever may read the files in them."""

    folder: values.AnyPath = Path("out")
    state: values.AnyPath = Path(".pruner")
    mode: values.FileMode = PRIVATE


class Settings(Table):
    """The whole file. Keep rules are never empty: without one, a rule "everything" keeps all."""

    home: Home = Home()
    sources: Annotated[tuple[Source, ...], Field(min_length=1, alias="source")]
    heard: tuple[Heard, ...] = ()
    talkgroups: Talkgroups = Talkgroups()
    calls: Calls = Calls()
    drop: tuple[DropRule, ...] = ()
    keep: tuple[KeepRule, ...] = ()
    radios: Annotated[tuple[Radio, ...], Field(min_length=1, alias="radio")]
    clean: Clean = Clean()
    refresh: Refresh = Refresh()
    output: Output

    def one_per_callsign(self, rule: KeepRule) -> bool:
        """Whether a keep rule takes one id per call sign: its own word, else that of `[clean]`."""
        return self.clean.one_per_callsign if rule.one_per_callsign is None else rule.one_per_callsign

    def order(self, rule: KeepRule, radio: Radio | None = None) -> Order | None:
        """The order of a keep rule: what the radio says, else the rule, else `nearest` where the rule has a route; None where
        nothing is said."""
        own = radio.orders.get(rule.name) if radio else None
        return own or rule.order or ("nearest" if rule.has_route else None)

    def talkgroups_of(self, rule: Rule) -> tuple[int, ...] | None:
        """The talkgroups of the condition `talkgroups` as numbers, None if not given."""
        if rule.talkgroups == values.MINE:
            return self.talkgroups.mine
        return rule.talkgroups if isinstance(rule.talkgroups, tuple) else None

    @model_validator(mode="wrap")
    @classmethod
    def _together(cls, data: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        """Checks each value and what values say of each other, and raises both kinds of mistakes together."""
        if isinstance(data, cls):
            return handler(data)
        terms = terms_of(info)
        document = plain(cls.with_keys(data, in_file=terms.is_file))
        problems = cross_problems(document, terms)
        if isinstance(document, dict):
            document = {"output": {}, **document}
            if not document.get("keep", ()):
                document["keep"] = ({"name": "everything"},)
        try:
            settings = handler(document)
        except ValidationError as error:
            raise ValidationError.from_exception_data(cls.__name__, [*_details(error), *_raised(problems)]) from None
        if problems:
            raise ValidationError.from_exception_data(cls.__name__, _raised(problems))
        return settings


def _details(error: ValidationError) -> list[InitErrorDetails]:
    details = []
    for problem in error.errors(include_url=False):
        kind: Any = problem["type"]
        context = problem.get("ctx", {})
        if kind in (values.WRONG, values.COMPLETE):
            kind, context = values.custom(kind, context), {}
        details.append(InitErrorDetails(type=kind, loc=problem["loc"], input=problem["input"], ctx=context))
    return details


def _raised(problems: list[Problem]) -> list[InitErrorDetails]:
    return [InitErrorDetails(type=values.complete(problem.message), loc=problem.path, input=None) for problem in problems]
