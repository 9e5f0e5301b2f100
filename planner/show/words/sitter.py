"""What the person reads who looks after a tank while its keeper is away, for the terminal and for paper."""

from __future__ import annotations

from planner.plan.absence import Absence
from planner.terms.amounts import format_amount
from planner.terms.records import Plan

CALL_IF = (
    "fish hang at the surface or breathe fast", "the water is colder than {cold} or warmer than {warm}", "water is on the floor",
    "the usual sound is gone, or a pump stands still", "an animal is dead (take it out with a net and gloves)", "the power is out (start the battery air pump first)",
)
NEVER = "hands in the water, medicine, cleaning, sprays or paint in the room, more food than one bag, and water from the red jug."
COLD_C, WARM_C = 23.0, 28.0
"""Outside of these the sitter calls; between the next two all is normal. Common practice, no source."""
NORMAL_C = (24.5, 26.5)


def sitter_rows(found: Absence, plan: Plan) -> list[tuple[str, str]]:
    """A label and its words, in the order of a visit; a row that goes on has no label. The blanks for telephones and places are
    the face's own."""
    cold, warm = (format_amount(c, "°C", plan.units) for c in (COLD_C, WARM_C))
    low, high = (format_amount(c, "°C", plan.units) for c in NORMAL_C)
    return [
        ("Danger", "Wet floor: touch no plug. Switch off at the board, if you can reach it dry."),
        ("Normal", f"{found.animals} animal{'s' if found.animals != 1 else ''}, {low} to {high}, water at the mark. A photograph hangs beside the tank."),
        ("Each visit", f"{'Every day' if found.visits == 'daily' else 'Every second day'}, three minutes: count, read the thermometer, look at the level, listen. Then one bag of food, and nothing else."),
        ("Food", f"One labelled bag a visit, {found.portion * 100:.0f} % of the usual. Keep the bags in the freezer."),
        ("Top up", "Only from the jug marked fresh, to the line. The red jug holds salt water."),
        *(("Call if" if n == 0 else "", f"{sign.format(cold=cold, warm=warm)}.") for n, sign in enumerate(CALL_IF)),
        ("Never", NEVER),
    ]


__all__ = ["sitter_rows"]
