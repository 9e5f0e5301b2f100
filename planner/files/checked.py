"""Records that somebody writes in a file: their fields with what is allowed there, checked by pydantic.

A record is a class of its own and no model of the checker. Most commands meet records that were checked on another day and kept,
and loading the checker for them would cost as much as planning. So it is loaded, and a model made from the fields of a record,
when something is checked for the first time. Methods are called as in the checker.
"""

from __future__ import annotations

import typing
from collections.abc import Callable, Mapping
from copy import copy
from dataclasses import FrozenInstanceError
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self, TypeVar, dataclass_transform

if TYPE_CHECKING:  # loaded only to check
    from pydantic import BaseModel, TypeAdapter

MISSING: Any = ...
Method = TypeVar("Method", bound=Callable[..., Any])


class FieldInfo:
    """What is said of a field beside its type. `alias`: how it is written; `limits`: as the checker names them."""

    def __init__(self, default: Any = MISSING, default_factory: Callable[[], Any] | None = None, alias: str | None = None, **limits: Any) -> None:
        self.default, self.default_factory, self.alias, self.limits = default, default_factory, alias, limits
        self.owner: type[Checked] = Checked
        self.name = ""

    @property
    def annotation(self) -> Any:
        """The type, with the readers that stand beside it."""
        return _types_of(self.owner)[self.name]

    def filled(self) -> Any:
        """What stands there if nothing is written."""
        return self.default_factory() if self.default_factory is not None else copy(self.default)


def Field(default: Any = MISSING, *, default_factory: Callable[[], Any] | None = None, alias: str | None = None, **limits: Any) -> Any:  # noqa: N802  # a field, as the checker calls it
    return FieldInfo(default, default_factory, alias, **limits)


def check(method: Method) -> Method:
    """Marks a method that looks at a whole record once its fields are checked, and raises for what cannot be."""
    vars(method)["checks"] = True
    return method


class ReadBy:
    """Stands beside a type: a function that turns what is written into it, before the checker looks; with `alone` instead of it."""

    def __init__(self, read: Callable[..., Any], alone: bool = False) -> None:
        self.read, self.alone = read, alone

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic import BeforeValidator, PlainValidator

        return (PlainValidator if self.alone else BeforeValidator)(self.read).__get_pydantic_core_schema__(source, handler)


class MadeOf:
    """Stands beside a type: the record that is written in its place, and a function that makes the value of it."""

    def __init__(self, record: type[Checked], make: Callable[[Any], Any]) -> None:
        self.record, self.make = record, make

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema

        return core_schema.no_info_after_validator_function(self.make, handler.generate_schema(self.record))


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(Field,))
class Checked:
    """Base of all that is written. Frozen; equal where all fields are."""

    model_fields: ClassVar[Mapping[str, FieldInfo]] = {}
    model_fields_set: frozenset[str]
    by_name: ClassVar[bool] = False
    """Whether a field with an alias may be written under its name too."""
    _checks: ClassVar[tuple[Callable[[Any], None], ...]] = ()

    def __init_subclass__(cls) -> None:
        fields = dict(cls.model_fields)
        for name in cls.__dict__.get("__annotations__", {}):
            given = cls.__dict__.get(name, MISSING)
            field = fields[name] = given if isinstance(given, FieldInfo) else FieldInfo(given)
            field.owner, field.name = cls, name
            if field.default is not MISSING:
                setattr(cls, name, field.default)
            elif name in cls.__dict__:
                delattr(cls, name)
        cls.model_fields = fields
        cls._checks = (*cls._checks, *(m for m in vars(cls).values() if getattr(m, "checks", False)))

    def __init__(self, **fields: Any) -> None:
        self.__dict__.update(type(self).model_validate(fields).__dict__)

    @classmethod
    def model_validate(cls, data: Any) -> Self:
        """The record of plain data. Raises the checker's ValidationError."""
        found: Self = _checker(cls).validate_python(data)
        return found

    @classmethod
    def model_construct(cls, given: set[str] | None = None, **values: Any) -> Self:
        """A record of values that need no check, under their names or aliases."""
        made: dict[str, Any] = {}
        for name, field in cls.model_fields.items():
            key = name if name in values else field.alias or name
            if key in values or field.default_factory is not None or field.default is not MISSING:
                made[name] = values[key] if key in values else field.filled()
        return cls._of(made, frozenset(values) if given is None else frozenset(given))

    def model_copy(self, update: dict[str, Any]) -> Self:
        """The same with other values, which are not checked."""
        fields = {name: value for name, value in self.__dict__.items() if name in self.model_fields}
        return self._of(fields | update, self.model_fields_set | update.keys())

    @classmethod
    def _unfolded(cls, data: Any) -> Any:
        """What is written, brought to the form that is checked."""
        return data

    @classmethod
    def _of(cls, fields: Mapping[str, Any], given: frozenset[str]) -> Self:
        made = object.__new__(cls)
        made.__dict__.update(fields, model_fields_set=given)
        return made

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema

        def read(data: Any, checked: Callable[[Any], Any]) -> Checked:
            if isinstance(data, cls):
                return data
            found = checked(cls._unfolded(data))
            made = cls._of({name: getattr(found, name) for name in cls.model_fields}, frozenset(found.model_fields_set))
            for look in cls._checks:
                look(made)
            return made

        return core_schema.no_info_wrap_validator_function(read, handler.generate_schema(checker_model(cls)))

    def _values(self) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in self.model_fields)

    def __getstate__(self) -> dict[str, Any]:
        """What differs from the defaults of the class: of a large book most does not."""
        fields = self.model_fields
        return {name: value for name, value in self.__dict__.items() if (value is not fields[name].default if name in fields else name != "hashed")}

    def __eq__(self, other: object) -> bool:
        return NotImplemented if type(self) is not type(other) else self is other or self._values() == other._values()

    def _hash(self) -> int:
        # Rules are keys of many tables, and worked out anew in each process: the hash of a text differs from one to the next.
        found: int | None = self.__dict__.get("hashed")
        if found is None:
            found = self.__dict__["hashed"] = hash(self._values())
        return found

    __hash__: ClassVar[Callable[..., int]] = _hash  # said so, mypy does not take it for that of the class itself

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in zip(self.model_fields, self._values(), strict=True))})"

    def __setattr__(self, name: str, value: Any) -> None:
        raise FrozenInstanceError(f"cannot assign to field {name!r}")


@cache
def checker_model(record: type[Any]) -> type[BaseModel]:
    """The checker's model with the fields of a record."""
    from pydantic import ConfigDict, create_model
    from pydantic import Field as Told

    fields: dict[str, Any] = {}
    for name, field in record.model_fields.items():
        default = {"default_factory": field.default_factory} if field.default_factory is not None else {"default": field.default}
        limited = Annotated[field.annotation, Told(**field.limits)] if field.limits else field.annotation  # behind a `ReadBy`, which would else drop them
        fields[name] = (limited, Told(alias=field.alias, **default))
    config = ConfigDict(frozen=True, extra="forbid", populate_by_name=record.by_name, defer_build=True)
    return create_model(record.__name__, __config__=config, __doc__=record.__doc__, __module__=record.__module__, **fields)


@cache
def _checker(record: type[Any]) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter

    return TypeAdapter(record)


@cache
def _types_of(record: type[Any]) -> dict[str, Any]:
    return typing.get_type_hints(record, include_extras=True)


__all__ = ["Checked", "Field", "FieldInfo", "MadeOf", "ReadBy", "check", "checker_model"]
