"""What journal rows prove: readings grouped by instant, freshness, the kit's zero, and the challenge.

Every rule here errs towards "unknown": bare dates are taken as the whole day, a limit in hours holds only if it
holds for every instant of the days written.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from planner.files.tank import Tank
from planner.judge.facts import Facts, Instant, change_fraction, last_reading
from planner.rulebook.nodes import ChallengeNode
from planner.rulebook.shapes import Rulebook, TaskRule
from planner.science.ammonia import nh3_fraction_upper, species_mg_l_from_n
from planner.science.dosing import n_rise_mg_l
from planner.terms.readings import READINGS
from planner.terms.records import Answer, Row

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class LeveledReading:
    """All readings of one instant taken as one: the worse bound each way, and whether they disagree."""

    rows: tuple[Row, ...]
    low: float
    high: float
    disagree: bool
    earliest: float
    latest: float

    @property
    def worst(self) -> Row:
        return max(self.rows, key=lambda r: (r.high or 0.0, r.low or 0.0, r.line))


def reading_groups(name: str, where: str, facts: Facts, rules: Rulebook, since: Instant | None = None, unsettled: bool = False) -> Iterator[LeveledReading]:
    """Readings of a water from the newest back, those of overlapping instants together. Left out: what a dose or a
    change in the same hours disturbs (unless `unsettled`), what lies at or before `since`, and what a lapsed gate no longer counts."""
    step = kit_step(name, facts.tank, rules)
    group: list[Row] = []
    for row in reversed(facts.rows("reading", name)):
        if row.where != where or row.low is None or row.latest <= facts.floor or (since is not None and _before(row, since)):
            continue
        if not unsettled and disturbed(row, name, facts, rules):
            continue
        if group and row.latest <= min(r.earliest for r in group) and not (row.day == group[0].day and row.earliest == group[0].earliest):
            yield _level(group, step)
            group = []
        group.append(row)
    if group:
        yield _level(group, step)


def _before(row: Row, since: Instant) -> bool:
    """Not surely after an instant: a bare date on the instant's own day may be from before it."""
    return row.day < since[0] or (row.day == since[0] and row.earliest < since[1] and not (row.at is None and row.latest == since[1]))


