"""A reading within limits: grouped by instant, not too soon, not too old, not in dispute, and often enough."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from functools import partial

from planner.files.journal_write import tag_of
from planner.frozen import dataclass
from planner.judge import evidence
from planner.judge.evidence import LeveledReading
from planner.judge.facts import Instant, instant_of, last_reading
from planner.judge.kinds.bounds import above, at_least, at_most, below
from planner.judge.kinds.kind import Days, Diary, JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NEVER, NO, UNKNOWN, YES, Scene, both, done_rows, last_instant
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.shapes import Rulebook
from planner.terms.readings import unit_factor
from planner.terms.records import Amount, Answer, Row, Trace
from planner.terms.traces import Asked, BeforeChange, Disagree, NoneSince, NoReading, NothingSince, Outside, Repetitions, Stale, Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAsked(Asked):
    """Limits as the rules write them, unit included. `basis`: how the keeper's kit counts, None where nobody said."""

    name: str
    where: str
    free: bool
    at_35: bool
    clear: bool
    times: int
    at_least: Amount | None
    at_most: Amount | None
    above: Amount | None
    below: Amount | None
    basis: str | None
    units: str


def asked(node: ReadingNode, scene: Scene) -> ReadingAsked:
    """What is asked, with its limits."""
    def limit(name: str | None) -> Amount | None:
        return Amount(scene.rules.numbers[name].value, scene.rules.numbers[name].unit) if name else None

    kit = scene.facts.tank.test_kits.get(node.name)
    return ReadingAsked(name=node.name, where=node.where, free=node.free, at_35=node.at_35, clear=node.clear, times=node.times, at_least=limit(node.at_least), at_most=limit(node.at_most),
                        above=limit(node.above), below=limit(node.below), basis=kit.basis if kit is not None else None, units=scene.facts.tank.units)


def answer(node: ReadingNode, scene: Scene) -> Trace:
    facts, rules = scene.facts, scene.rules
    what = asked(node, scene)
    hidden = evidence.unread(node.name, node.where, facts, rules)
    if hidden is not None:
        damaged = Unread(facts.journal.file, hidden.line)
        return Trace(what, UNKNOWN, (damaged,), gap=damaged)
    if node.lately is not None:
        return _lately(node, what, scene)
    begin = last_instant(node.since, scene) if node.since else None
    if node.since and begin is None:
        return Trace(what, UNKNOWN, (NothingSince(node.since),), gap=NothingSince(node.since))
    dose, but = _dose(node, scene), _tags(node, scene)
    soon = evidence.too_soon(node.name, node.where, facts, rules, begin, dose, but) if not scene.doubtful else None
    if soon is not None:
        return Trace(what, UNKNOWN, soon, (soon[0],), gap=soon[1])
    if node.ever:
        found_once = next((g for g in evidence.reading_groups(node.name, node.where, facts, rules, begin, True, dose, but) if not g.disagree and _within(node, g, scene) == YES), None)
        if found_once is not None:
            return Trace(what, YES, (found_once.worst,), found_once.rows)
    groups = evidence.reading_groups(node.name, node.where, facts, rules, begin, bool(scene.doubtful), dose, but)
    newest = next(groups, None)
    if newest is None:
        nothing = NoneSince(node.since) if node.since and last_reading(node.name, facts, node.where) is not None else NoReading()
        return Trace(what, UNKNOWN, (nothing,), gap=nothing)
    told = newest.worst
    if newest.disagree and scene.doubtful:
        newest = evidence.outermost(newest, highest=scene.doubtful == "highest")
    limit_h = float("inf") if scene.ageless else rules.hours(node.fresh) if node.fresh else evidence.freshness_h(node.name, rules)
    stale = None if node.any_age or node.ever else evidence.stale_because(newest, facts, rules, limit_h, node.through_changes or "fresh_ends_at_change")
    if stale is not None:
        return Trace(what, UNKNOWN, (told, stale), newest.rows, gap=stale)
    if newest.disagree:
        return Trace(what, UNKNOWN, (told, Disagree()), newest.rows, gap=Disagree())
    found = _within(node, newest, scene)
    if found != YES or node.times == 1:
        return Trace(what, found, (told,), newest.rows, gap=None if found == YES else Outside())
    kept, good, hours = [newest], [newest], rules.hours(node.apart or "spacing")
    torn = max((line.moment for line in facts.unreadable(node.name, node.where)), default=float("-inf"))
    for group in groups:
        # A test that cannot be read stands between, and may have shown anything.
        if group.earliest < torn <= newest.earliest or group.disagree or _within(node, group, scene) != YES:
            break
        good.append(group)
        if evidence.apart(group, kept[-1], hours):
            kept.append(group)
            if len(kept) == node.times:
                break
    seen = tuple(g.worst for g in reversed(kept))
    rows = tuple(row for g in reversed(kept) for row in g.rows)
    if len(kept) == node.times:
        return Trace(what, YES, seen, rows)
    missing = Repetitions(len(kept), node.times, min(evidence.apart_from(g, hours, facts.zone) for g in good), len(good) > len(kept))
    return Trace(what, UNKNOWN, (*seen, missing), rows, gap=missing)


