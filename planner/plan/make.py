"""Assembly: facts, verdicts and dates become one ordered Plan.

`make_plan` is the straight line: gather, judge, expect, schedule, assemble. Same input, same plan, on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.files.kept import Kept
from planner.files.tank import Tank
from planner.judge.conditions import Scene
from planner.judge.cycle_expected import Expectation, curve_from, expect, expect_from
from planner.judge.evidence import owners
from planner.judge.facts import Facts, first_animal, gather
from planner.judge.gates import GateVerdict, Verdicts, judge, only_untested
from planner.judge.plausible import believed
from planner.judge.standstill import Advice, advise
from planner.plan.cycle_told import tell_capacity, tell_coming, tell_dates, tell_outlook
from planner.plan.milestones import over_window
from planner.plan.notices import mixed_today, notices_of
from planner.plan.occurrences import SCENARIOS, Dues, schedule
from planner.plan.places import alarm_place, hands_out_place
from planner.plan.task_of import changes_today, stopped_by, task_of
from planner.plan.texts import Filler
from planner.plan.together import rest_until, settle
from planner.rulebook.phase_graph import descendants, proof_to_animals
from planner.rulebook.shapes import Rulebook
from planner.terms.records import (
    CLOSED,
    Event,
    Forecast,
    Hold,
    Journal,
    Need,
    Phase,
    Plan,
    Problem,
    State,
    Task,
    Trace,
    Waiting,
    Window,
)

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import StockPlan
    from planner.stock.catalogue import Catalogue

NO_DATES = Window(None, None, None)
AHEAD = 7
"""Days: what begins later than this is not what the plan waits for now."""
SHOWN = ("net_volume", "gross_volume", "total_weight", "floor_load", "target_salinity", "target_sg", "water_first_fill",
         "salt_first_fill", "ammonia_dose", "heater_each", "evaporation_day", "top_up_reservoir", "water_two_months", "salt_two_months")


def make_plan(tank: Tank, journal: Journal, rules: Rulebook, on: date, until: date | None = None, problems: tuple[Problem, ...] = (),
              catalogue: Catalogue | None = None, kept: Kept | None = None) -> Plan:
    """The plan of one tank at the end of day `on`. With a catalogue the stages of the wish list stand in it. With `kept` what
    was worked out before is taken up from there; the plan is the same."""
    return plan_with_stock(tank, journal, rules, on, until, problems, catalogue, kept)[0]


def plan_with_stock(tank: Tank, journal: Journal, rules: Rulebook, on: date, until: date | None = None, problems: tuple[Problem, ...] = (),
                    catalogue: Catalogue | None = None, kept: Kept | None = None) -> tuple[Plan, StockPlan | None]:
    """The plan, and the wish list as it stands in it (None without a list or a catalogue)."""
    facts = gather(tank, believed(tank, journal, rules, on), on)
    judged = None
    if catalogue is not None:
        from planner.plan.stages import fish_food_g, groups_to_come, judge_stock

        judged = judge_stock(facts, rules, catalogue)
        # What an animal found proven stays so, whatever is wished for later.
        facts = replace(facts, list_proof=judged.proof_mg_n_l if tank.wish_list and first_animal(facts) is None else None,
                        wished=judged.groups, wished_to_come=groups_to_come(judged, catalogue), fish_food_g=fish_food_g(judged, catalogue))
    verdicts = judge(rules, facts)
    expectation = expect(rules, facts, verdicts, kept)
    dues = schedule(rules, facts, verdicts, expectation, until, catalogue, judged, kept)
    expectation = expect_from(expectation, dues.begin, rules, facts, kept)
    return assemble(rules, facts, verdicts, expectation, dues, problems), dues.stock


def assemble(rules: Rulebook, facts: Facts, verdicts: Verdicts, expectation: Expectation, dues: Dues, problems: tuple[Problem, ...] = ()) -> Plan:
    """Put names to figures, states to tasks, and everything in a total order."""
    words = Filler(facts, rules)
    proof, last = rules.phase_as("proves_filter"), rules.phase_as("opens_to_animals")
    found = {p.phase: _advice(p.phase, facts, verdicts, dues, expectation, rules) for p in verdicts.phases}
    sign = cycle.sign if (cycle := found.get(proof)) is not None else None
    dues = settle(dues, facts, verdicts, rules, sign)
    if cycle is not None and sign is not None and sign.rest_step is not None and rest_until(sign, facts, rules) is None:
        # The filter has rested long enough, and is fed again.
        found[proof] = replace(cycle, sign=sign.model_copy(update={"do": tuple(t for n, t in enumerate(sign.do, 1) if n != sign.rest_step), "rest_step": None, "rests": None}))
    held = _held_phases(verdicts)
    exempt = {key for hold in verdicts.holds for key in hold.instead}
    words.days = {d.key: d.window.likely for d in reversed(dues.tasks) if d.window.likely is not None}
    changes = changes_today(dues.tasks, facts)
    tasks = sorted((task_of(due, facts, held, exempt, words, rules, verdicts, changes) for due in dues.tasks), key=_task_order(rules))
    tasks = _tests_first(tasks)
    held = {p: h for p, h in held.items() if not only_untested(h) or any(t.phase == p and t.state == State.ON_HOLD for t in tasks)}
    advice = {p: tuple(map(words.fill, a.texts)) if a is not None else () for p, a in found.items()}
    stalled = advice[proof] if sign is not None else ()
    capacity = tell_capacity(expectation, facts, rules, verdicts, dues.stock)
    if capacity:
        waits = next((p for p in proof_to_animals(rules) if p in verdicts.gates and verdicts.gates[p].opened is None), last)
        advice[waits] = (*capacity, *advice.get(waits, ()))
    coming = tell_coming(expectation, facts, rules, dues.begin) if found.get(proof) is not None else ()
    if coming:
        advice[proof] += tuple(whole for whole, _ in coming)
    begin, proven = dues.begin, dues.gates.get(proof, NO_DATES)
    sentences = (*tell_outlook(expectation, facts, rules, verdicts, begin, proven, stalled), *capacity)
    dates = tell_dates(expectation, facts, begin, proven) if expectation.model is not None and proof not in verdicts.opened else ""
    phases = tuple(_phase(p.phase, facts, verdicts, dues, held, words, rules, advice[p.phase], tasks) for p in sorted(verdicts.phases, key=lambda p: (p.order, p.phase)))
    open_gates = [p for p in phases if p.opened is None and p.started is not None and p.role != "without_end"]
    waiting = tuple(Waiting(p.id, p.title, p.needs, p.window) for p in sorted(open_gates, key=lambda p: _has_time(p, tasks, facts.on)))
    holds = tuple(sorted((Hold(h.gate, h.since, words.fill(h.because), h.instead, h.trace, words.fill(h.do)) for h in verdicts.holds), key=lambda h: (h.since, h.gate, h.because)))
    made = tuple(q for name in SHOWN if (q := words.quantity(name)) is not None)
    traces: dict[str, Trace] = {f"gate/{p}": g.trace for p, g in verdicts.gates.items()}
    traces |= {due.id: due.trace for due in dues.tasks if due.trace is not None}
    traces = {key: _spelled(trace, words) for key, trace in traces.items()}
    tank = facts.tank
    plan = Plan(
        facts.on, tank.id, tank.name, tank.timezone or "UTC", tank.units, str(tank.keeper.reminder_time)[:5], made, phases, tuple(tasks), holds,
        waiting, (*notices_of(facts, verdicts, words, rules.phase_as("settles_place")), *(dues.stock.notices if dues.stock else ())), replace(_forecast(expectation, dues, facts, sentences, capacity, proof), coming=coming, dates=dates), traces, problems, dues.left_out)
    return replace(plan, notices=(*plan.notices, *mixed_today(plan.tasks, facts, rules), *_to_order(facts, rules, plan)))


def _to_order(facts: Facts, rules: Rulebook, plan: Plan) -> tuple[str, ...]:
    if not facts.rows("event", "bought"):
        return ()
    from planner.plan.supplies import to_order  # only for who writes down what was bought

    return to_order(facts, rules, plan)


def _has_time(phase: Phase, tasks: Sequence[Task], on: date) -> bool:
    """Is the first job of a phase still more than a week off? Then the plan waits for what comes before that."""
    days = [t.date for t in tasks if t.phase == phase.id and t.state not in CLOSED and t.date is not None]
    return bool(days) and min(days) > on + timedelta(days=AHEAD)


def _spelled(trace: Trace, words: Filler) -> Trace:
    """A trace with the braces of its texts filled, in all its parts."""
    parts = tuple(_spelled(p, words) for p in trace.parts)
    if "{" not in trace.say + trace.asked.title and all(a is b for a, b in zip(parts, trace.parts, strict=True)):
        return trace
    return replace(trace, say=words.fill(trace.say), asked=replace(trace.asked, title=words.fill(trace.asked.title)), parts=parts)


def _held_phases(verdicts: Verdicts) -> dict[str, Hold]:
    """Each phase behind a held gate, with the hold. A failed check also holds the steps of its own phase's followers."""
    held: dict[str, Hold] = {}
    for hold in verdicts.holds:
        behind = descendants(hold.gate, verdicts.phases)
        for phase in behind | ({hold.gate} if _brings_animals(hold.gate, verdicts) else set()):
            # A failed check stops more than a doubt does, whichever is told first.
            if phase not in held or stopped_by(held[phase]) < stopped_by(hold):
                held[phase] = hold
    return held


