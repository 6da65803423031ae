"""Sources that a caller has in hand, a file by its own name or a table in memory, instead of locations in a settings file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from pruner.job.load import Loaded, load
from pruner.read.kinds import STATIONS
from pruner.settings.lines import TomlPath
from pruner.settings.messages import key_path, mistakes
from pruner.settings.models import Settings
from pruner.settings.terms import FILE, Terms
from pruner.table.kinds import Kind
from pruner.table.opened import Held
from pruner.words.errors import SettingsError
from pruner.words.progress import Progress, silent


def load_given(
    document: Mapping[str, Any],
    given: Mapping[str, Path | Held],
    progress: Progress = silent,
    *,
    kind: Kind = STATIONS,
    with_calls: bool = False,
    place: Callable[[TomlPath], str] = key_path,
    terms: Terms = FILE,
) -> Loaded:
    """Reads what is given and makes the rules ready.

    `document`: the tables of settings, by the keys of a file; the location of a source whose name is a key of `given` is what
    messages call it. `place` says what a path in the document is called, `terms` how messages speak. Raises PrunerError with
    one line per problem.
    """
    called = frozenset(source["location"] for source in document["source"] if source["name"] in given)
    try:
        settings = Settings.model_validate(dict(document), context={"held": called, "in_file": terms.is_file})
    except ValidationError as error:
        lines = [f"{place(mistake.path)}: {mistake.sentence}" for mistake in mistakes(error, Settings, terms)]
        raise SettingsError(list(dict.fromkeys(lines))) from None
    return load(settings, progress, held=given, with_calls=with_calls, kind=kind)
