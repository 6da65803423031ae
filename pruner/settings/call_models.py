"""Settings of commands that read and keep calls only: a heard store needs neither a source nor a radio."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pruner.settings.models import Radio, Settings, Source


class CallSettings(Settings):
    """The whole file, checked as ever, but sources and radios may be missing."""

    sources: Annotated[tuple[Source, ...], Field(alias="source")] = ()
    radios: Annotated[tuple[Radio, ...], Field(alias="radio")] = ()
