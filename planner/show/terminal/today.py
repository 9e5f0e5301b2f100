"""The page of one day: what is dangerous, where we are, what must not happen yet, today's jobs in the order to do them,
what changed since yesterday, and what comes soon. A quiet day fits into 24 lines."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.judge.kinds.reading import ReadingAsked
from planner.plan.day_jobs import Day, Job
from planner.plan.evening import endangered, is_rescue
from planner.plan.milestones import next_animal
from planner.plan.one_test import all_traces
from planner.plan.standing import STEPS, FilterStep, Standing
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import SETS_FOOD, only_forbids
from planner.show.terminal.agenda import NEXT_TASKS, alarm_ids, next_of_each
from planner.show.terminal.checklist import problem_words
from planner.show.terminal.holdlist import alarm_notices, alarm_of, open_holds
from planner.show.terminal.joblines import NUMBER_WIDTH, Told, as_printed, count_words, height, tick_rest, write_job
from planner.show.terminal.taskcard import MOST_TERMS, Sheet, write_full
from planner.show.terminal.today_tail import LABEL, kind_of, when_next_words, write_entry, write_tail, write_waits_until
from planner.show.words.causes import all_words, cause_words
from planner.show.words.conditions import food_words
from planner.show.words.explained_terms import Glossary
from planner.show.words.together import away_today_words, yielded_words
from planner.show.words.words import MONTH_NAMES, Line, Page, bare_day, listed, short_day, span_words, wrap
from planner.terms.amounts import numbers_words
from planner.terms.days import DAY_NAMES
from planner.terms.records import CLOSED, Answer, Plan, Row, State, Task, Window
from planner.terms.row_words import tell_value
from planner.terms.texts import joined

MOST_LINES = 42
"""Steps of new jobs are told as long as the page stays within so many lines; those of the gravest alarm's first remedy always."""
BELOW_AN_ALARM = 6
"""About so many lines stand below the jobs of an alarm."""
QUIET_LINES, LEAST_SOON = 24, 1
"""A day without anything new fits into so many lines where fewer of the coming jobs make it so."""
BACK = "Do what your return asks for; it stands under Good to know. "
MOST_GIVEN_WAY, HELD_SHOWN, ADVICE_LINES, MOST_NAMED = 3, 3, 4, 2
SHOWN_BY: dict[FilterStep, str] = {
    "not_fed": "it has not been fed yet", "fed": "ammonia is in, and no nitrite shows yet", "nitrite": "nitrite has appeared",
    "ammonia_clear": "ammonia is clear, nitrite is not yet", "both_clear": "ammonia and nitrite were clear, and the proof by dosing is left",
}
ONLY_A_TRACE = "ammonia is in, and only a trace of nitrite shows yet"
PROVED_BY_FEEDING = "both are clear. With an animal in, clear tests under normal feeding are the proof"


def today_lines(day: Day, rules: Rulebook, width: int, *, folder: str = "", steps: bool = False, back: bool = False, outlook: bool = True, asked: bool = True) -> tuple[Line, ...]:
    """The page. `asked`: whether a terminal can ask before something weighty is ticked. `steps`: those of every job, with its cautions in full, not only of jobs that were never done before. `back`: the keeper
    comes back from an absence today. `outlook`: also what lies ahead of the filter, which a quiet day leaves out before it grows long."""
    plan = day.plan
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder, glossary=Glossary(rules.words), numbers={j.task.id: j.number for j in day.jobs})
    page = sheet.page
    cycle = f", day {day.standing.day} of the cycle" if day.standing is not None and day.standing.day is not None else ""
    page.heading(plan.name, long_day(plan.on) + cycle)
    page.gap()
    if plan.problems:
        doubt = [sheet.typed(cause_words(n, plan.units)) for n in plan.notices if kind_of(n) == "may_be_false"]
        write_entry(page, "Files", " ".join((problem_words(plan), *doubt)), "strong", "strong")
    said = write_alarm_sentences(sheet, rules)
    if endangered(day, rules):  # whoever is in danger reads the first job first
        _jobs(sheet, day, rules, steps, BELOW_AN_ALARM)
        if steps:
            page.gap()
        write_not_yet(sheet, day, said, rules, alarmed=not steps)
        return (*page.lines, *write_tail(sheet, day, rules, said, alarmed=not steps, asked=asked))
    _questions(sheet)
    write_where_we_are(sheet, day.standing, outlook=outlook)
    write_not_yet(sheet, day, said, rules)
    tail = write_tail(sheet, day, rules, said, asked=asked)
    _jobs(sheet, day, rules, steps, len(tail), back)
    if steps or any(j.standing == "open" and not j.known and not j.forbids for j in day.jobs):
        return (*page.lines, *tail)
    for soon in range(NEXT_TASKS - 1, LEAST_SOON - 1, -1):  # a quiet day tells less of what is far, before it grows long
        if len(page.lines) + len(tail) <= QUIET_LINES:
            break
        if outlook:
            return today_lines(day, rules, width, folder=folder, back=back, outlook=False, asked=asked)
        tail = write_tail(sheet, day, rules, said, soon=soon, asked=asked)
    return (*page.lines, *tail)


