"""Many small checks in one test, which still names each thing that failed, and how.

Written like `pytest.mark.parametrize`, for products of hundreds of which each takes less time than starting a test does:

    @over("name", NAMES.values(), ids=NAMES)
    def test_a_name_is_shown(plan: Plan, name: str) -> None:
        assert name in shown(plan, name)

What is given by fixtures (a folder, what was printed) is one for all of them.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

import pytest


def over(arguments: str | tuple[str, ...], values: Iterable[Any], ids: Iterable[str] | Callable[[Any], object] | None = None) -> Callable[[Callable[..., None]], Callable[..., None]]:
    things = list(values)
    called = [str(ids(thing)) for thing in things] if callable(ids) else list(ids) if ids is not None else [repr(thing)[:120] for thing in things]
    assert things and len(called) == len(things), "each thing has a name, and there are some"
    keys = (arguments,) if isinstance(arguments, str) else arguments

    def folded(test: Callable[..., None]) -> Callable[..., None]:
        def check_all(**given: Any) -> None:
            wrong = []
            for name, thing in zip(called, things, strict=True):
                try:
                    test(**given, **dict(zip(keys, (thing,) if isinstance(arguments, str) else thing, strict=True)))
                except Exception as error:  # noqa: BLE001  (whatever it is, the others are checked as well)
                    wrong.append(f"{name}: {type(error).__name__}: {error}")
            assert not wrong, f"{len(wrong)} of {len(things)} fail:\n" + "\n".join(wrong)

        functools.update_wrapper(check_all, test)
        del check_all.__wrapped__  # type: ignore[attr-defined]  # else pytest asks for the arguments of each
        own = inspect.signature(test)
        check_all.__signature__ = own.replace(parameters=[p.replace(kind=p.KEYWORD_ONLY) for name, p in own.parameters.items() if name not in keys])  # type: ignore[attr-defined]
        return check_all

    return folded


def spread(metafunc: pytest.Metafunc, argument: str, values: Iterable[Any], one_of: int, ids: Callable[[Any], str]) -> None:
    """One test a value, of which every so-many-th stands in every run and the others are slow, unless the file itself was named:
    whoever works on what it holds runs all of it."""
    named = any(metafunc.module.__name__.rpartition(".")[2] in str(asked) for asked in metafunc.config.args)
    metafunc.parametrize(argument, [pytest.param(value, id=ids(value), marks=() if named or n % one_of == 0 else pytest.mark.slow) for n, value in enumerate(values)])


__all__ = ["over", "spread"]
