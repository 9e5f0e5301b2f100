"""How many offences of each kind the measured baseline had, over these seeds: a ceiling that may be lowered and never raised."""

DAYS = 120
"""A life of 120 days costs 22 to 48 s of one core (measured on these four), so that twenty would take five to six minutes of two."""
SEEDS = (0, 1, 2, 15)

CEILINGS: dict[str, int] = {
    "colliding orders": 16,
    "dead ends": 0,
    "treadmills": 1,
    "harm by obeying": 0,
    "dates that jump": 13,
    "alarms that stay": 0,
    "silence on a bad reading": 0,
    "refused or wrong facts": 0,
}
