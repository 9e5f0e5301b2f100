"""How many offences of each kind the measured baseline had, over these seeds: a ceiling that may be lowered and never raised."""

DAYS = 120
SEEDS = (0, 1, 2, 15)

CEILINGS: dict[str, int] = {
    "colliding orders": 21,
    "dead ends": 1,
    "treadmills": 4,
    "harm by obeying": 0,
    "dates that jump": 14,
    "alarms that stay": 0,
    "silence on a bad reading": 0,
    "refused or wrong facts": 4,
}
