"""What readings prove: grouped by instant, how long they count, what disturbs them, and the kit's zero.

Every rule here errs towards "unknown": bare dates are taken as the whole day, a limit in hours holds only if it
holds for every instant of the days written.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import tzinfo
from operator import attrgetter

from planner.files.journal_write import tag_of
from planner.files.tank import Tank
from planner.files.tank_kits import Kit
from planner.frozen import dataclass
from planner.judge.facts import Facts, Instant, beside, end_of_day, last_reading, share_changed
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.science.ammonia import nh3_fraction_upper, species_mg_l_from_n
from planner.terms.records import Answer, Row, Unreadable
from planner.terms.traces import BeforeChange, Stale, TooSoon
from planner.terms.written_amounts import nitrogen_factor

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


def reading_groups(name: str, where: str, facts: Facts, rules: Rulebook, since: Instant | None = None, unsettled: bool = False, dose: Row | None = None, but: frozenset[str] = frozenset()) -> Iterator[LeveledReading]:
    """Readings of a water from the newest back, those of overlapping instants together. Left out: what a dose or a
    change in the same hours disturbs (unless `unsettled`), what lies at or before `since` (the instant of `dose`, a row that changed the water), what a
    lapsed gate no longer counts, and entries with a tag of `but`."""
    step = kit_step(name, facts.tank, rules)
    group: list[Row] = []
    for row in _newest_first(name, where, facts, since, dose, but):
        if not unsettled and disturbed(row, name, facts, rules):
            continue
        if group and row.latest <= min(r.earliest for r in group) and not (row.day == group[0].day and row.earliest == group[0].earliest):
            yield _level(group, step)
            group = []
        group.append(row)
    if group:
        yield _level(group, step)


def _newest_first(name: str, where: str, facts: Facts, since: Instant | None, dose: Row | None, but: frozenset[str]) -> Iterator[Row]:
    """Readings of a water that lie after a lapse and after `since`, without entries that have a tag of `but`."""
    for row in reversed(facts.rows("reading", name)):
        if row.where == where and row.low is not None and row.latest > facts.floor and (since is None or not _before(row, since, dose)) and not (but and tag_of(row.note) in but):
            yield row


def _before(row: Row, since: Instant, dose: Row | None) -> bool:
    """Not surely after an instant: a bare date on the instant's own day may be from before it."""
    if dose is not None and written_before(row, dose):
        return True
    return row.day < since[0] or (row.day == since[0] and row.earliest < since[1] and not (row.at is None and row.latest == since[1]))


def written_before(row: Row, dose: Row) -> bool:
    """Of one exact instant: a test written in a line before the dose was taken before it, as an evening entered for a past day stands there."""
    return row.at is not None and dose.at is not None and row.earliest == dose.latest and row.line < dose.line


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
    """A reading soon after a dose, or in the same hour as a large water change, is no evidence. A bare date beside a dose
    of the same bare date stays in: the order within the day cannot be told, and the worse reading rules anyway."""
    return _disturbance(row, name, facts, rules) is not None


def _disturbance(row: Row, name: str, facts: Facts, rules: Rulebook) -> tuple[Row, float] | None:
    """The dose or change that disturbs a reading, and the hours for which it does."""
    subject = {"ammonia": "ammonia", "nitrite": "ammonia", "alkalinity": "bicarbonate", "ph": "bicarbonate"}.get(name)
    if subject is not None:
        hours = rules.hours("settle_after_dose" if subject == "ammonia" else "settle_after_bicarbonate")
        if (dose := _close_after(row, facts.rows("dosed", subject), hours, lambda d: not written_before(row, d))) is not None:
            return dose, hours
    limit = rules.number("change_disturbs") / 100
    change = _close_after(row, facts.rows("changed_water"), 1.0, lambda c: not written_before(row, c) and share_changed(c, facts) > limit * 1.000001)
    return (change, 1.0) if change is not None else None


def too_soon(name: str, where: str, facts: Facts, rules: Rulebook, since: Instant | None = None, dose: Row | None = None, but: frozenset[str] = frozenset()) -> tuple[Row, TooSoon] | None:
    """The newest reading of a water and why it does not count yet, or None if it counts. An older one does not speak in
    its place: it is from before the dose or the change."""
    row = next(_newest_first(name, where, facts, since, dose, but), None)
    if row is None or (found := _disturbance(row, name, facts, rules)) is None:
        return None
    cause, hours = found
    return row, TooSoon(hours, cause)


def unread(name: str, where: str, facts: Facts, rules: Rulebook) -> Unreadable | None:
    """The first journal line that hides this reading. A test that cannot be read counts as the worst it may have said until the
    test was made twice on later days: these speak in its place, whatever they show."""
    return next((line for line in facts.unreadable(name, where) if not _tested_since(line, name, where, facts, rules)), None)


