"""The water bench and the rules, as commands."""

from __future__ import annotations

import planner.cli.mixbox  # noqa: F401  (adds the questions about a described tank)
from planner.cli.mixes import mix_command
from planner.cli.rules import rules_command

__all__ = ["mix_command", "rules_command"]
