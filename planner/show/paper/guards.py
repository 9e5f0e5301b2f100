"""The cautions of jobs on their cards: a line before the first job that each guards, its name at the jobs after it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json

WEIGHTS = ("danger", "care", "note")
THROUGHOUT = 3
"""Jobs of a card that name a caution from which on it is named once, above them all. A danger stays with each job."""


def guards(keys: Iterable[str], rules: Rulebook) -> list[tuple[str, str, str]]:
    """The lines of these cautions, the gravest first."""
    shown = sorted(keys, key=lambda key: WEIGHTS.index(rules.cautions[key].weight))
    return [(rules.cautions[key].weight.capitalize(), caution_name(key).capitalize(), rules.cautions[key].line or rules.cautions[key].text) for key in shown]


def weighed(cautions: Sequence[str], rules: Rulebook) -> list[tuple[str, list[str]]]:
    """`Danger: mains, wet floor`: the cautions of a job by their weight."""
    named = [(w.capitalize(), [caution_name(key) for key in cautions if key in rules.cautions and rules.cautions[key].weight == w]) for w in WEIGHTS]
    return [(weight, names) for weight, names in named if names]


def throughout(cards: list[Json]) -> tuple[list[Json], list[tuple[str, list[str]]]]:
    """The jobs, and by weight the milder cautions that so many of them name that they are named above, for all of them."""
    named = Counter((weight, name) for c in cards for weight, names in c["cautions"] for name in names)
    often = [key for key, count in named.items() if count >= THROUGHOUT and key[0] != WEIGHTS[0].capitalize()]
    through = [(w.capitalize(), names) for w in WEIGHTS if (names := [name for weight, name in often if weight == w.capitalize()])]
    left = [c | {"cautions": [(weight, kept) for weight, names in c["cautions"] if (kept := [n for n in names if (weight, n) not in often])]} for c in cards]
    return left, through


def caution_name(key: str) -> str:
    """The short name under which a job points to a caution: `wet floor`."""
    return key.replace("_", " ").replace("-", " ")


__all__ = ["WEIGHTS", "caution_name", "guards", "throughout", "weighed"]
