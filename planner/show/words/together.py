"""The lines that keep orders apart, in words."""

from __future__ import annotations

from planner.plan.make import UNIT_WORDS, shown_amount
from planner.rulebook.acts import Apart
from planner.rulebook.names import BRACES
from planner.rulebook.shapes import Rulebook
from planner.show.words.words import plain_name

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
    reason = BRACES.sub(lambda m: amount(m[1]) if m[1] in book.numbers else plain_name(m[1]), line.say)
    return f"Where {first} that {' or '.join(map(plain_name, line.yields))} is {HOW[line.how]}: {', '.join(when)}. {reason}"


__all__ = ["apart_words"]