def _tested_since(line: Unreadable, name: str, where: str, facts: Facts, rules: Rulebook) -> bool:
    if line.kind != "reading" or line.day is None:
        return False
    later = [r for r in facts.rows("reading", name) if r.where == where and r.low is not None and r.day > line.day and r.earliest >= line.moment]
    return any(days_apart(later[0], r, rules.hours("spacing")) for r in later[1:])


def days_apart(older: Row, newer: Row, hours: float) -> bool:
    return older.day != newer.day and (older.at is None or newer.at is None or newer.earliest - older.latest >= hours * HOUR)


def _close_after(row: Row, doses: Sequence[Row], hours: float, counts: Callable[[Row], bool] = lambda _: True) -> Row | None:
    for n in range(bisect_right(doses, row.day, key=attrgetter("day")) - 1, -1, -1):
        dose = doses[n]
        if row.earliest - dose.latest > hours * HOUR:
            return None
        if dose.where == row.where and row.at is not None and dose.at is not None and 0 <= row.earliest - dose.earliest < hours * HOUR and counts(dose):
            return dose
    return None


def freshness_h(name: str, rules: Rulebook) -> float:
    """Hours for which a reading of this name counts, from the numbers `fresh_<name>`."""
    return rules.hours(f"fresh_{name}")


def stale_because(group: LeveledReading, facts: Facts, rules: Rulebook, limit_h: float, ends_at: str = "fresh_ends_at_change") -> Stale | BeforeChange | None:
    """Why a reading no longer counts, or None. A reading of the plan's own day is fresh. `ends_at`: the share of a change of water that ends it, a larger one does."""
    day = group.rows[0].day
    if day != facts.cut[0] and facts.now - group.earliest > limit_h * HOUR:
        return Stale(limit_h)
    limit = rules.number(ends_at) / 100
    for change in reversed(facts.rows("changed_water")):
        if change.where != group.rows[0].where:
            continue
        if change.latest < group.earliest or (change.day < day):
            break
        if share_changed(change, facts) > limit and (change.latest > group.earliest or any(written_before(row, change) for row in group.rows)):
            return BeforeChange(change.day)
    return None


def apart(older: LeveledReading, newer: LeveledReading, hours: float) -> bool:
    """Different days as written, and `hours` apart where both rows carry a time. For no hours at all two tests of one day do."""
    if older.rows[0].day == newer.rows[0].day:
        return hours == 0 and newer.earliest > older.latest
    timed = older.rows[0].at is not None and newer.rows[0].at is not None
    return not timed or newer.earliest - older.latest >= hours * HOUR


def apart_from(older: LeveledReading, hours: float, zone: tzinfo) -> float:
    """The first instant at which a test lies `apart` from this one."""
    midnight = end_of_day(older.rows[0].day, zone)
    return midnight if older.rows[0].at is None else max(midnight, older.latest + hours * HOUR)


def kit_step(name: str, tank: Tank, rules: Rulebook) -> float:
    """The kit's smallest step in internal units; a cautious default where the kit is not described."""
    kit = tank.test_kits.get(name)
    step = kit.step_internal(name) if kit is not None else None
    if step is not None:
        return step
    return rules.number("kit_step_unknown") if name in ("ammonia", "nitrite") else DEFAULT_STEP.get(name, float("inf"))


def most_below(below: float, kit: Kit | None) -> float:
    """The highest step of the keeper's own ammonia kit that is below a limit in mg/L as N, as the kit counts (as N where nobody said). No card is read finer than 0.1."""
    known = kit is not None and kit.basis is not None
    limit, step = below * nitrogen_factor("ammonia", (kit.basis if kit is not None else None) or "N"), (kit.step if kit is not None and known else None) or 0.1
    return round(math.floor((limit - 1e-9) / step) * step, 9)


def kit_sd(name: str, value: float, facts: Facts, rules: Rulebook) -> float:
    """Standard error of one reading, in the unit of `value` (nitrogen as the ion)."""
    kit = facts.tank.test_kits.get(name)
    step = kit.step_internal(name) if kit is not None else None
    if name == "alkalinity":
        return max(rules.number("kit_error_alkalinity_fine"), rules.number("kit_error_alkalinity") * (1.0 if step is None else step))
    if name in ("nitrate", "phosphate"):
        return max(rules.number(f"kit_error_{name}"), value * rules.number("kit_error_share") / 100)
    return rules.number(f"kit_error_{name}")


DEFAULT_STEP = {"salinity": 1.0, "temperature": 1.0, "ph": 0.3, "alkalinity": 1.0}
"""Two readings of one instant that differ by more disagree (common practice, no source)."""


