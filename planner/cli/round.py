"""`newtank round`: the evening beside the tank, question by question. What stands in which order is `planner/plan/evening.py`'s."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from planner.cli.common import console_width, finish, folder_alone, load_tank, print_problems, tank_options, typed_folder
from planner.cli.entry import NOTHING, Refused, append_entries, danger_told, has_terminal
from planner.cli.screen import show
from planner.door import entry_words as entries
from planner.door.acts import Act, Desk, log_readings, tick_tasks, writes_an_amount
from planner.door.folder import Loaded
from planner.judge.facts import zone_of
from planner.plan.day_jobs import Day, Job, carried_on
from planner.plan.evening import SWITCH_OFF, SWITCHED_OFF, WalkStep, can_wait, closing_questions, evening_walk, left_for_later, off_ordered
from planner.plan.places import asks_first, place_of
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.what_jobs_do import only_forbids
from planner.show.terminal.effect import effect_of
from planner.show.terminal.effect_brief import brief_lines
from planner.show.terminal.joblines import Told, job_words, write_job
from planner.show.terminal.taskcard import Sheet
from planner.show.terminal.today import long_day
from planner.show.words.explained_terms import Glossary
from planner.show.words.understood import understood_words, unit_question
from planner.show.words.words import Page, listed
from planner.terms.readings import READINGS, question_reading
from planner.terms.records import CLOSED, Plan, Row
from planner.terms.units import Refusal
from planner.terms.written_numbers import split_amount


@click.command("round")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
def round_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None) -> None:
    """The evening beside the tank: each job of today with its caution, each reading that is due, in the right order.

    What you confirm is written at once; Ctrl-C stops and keeps it.
    """
    folder = folder_alone(args, tank_dir)
    if not has_terminal():
        raise Refused("a round asks its questions on a terminal. Without one use `newtank done` and `newtank log`")
    loaded = load_tank(folder, on_text, rules_dir)
    print_problems(loaded.problems)
    Round(loaded).walk()
    finish(loaded.problems)


@dataclass
class Round:
    """One evening: the folder as it reads now, its list, and what was asked so far."""

    loaded: Loaded
    written: list[Row] = field(default_factory=list)
    handled: set[str] = field(default_factory=set)
    power_is_off: bool = False
    was_off: bool = False
    topped_up: bool = False
    acts: int = 0

    def __post_init__(self) -> None:
        self.before: Plan = self.loaded.plan()
        self.plan = self.before
        self.day: Day = self.loaded.day(self.plan, news=False)
        self.sheet = Sheet(Page(console_width()), self.plan, self.loaded.rules.cautions, glossary=Glossary(self.loaded.rules.words))

    def walk(self) -> None:
        self.sheet.page.say(f"{self.plan.name}, {long_day(self.plan.on)}. y: done, Enter or n: not now, s: the steps, or how much it was. Ctrl-C stops; what you confirmed stays.")
        show(self.sheet.page.lines)
        try:
            if waiting := can_wait(self.day, self.loaded.rules):
                click.echo(f"Only what helps now. {len(waiting)} ordinary job{'s' if len(waiting) > 1 else ''} can wait until tomorrow.")
            while steps := self._steps():
                step = steps[0]
                if step.kind not in ("power_off", "power_on"):
                    self.handled.add(step.key)
                if not self._only_forbids(step):
                    self._stop(step)
        except click.Abort:
            click.echo("\nStopped." + (" Switch the power on again when your hands are out." if self.power_is_off and not off_ordered(self.day, self.loaded.rules) else ""))
        self._tell()

    def _steps(self) -> tuple[WalkStep, ...]:
        return evening_walk(self.day, self.loaded.rules, self.power_is_off, self.topped_up, self.handled)

    def _only_forbids(self, step: WalkStep) -> bool:
        """Such an order is said once and not ticked."""
        found = step.job is not None and only_forbids(self.loaded.rules.tasks.get(step.job.task.key))
        if found and step.job is not None:
            click.echo(f"\nNot yet: {step.job.task.title}.")
        return found

    def _stop(self, step: WalkStep) -> None:
        match step.kind:
            case "job":
                assert step.job is not None
                self._job(step.job)
                self._read(step)
            case "test":
                self._test(step)
            case "power_off":
                self._power_off()
            case "power_on":
                while not click.confirm("\nHands out. Switch heaters and pumps on again. Do they all run", default=False):
                    click.echo("Look again before you go on: the socket, the switch at the wall, the plug of each pump.")
                self.power_is_off = False
            case "feed":
                if not click.confirm("\nFeed no more than they eat in two minutes, and watch every fish. Did each one eat", default=False):
                    click.echo("A fish that does not eat may be ill. Watch its breath, and test ammonia today and tomorrow.")
            case "closing":
                click.echo()
                for question, remind in closing_questions(self.day, self.loaded.rules, self.was_off):
                    if not click.confirm(question, default=False):
                        click.echo(remind)

    def _power_off(self) -> None:
        """Hands go into no water beside live plugs: who leaves the power on leaves these jobs."""
        rules = self.loaded.rules
        if click.confirm(f"\nBefore hands go in: {SWITCHED_OFF if off_ordered(self.day, rules) else SWITCH_OFF}", default=False):
            self.power_is_off = self.was_off = True
            return
        urgent, ordinary = left_for_later(self._steps(), rules)
        self.handled |= {j.task.id for j in (*urgent, *ordinary)}
        if urgent:
            click.echo(f"Then keep your hands out. This cannot wait for another day: {listed(j.task.title for j in urgent)}. Start the round again once you can switch off.")
        if ordinary:
            click.echo(f"Then leave this for another day: {listed(j.task.title for j in ordinary)}.")

    def _job(self, job: Job) -> None:
        task = job.task
        self._show(job)
        weighty = asks_first(task, self.loaded.rules)
        amounts: dict[str, str] = {}
        while True:
            answer = str(click.prompt("     done", default="", show_default=False)).strip()
            if answer.lower() in ("s", "steps"):
                self._show(job, in_full=True)
            elif answer.lower() in ("", "n", "no"):
                return
            elif answer.lower() in ("y", "yes") or (split_amount(answer)[0] and (writes_an_amount(self._desk(), task.id) or task.animals)):
                if answer.lower() not in ("y", "yes"):
                    amounts = {task.id: answer}
                found = tick_tasks(self._desk(), [task.id], None, "", amounts)
                if not isinstance(found, Refusal):
                    break
                click.echo(f"     {found.message}. {found.fix[:1].upper()}{found.fix[1:]}.")
            else:
                click.echo("     y, n, s for the steps" + (", or how much it was with its unit." if writes_an_amount(self._desk(), task.id) else "."))
        if self._write(found):
            self.topped_up = self.topped_up or place_of(self.loaded.rules.tasks.get(task.key)) == "top_up"
            if weighty or ended_by_tick(self.loaded.rules, task.key):
                self._plan_again()

    def _show(self, job: Job, in_full: bool = False) -> None:
        self.sheet.page.lines.clear()
        if in_full:
            self.sheet.warned -= set(job.task.cautions)
        self.sheet.page.lines.append(())
        alarm = any(job.task.phase == a.alert for a in self.loaded.rules.alerts)
        told: Told = "full" if in_full else "line" if job.known else "steps" if alarm else "full"  # whoever is in danger reads no more
        write_job(self.sheet, job, self.loaded.rules, told)
        show(self.sheet.page.lines)

    def _test(self, step: WalkStep) -> None:
        assert step.job is not None
        self._show(step.job)
        self._read(step)

    def _read(self, step: WalkStep) -> None:
        """The readings of a stop, one by one."""
        assert step.job is not None
        read: list[entries.Entry] = []
        for name, water in step.reads:
            if name == "salinity" and step.settle:
                click.echo(f"     Wait {step.settle} minutes after the top-up, so that it has mixed.")
            entry = self._reading(step.job, name, water)
            if entry is not None:
                read.append(entry)
        if read:
            act = log_readings(self._desk(), read, step.job.task.id)
            if isinstance(act, Refusal):
                click.echo(f"     {act.message}. {NOTHING}")
            elif self._write(replace(act, questions=())):  # each was asked about when it was typed
                self._plan_again()

    def _reading(self, job: Job, name: str, water: str) -> entries.Entry | None:
        """One result as it was understood; None where the keeper skips it."""
        title = READINGS[name].title + ("" if water == "display" else f" ({water} water)")
        while (answer := str(click.prompt(f"     {title}", default="", show_default=False)).strip()).lower() not in ("", "n", "no"):
            if answer.lower() in ("s", "steps"):
                self._show(job, in_full=True)
                continue
            named, sign, value = answer.partition("=")  # as `newtank log` has it
            said = entries.split_reading(answer if sign and named.strip() else f"{name}={value if sign else answer}")
            if isinstance(said, Refusal) and said.code == "not-a-number":
                click.echo(f"     {said.message}: write a number, such as 0.25, or over5 where the scale ends. Enter or n: not now, s: the steps.")
                continue
            if not isinstance(said, Refusal) and said[0] != name:
                click.echo(f"     This asks for {READINGS[name].title}. Enter leaves it out.")
                continue
            made = said if isinstance(said, Refusal) else entries.reading_row(*said, self._stamp(), water, "", self.loaded.tank, zone_of(self.loaded.tank))
            if isinstance(made, Refusal) or isinstance(said, Refusal):
                assert isinstance(made, Refusal)
                click.echo(f"     {made.message}: {made.fix}.")
                continue
            unit_asked = unit_question(made.row, said[2], self.loaded.tank.units)
            if unit_asked is not None:
                if not click.confirm(f"     {unit_asked}", default=False):
                    continue
            elif told := understood_words(made.row, said[2], self.loaded.tank.units, said[1]):
                click.echo(f"     {told}")
            asked = question_reading(name, made.row.low or 0.0, made.row.high or 0.0, made.row.value, made.row.unit) if made.row.high is not None else None
            if asked is None or click.confirm(f"     {asked}", default=False):
                return made
        return None

    # --- writing

    def _stamp(self) -> entries.Stamp:
        loaded, zone = self.loaded, zone_of(self.loaded.tank)
        stamp = entries.stamp_from_clock(loaded.on, datetime.now(UTC).astimezone(zone), loaded.pretended, str(loaded.tank.keeper.reminder_time)[:5], zone)
        if loaded.pretended and isinstance(stamp.when, datetime):  # a pretended evening has one hour: a minute each keeps its order
            return entries.Stamp(datetime.fromtimestamp(stamp.when.timestamp() + 60 * self.acts, zone))
        return stamp

    def _desk(self) -> Desk:
        loaded = self.loaded
        return Desk(loaded.tank, loaded.journal, loaded.rules, loaded.on, self.plan, self._stamp(), loaded.catalogue)

    def _write(self, act: Act) -> bool:
        """Write an act whose questions are all answered with yes."""
        if not all(click.confirm(f"     {question}", default=False) for question in act.questions):
            click.echo(f"     {NOTHING}")
            return False
        rows, self.loaded = append_entries(self.loaded, act.entries)
        self.written += rows
        self.acts += 1
        return True

    def _plan_again(self) -> None:
        """A reading, a dose, a change or an animal may have turned the evening: what is left of it is asked anew."""
        self.plan = self.loaded.plan()
        self.sheet.plan = self.plan
        before = {j.task.id: j for j in self.day.jobs}
        self.day = replace(self.day, plan=self.plan, jobs=carried_on(self.day.jobs, self.loaded.journal, self.loaded.rules, self.plan))
        for job in self.day.jobs:
            if job.task.id in self.handled:
                continue
            if job.task.id not in before:
                click.echo(f"     New on today's list: {job_words(job.task, self.loaded.rules, self.plan.units)}.")
            elif before[job.task.id].standing == "open" and job.standing in ("held", "gone", "put_off"):
                click.echo(f"     Leave out {job.number}, {job.task.title}: {'it is on hold now' if job.standing == 'held' else 'not today any more'}.")

    def _tell(self) -> None:
        """Three lines: what moved, and what tomorrow holds."""
        click.echo()
        if not self.written:
            click.echo("Nothing was written.")
        else:
            after = self.loaded.plan()
            self.plan = after
            effect = effect_of(self.before, after, self.written)
            show(brief_lines(effect, after, console_width(), most=2, danger=danger_told(effect, after, self.loaded), folder=typed_folder(self.loaded.path)))
        page = Page(console_width())
        page.labelled("Tomorrow", _tomorrow(self.plan))
        show(page.lines)


def _tomorrow(plan: Plan) -> str:
    day = plan.on + timedelta(days=1)
    titles: Sequence[str] = [t.title for t in plan.tasks if t.date == day and t.state not in CLOSED and not t.tentative]
    if not titles:
        return "nothing yet."
    return f"{'; '.join(titles[:3])}{f' and {len(titles) - 3} more' if len(titles) > 3 else ''}."


__all__ = ["Round", "round_command"]
