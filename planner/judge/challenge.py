"""The proof of the filter: doses of ammonia that were found handled in time, and where the cycle began.

A limit in hours holds only if it holds for every instant of the days written.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from planner.frozen import dataclass
from planner.judge.evidence import HOUR, disturbed, proof_level
from planner.judge.facts import Facts, Instant, instant_of
from planner.judge.scene import NEVER
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.shapes import Rulebook
from planner.science.dosing import n_rise_mg_l
from planner.terms.records import Row
from planner.terms.traces import DoseTried, NoTime


def first_ammonia(facts: Facts, rules: Rulebook) -> Row | None:
    """The row with which the cycle began: the first dose, or the rock in the tank where live rock cures there."""
    rows = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    if facts.tank.rock.kind == "live" and facts.tank.rock.cured_in == "tank":
        rows += [r for key in rules.tasks_as("rock_in") for r in facts.rows("done", key)]
        rows += [r for r in facts.rows("reading", "ammonia") if r.where == "display"][:1]
    if facts.tank.cycle.ammonia == "food":
        rows += facts.rows("event", "fed")
    return min(rows, key=lambda r: (r.day, r.latest), default=None)


LOOKED_AT_H = 24
"""A test so many hours after the limit still belongs to its dose (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ChallengeResult:
    passed: int
    tried: bool
    needs_time: bool
    told: tuple[Row | DoseTried | NoTime, ...]
    rows: tuple[Row, ...]


def challenge_mg_n_l(node: ChallengeNode, facts: Facts, rules: Rulebook) -> float:
    """The dose that counts, mg/L as N: the node's figure, or what the wish list asks for if that is more."""
    return max(rules.number(node.dose), facts.list_proof or 0.0)


def least_rise(node: ChallengeNode, facts: Facts, rules: Rulebook) -> float:
    """The rise of the smallest dose that counts, mg/L as N: half a percent less, for the rounding of a scale."""
    return challenge_mg_n_l(node, facts, rules) * 0.995


def challenge(node: ChallengeNode, facts: Facts, rules: Rulebook) -> ChallengeResult:
    """Count the challenges passed in a row, the newest first. A try is a dose of at least the challenge's size with
    readings of ammonia and nitrite after it; both must be clear or at most one kit step within the hours named; a
    water change or another dose in between voids it. One that nobody looked at in time says nothing, and parts no two others, if
    it was gone by the next dose."""
    wanted = least_rise(node, facts, rules)
    hours = rules.hours(node.hours)
    horizon = rules.hours(node.within) * HOUR if node.within else float("inf")
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display" and r.latest > facts.floor and facts.now - r.earliest <= horizon]
    passed = 0
    told: list[Row | DoseTried | NoTime] = []
    used: list[Row] = []
    days: set[object] = set()
    needs_time = tried = False
    for number in range(len(doses) - 1, -1, -1):
        dose = doses[number]
        if dose_rise(dose, facts) < wanted:
            continue
        until = doses[number + 1].latest if number + 1 < len(doses) else float("inf")
        verdict, rows, unsure = _one_challenge(dose, until, hours, facts, rules)
        needs_time = needs_time or (unsure and not tried)
        if verdict is None:
            if number == len(doses) - 1 or unsure or _gone_late(dose, until, facts, rules):
                continue
            break
        tried = True
        told += rows
        used += rows
        if not verdict:
            told.append(DoseTried(dose.day, handled=False))
            break
        if rows[0].day not in days:
            days.add(rows[0].day)
            passed += 1
            told.append(DoseTried(dose.day, handled=True))
        if passed == node.times:
            break
    if passed < node.times and needs_time:
        told.append(NoTime(of_a_test=True))
    return ChallengeResult(passed, tried, needs_time, tuple(told), tuple(used))


def newest_failed(node: ChallengeNode, facts: Facts, rules: Rulebook) -> Row | None:
    """The reading, in the second half of the hours, that shows too much left of the newest dose, if that dose was large
    enough for a proof. It stays what it is however clear the water is later; None once anything was dosed after it."""
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display" and r.latest > facts.floor]
    if not doses or dose_rise(doses[-1], facts) < least_rise(node, facts, rules):
        return None
    dose, window = doses[-1], rules.hours(node.hours) * HOUR
    for name in ("ammonia", "nitrite"):
        seen = [r for r in _near(facts.rows("reading", name), dose.day, window) if r.where == "display" and r.low is not None
                and r.latest - dose.earliest >= window / 2 and 0 < r.earliest - dose.latest <= window and not disturbed(r, name, facts, rules)]
        level = proof_level(name, facts.tank, rules) * 1.000001
        if seen and all((r.low or 0.0) > level for r in seen):
            return seen[-1]
    return None


def first_possible_proof(node: ChallengeNode, facts: Facts, rules: Rulebook) -> Instant:
    """No instant before this one can show all the challenges passed: for each, both readings came down to a step within
    the time in which a test of that dose counts. NEVER while there are too few of them."""
    wanted, limit = least_rise(node, facts, rules), (rules.hours(node.hours) + LOOKED_AT_H) * HOUR
    low = []
    for name in ("ammonia", "nitrite"):
        step = proof_level(name, facts.tank, rules) * 1.000001
        low.append([r for r in facts.rows("reading", name) if r.where == "display" and r.high is not None and r.high <= step])
    if not all(low):
        return NEVER
    passed = 0
    for dose in facts.rows("dosed", "ammonia"):
        if dose.where != "display" or dose_rise(dose, facts) < wanted:
            continue
        seen = [next((r for r in _near(rows, dose.day, limit) if r.latest > dose.latest and r.earliest - dose.latest <= limit), None) for rows in low]
        if None not in seen:
            passed += 1
            if passed == node.times:
                return max(instant_of(r) for r in seen if r is not None)
    return NEVER


def _near(rows: Sequence[Row], day: date, limit_s: float) -> Iterator[Row]:
    """Rows from a day on, as far as a limit can reach: a bare date counts from its first moment, and two offsets may
    name one instant by two days."""
    last = day + timedelta(seconds=limit_s) + timedelta(days=2)
    for n in range(bisect_left(rows, (day - timedelta(days=2), float("-inf")), key=instant_of), len(rows)):
        if rows[n].day > last:
            return
        yield rows[n]


def dose_rise(row: Row, facts: Facts) -> float:
    """The rise that a dose made, mg/L as N. A mass is taken as ammonium chloride."""
    if row.low is None:
        return 0.0
    if row.unit.strip().lower() in ("g", "mg", "kg", "oz", "lb"):
        return n_rise_mg_l(row.low, facts.net_volume_l)
    # A volume of some solution says nothing of its strength.
    return 0.0 if row.unit.strip().lower() in ("l", "ml", "gal", "fl oz") else row.low


def _gone_late(dose: Row, until: float, facts: Facts, rules: Rulebook) -> bool:
    """Did each test between this dose and the next show the dose gone, and did no change of water take it out?"""
    if any(c.where == "display" and dose.earliest < c.latest and c.earliest <= until for c in facts.rows("changed_water")):
        return False
    for name in ("ammonia", "nitrite"):
        level = proof_level(name, facts.tank, rules) * 1.000001
        seen = [r for r in facts.rows("reading", name) if r.where == "display" and dose.latest < r.earliest and r.earliest <= until and not disturbed(r, name, facts, rules)]
        if not seen or any(r.high is None or r.high > level for r in seen):
            return False
    return True


def _one_challenge(dose: Row, until: float, hours: float, facts: Facts, rules: Rulebook) -> tuple[bool | None, list[Row], bool]:
    """(passed, rows, "would pass if only the times were written")."""
    for change in facts.rows("changed_water"):
        if change.where == "display" and dose.earliest < change.latest and change.earliest <= min(until, dose.latest + hours * HOUR):
            return None, [], False
    found: list[Row] = []
    unsure = False
    for name in ("ammonia", "nitrite"):
        step = proof_level(name, facts.tank, rules)
        limit = (hours + LOOKED_AT_H) * HOUR
        last = [r for r in _near(facts.rows("reading", name), dose.day, limit) if r.where == "display" and r.high is not None
                and r.latest > dose.latest and r.earliest <= until and r.earliest - dose.latest <= limit and not disturbed(r, name, facts, rules)]
        if not last:
            return None, [], False
        good = [r for r in last if (r.high or 0.0) <= step * 1.000001]
        timely = [r for r in good if r.latest - dose.earliest <= hours * HOUR + 1]
        if timely:
            found.append(timely[0])
        elif good and any(r.earliest - dose.latest <= hours * HOUR for r in good) and (dose.at is None or good[0].at is None):
            unsure = True
            found.append(good[0])
        elif good:
            return None, [], False  # gone, but nobody looked in time
        else:
            return False, [last[-1]], False
    return (None if unsure else True), found, unsure