def task_lines(plan: Plan, rules: Rulebook, task: Task, width: int, *, folder: str = "", number: int | None = None, asked: bool = True) -> tuple[Line, ...]:
    """One task alone, in full. `number`: its number on the list of the day. `asked`: whether a terminal can ask before something weighty is ticked."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder, glossary=Glossary(rules.words), numbers={task.id: number} if number is not None else {}, alone=True, tick_rest=tick_rest([task], rules, asked))
    write_full(sheet, task)
    return tuple(sheet.page.lines)


def long_day(day: date) -> str:
    """`Friday 13 February`."""
    return f"{DAY_NAMES[day.weekday()].capitalize()} {day.day} {MONTH_NAMES[day.month - 1]}"


def about_words(window: Window, on: date) -> str:
    """`about 23 March (quick to slow: 13 March to 10 April)`."""
    def named(day: date) -> str:
        return f"{day.day} {MONTH_NAMES[day.month - 1]}" + (f" {day.year}" if day.year != on.year else "")

    if window.likely is None:
        return "on a day that cannot be told yet"
    if window.earliest is None or window.earliest == window.latest:
        return f"about {named(window.likely)}"
    span = span_words(window, MONTH_NAMES, on) if window.latest is not None else f"{named(window.earliest)} to a later month"
    return f"about {named(window.likely)} (quick to slow: {span})"


def write_alarm_sentences(sheet: Sheet, rules: Rulebook) -> set[str]:
    """Each alarm that is up, with all it says; what it holds is told by its own sentence. Returns what was said."""
    plan, said = sheet.plan, set[str]()
    ids = alarm_ids(plan, rules)
    up = [a for a in rules.alerts if a.alert in ids and any(t.phase == a.alert and t.state not in CLOSED for t in plan.tasks)]
    grave, told = any(a.is_grave for a in up), 0
    for alert in sorted(up, key=lambda a: (not a.is_grave, a.order)):
        held = next((h for h in plan.holds if h.do and alarm_of(h) == alert.alert), None)
        words = held.do if held is not None else alarm_notices(plan).get(alert.alert, "")
        said.update((words, held.because) if held is not None else (words,))
        # Beside the first danger a name is enough, unless it says what to feed: its jobs stand below, with the way to the rest.
        brief = (grave if not alert.is_grave else told > 0) and not any(SETS_FOOD.intersection(t.acts) for t in alert.tasks)
        told += alert.is_grave
        more = f"More: {sheet.run('why', str(number))}" if brief and alert.is_grave and (number := next((n for id, n in sheet.numbers.items() if (t := plan.task(id)) is not None and t.phase == alert.alert), None)) else ""
        write_entry(sheet.page, "Danger" if alert.is_grave else "Care", f"{alert.title}. {more if brief else f'{_last_read(plan, alert.alert)}{sheet.typed(words)}'}".strip(), "strong", "alarm" if alert.is_grave else "strong")
        if lead := sheet.lead_to(alert.alert):
            write_entry(sheet.page, "", lead)
    # Why a remedy waits while hands stay out, and who may act all the same: animals may die meanwhile.
    out = {line.id for line in rules.apart if line.hands_out}
    for because in dict.fromkeys(y.because for t in plan.tasks if t.role == "remedy" and t.phase in ids and t.state not in CLOSED for y in t.yielded if y.rule in out):
        write_entry(sheet.page, "Danger", sheet.typed(because), "strong", "alarm")
        said.add(because)
    return said


def _last_read(plan: Plan, alert: str) -> str:
    """The readings that an alarm stands on, each with its day: a later one may lie between what raises it and what ends it. Nothing where
    something else raised it."""
    # Once the first good reading waits for its second, what raised the alarm is no news.
    rows = [r for key, whole in plan.traces.items() if key.partition("/")[0] == alert and whole.gap is None for trace in all_traces(whole)
            if isinstance(trace.asked, ReadingAsked) and trace.answer == Answer.YES for r in trace.evidence if isinstance(r, Row) and r.what == trace.asked.name and r.value]
    last = {r.what: r for r in sorted(rows, key=lambda r: (r.day, r.line))}
    told = [tell_value(r, plan.units) + (f" ({bare_day(r.day, plan.on)})" if r.day != plan.on else "") for r in last.values()]
    return f"Tested: {listed(told)}. " if told else ""


def _questions(sheet: Sheet) -> None:
    """Animals whose day has passed without a word, in a line each: much hangs on whether they are in."""
    plan = sheet.plan
    asked = [t for t in plan.tasks if t.state not in CLOSED and any(y.way == "asked" for y in t.yielded) and (t.due is None or t.due <= plan.on)]
    for n, task in enumerate(asked):
        write_entry(sheet.page, "" if n else "First", f"Did they come? {task.title}, {short_day(task.due or plan.on, plan.on)}.", "strong")
    if asked:
        job = str(sheet.numbers.get(asked[0].id, asked[0].id))
        write_entry(sheet.page, "", f"If so {sheet.run('done', job)}, else {sheet.run('postpone', f'{job} --to DATE')}. Until then give no ammonia.")


def stands_words(standing: Standing) -> str:
    """The step of the filter, and what shows it."""
    shown = PROVED_BY_FEEDING if standing.animals and standing.step == "both_clear" else ONLY_A_TRACE if standing.trace and standing.step == "fed" else SHOWN_BY[standing.step]
    return f"Step {standing.number} of {STEPS}: {shown}."


def write_where_we_are(sheet: Sheet, standing: Standing | None, outlook: bool = True) -> None:
    """The filter in its four steps while it grows; else the first phase that goes on, of how many; then what stands still,
    and as `outlook` what lies ahead of the filter, else that in a few words."""
    page, plan = sheet.page, sheet.plan
    if standing is not None:
        write_entry(page, "The filter", stands_words(standing))
        write_entry(page, "", f"Ready {about_words(standing.phase.window, plan.on)}.")
    elif plan.waiting_for:
        first = plan.waiting_for[0]
        place = next(n for n, p in enumerate(plan.phases, 1) if p.id == first.gate)
        phase = plan.phases[place - 1]
        reason = f": {cause_words(phase.reason, plan.units)}" if first.expected.likely is None and phase.reason else ""
        write_entry(page, "Where we are", f"Phase {place} of {len(plan.phases)}: {phase.title}.")
        if not any(h.gate == first.gate == alarm_of(h) for h in plan.holds):  # a fault of its own: nobody knows when it will be mended
            write_entry(page, "", f"Done {about_words(first.expected, plan.on)}{reason}.")
    elif plan.phases and all(p.state == "ahead" for p in plan.phases):
        first_day = min((t.date for t in plan.tasks if t.date is not None), default=None)
        write_entry(page, "Where we are", f"The plan begins on {long_day(first_day)}." if first_day is not None else "The plan has not begun.")
    else:
        coming = next_animal(plan)
        write_entry(page, "Where we are", "The tank runs." + (f" The next animals come {about_words(coming, plan.on)}." if coming.likely is not None else ""))
    ahead = {*(whole for whole, _ in plan.forecast.coming), *plan.forecast.capacity}
    lines = [(p.id, sheet.typed(cause_words(line, plan.units))) for p in plan.phases if p.opened is None for line in p.advice if outlook or line not in ahead]
    begun = len(page.lines)
    for n, (phase_id, said) in enumerate(lines):
        if n and len(page.lines) - begun + len(wrap(said, page.width - LABEL)) > ADVICE_LINES:
            write_entry(page, "", f"More on phase {next(n for n, p in enumerate(plan.phases, 1) if p.id == phase_id)}: {sheet.run('plan', phase_id)}")
            break
        write_entry(page, "", said)
    if brief := " ".join(few for _, few in plan.forecast.coming if few) if not outlook else "":  # a short page has what lies ahead in a few words, or it would come and go
        write_entry(page, "", sheet.typed(brief))


def write_not_yet(sheet: Sheet, day: Day, said: set[str], rules: Rulebook, alarmed: bool = False) -> None:
    """What must not happen yet: animals, ammonia, what only forbids, what is on hold, and orders that gave way to another one of the
    day. While an alarm is up that may kill, animals and the last two in one line."""
    plan = sheet.plan
    lines: list[str] = []
    gate = plan.phase_as("opens_to_animals")
    if gate is not None and gate.opened is None and not alarmed:
        lines.append("No fish, shrimp, snails or corals.")
    fed = food_words(day.standing) if day.standing is not None else ""
    lines += [fed] if fed else []
    forbids = [f"{j.task.title}. {' '.join(map(sheet.typed, all_words(j.task.steps, plan.units)))}" for j in day.jobs if j.standing == "open" and only_forbids(rules.tasks.get(j.task.key))]
    meal = next((t.awaited_test for t in plan.tasks if t.awaited_test is not None and t.writes == ("dosed", "ammonia")), None)
    if meal is not None and not forbids and not fed:
        lines.append(sheet.typed(joined("No more ammonia before ", cause_words(meal, plan.units), ".")))
    lines += forbids
    printed = False
    for because, holds in open_holds(plan).items():
        if because not in said:
            printed = True
            said.add(because)
            if alarmed and not any(h.do for h in holds):
                continue  # no new animals and no next steps: the sentence about the alarm says it
            ways = [j.number for j in day.jobs if j.standing == "open" and {j.task.id, j.task.key} & {key for h in holds for key in h.instead}]
            lines.append(sheet.typed(because) + (f" Do {numbers_words(ways)} instead." if ways else ""))
    held = [t.title for t, _ in next_of_each(t for t in plan.tasks if t.state == State.ON_HOLD and not any(y.way in ("left_out", "tested_with") for y in t.yielded))] if plan.holds else []
    if alarmed:
        lines.append("Buy no animals and begin no next step until the alarm is over.")
    elif held:
        # The cause stands with it, also where an alarm above has told it.
        causes = [] if printed else [sheet.typed(because) for because in open_holds(plan)]
        lines.append(" ".join([*causes, f"On hold: {'; '.join(held[:HELD_SHOWN])}{f' and {len(held) - HELD_SHOWN} more' if len(held) > HELD_SHOWN else ''}."]))
    given_way = _given_way(plan, {j.task.id for j in day.jobs}) if not alarmed else []
    said.update(t.id for t in given_way)
    reasons: dict[str, list[str]] = {}
    for t in given_way:
        said.update(yielded_words(y) for y in t.yielded)  # once a page
        reasons.setdefault(" ".join(sheet.typed(away_today_words(y)) for y in t.yielded), []).append(t.title)
    lines += [f"Not today: {'; '.join(titles)}. {why}" for why, titles in reasons.items()]
    for n, line in enumerate(lines):
        write_entry(sheet.page, "" if n else "Not yet", line)


def _given_way(plan: Plan, listed_ids: set[str]) -> list[Task]:
    """What would stand here if its day were not another order's."""
    found = [t for t in plan.tasks if t.yielded and t.id not in listed_ids and t.state not in CLOSED and not t.tentative
             and any(y.until == t.date or y.way in ("left_out", "rests", "taken_in") for y in t.yielded) and (t.due is None or t.due <= plan.on)]
    return found[:MOST_GIVEN_WAY]