def _level(rows: list[Row], step: float) -> LeveledReading:
    lows = sorted(r.low or 0.0 for r in rows)
    highs = sorted(r.high if r.high is not None else r.low or 0.0 for r in rows)
    disagree = False
    if len(rows) > 1 and lows[-1] - lows[0] > step * 1.000001:
        # A third test settles it: the outlier goes when at least two of the others agree within one step.
        middle = lows[len(lows) // 2]
        agreeing = [r for r in rows if abs((r.low or 0.0) - middle) <= step * 1.000001]
        if len(agreeing) * 2 > len(rows) and len(agreeing) >= 2:
            return _level(agreeing, step)
        disagree = True
    return LeveledReading(tuple(rows), lows[0] if len(rows) == 1 else min(lows), highs[-1], disagree,
                          min(r.earliest for r in rows), max(r.latest for r in rows))


def outermost(group: LeveledReading, highest: bool) -> LeveledReading:
    """The highest or the lowest of readings that disagree, by itself."""
    row = (max if highest else min)(group.rows, key=lambda r: (r.low or 0.0, r.line))
    return LeveledReading((row,), row.low or 0.0, row.high if row.high is not None else row.low or 0.0, False, row.earliest, row.latest)


def disturbed(row: Row, name: str, facts: Facts, rules: Rulebook) -> bool:
    """A reading soon after a dose, or in the same hour as a water change, is no evidence. A bare date beside a dose
    of the same bare date stays in: the order within the day cannot be told, and the worse reading rules anyway."""
    return _disturbance(row, name, facts, rules) is not None


def _disturbance(row: Row, name: str, facts: Facts, rules: Rulebook) -> tuple[Row, float] | None:
    """The dose or change that disturbs a reading, and the hours for which it does."""
    subject = {"ammonia": "ammonia", "nitrite": "ammonia", "alkalinity": "bicarbonate", "ph": "bicarbonate"}.get(name)
    if subject is not None:
        hours = rules.hours("settle_after_dose" if subject == "ammonia" else "settle_after_bicarbonate")
        if (dose := _close_after(row, facts.rows("dosed", subject), hours)) is not None:
            return dose, hours
    change = _close_after(row, facts.rows("changed_water"), 1.0)
    return (change, 1.0) if change is not None else None


def too_soon(name: str, where: str, facts: Facts, rules: Rulebook, since: Instant | None = None) -> tuple[Row, str] | None:
    """The newest reading of a water and why it does not count yet, or None if it counts. An older one does not speak in
    its place: it is from before the dose or the change."""
    for row in reversed(facts.rows("reading", name)):
        if row.where != where or row.low is None or row.latest <= facts.floor or (since is not None and _before(row, since)):
            continue
        found = _disturbance(row, name, facts, rules)
        if found is None:
            return None
        cause, hours = found
        return row, f"taken within {tell_hours(hours)} of the {'water change' if cause.kind == 'changed_water' else cause.what} of {_when(cause)}: test again"
    return None


def _close_after(row: Row, doses: Sequence[Row], hours: float) -> Row | None:
    for dose in reversed(doses):
        if dose.day > row.day:
            continue
        if row.earliest - dose.latest > hours * HOUR:
            return None
        if dose.where == row.where and row.at is not None and dose.at is not None and 0 <= row.earliest - dose.earliest < hours * HOUR:
            return dose
    return None


def freshness_h(name: str, rules: Rulebook) -> float:
    """Hours for which a reading of this name counts, from the numbers `fresh_<name>`."""
    return rules.hours(f"fresh_{name}")


def stale_because(group: LeveledReading, facts: Facts, rules: Rulebook, limit_h: float) -> str | None:
    """Why a reading no longer counts, or None. A reading of the plan's own day is fresh."""
    day = group.rows[0].day
    if day != facts.cut[0] and facts.now - group.earliest > limit_h * HOUR:
        return f"older than {tell_hours(limit_h)}: test again"
    limit = rules.number("fresh_ends_at_change") / 100
    for change in reversed(facts.rows("changed_water")):
        if change.where != group.rows[0].where:
            continue
        if change.latest < group.earliest or (change.day < day):
            break
        if change_fraction(change, facts.net_volume_l) > limit and change.latest > group.earliest:
            return f"taken before the water change of {change.day.isoformat()}: test again"
    return None


def apart(older: LeveledReading, newer: LeveledReading, hours: float) -> bool:
    """Different days as written, and `hours` apart where both rows carry a time."""
    if older.rows[0].day == newer.rows[0].day:
        return False
    timed = older.rows[0].at is not None and newer.rows[0].at is not None
    return not timed or newer.earliest - older.latest >= hours * HOUR


def kit_step(name: str, tank: Tank, rules: Rulebook) -> float:
    """The kit's smallest step in internal units; a cautious default where the kit is not described."""
    kit = tank.test_kits.get(name)
    step = kit.step_internal(name) if kit is not None else None
    if step is not None:
        return step
    return rules.number("kit_step_unknown") if name in ("ammonia", "nitrite") else DEFAULT_STEP.get(name, float("inf"))


DEFAULT_STEP = {"salinity": 1.0, "temperature": 1.0, "ph": 0.3, "alkalinity": 1.0}
"""Two readings of one instant that differ by more disagree (common practice, no source)."""


def clear_level(name: str, tank: Tank, rules: Rulebook) -> tuple[float, bool]:
    """The figure for "clear" in mg/L as N, and whether a reading must lie below it (True) or may equal it (False)."""
    kit = tank.test_kits.get(name)
    if kit is not None:
        blank = kit.blank_internal(name)
        if blank is not None:
            return blank, False
        step = kit.step_internal(name)
        if step is not None:
            return step / 2, True
    return rules.number("clear_without_kit"), False


def clear_answer(name: str, group: LeveledReading, tank: Tank, rules: Rulebook) -> Answer:
    """Is the reading the kit's zero? `<x` with x at most the smallest step is a zero."""
    level, strict = clear_level(name, tank, rules)
    step = max(kit_step(name, tank, rules), level)
    for row in group.rows:
        high = row.high if row.high is not None else row.low or 0.0
        below = row.value.lstrip().startswith("<")
        zero = high <= step * 1.000001 if below else (high < level if strict else high <= level * 1.000001)
        if not zero:
            return Answer.UNKNOWN if below else Answer.NO
    return Answer.YES


def as_free(group: LeveledReading, where: str, facts: Facts, rules: Rulebook) -> LeveledReading:
    """An ammonia reading as free ammonia, mg/L as NH3, by the upper published value, in the water of `water_of`."""
    share = nh3_fraction_upper(*water_of(where, facts, rules)) * species_mg_l_from_n(1.0, "NH3")
    return replace(group, low=group.low * share, high=group.high * share)


def water_of(where: str, facts: Facts, rules: Rulebook) -> tuple[float, float, float]:
    """pH, °C and salinity as last read. A pH that was never read is taken at its upper alarm level, temperature and
    salinity as the tank is meant to be: the careful side."""
    def last(name: str, default: float) -> float:
        row = last_reading(name, facts, where)
        return row.low if row is not None and row.low is not None else default

    return (min(9.0, max(7.0, last("ph", rules.number("alarm_ph_free_ammonia")))),
            min(34.0, max(10.0, last("temperature", facts.tank.water.temperature_c))),
            min(40.0, max(5.0, last("salinity", facts.tank.water.salinity))))


def first_ammonia(facts: Facts, rules: Rulebook) -> Row | None:
    """The row with which the cycle began: the first dose, or the rock in the tank where live rock cures there."""
    rows = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    if facts.tank.rock.kind == "live" and facts.tank.rock.cured_in == "tank":
        rows += [r for key in rules.tasks_as("rock_in") for r in facts.rows("done", key)]
        rows += [r for r in facts.rows("reading", "ammonia") if r.where == "display"][:1]
    if facts.tank.cycle.ammonia == "food":
        rows += facts.rows("event", "fed")
    return min(rows, key=lambda r: (r.day, r.latest), default=None)


@dataclass(frozen=True, slots=True)
class ChallengeResult:
    passed: int
    tried: bool
    needs_time: bool
    told: tuple[str, ...]
    rows: tuple[Row, ...]


def challenge_mg_n_l(node: ChallengeNode, facts: Facts, rules: Rulebook) -> float:
    """The dose that counts, mg/L as N: the node's figure, or what the wish list asks for if that is more."""
    return max(rules.number(node.dose), facts.list_proof or 0.0)


def challenge(node: ChallengeNode, facts: Facts, rules: Rulebook) -> ChallengeResult:
    """Count the challenges passed in a row, the newest first. A try is a dose of at least the challenge's size with
    readings of ammonia and nitrite after it; both must be clear or at most one kit step within the hours named; a
    water change or another dose in between voids it."""
    wanted = challenge_mg_n_l(node, facts, rules) * 0.995
    hours = rules.hours(node.hours)
    horizon = rules.hours(node.within) * HOUR if node.within else float("inf")
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display" and r.latest > facts.floor and facts.now - r.earliest <= horizon]
    passed, told, used = 0, [], []
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
            if number == len(doses) - 1 or unsure:
                continue
            break
        tried = True
        told += [tell(r) for r in rows]
        used += rows
        if not verdict:
            told.append(f"the dose of {dose.day.isoformat()} was not gone in time")
            break
        if rows[0].day not in days:
            days.add(rows[0].day)
            passed += 1
            told.append(f"the dose of {dose.day.isoformat()} was handled")
        if passed == node.times:
            break
    if passed < node.times and needs_time:
        told.append("write the time of day of the dose and of the test")
    return ChallengeResult(passed, tried, needs_time, tuple(told), tuple(used))


def dose_rise(row: Row, facts: Facts) -> float:
    """The rise that a dose made, mg/L as N. A mass is taken as ammonium chloride."""
    if row.low is None:
        return 0.0
    if row.unit.strip().lower() in ("g", "mg", "kg", "oz", "lb"):
        return n_rise_mg_l(row.low, facts.net_volume_l)
    # A volume of some solution says nothing of its strength.
    return 0.0 if row.unit.strip().lower() in ("l", "ml", "gal", "fl oz") else row.low


def _one_challenge(dose: Row, until: float, hours: float, facts: Facts, rules: Rulebook) -> tuple[bool | None, list[Row], bool]:
    """(passed, rows, "would pass if only the times were written")."""
    for change in facts.rows("changed_water"):
        if change.where == "display" and dose.earliest < change.latest and change.earliest <= min(until, dose.latest + hours * HOUR):
            return None, [], False
    found: list[Row] = []
    unsure = False
    for name in ("ammonia", "nitrite"):
        step = kit_step(name, facts.tank, rules)
        after = [r for r in facts.rows("reading", name)
                 if r.where == "display" and r.high is not None and r.latest > dose.latest and r.earliest <= until and not disturbed(r, name, facts, rules)]
        last = [r for r in after if r.earliest - dose.latest <= (hours + 24) * HOUR]
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


def task_rule(key: str, rules: Rulebook) -> TaskRule | None:
    """The rule of a task key, from phases and alerts."""
    return rules.tasks.get(key)


def owners(rules: Rulebook) -> Iterator[tuple[str, tuple[TaskRule, ...]]]:
    """Every phase and alert id with its tasks."""
    yield from ((p.phase, p.tasks) for p in rules.phases)
    yield from ((a.alert, a.tasks) for a in rules.alerts)


def tell(row: Row) -> str:
    """A journal row as a short sentence with its day and line."""
    when = _when(row)
    value = f" {row.value}{' ' + row.unit if row.unit else ''}" if row.value else ""
    where = "" if row.where == "display" else f" ({row.where})"
    word = "" if row.kind in ("reading", "event") else row.kind.replace("_", " ") + " "
    title = READINGS[row.what].title if row.kind == "reading" and row.what in READINGS else row.what
    return f"{when} {word}{title}{value}{where}, line {row.line}"


def _when(row: Row) -> str:
    return row.at.strftime("%Y-%m-%d %H:%M") if row.at is not None else row.day.isoformat()


def tell_hours(hours: float) -> str:
    """Hours as people say them."""
    if hours >= 72 and hours % 24 == 0:
        return f"{hours / 24:g} days"
    return f"{hours:g} hour{'s' if hours != 1 else ''}"