def _dose(node: ReadingNode, scene: Scene) -> Row | None:
    """The row that changed the water, of what `since` names: the fact, or the tick of a job. A test written before it in its own minute was made before
    it. The reading of a job that reads this itself stands in the line before its tick."""
    kind, _, dosed = (node.since or "").partition(":")
    if kind == "dosed":
        return next((r for r in reversed(scene.facts.rows(kind, dosed)) if r.where == "display"), None)
    task = scene.rules.tasks.get(kind)
    return next(reversed(done_rows(kind, scene)), None) if task is not None and node.name not in task.reads else None


def _tags(node: ReadingNode, scene: Scene) -> frozenset[str]:
    """The tags of the entries that answered the test which this condition leaves out."""
    return frozenset(tag for row in done_rows(node.not_of, scene) if (tag := tag_of(row.note)) is not None) if node.not_of else frozenset()


def _lately(node: ReadingNode, what: ReadingAsked, scene: Scene) -> Trace:
    """Did any reading of the time lie within the limits? The newest that did answers."""
    assert node.lately is not None
    oldest = scene.facts.now - scene.rules.hours(node.lately) * 3600
    for group in evidence.reading_groups(node.name, node.where, scene.facts, scene.rules, None, unsettled=True):
        if max(r.latest for r in group.rows) < oldest:
            break
        if _within(node, group, scene) == YES:
            return Trace(what, YES, (group.worst,), group.rows)
    return Trace(what, NO, (NoReading(),), gap=NoReading())


def _within(node: ReadingNode, group: LeveledReading, scene: Scene) -> Answer:
    """Every limit named, against an interval: yes only if the whole interval lies inside."""
    if node.free:
        group = evidence.as_free(group, node.where, scene.facts, scene.rules)
    if node.at_35:
        group = evidence.as_at_35(group, scene.facts, scene.rules)
    answers = [evidence.clear_answer(node.name, group, scene.facts.tank, scene.rules)] if node.clear else []
    return both([*answers, *(limit(group.low, group.high) for limit in _limits(node, scene))])


def _limits(node: ReadingNode, scene: Scene) -> list[Callable[[float, float], Answer]]:
    """Each limit as a question to an interval."""
    found: list[Callable[[float, float], Answer]] = []
    for bound, limit in ((node.at_least, at_least), (node.at_most, at_most), (node.above, above), (node.below, below)):
        if bound is not None:
            factor = 1.0 if node.free else unit_factor(node.name, scene.rules.numbers[bound].unit)
            found.append(partial(limit, round(scene.rules.number(bound) * factor, 9)))
    return found


def may_hold(node: ReadingNode, scene: Scene) -> Possible:
    """While at least one of the newest readings that belong together lies inside. Free ammonia, and what is judged as at
    35 ppt, rest on other readings too, so it may always hold once there is one."""
    rows = scene.facts.rows("reading", node.name)
    but = _tags(node, scene)
    if node.free or node.at_35 or node.lately:
        return since(next((instant_of(r) for r in rows if _counts(r, node, but)), NEVER))
    limits = _limits(node, scene)
    zero = evidence.zero_test(node.name, scene.facts.tank, scene.rules) if node.clear else None

    def inside(row: Row) -> bool:
        low = row.low or 0.0
        return all(limit(low, row.high if row.high is not None else low) == YES for limit in limits) and (zero is None or zero(row) == YES)

    if node.ever:
        return since(next((instant_of(r) for r in rows if _counts(r, node, but) and inside(r)), NEVER))

    def first(after: Instant) -> Instant:
        newest = bisect_right(rows, after, key=instant_of) - 1
        while newest > 0 and not _counts(rows[newest], node, but):
            newest -= 1
        for n in range(max(0, newest), len(rows)):
            if _counts(rows[n], node, but) and any(inside(r) for r in evidence.newest_of(rows, n) if _counts(r, node, but)):
                return max(after, instant_of(rows[n]))
        return NEVER

    return first


def _counts(row: Row, node: ReadingNode, but: frozenset[str]) -> bool:
    """Is it a reading of this water, with a value?"""
    return row.where == node.where and row.low is not None and not (but and tag_of(row.note) in but)


def days_needed(node: ReadingNode, trace: Trace, diary: Diary) -> Days:
    """The next test that reads it, with the repetitions still missing."""
    if isinstance(trace.gap, (Stale, BeforeChange)):  # one fresh test brings the older ones back, which only had grown old
        trace = diary.ageless(node.model_copy(update={"any_age": True}))
    missing = trace.gap.missing if isinstance(trace.gap, Repetitions) else 1 if trace.answer == Answer.YES else node.times
    gap_days = max(1, diary.rules.days(node.apart)) if node.apart else 1
    found = [diary.of_test(node.name, node.where, missing, gap_days, node.since)]
    # A row of clear readings begins when the forecast expects the first.
    return found + diary.of_clear(node.name, (missing - 1) * gap_days) if node.clear else found


def fresh_h(node: ReadingNode, rules: Rulebook) -> float | None:
    """For how long a test speaks."""
    return None if node.any_age or node.ever else rules.hours(node.fresh) if node.fresh else evidence.freshness_h(node.name, rules)


KIND = JudgedKind(answer, may_hold, days_needed, fresh_h=fresh_h)
