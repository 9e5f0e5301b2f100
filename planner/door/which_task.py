"""Which task is meant by what was typed: a number of today's list, `phase/task`, `phase/task#n`, a last part, or words of its title."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.door import entry_words as words
from planner.door.acts import Desk
from planner.door.questions import task_key
from planner.plan.day_jobs import Day, Job
from planner.plan.occurrences import closings
from planner.terms.amounts import numbers_words
from planner.terms.problems import nearest
from planner.terms.records import CLOSED, URGENT, Plan, Task
from planner.terms.units import Refusal


def tasks_meant(desk: Desk, texts: Sequence[str], day: Callable[[], Day] | None = None, folder: str = "") -> list[str] | Refusal:
    """The occurrences meant, each once. A gate is no task: it opens on evidence. `day` gives today's list, where numbers may be typed;
    `folder` is that of the tank as an argument, where it has to be typed."""
    found = []
    for text in as_one_title(texts, desk.plan):
        meant = _one_meant(desk, text, day, folder)
        if isinstance(meant, Refusal):
            return meant
        found.append(meant)
    return list(dict.fromkeys(found))


def as_one_title(texts: Sequence[str], plan: Plan) -> Sequence[str]:
    """Several words that stand one after the other in a title are that title, typed without quotes: `Feed the filter`. One of them alone might tick another job."""
    whole = " ".join(texts)
    words = f" {whole.casefold().replace(',', '')} "
    return [whole] if len(texts) > 1 and not all(map(str.isdigit, texts)) and any(words in f" {t.title.casefold().replace(',', '')} " for t in plan.tasks) else texts


def _one_meant(desk: Desk, text: str, day: Callable[[], Day] | None, folder: str) -> str | Refusal:
    base, _, number = text.partition("#")
    if day is not None and text.isdigit():
        job = job_numbered(int(text), day(), folder)
        return job if isinstance(job, Refusal) else job.task.id
    if text.startswith("gate/") or any(p.phase == text for p in desk.rules.phases):
        return Refusal("a-gate", f"'{text}' is a gate: it opens on test results and ticks, never by hand", f"`{_command('why', folder, text)}` says what it needs")
    if number and not (number.isdigit() and int(number) > 0):
        return Refusal("not-a-number", f"'#{number}' is no number of a task", f"write it as {base}#2")
    open_now = {t.key for t in desk.plan.tasks if t.state in URGENT and t.key.partition("/")[2] == base}
    meant = next(iter(open_now)) if len(open_now) == 1 else find_task(text, sorted(desk.rules.tasks), folder)
    if isinstance(meant, Refusal):
        titled = task_titled(text, desk.plan)
        return titled.id if isinstance(titled, Task) else titled or meant
    key = task_key(meant)
    return words.occurrence_of(key, number, desk.plan, closings(key, desk.facts), desk.rules)


def job_named(text: str, day: Day, keys: list[str], folder: str = "") -> Job | str | Refusal:
    """A job by its number, or the id of a task by name."""
    if text.isdigit():
        return job_numbered(int(text), day, folder)
    found = find_task(text, keys, folder)
    if isinstance(found, Refusal):
        titled = task_titled(text, day.plan)
        return titled.id if isinstance(titled, Task) else titled or found
    return found


def job_numbered(number: int, day: Day, folder: str = "") -> Job | Refusal:
    job = day.job(number)
    if job is None or job.forbids:
        numbers = [j.number for j in day.jobs if not j.forbids]
        return Refusal("unknown-task", f"today's list has no number {number}", f"{f'It has {numbers_words(numbers)}' if numbers else 'There is nothing on it'}: see `{_command('today', folder)}`.")
    return job


def task_titled(text: str, plan: Plan) -> Task | Refusal | None:
    """The task whose title has all these words: an open one before one that is ticked, one of today before one of later; None where no title has them."""
    typed = text.casefold().split()
    named = [t for t in plan.tasks if all(w in t.title.casefold() for w in typed)] if len(text) > 2 else []
    open_tasks = [t for t in named if t.state not in CLOSED]
    # The whole title is meant before one that begins with the words, that before one that has them as they were typed, and that before
    # one that has them somewhere. What is ticked is meant where nothing open is.
    as_typed = [t for t in open_tasks if " ".join(typed) in t.title.casefold()]
    begun = [t for t in as_typed if t.title.casefold().startswith(" ".join(typed))]
    whole = [t for t in begun if t.title.casefold() == " ".join(typed)]
    for found in (part for some in (whole, begun, as_typed, open_tasks, named) for part in ([t for t in some if t.state in URGENT], some)):
        by_key = {t.key: t for t in reversed(found)}
        if len(by_key) == 1:
            return next(iter(by_key.values()))
        if by_key:
            return Refusal("unknown-task", f"'{text}' could be {', '.join(f'“{t.title}”' for t in reversed(by_key.values()))}", "Write more of its title, or its number.")
    return None


def find_task(text: str, keys: list[str], folder: str = "") -> str | Refusal:
    """The task meant by `phase/task`, `phase/task#n`, or an unambiguous last part; else the nearest in the refusal."""
    base, mark, number = text.partition("#")
    if base in keys:
        return text
    short = [k for k in keys if k.split("/")[-1] == base]
    if len(short) == 1:
        return short[0] + mark + number
    if len(short) > 1:
        return Refusal("unknown-task", f"'{text}' could be {', '.join(sorted(short))}", "Write one of them.")
    last = base.rpartition("/")[2]
    # A word alone is a slip of a last part: beside whole ids it would be near by the letters of their phases.
    near = ("/" in base and nearest(base, keys)) or (nearest(last, [k.split("/")[-1] for k in keys], 0.7) if len(last) > 3 else None)
    return Refusal("unknown-task", f"there is no task '{text}'", f"Did you mean '{near}'?" if near else f"`{_command('plan', folder, '--all')}` lists them.")


def _command(*words: str) -> str:
    return " ".join(("newtank", *filter(None, words)))


__all__ = ["as_one_title", "find_task", "job_named", "job_numbered", "task_titled", "tasks_meant"]