def _brings_animals(phase: str, verdicts: Verdicts) -> bool:
    """A hold on such a phase stops its own animals, not only what comes after it."""
    return any(t.role == "animals" for p in verdicts.phases if p.phase == phase for t in p.tasks)


def _task_order(rules: Rulebook) -> Callable[[Task], tuple[date, int, int, int, int, int]]:
    """Alarms first, the gravest of them first. What only tells that one of several is over comes behind the help for all."""
    order = {p.phase: (0, p.order) for p in rules.phases} | {a.alert: (-1, n) for n, a in enumerate(sorted(rules.alerts, key=lambda a: (a.order, hands_out_place(a.alert, rules), a.alert)))}
    alerts = {a.alert: a for a in rules.alerts}
    place = {f"{owner}/{t.id}": n for owner, tasks in owners(rules) for n, t in enumerate(tasks)}

    def key(task: Task) -> tuple[date, int, int, int, int, int]:
        kind, rank = order[task.phase]
        return (task.date or date.max, kind, alarm_place(task, alerts.get(task.phase))[0], rank, -1 if task.leads else place[task.key], task.occurrence)

    return key


def _tests_first(tasks: list[Task]) -> list[Task]:
    """A test that something of its day would spoil stands before it."""
    found = list(tasks)
    for test in tasks:
        spoilers = [n for y in test.yielded if y.way == "test_first" for n, t in enumerate(found) if t.id == y.to]
        if spoilers and min(spoilers) < found.index(test):
            found.remove(test)
            found.insert(min(spoilers), test)
    return found


