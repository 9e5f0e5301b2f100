"""How many offences of each kind the measured baseline had: a ceiling that may be lowered and never raised."""

LIVES, DAYS, FIRST_SEED = 20, 120, 0

CEILINGS: dict[str, int] = {
    "colliding orders": 0,
    "dead ends": 0,
    "treadmills": 0,
    "harm by obeying": 0,
    "dates that jump": 0,
    "alarms that stay": 0,
    "refused or wrong facts": 0,
}
