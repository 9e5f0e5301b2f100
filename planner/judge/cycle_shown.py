"""Which milestones of the nitrogen cycle the readings have shown, and whether they move towards the next."""

from __future__ import annotations

from datetime import date

from planner.judge.evidence import LeveledReading, clear_answer, kit_step, reading_groups
from planner.judge.facts import Facts
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Answer, Row

FALL_DAYS = 10
FALL_SHARE = 0.75


def shown_milestones(rules: Rulebook, facts: Facts, first: Row | None, odd: frozenset[int] = frozenset()) -> tuple[dict[str, date], frozenset[str]]:
    """When ammonia and nitrite were first read clear to stay so until the next dose, nitrite not before ammonia; and
    which of the two the newest reading shows again. `odd`: journal lines that count for nothing."""
    happened: dict[str, date] = {}
    reopened: set[str] = set()
    if first is None:
        return happened, frozenset()
    doses = [r.latest for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    after = _first_told(rules, facts, first, doses)
    for name in ("ammonia", "nitrite"):
        groups = [g for g in reversed(list(reading_groups(name, "display", facts, rules))) if g.latest > after and any(r.line not in odd for r in g.rows)]
        clear = [reads_clear(name, g, facts, rules) for g in groups]
        found = next((n for n in range(len(groups)) if all(clear[n:_until_dose(groups, n, doses)])), None)
        if found is None:
            break
        happened[f"{name}_clear"] = groups[found].rows[0].day
        after = groups[found].earliest - 1.0
        if not clear[-1]:
            reopened.add(f"{name}_clear")
    return happened, frozenset(reopened)


def _first_told(rules: Rulebook, facts: Facts, first: Row, doses: list[float]) -> float:
    """The instant from which on a zero tells of the filter. Food has to rot first: until a test shows something, or ammonia is
    dosed, or food lies there for long enough, a zero says only that it has not."""
    if first.kind != "event" or facts.tank.rock.kind == "live":
        return first.latest
    shown = [g.earliest - 1.0 for name in ("ammonia", "nitrite") for g in reading_groups(name, "display", facts, rules) if g.latest > first.latest and clear_answer(name, g, facts.tank, rules) == Answer.NO]
    return min([*shown, *(d for d in doses if d > first.latest), first.latest + rules.hours("food_shows") * 3600])


def reads_clear(name: str, group: LeveledReading, facts: Facts, rules: Rulebook) -> bool:
    return not group.disagree and clear_answer(name, group, facts.tank, rules) == Answer.YES


def _until_dose(groups: list[LeveledReading], n: int, doses: list[float]) -> int:
    """The position after the last reading that no dose divides from reading n."""
    end = n + 1
    while end < len(groups) and not any(groups[n].latest <= d < groups[end].latest for d in doses):
        end += 1
    return end


def reads_falling(name: str, facts: Facts, rules: Rulebook) -> bool:
    """Do the newest readings go down by more than the kit's unrest: to three quarters of the highest of the last days, and at
    least a step? What falls does not stand still, however late it is (shares: common practice, no source)."""
    groups = [g for g in reading_groups(name, "display", facts, rules) if not g.disagree and (facts.on - g.rows[0].day).days <= FALL_DAYS]
    if len(groups) < 2:
        return False
    newest, highest = groups[0], max(groups, key=lambda g: g.low)
    return newest.high <= FALL_SHARE * highest.low and highest.low - newest.high >= kit_step(name, facts.tank, rules)


__all__ = ["reads_clear", "reads_falling", "shown_milestones"]
