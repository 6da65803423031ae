"""The base of all tables of the settings: frozen, strict, made from a TOML document or in Python."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationInfo, model_validator


class Table(BaseModel):
    """A table of the settings.

    In Python, lists stand for tuples and fields go by their names (`sources`, `radios`); in a file by its keys (`source`,
    `radio`), which `context={"in_file": True}` says.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, validate_default=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _from_python(cls, data: Any, info: ValidationInfo) -> Any:
        return cls.with_keys(data, in_file=bool((info.context or {}).get("in_file")))

    @classmethod
    def with_keys(cls, data: Any, *, in_file: bool) -> Any:
        """A document with lists as tuples and, unless it comes from a file, fields under the keys of the file."""
        if not isinstance(data, dict):
            return data
        keys = {} if in_file else {name: field.alias for name, field in cls.model_fields.items() if field.alias}
        return {keys.get(key) or key: tuple(value) if isinstance(value, list) else value for key, value in data.items()}