def _started(id: str, facts: Facts, verdicts: Verdicts, dues: Dues) -> date | None:
    """The day a phase began; None while that lies ahead."""
    started, begin = verdicts.started.get(id), dues.starts[id].likely
    return None if started is not None and begin is not None and begin > facts.on else started


def _advice(id: str, facts: Facts, verdicts: Verdicts, dues: Dues, expectation: Expectation, rules: Rulebook) -> Advice | None:
    """What the rules say of a gate that stays shut."""
    gate = verdicts.gates[id]
    if gate.opened is not None or _started(id, facts, verdicts, dues) is None:
        return None
    lapsed = "" if gate.lapsed is None else f"This gate had opened and lapsed: {gate.lapsed.say}"
    return advise(rules.phase(id).gate, Scene(facts, rules, verdicts.opened), expectation, lapsed)


def _phase(id: str, facts: Facts, verdicts: Verdicts, dues: Dues, held: dict[str, Hold], words: Filler, rules: Rulebook, advice: tuple[str, ...],
           tasks: Sequence[Task]) -> Phase:
    rule = rules.phase(id)
    gate: GateVerdict = verdicts.gates[id]
    started = _started(id, facts, verdicts, dues)
    if gate.opened is not None:
        state = "done"
    elif id in held and ("step" in stopped_by(held[id]) or _brings_animals(id, verdicts)):
        state = "on_hold"
    else:
        state = "open" if started is not None else "ahead"
    return Phase(id, rule.title, state, started or (dues.starts[id].likely if gate.opened else None), gate.opened[0] if gate.opened else None, over_window(id, dues.gates[id], tasks, rules),
                 dues.reasons.get(id), tuple(Need(_spelled(n.trace, words)) for n in gate.needs), words.fill(rule.intro), advice, gate.on_word, rule.role or "")


def _forecast(expectation: Expectation, dues: Dues, facts: Facts, sentences: tuple[str, ...], capacity: tuple[str, ...], proof: str) -> Forecast:
    origin = expectation.origin or dues.begin
    events = {}
    for name, offsets in expectation.offsets.items():
        happened = expectation.happened.get(name)
        window = Window(*(happened or (max(origin + timedelta(days=d), facts.on) if origin is not None and d is not None else None) for d in offsets))
        # The proof is the gate's own protocol: its date is the gate's.
        events[name] = Event(dues.gates[proof] if name == "cycle_done" and proof in dues.gates else window, happened)
    untested = expectation.origin is None and origin is not None and expectation.model is not None
    curve = curve_from(expectation.model, origin) if untested else expectation.curve  # type: ignore[arg-type]
    return Forecast(events, curve, expectation.readings_used, expectation.members, expectation.basis, sentences, tuple(sorted((*expectation.slips, *expectation.surprises), key=lambda r: r.line)), capacity)


__all__ = ["SCENARIOS", "assemble", "make_plan", "plan_with_stock"]
