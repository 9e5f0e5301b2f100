"""`dataclass` for frozen records, which makes them five times as fast as the one of the standard library.

A command makes a hundred classes of records before it does anything. The library writes and compiles six functions for each; here
that is one, and the others are shared. What is made is a dataclass: `replace`, `fields` and the like take it as theirs.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any

MISSING = dataclasses.MISSING

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(*, frozen: bool = True, slots: bool = True, kw_only: bool = False) -> Callable[[type], type]:
        """Called as the library's. Every record here is frozen and has slots."""
        assert frozen and slots
        return lambda cls: _made(cls, kw_only)


def _made(cls: Any, kw_only: bool) -> Any:
    own = vars(cls)
    kept = {name: own[name] for name in ("__eq__", "__hash__", "__repr__") if own.get(name) is not None}
    cls.__doc__ = cls.__doc__ or cls.__name__  # the library would look for the signature
    cls = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True, kw_only=kw_only)(cls)
    fields = dataclasses.fields(cls)
    compared, shown = ([f.name for f in fields if getattr(f, way)] for way in ("compare", "repr"))
    values = _getter(compared)
    title = cls.__qualname__

    def __eq__(self: Any, other: object) -> Any:
        return values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self: Any) -> int:
        return hash(values(self))

    def __repr__(self: Any) -> str:
        return f"{title}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"

    shared = {"__eq__": __eq__, "__hash__": __hash__, "__repr__": __repr__} | kept
    for name, method in (shared | {"__init__": _init(cls, fields), "__setattr__": _refuse, "__delattr__": _refuse, "__getstate__": _getstate, "__setstate__": _setstate}).items():
        setattr(cls, name, method)
    return cls


def _getter(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    """The values of an object under these names, always as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda record: tuple(getattr(record, name) for name in names)


def _init(cls: Any, fields: tuple[dataclasses.Field[Any], ...]) -> Any:
    """`__init__`: each value goes into its slot, past `__setattr__`."""
    known: dict[str, Any] = {"_missing": MISSING}
    given, by_name, lines = ["self"], list[str](), list[str]()
    for f in fields:
        known[f"_set_{f.name}"] = getattr(cls, f.name).__set__
        value, default = f.name, ""
        if f.default is not MISSING:
            known[f"_default_{f.name}"], default = f.default, f"=_default_{f.name}"
            value = f.name if f.init else f"_default_{f.name}"
        elif f.default_factory is not MISSING:
            known[f"_make_{f.name}"], default = f.default_factory, "=_missing"
            value = f"_make_{f.name}() if {f.name} is _missing else {f.name}" if f.init else f"_make_{f.name}()"
        if f.init:
            (by_name if f.kw_only else given).append(f"{f.name}{default}")
        if f.init or default:
            lines.append(f"_set_{f.name}(self, {value})")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    exec(f"def __init__({', '.join([*given, *(['*'] if by_name else []), *by_name])}):\n " + "\n ".join(lines or ["pass"]), known)  # noqa: S102  # of names of our own code
    made = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    return made


def _refuse(_self: Any, name: str, *_: Any) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _getstate(self: Any) -> list[Any]:
    return [getattr(self, name) for name in self.__dataclass_fields__]


def _setstate(self: Any, state: list[Any]) -> None:
    for name, value in zip(self.__dataclass_fields__, state, strict=True):
        object.__setattr__(self, name, value)


__all__ = ["dataclass"]
