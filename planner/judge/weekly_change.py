"""The weekly change: as large as the nitrate asks for that the tank is known to make."""

from __future__ import annotations

import math
from datetime import date, timedelta

from planner.judge.calcium_use import groups_kept
from planner.judge.facts import Facts, animals_in, change_fraction, end_of_day, view_at
from planner.judge.water_use import DAY, changes_since, nutrient_use
from planner.rulebook.shapes import Rulebook
from planner.terms.causes import Cause, cause

STONY = frozenset({"large_polyp", "small_polyp", "anemone", "clam"})
"""Groups of the catalogue that want less nitrate."""
WEEKLY_STEP = 5.0
"""Shares of a weekly change differ by so many percent, so that they do not follow every reading."""


def weekly_share(facts: Facts, rules: Rulebook) -> float:
    """Share of the water changed in a week: what was done in the last four, else what the plan asks for. Today counts once its change is made,
    or on the morning of every change one of four would be missing."""
    rows = [r for r in changes_since(facts.now / DAY - 30, facts) if r.day <= facts.on]
    last = facts.on if any(r.day == facts.on for r in rows) else facts.on - timedelta(days=1)
    done = sum(change_fraction(r, facts.net_volume_l) for r in rows if r.day > last - timedelta(days=28)) / 4
    return done or rules.number("weekly_change_share") / 100


def weekly_change_percent(facts: Facts, rules: Rulebook, mixed: date | None = None) -> float:
    """Share of the water to change in a week, %: what holds nitrate at the aim where the tank is known to make more of it than the
    usual share takes out. With a share f a week it settles at p/f above the new water, p made a week (mass balance). The water is
    mixed the day before (`mixed`; without it the change is of today), so that no test from that day on moves the amount."""
    seen = (mixed or facts.on - timedelta(days=1)) - timedelta(days=1)
    facts = view_at(facts, (seen, math.inf), end_of_day(seen, facts.zone))
    usual, most = rules.number("weekly_change_share"), rules.number("weekly_change_most")
    known = nitrate_a_week(facts, rules)
    if known is None:
        return usual
    week, new = known
    room = weekly_nitrate_aim(facts, rules) - new
    wanted = week / room * 100 if room > 0 else most
    return max(usual, min(most, WEEKLY_STEP * math.ceil(wanted / WEEKLY_STEP - 1e-9)))


def nitrate_a_week(facts: Facts, rules: Rulebook) -> tuple[float, float] | None:
    """(what the tank with its animals makes in a week, what the new water brings), mg/L as NO3; None where the tests do not prove that it makes any."""
    if not animals_in(facts, "display"):
        return None
    found = nutrient_use("nitrate", facts, rules)
    if found.verdict != "known" or found.fit is None or found.fit.use >= 0:
        return None
    return -7 * found.fit.use, found.new_water or 0.0


def why_larger(facts: Facts, rules: Rulebook) -> Cause | None:
    """Why more than the usual share is changed, and what helps first; None where it is the usual one."""
    usual, known = rules.number("weekly_change_share"), nitrate_a_week(facts, rules)
    if known is None or weekly_change_percent(facts, rules) <= usual:
        return None
    week, new = known
    return cause("larger_change", made=round(week, 1), usual=usual, level=float(round(week / usual * 100 + new)))


def weekly_nitrate_aim(facts: Facts, rules: Rulebook) -> float:
    """What the weekly change holds nitrate at, mg/L as NO3: lowest where stony corals live, or are on the list. Once all of a list are in, nothing waits for
    clearer water."""
    stony = not STONY.isdisjoint(groups_kept(facts, rules))
    all_in = bool(facts.tank.wish_list) and facts.wished_to_come is not None and not facts.wished_to_come
    return rules.number("weekly_nitrate_aim_stony" if stony else "weekly_nitrate_aim_stocked" if all_in else "weekly_nitrate_aim")


__all__ = ["weekly_change_percent", "weekly_nitrate_aim", "weekly_share", "why_larger"]
