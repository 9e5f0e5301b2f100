"""One day, one set of orders: once dates are known, orders that shut each other out are settled by the lines of
`together.yaml`. What yields comes on another day, or is left out, and says why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from planner.judge.animals_in_journal import GENERAL
from planner.judge.conditions import judge_condition, may_hold_animals, newest_day
from planner.judge.facts import Facts, last_meal, reaches, share_changed
from planner.judge.gates import Verdicts
from planner.judge.kinds.event import answer as answer_event
from planner.judge.scene import Scene
from planner.plan.done_in_vain import leave_treadmills
from planner.plan.dues import Dues
from planner.plan.one_test import merge_tests
from planner.plan.orders import ROW_KINDS, First, Order, Orders
from planner.plan.remedies import cap_remedies, change_again, merge_changes
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.shapes import Rulebook, Stuck
from planner.rulebook.walk import leaves
from planner.rulebook.what_jobs_do import NEVER_CAPPED, SETS_FOOD, WRITTEN_ACTS, Act, Apart, written_act
from planner.terms.records import WATERS, Answer, Row, Yielded


def settle(dues: Dues, facts: Facts, verdicts: Verdicts, rules: Rulebook, advice: Stuck | None = None) -> Dues:
    """The same orders, none of which shuts another one of its day out. `advice`: the standstill that is told, which may
    ask to leave out ammonia."""
    orders = Orders(dues.tasks, Scene(facts, rules, verdicts.opened), frozenset(alert.alert for alert, _ in verdicts.alerts),
                    frozenset((alert.alert, row.where) for alert, trace in verdicts.alerts if trace.gap is None for row in trace.rows if row.kind == "reading"))
    leave_treadmills(orders)
    change_again(orders)
    for line in rules.apart:
        if line.how == "merge":
            merge_changes(orders, line)
            continue
        if line.hands_out:
            _hands_out(orders, line)
            continue
        for act in line.yields:
            for order in orders.open_with(act):
                _settle_one(orders, line, act, order)
    if advice is not None:
        until = rest_until(advice, facts, rules)
        for order in orders.open_with("adds_ammonia"):
            # What only a test may bring is no order of the day on which the standstill is told, however long the tank was silent.
            first_day = max(filter(None, (until, orders.tomorrow if order.due.tentative else None)), default=None)
            if order.day is not None and first_day is not None and order.day < first_day:
                orders.put_off(order, first_day, Yielded("rests"))
    _ask_whether_they_came(orders)
    _test_once_settled(orders)
    merge_tests(orders, verdicts)
    _test_before_what_spoils(orders)
    cap_remedies(orders)
    return replace(dues, tasks=orders.dues())


def rest_until(advice: Stuck, facts: Facts, rules: Rulebook) -> date | None:
    """The day on which the rest that the advice asks for ends; None once it is over. It counts from the last meal of the
    filter, so that a filter that stands still for weeks is not starved."""
    last = last_meal(facts)
    if advice.rests is None or last is None:
        return None
    until = last + timedelta(days=rules.days(advice.rests))
    return until if until > facts.on else None


def _settle_one(orders: Orders, line: Apart, act: Act, order: Order) -> None:
    ahead = order.day is not None and order.day > orders.on and (order.due.due is None or order.due.due > orders.on)  # on the day of a return what is due has tomorrow's date
    if order.day is None or (line.how == "leave_out" and not line.lasting and (ahead or order.due.tentative)):
        return  # what is left out for one day is settled on that day
    # A page of the day of a return asks for it today, whatever its date: an alarm of today holds for it.
    day = orders.on if order.day > orders.on and not ahead and line.how == "leave_out" and _is_return(orders) else order.day
    firsts = [f for f in _firsts(orders, line, order.due.rule.where, day) if _collides(orders, line, act, order, f, day)]
    if not firsts:
        return
    first = min(firsts, key=lambda f: (f.order is None, f.day))
    named = first.order.due if first.order is not None else None
    why = Yielded("left_out", line.id, named.id if named else "", named.rule.title if named else "", None, line.say, instead=line.instead)
    if line.how == "leave_out":
        if line.lasting and first.order is not None and order.due.rule.every is not None and order.day > orders.on and not order.due.rule.act_steps.get(act):
            order.dropped = True  # what repeats is dated up to the day on which it ends, and no further
        elif line.lasting and any(o is not order and o.due.key == order.due.key and o.due.left_out for o in orders.all):
            order.dropped = True  # the first one of them says why
        else:
            orders.without(order, act, why)
    elif order.due.rule.act_steps.get(act):
        orders.without(order, act, why)
    else:
        after = max(1, orders.days.whole_days(line.after) or 1)
        orders.put_off(order, max(f.day for f in firsts) + timedelta(days=after), replace(why, way="put_off"))


def _hands_out(orders: Orders, line: Apart) -> None:
    """While the alert stands only looking is left, what helps people, and what is bought; the rest comes back from day to day."""
    if orders.up.isdisjoint(line.while_alerts):
        return
    why = Yielded("put_off", line.id, because=line.say)
    tanks = _tanks_named(orders, line) if line.own_water else set()
    for order in orders.all:
        rule = order.due.rule
        if not orders.is_today(order) or (tanks and (rule.where == "quarantine") not in tanks) or order.due.phase in orders.for_people or rule.role == "shopping" or (rule.role == "remedy" and order.rank in line.unless_ranks):
            continue
        if rule.evening != "look":
            orders.put_off(order, orders.tomorrow, why)
            continue
        for act in rule.act_steps:
            orders.without(order, act, replace(why, way="left_out"))


def _tanks_named(orders: Orders, line: Apart) -> set[bool]:
    """Of which tank an alert of this line was noted, and is not over: true for quarantine, false for the display with the bins beside it.
    Empty where nobody can tell."""
    asked = [leaf for alert in orders.rules.alerts if alert.alert in orders.up.intersection(line.while_alerts) for leaf, _ in leaves(alert.when) if isinstance(leaf, EventNode)]
    return {where == "quarantine" for leaf in asked for where in WATERS if answer_event(leaf.model_copy(update={"where": where}), orders.scene).answer != Answer.NO}


def _is_return(orders: Orders) -> bool:
    return any(away.to_day == orders.on for away in orders.facts.tank.keeper.away)


def _collides(orders: Orders, line: Apart, act: Act, order: Order, first: First, day: date) -> bool:
    if order.due.phase in line.while_alerts:
        return False  # the jobs of an alarm are what ends it
    if first.order is order or (order.due.rule.role == "remedy" and order.rank in line.unless_ranks):
        return False
    earliest, latest = _clear_days(orders, line, day)
    if not earliest <= first.day <= latest:
        return False
    if first.act == act and first.order is not None and _before(orders, act, order, first.order):
        return False
    grave = first.order is not None and first.order.due.rule.role == "remedy" and first.order.rank in NEVER_CAPPED
    if line.once and first.order is not None and not grave and order.due.due is not None and order.due.due < orders.on:
        return False  # what is late gives way no second time, but to what may kill
    if line.once and _left_out_tomorrow(orders, act, order, day):
        return False  # a meal of the filter that waited for tomorrow would be none: animals come
    if line.large is not None and not reaches(first.share, orders.rules.number(line.large)):
        return False
    if line.how == "postpone" and act != "adds_animals" and first.order is not None and first.order in _may_have_come(orders):
        return False  # nothing but animals waits day after day for animals of which nobody knows
    if not first.firm and not order.due.tentative and (day <= orders.on or act == first.act or (act == "adds_ammonia" and day <= first.day)):
        return False  # what waits for a test does not stop an order of today, nor animals whose way is clear, nor a meal of the filter before it
    # Until its way is clear the day of a stage is an estimate.
    return not (act == first.act == "adds_animals" and order.due.tentative)


def _left_out_tomorrow(orders: Orders, act: Act, order: Order, day: date) -> bool:
    """Would an order that gives way on a day be left out on the next one, for what is dated and comes first for good?"""
    tomorrow = day + timedelta(days=1)
    for line in orders.rules.apart:
        if line.how == "leave_out" and line.lasting and act in line.yields:
            last = _clear_days(orders, line, tomorrow)[1]
            if any(o.day is not None and tomorrow <= o.day <= last and not o.due.tentative and o.due.rule.where == order.due.rule.where for first in line.first for o in orders.open_with(first)):
                return True
    return False


def _before(orders: Orders, act: Act, one: Order, other: Order) -> bool:
    """Of two orders of one act: does the first go before the second? What was only never ticked, though the journal shows
    that it happened, goes last; then what ranks higher goes first. Of animals the second half of the crew goes last:
    nothing waits for it."""
    def late(order: Order) -> bool:
        if act == "adds_animals":
            return order.due.rule.known_as == "second_half"
        return order.due.trace is None and (act, order.due.rule.where) in orders.written

    return (late(one), one.goes) < (late(other), other.goes)


def _firsts(orders: Orders, line: Apart, where: str, day: date) -> Iterator[First]:
    """What goes first by this line in one water. Of other orders only those whose days reach `day`."""
    if line.while_animals:
        if may_hold_animals(where, orders.scene):
            yield First(date.min)
        yield from (First(orders.on, order=o) for o in _may_have_come(orders) if o.due.rule.where == where)
        return
    if line.while_alerts:
        if any((alert, where) in orders.shown for alert in line.while_alerts) if line.while_shown else not orders.up.isdisjoint(line.while_alerts):
            yield First(orders.on)
        return
    if line.after_absence:
        read = orders.facts.last("reading", line.until_read) if line.until_read is not None else None
        if orders.days.back_days:
            yield from (First(day) for away in orders.facts.tank.keeper.away if away.nights >= orders.days.long_nights and (read is None or read.day < away.to_day)
                        for day in ((away.from_day, away.to_day) if line.before else (away.to_day,)))
        return
    if line.first_ranks:
        yield from (First(orders.on, order=o) for o in orders.all if o.rank in line.first_ranks and o.due.rule.role == "remedy" and o.due.rule.where == where and orders.is_today(o))
        return
    clear = _clear_days(orders, line, day)
    for act in line.first:
        if act in SETS_FOOD:
            yield from (First(orders.on, act, o) for o in orders.all if act in o.acts and o.due.rule.where == where and _stands_today(orders, o))
            continue
        for other in orders.open_with(act):
            if other.day is not None and clear[0] <= other.day <= clear[1] and other.due.rule.where == where:
                yield First(other.day, act, other, not other.due.tentative, orders.share(other))
        if (line.id, act, where) not in orders.done_before:
            orders.done_before[line.id, act, where] = tuple(_in_the_journal(orders, line, act, where))
        yield from orders.done_before[line.id, act, where]


def _clear_days(orders: Orders, line: Apart, day: date) -> tuple[date, date]:
    """The first and the last day on which what goes first by this line would keep `day` clear."""
    before = orders.days.whole_days(line.before) if line.before else 0
    after = max(1, orders.days.whole_days(line.after) if line.after else 1)
    return date.min if line.lasting else day - timedelta(days=after - 1), day + timedelta(days=before)


def _stands_today(orders: Orders, order: Order) -> bool:
    """Does an order to stop something hold today? It does as long as its cause does, ticked or not."""
    due = order.due
    if due.phase in orders.alerts:
        return True
    return orders.is_today(order) or (due.closed is not None and due.closed.kind == "done" and due.closed.day == orders.on) or (
        due.closed is None and not due.tentative and due.trace is not None and due.trace.answer == Answer.YES)


def _in_the_journal(orders: Orders, line: Apart, act: Act, where: str) -> Iterator[First]:
    """What was done within the days that the line looks back."""
    back = max(1, orders.days.whole_days(line.after) if line.after else 1)
    # Newcomers that were written down by hand may be those of the very order; a tick says whose they were.
    kinds = ("done",) if act in line.yields and act == "adds_animals" else ROW_KINDS if act in WRITTEN_ACTS.values() else (*ROW_KINDS, "done")
    for kind in kinds:
        for row in reversed(orders.facts.rows(kind)):
            if row.day <= orders.on - timedelta(days=back):
                break
            if row.where == where and act in _did(row, orders):
                yield First(row.day, act, share=share_changed(row, orders.facts) if kind == "changed_water" else 1.0)


def _did(row: Row, orders: Orders) -> frozenset[Act]:
    """What a row did to its water. Of an act that no fact stands for the tick of its task tells, and of a dose whether it was the daily one."""
    if row.kind == "done":
        task = orders.rules.tasks.get(row.what.partition("#")[0])
        return frozenset(task.acts) if task is not None else frozenset()
    act = written_act(row.kind, row.what)
    if act == "moves_alkalinity" and (row.earliest, row.where) in orders.daily_doses:
        return frozenset(("keeps_alkalinity",))
    return frozenset((act,)) if act is not None else frozenset()


def _may_have_come(orders: Orders) -> list[Order]:
    """Animals whose day has passed without a word, and with it a day on which they could be fetched with their way clear."""
    return [o for o in orders.open_with("adds_animals") if not o.due.tentative and o.due.due is not None and o.due.due < orders.on
            and ((day := orders.days.allowed(max(o.due.due, _clear_since(orders, o)), o.due.rule)) is None or day < orders.on)]


def _clear_since(orders: Orders, order: Order) -> date:
    """The day of the newest row that its guards waited for."""
    groups = {a.group for a in order.due.stage.animals} if order.due.stage is not None else set()
    tasks = orders.rules.tasks
    asked = [guard.when or (tasks[guard.task].when if guard.task else None) for guard in order.due.rule.guards if groups.intersection(guard.groups)]
    return max((day for condition in asked if condition is not None and (day := newest_day(judge_condition(condition, orders.scene))) is not None), default=date.min)


def _ask_whether_they_came(orders: Orders) -> None:
    """Of what stands on a day that has passed. What gave way to another arrival has a day ahead; what was written down by hand is known."""
    for order in _may_have_come(orders):
        if not _came_by_hand(orders, order):
            order.yielded.append(Yielded("asked", to=order.due.id))


def _came_by_hand(orders: Orders, order: Order) -> bool:
    """Was such an animal written down since the day of this arrival, by no tick of another one? Of a stage that names no animal any may
    be meant but those that another arrival names."""
    arrivals = {key: rule for key, rule in orders.rules.tasks.items() if rule.is_arrival}
    by_tick = {row.latest for row in orders.facts.rows("done") if row.what.partition("#")[0] in arrivals}
    own = order.due.rule.writes.what if order.due.rule.writes is not None else ""
    named = {a.animal_id for a in order.due.stage.animals} if order.due.stage is not None else {own}
    others = {rule.writes.what for rule in arrivals.values() if rule.writes is not None} - {own}
    return any(row.where == order.due.rule.where and row.day >= (order.due.due or row.day) and row.latest not in by_tick
               and (row.what in named or (order.due.stage is None and own in GENERAL and row.what not in others)) for row in orders.facts.rows("added"))


def _test_once_settled(orders: Orders) -> None:
    """A test of today comes tomorrow where a large change of today would make it show the change. Not the test of an alarm
    with a remedy, nor one that follows a task: they are for what was done. That of an alarm of food in the water is one of the day after. Nor
    one in quarantine, where fish are tested and watched every day."""
    limit = orders.rules.number("change_disturbs") / 100
    changed = {row.where: row for row in orders.facts.rows("changed_water") if row.day == orders.on and row.where != "quarantine" and share_changed(row, orders.facts) > limit + 1e-6}
    for order in orders.all:
        rule = order.due.rule
        if rule.role == "test" and rule.where in changed and orders.is_today(order) and (order.due.phase not in orders.alerts or (order.rank == "nutrients" and rule.wait is not None)) and not (rule.anchor is not None and rule.anchor.task):
            orders.put_off(order, orders.tomorrow, Yielded("settles"))


def _test_before_what_spoils(orders: Orders) -> None:
    """A test of today goes before an order of today that makes its reading say nothing."""
    for order in orders.all:
        spoils = order.due.rule.spoils
        if spoils is None or not orders.is_today(order):
            continue
        for test in orders.all:
            anchor = test.due.rule.anchor
            spoiled = tuple(r for r in test.due.rule.reads if r in spoils.of)
            if spoiled and orders.is_today(test) and test.due.rule.where == order.due.rule.where and not (anchor is not None and anchor.task == order.due.key):
                test.yielded.append(Yielded("test_first", "", order.due.id, order.due.rule.title, None, "", spoiled, orders.rules.hours(spoils.hours)))


__all__ = ["rest_until", "settle"]
