"""How many offences of each kind the measured baseline had, over these seeds: a ceiling that may be lowered and never raised.

Measured with one arrival a day and stages that stand still; before it the same lives had 11 collisions and 15 jumps, and at first 17 collisions, 1 dead end, 4 treadmills and 12 jumps."""

DAYS = 120
"""A life of 120 days costs 22 to 48 s of one core (measured on these four), so that twenty would take five to six minutes of two."""
SEEDS = (0, 1, 2, 15)

CEILINGS: dict[str, int] = {
    "colliding orders": 0,
    "dead ends": 0,
    "treadmills": 0,
    "harm by obeying": 0,
    "dates that jump": 5,
    "alarms that stay": 0,
    "silence on a bad reading": 0,
    "refused or wrong facts": 0,
}
