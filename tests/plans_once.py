"""Plans that commands and pages ask for are made once for equal inputs.

Most tests of a command begin with the same few tanks on the same days. What the engine makes of equal inputs is held elsewhere
(`tests/properties`, `tests/unit/plan`), by tests that call it themselves and get no plan from here.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import pytest

from planner.files.kept import Kept
from planner.judge.plausible import believed
from planner.plan.make import plan_with_stock

MOST = 120
ASKING = {
    "make_plan": ("planner.show.calendar.feeds",),
    "plan_with_stock": ("planner.serve.board_page", "planner.serve.animals_page", "planner.cli.handouts_tank", "planner.plan.may_buy", "planner.plan.comparison"),
    "core": ("planner.door.folder",),
}
"""Under which name who asks for a plan."""


class Plans:
    """The newest plans by what they were made from. A book of rules is known by itself, all else by its values."""

    def __init__(self) -> None:
        self.made: OrderedDict[tuple[object, ...], tuple[Any, Any]] = OrderedDict()

    def both(self, tank: Any, journal: Any, rules: Any, on: Any, until: Any = None, problems: Any = (), catalogue: Any = None, kept: Kept | None = None) -> Any:
        # The name of the file stands in a plan only beside a line that counts as unread.
        file = journal.file if believed(tank, journal, rules, on).unreadable else ""
        key = (id(rules), file, repr((tank, journal.rows, journal.unreadable, journal.length, journal.taken_back, on, until, problems, catalogue)), kept and kept.folder)
        if key not in self.made:
            self.made[key] = rules, plan_with_stock(tank, journal, rules, on, until, problems, catalogue, kept)  # the book is held, so that its id stays its own
            while len(self.made) > MOST:
                self.made.popitem(last=False)
        self.made.move_to_end(key)
        return self.made[key][1]

    def plan(self, *given: Any, **named: Any) -> Any:
        return self.both(*given, **named)[0]


@contextmanager
def plans_made_once() -> Iterator[None]:
    plans = Plans()
    instead = {"make_plan": plans.plan, "plan_with_stock": plans.both, "core": SimpleNamespace(make_plan=plans.plan)}
    with pytest.MonkeyPatch.context() as patched:
        for name, users in ASKING.items():
            for user in users:
                patched.setattr(f"{user}.{name}", instead[name])
        yield


__all__ = ["plans_made_once"]
