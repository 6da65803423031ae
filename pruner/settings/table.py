"""The base of all tables of the settings: frozen, strict, made from a TOML document or in Python."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, model_validator

from pruner.words.errors import SettingsError

if TYPE_CHECKING:
    from pydantic._internal._model_construction import ModelMetaclass
else:
    ModelMetaclass = type(BaseModel)


class _InPython(ModelMetaclass):
    """Whoever writes `Radio(...)` hears of mistakes as a SettingsError, in the words of Python."""

    if not TYPE_CHECKING:  # else the arguments of the models would not be known

        def __call__(cls: type[BaseModel], *values, **fields):  # noqa: N805
            if values and cls.__init__ is BaseModel.__init__:
                first = next(iter(cls.model_fields))
                raise SettingsError(f"{cls.__name__}: expected fields by name, such as {cls.__name__}({first}=...)")
            try:
                return super().__call__(*values, **fields)
            except ValidationError as error:
                from pruner.settings.messages import lines_in_python  # it stands on the models

                raise SettingsError(lines_in_python(error, cls)) from None


class Table(BaseModel, metaclass=_InPython):
    """A table of the settings.

    In Python, lists stand for tuples and fields go by their names (`sources`, `radios`), and a wrong value raises
    SettingsError; in a file fields go by its keys (`source`, `radio`), which `context={"in_file": True}` says.
    """

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, validate_default=True, allow_inf_nan=False, defer_build=True
    )

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
