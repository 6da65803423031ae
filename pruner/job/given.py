"""Sources that a caller has in hand, a file by its own name or a table in memory, instead of locations in a settings file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from pruner.job.load import Loaded, load
from pruner.read.kinds import STATIONS
from pruner.settings.messages import mistakes
from pruner.settings.models import Settings
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
    where: str = "",
) -> Loaded:
    """Reads what is given and makes the rules ready.

    `document`: the tables of settings; the location of a source whose name is a key of `given` is what messages call it.
    `where` begins the lines of mistakes in it. Raises PrunerError with one line per problem.
    """
    called = frozenset(source["location"] for source in document["source"] if source["name"] in given)
    try:
        settings = Settings.model_validate(dict(document), context={"held": called})
    except ValidationError as error:
        raise SettingsError([f"{where}{mistake.key}: {mistake.sentence}" for mistake in mistakes(error)]) from None
    return load(settings, progress, held=given, with_calls=with_calls, kind=kind)
