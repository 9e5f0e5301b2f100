"""The completers of `planner/cli/completion.py` by name: their rooms are loaded when a shell asks, never when a command runs."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem


def completing(name: str) -> Callable[[click.Context, click.Parameter, str], list[CompletionItem]]:
    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        found: list[CompletionItem] = getattr(import_module("planner.cli.completion"), name)(ctx, param, incomplete)
        return found

    return complete


__all__ = ["completing"]