def _jobs(sheet: Sheet, day: Day, rules: Rulebook, steps: bool, more: int, back: bool = False) -> None:
    """Today's jobs. `more`: how many lines the page still has below them."""
    page, plan = sheet.page, sheet.plan
    now, wait, closed = as_printed(day, rules)
    if steps:
        now, wait = now + wait, []
    page.gap()
    if not now:
        write_entry(page, "Today", ("All done. " if day.jobs else BACK if back else "Nothing to do. ") + when_next_words(plan), "strong")
        write_waits_until(sheet)
    else:
        write_entry(page, "Today", count_words(now, wait) + (", in the order to do them" if [j.number for j in now] != sorted(j.number for j in now) else ""), "strong")
    alarms = alarm_ids(plan, rules)
    # Below the jobs stand a line about those whose steps are elsewhere, a blank one, and what was ticked or waits.
    room = MOST_LINES - len(page.lines) - more - height(sheet, now, rules, "line") - len(closed) - 2 * bool(closed) - 2 * bool(wait) - 1
    folded = list[int]()
    urgent, danger = set[str](), endangered(day, rules)
    for job in now:
        alarm = job.task.phase in alarms
        told: Told = "full" if steps else "line"
        terms = 0 if danger and alarm and not steps else MOST_TERMS  # whoever is in danger reads no more
        # What may save an animal stands with its steps, of each alarm, and on each of its days: tired hands look nothing up.
        rescue = alarm and job.task.role == "remedy" and is_rescue(job, rules)
        must = rescue and (job.task.phase not in urgent or job.task.writes is not None)
        urgent |= {job.task.phase} if rescue else set()
        if not steps and (must or not job.known):
            least = height(sheet, [job], rules, "line")
            ways: list[Told] = ["steps"] if alarm else ["full", "steps"]
            told = next((way for way in ways if must or height(sheet, [job], rules, way, terms) - least <= room), "line")
            room -= height(sheet, [job], rules, told, terms) - least
            if told != ways[0]:
                folded.append(job.number)
            if told == "line":
                sheet.glossary.hear(job.task.title)
        if steps:  # else the cautions of a job read as the end of the one before
            page.gap()
        write_job(sheet, job, rules, told, terms)
    if folded:
        first_read = "Read all steps and cautions first" if len(folded) == 1 else f"Read all steps and cautions of each first, job {folded[0]} for instance"
        told_above = [j.number for j in now if not j.known and j.number not in folded]
        above = f"All steps of {numbers_words(told_above)} stand above. " if told_above else ""
        page.say(f"{above}New to you: {numbers_words(folded)}. {first_read}: {sheet.run('today', str(folded[0]))}", indent=NUMBER_WIDTH)
        if not danger:
            sheet.explain(NUMBER_WIDTH, max(0, room // 3))  # a term takes two lines or three
    if wait:
        page.say(f"{len(wait)} ordinary job{'s' if len(wait) > 1 else ''} can wait until tomorrow. See {'them' if len(wait) > 1 else 'it'}: {sheet.run('today', '--steps')}", indent=NUMBER_WIDTH)
    if danger and not steps:
        said: list[str] = []
        taken_over = [j for j in closed if j.standing == "held" and j.task.tested_with in sheet.numbers]
        for number in dict.fromkeys(sheet.numbers[j.task.tested_with] for j in taken_over):
            said.append(f"Job {number} takes the place of: {_few_titles([j for j in taken_over if sheet.numbers[j.task.tested_with] == number])}.")
        for words, standing in (("Put off because of the alarm", "put_off"), ("Done", "done"), ("On hold", "held"), ("No longer needed", "gone"), ("Skipped", "skipped")):
            if group := [j for j in closed if j.standing == standing and j not in taken_over]:
                said.append(f"{words}: {_few_titles(group)}.")
        if said:
            page.say(" ".join(said) + ("" if wait else f" See all: {sheet.run('today', '--steps')}"), indent=NUMBER_WIDTH)
        return
    for n, job in enumerate(closed):
        if n == 0:
            page.gap()
        write_job(sheet, job, rules, "line")


def _few_titles(jobs: Sequence[Job]) -> str:
    """Jobs by name, where their numbers stand nowhere else on the page."""
    more = len(jobs) - MOST_NAMED
    return "; ".join(j.task.title for j in jobs[:MOST_NAMED]) + (f" and {more} other job{'s' if more > 1 else ''}" if more > 0 else "")


__all__ = ["LABEL", "about_words", "long_day", "stands_words", "task_lines", "today_lines", "write_alarm_sentences", "write_not_yet", "write_where_we_are"]
