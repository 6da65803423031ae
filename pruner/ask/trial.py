"""Whether a fit would go through: settings tried on their files, with nothing written.

Receives settings, hands on what a fit would refuse, and what each radio's file would hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pruner.account.summary import PreviewRow
from pruner.job.idle_rules import idle_in
from pruner.job.load import Loaded, load, source_paths
from pruner.job.preview import FEW, preview_of
from pruner.job.rejections import beyond_share
from pruner.publish.folders import check_result_place
from pruner.publish.switch import current_version
from pruner.publish.versions import check_places
from pruner.settings.models import Settings, Source
from pruner.words.errors import ExitCode, PrunerError, SourceMissingError
from pruner.words.progress import Progress, silent

if TYPE_CHECKING:
    from pruner.ask.heard_trial import KnownCallers


@dataclass(slots=True)
class Trial:
    """`refusals`: what a fit of these settings would refuse, first what it ends with; `left_out`: heard logs that cannot be
    read, without which it would go on; `sentences`: rules that match nobody, addresses of which nothing was fetched yet, what
    a refresh alone would refuse; `previews`: by radio a few rows of its file; `callers`: whom the directory knows of those who
    were heard."""

    refusals: list[PrunerError] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    previews: dict[str, list[PreviewRow]] = field(default_factory=dict)
    left_out: dict[str, ExitCode] = field(default_factory=dict)
    callers: list[KnownCallers] = field(default_factory=list)

    def refuse(self, error: PrunerError) -> None:
        """Takes what is refused, once."""
        if str(error) not in map(str, self.refusals):
            self.refusals.append(error)


def trial(settings: Settings, progress: Progress = silent) -> Trial:
    """Tries sources, rules, layouts, lists, carried entries, talkgroups and output folders of all radios."""
    tried = Trial()
    absent = [said for source in settings.sources if (said := _not_fetched(source, settings))]
    tried.sentences += [f"the rules were not tried: {said}" for said in absent]
    loaded = None
    if absent:
        _try_sources(settings, tried, progress)
    else:
        try:
            loaded = load(settings, progress)
            _try_radios(loaded, tried)
        except PrunerError as error:
            tried.refuse(error)
            _try_sources(settings, tried, progress)
    _try_talkgroups(settings, tried, progress)
    _try_logs(settings, loaded, tried, progress)
    for refusal in _places(settings):
        tried.refuse(refusal)
    return tried


def _not_fetched(source: Source, settings: Settings) -> str:
    """Why there is nothing to read of an address yet, which is no mistake; "" where there is something."""
    try:
        if source.is_remote:
            source_paths(source, settings.output.state)
    except SourceMissingError as error:
        return str(error)
    return ""


def _try_sources(settings: Settings, tried: Trial, progress: Progress) -> None:
    """Each source by itself, so that all that is refused is known at once."""
    for source in settings.sources:
        if not _not_fetched(source, settings):
            try:
                load(settings.model_copy(update={"sources": (source,), "drop": (), "keep": (), "radios": ()}), progress)
            except PrunerError as error:
                tried.refuse(error)


def _try_radios(loaded: Loaded, tried: Trial) -> None:
    if loaded.settings.heard and loaded.calls is None:
        tried.sentences.append("the rules were tried without calls: no heard log is folded yet (fit does that)")
    tried.sentences += idle_in(loaded)
    refused = (beyond_share(*pair) for pair in zip(loaded.settings.sources, loaded.sources, strict=True))
    tried.sentences += [f"fit takes it, refresh would refuse it: {said}" for said in refused if said]
    for radio in loaded.settings.radios:
        try:
            tried.previews[radio.name] = preview_of(loaded, radio, FEW)
        except PrunerError as error:
            tried.refuse(error)


def _try_talkgroups(settings: Settings, tried: Trial, progress: Progress) -> None:
    if settings.talkgroups.list is None:
        return
    from pruner.groups.job import job_of_settings, wants_talkgroups  # for those who have a list of them
    from pruner.groups.load import load_groups

    if wants_talkgroups(settings):
        try:
            load_groups(job_of_settings(settings), progress)
        except PrunerError as error:
            tried.refuse(error)


def _try_logs(settings: Settings, loaded: Loaded | None, tried: Trial, progress: Progress) -> None:
    if not settings.heard:
        return
    from pruner.ask.heard_trial import try_logs  # for those who have heard logs

    try:
        found = try_logs(settings, loaded, progress)
    except PrunerError as error:
        tried.left_out |= dict.fromkeys(str(error).splitlines(), error.exit_code)
        return
    tried.callers = found.known
    if found.folded is not None:
        tried.left_out |= dict.fromkeys(found.folded.missing.values(), ExitCode.SOURCE_MISSING)
        tried.left_out |= dict.fromkeys(found.folded.refused.values(), ExitCode.INPUT_REFUSED)


def _places(settings: Settings) -> Iterator[PrunerError]:
    """Output folders that no result may take."""
    folder = settings.output.folder
    try:
        if current_version(folder):
            check_places(folder, settings.output.state)
            return
    except PrunerError as error:
        yield error
        return
    for radio in settings.radios:
        try:
            check_result_place(folder / radio.name)
        except PrunerError as error:
            yield error
