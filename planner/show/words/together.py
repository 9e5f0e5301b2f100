"""Why an order gave way to another one of its day, and the lines that keep orders apart, in words."""

from __future__ import annotations

from typing import Any

from planner.plan.texts import UNIT_WORDS, shown_amount, untold
from planner.rulebook.acts import Apart
from planner.rulebook.shapes import Rulebook
from planner.show.words.causes import all_words
from planner.show.words.words import day_words, listed, plain_name
from planner.terms.records import CLOSED, Task, Yielded
from planner.terms.texts import either, joined

HOW = {"postpone": "put off", "leave_out": "left out", "merge": "taken in"}


def apart_words(line: Apart, book: Rulebook) -> str:
    """What goes first, what gives way and when, and the reason with its figures."""
    def amount(name: str) -> str:
        number = book.numbers[name]
        return shown_amount(number.value, UNIT_WORDS.get(number.unit, number.unit), "metric")

    size = f" (a change of {amount(line.large)} or more)" if line.large else ""
    first = ("an animal is in, or may be, an order" if line.while_animals else f"a remedy stands for {' or '.join(line.first_ranks)}, an order" if line.first_ranks
             else f"an order {' or '.join(map(plain_name, line.first))}{size}, another one")
    when = ["on its day"] + [f"{amount(n)} {word}" for n, word in ((line.before, "before"), (line.after, "after")) if n] + (["from then on"] if line.lasting else [])
    reason = untold(line.say, lambda name: amount(name) if name in book.numbers else plain_name(name))
    return f"Where {first} that {' or '.join(map(plain_name, line.yields))} is {HOW[line.how]}: {', '.join(when)}. {reason}"


def because_of(task: Task, units: str) -> tuple[str, ...]:
    """Why the task is there and on this day: the reasons of its rule, and what its day made of it."""
    return (*yielded_of(task), *all_words(task.because, units))


def yielded_of(task: Task) -> tuple[str, ...]:
    """What the day made of a task, one sentence or two for each reason; nothing once it is done."""
    return tuple(yielded_words(y) for y in task.yielded) if task.state not in CLOSED else ()


def yielded_words(why: Yielded) -> str:
    """One reason. Titles of other orders stand in quotes."""
    first = joined(" “", why.title, "” goes first.") if why.title else ""
    until = day_words(why.until) if why.until else "another day"
    match why.way:
        case "put_off":
            return joined(f"Put off to {until}.", first, " ", why.because)
        case "left_out":
            return joined("Left out.", first, " ", why.because)
        case "step_left_out":
            return joined("One step is left out.", first, " ", why.because)
        case "taken_in":
            who = joined("“", why.title, "” changes the water for this one too.") if why.title else "The water was changed already today."
            return joined(who, " ", why.because, f" Next on {until}, if a test still asks for it." if why.until else "")
        case "day_full":
            return f"Put off to {until}, if the test then still says so. Graver remedies fill today; who does more than three at once does none of them well."
        case "rests":
            return f"Put off to {until}. The filter stands still, and the advice is to leave out ammonia until then."
        case "again":
            return "A second change on one day. The test after the first one still shows too much."
        case "test_first":
            return joined("Do this before “", why.title, f"”. For {why.hours:g} h after it the test of {listed(map(plain_name, why.what))} says nothing.")
        case "asked":
            asked = either(f"If they did, write it down: `newtank done {why.to}`. If not, give the new day: `newtank postpone {why.to} --to DATE`.",
                           "If they did, write the day on the log sheet. If not, write the new day there.")
            return joined("Did they come? ", asked, " Until you say, no ammonia is asked for.")


def yielded_document(why: Yielded) -> dict[str, Any]:
    """One reason as an object."""
    return {"way": why.way, "rule": f"together/{why.rule}" if why.rule else "", "to": why.to, "until": why.until.isoformat() if why.until else None, "text": yielded_words(why)}


__all__ = ["apart_words", "because_of", "yielded_document", "yielded_of", "yielded_words"]
