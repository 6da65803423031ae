"""Several customers over one load of the directories: each has a home, talkgroups, rules and radios of their own.

Receives the settings that they share and a folder for each customer, hands on the results; they lie in each folder, as a fit of
that customer alone would put them.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from pruner.account.summary import Summary
from pruner.job.contact_calls import ContactCalls
from pruner.job.idle_rules import idle_in
from pruner.job.load import Loaded, doubts_of, load, load_layouts, read_lists
from pruner.job.routes import read_routes
from pruner.job.run import fold_new_calls, remember_if_heard, write_radio
from pruner.publish.folders import new_folder
from pruner.publish.lock import locked
from pruner.publish.switch import current_version
from pruner.rules.matching import Rules
from pruner.settings.load import DEFAULT_NAME, common_settings, settings_over
from pruner.settings.models import Settings
from pruner.words.errors import PrunerError, SettingsError
from pruner.words.progress import Progress, silent

#: Where in a customer's folder the results lie.
OUT: Final = "out"
#: What customers share: the sources are read, and calls counted, once for all.
_SHARED: Final = ("source", "heard", "calls", "clean", "refresh", "output")


@dataclass(frozen=True, slots=True)
class Customer:
    """A customer: the name of the folder, the folder, and the shared settings with what the customer's own file says."""

    name: str
    folder: Path
    settings: Settings


@dataclass(frozen=True, slots=True)
class CustomerResult:
    """What came of a customer: a summary and a folder for each radio; or why there is none."""

    customer: Customer
    summaries: list[Summary] = field(default_factory=list)
    folders: list[Path] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problem: PrunerError | None = None


def read_customers(path: Path, folders: Sequence[Path]) -> tuple[Settings, list[Customer]]:
    """The common settings in a file, and the customers of these folders, each with a settings file that goes before it, table
    by table. Home, talkgroups and radios may stand in the files of the customers alone.

    Raises SettingsError with all mistakes of all files."""
    common, lent = common_settings(path, folders[0] / DEFAULT_NAME)
    found, problems, names = [], [], set()
    for folder in folders:
        name = folder.absolute().name
        if folder.resolve() in names:
            problems.append(f"{folder}: is named twice")
        names.add(folder.resolve())
        try:
            settings = settings_over(folder / DEFAULT_NAME, common, _SHARED, lent)
        except SettingsError as error:
            problems += error.problems
            continue
        results = folder.absolute() / OUT
        if current_version(results):
            problems.append(f"{results}: holds versions that refresh published; move them away, or fit this customer alone")
        # What is remembered belongs to the sources and logs, which all share.
        output = settings.output.model_copy(update={"folder": results, "state": common.output.state})
        found.append(Customer(name, folder.absolute(), settings.model_copy(update={"output": output})))
    if problems:
        raise SettingsError(problems)
    return common, found


def run_bench(common: Settings, customers: Sequence[Customer], progress: Progress = silent) -> list[CustomerResult]:
    """Reads the sources once and fits every radio of every customer. One that cannot be fitted keeps the results of before and
    says why; the others go on. Raises PrunerError where the sources cannot be read."""
    with locked(common.output.state, "bench", common.output.mode):
        notes = fold_new_calls(common, progress)
        loaded = load(common, progress, will_write=True)
        remember_if_heard(loaded)
        return [_fitted(loaded, customer, notes, progress) for customer in customers]


def _fitted(loaded: Loaded, customer: Customer, notes: list[str], progress: Progress) -> CustomerResult:
    settings = customer.settings
    targets = [settings.output.folder / radio.name for radio in settings.radios]
    try:
        own = with_settings(loaded, settings)
        with contextlib.ExitStack() as folders:
            summaries = [
                write_radio(own, radio, folders.enter_context(new_folder(target)), progress)
                for radio, target in zip(settings.radios, targets, strict=True)
            ]
    except PrunerError as error:
        return CustomerResult(customer, problem=error)
    return CustomerResult(customer, summaries, targets, [*notes, *doubts_of(settings, own.layouts), *idle_in(own)])


def with_settings(loaded: Loaded, settings: Settings) -> Loaded:
    """What was loaded, under the home, rules and radios of other settings over the same sources. Texts and places are shared;
    calls too, where the home is the same."""
    contacts, calls = loaded.contacts, loaded.calls
    if settings.home != loaded.settings.home:
        contacts = contacts.with_home(settings.home.place, settings.home.country_number)
        if calls is not None:
            from pruner.job.traits import traits_in  # for those who have heard logs

            calls = ContactCalls(calls.stores, contacts.number, contacts.system, traits_in(contacts), calls.period_days)
            contacts.calls = calls  # the calls ask these contacts for their places
    layouts, routes = load_layouts(settings), read_routes((*settings.drop, *settings.keep))
    lists = read_lists(settings)
    remember = calls is not None or len({radio.rules for radio in settings.radios}) > 1
    rules = Rules(contacts, settings, lists, routes, remember=remember)
    return replace(
        loaded,
        settings=settings,
        contacts=contacts,
        calls=calls,
        rules=rules,
        layouts=layouts,
        lists=lists,
        routes=routes,
        owners={},
    )