def clear_level(name: str, tank: Tank, rules: Rulebook) -> tuple[float, bool]:
    """The figure for "clear" in mg/L as N, and whether a reading must lie below it (True) or may equal it (False).

    A blank of the kit counts up to one usual step; more means a faulty kit or mix. Half a step counts where it lies under
    the first alarm. A finer kit is never punished for seeing what a coarser one cannot.
    """
    level = rules.number("clear_without_kit")
    kit = tank.test_kits.get(name)
    if kit is None:
        return level, False
    blank, step = kit.blank_internal(name), kit.step_internal(name)
    if blank is not None and blank <= rules.number("kit_step_unknown") and (step is None or blank <= step * 1.000001):
        level = max(level, blank)
    alarm = {"ammonia": "alarm_ammonia_twice", "nitrite": "alarm_nitrite"}.get(name)
    if step is not None and level < step / 2 and (alarm is None or step / 2 < rules.number(alarm)):
        return step / 2, True
    return level, False


def proof_level(name: str, tank: Tank, rules: Rulebook) -> float:
    """What may be left of a proof dose, mg/L as N: the larger of clear and one step of the kit, at most one usual step."""
    return min(max(clear_level(name, tank, rules)[0], kit_step(name, tank, rules)), rules.number("kit_step_unknown"))


def clear_answer(name: str, group: LeveledReading, tank: Tank, rules: Rulebook) -> Answer:
    """Are all readings of an instant the kit's zero? The first that is not decides."""
    zero = zero_test(name, tank, rules)
    return next((answer for row in group.rows if (answer := zero(row)) != Answer.YES), Answer.YES)


def zero_test(name: str, tank: Tank, rules: Rulebook) -> Callable[[Row], Answer]:
    """The question whether a reading is the kit's zero. `<x` with x at most the smallest step is a zero."""
    level, strict = clear_level(name, tank, rules)
    step = max(kit_step(name, tank, rules), level)

    def answer(row: Row) -> Answer:
        high = row.high if row.high is not None else row.low or 0.0
        below = row.value.lstrip().startswith("<")
        if high <= step * 1.000001 if below else (high < level if strict else high <= level * 1.000001):
            return Answer.YES
        return Answer.UNKNOWN if below else Answer.NO

    return answer


def newest_of(rows: Sequence[Row], last: int) -> Iterator[Row]:
    """The row at `last` and those before it that `reading_groups` may take together with it, whichever rows it leaves out.
    Two offsets may name one instant by days two apart, and no more."""
    oldest, day = rows[last].earliest, rows[last].day
    yield rows[last]
    for n in range(last - 1, -1, -1):
        row = rows[n]
        if (day - row.day).days > 2:
            return
        if row.latest > oldest or row.earliest == oldest:
            oldest, day = min(oldest, row.earliest), row.day
            yield row


def as_free(group: LeveledReading, where: str, facts: Facts, rules: Rulebook) -> LeveledReading:
    """An ammonia reading as free ammonia, mg/L as NH3, by the upper published value, in the water of `water_of`."""
    share = nh3_fraction_upper(*water_of(where, facts, rules)) * species_mg_l_from_n(1.0, "NH3")
    return replace(group, low=group.low * share, high=group.high * share)


def as_at_35(group: LeveledReading, facts: Facts, rules: Rulebook) -> LeveledReading:
    """A salt of sea water as at 35 ppt: value x 35 / the salinity read nearest to it in time (constant proportions, TEOS-10)."""
    share = at_35(group.worst, facts, rules)
    return replace(group, low=group.low * share, high=group.high * share)


def at_35(row: Row, facts: Facts, rules: Rulebook) -> float:
    """By what a reading of a salt is multiplied to stand as at 35 ppt. What would move it by less than its kit is off by leaves it."""
    salinity = beside(row, "salinity", facts)
    read = salinity.low if salinity is not None and salinity.low is not None else facts.tank.water.salinity
    share, value = rules.number("standard_salinity") / min(45.0, max(5.0, read)), row.low or 0.0
    return 1.0 if abs(share - 1.0) * value < kit_sd(row.what, value, facts, rules) else share


def water_of(where: str, facts: Facts, rules: Rulebook) -> tuple[float, float, float]:
    """pH, °C and salinity as last read. A pH that was never read is taken at its upper alarm level, temperature and
    salinity as the tank is meant to be: the careful side."""
    def last(name: str, default: float) -> float:
        row = last_reading(name, facts, where)
        return row.low if row is not None and row.low is not None else default

    return (min(9.0, max(7.0, last("ph", rules.number("alarm_ph_free_ammonia")))),
            min(34.0, max(10.0, last("temperature", facts.tank.water.temperature_c))),
            min(40.0, max(5.0, last("salinity", facts.tank.water.salinity))))


def owners(rules: Rulebook) -> Iterator[tuple[str, tuple[TaskRule, ...]]]:
    """Every phase and alert id with its tasks."""
    yield from ((p.phase, p.tasks) for p in rules.phases)
    yield from ((a.alert, a.tasks) for a in rules.alerts)
