"""What the keeper will do from now on, as a rule that each member of an ensemble follows by its own readings.

A plan that feeds the bacteria acts on tests, and every plausible tank shows other tests. So the policy is
applied per member: dose again when ammonia has gone, pause while nitrite is high, and once enough has been
fed, challenge the filter and look again a day later.
"""


import numpy as np
from numpy.typing import NDArray

from planner.science.cycle.records import Policy
from planner.science.cycle.step import Floats

Flags = NDArray[np.bool_]


OWN_AMMONIA_WAIT_D = 14  # rock that sets little free is taken as cured after two weeks; common practice


class PolicyState:
    """Where each member stands under one policy. Asked once per whole day, in order."""

    def __init__(self, policy: Policy, rock_nitrogen_mg_n_l: Floats) -> None:
        count = len(rock_nitrogen_mg_n_l)
        self.policy = policy
        self._no_own_source: Flags = rock_nitrogen_mg_n_l <= 0
        self.given = np.zeros(count)  # mg/L as N so far, journal doses included
        self.to_come = np.zeros(count)  # the part given by the policy until the cycle is done
        self.done_d = np.full(count, np.inf)
        self._challenged: Flags = np.zeros(count, dtype=np.bool_)
        self._tried: Flags = np.zeros(count, dtype=np.bool_)
        self._shown: Flags = np.zeros(count, dtype=np.bool_)
        self._failed: Flags = np.zeros(count, dtype=np.bool_)  # and not fed since
        self._passes = np.zeros(count, dtype=np.int64)

    def note_dose(self, rise_mg_n_l: float) -> None:
        """A dose from the journal: it counts towards the total."""
        self.given = self.given + rise_mg_n_l

    def dose_mg_n_l(
        self, day: int, ammonia: Floats, nitrite: Floats, oxidised: Floats, released: Floats
    ) -> tuple[Floats, Floats]:
        """What each member is given on this whole day since the start, as ammonia and as food; zeros where nothing is due.

        oxidised: ammonia turned to nitrite so far. released: ammonia that the rock has set free so far.
        """
        policy = self.policy
        nothing = np.zeros_like(ammonia)
        if day < policy.first_day_d:
            return nothing, nothing
        if any(first <= day <= last for first, last in policy.away):  # a challenge that nobody looks at says nothing
            self._challenged = np.zeros(ammonia.shape, dtype=np.bool_)
            return nothing, nothing
        if day == 0 and policy.opens_with_proof:
            self._challenged = self._tried = np.ones(ammonia.shape, dtype=np.bool_)
            return nothing, nothing

        def within(levels: tuple[float, float] | None) -> Flags:
            most = levels or (policy.pass_mg_n_l, policy.pass_mg_n_l)
            return np.asarray((ammonia <= most[0]) & (nitrite <= most[1]))

        low, clear, handled = within(None), within(policy.clear_levels), within(policy.proof_levels)
        self._shown = self._shown | ~low
        passed = self._challenged & handled
        failed = self._failed | (self._challenged & ~handled)
        self._passes = np.where(self._challenged, np.where(handled, self._passes + 1, 0), self._passes)
        finished = passed & (self._passes >= policy.passes_needed) & np.isinf(self.done_d)
        self.done_d = np.where(finished, float(day), self.done_d)
        building = np.isinf(self.done_d)
        again = building & passed  # the second challenge follows on the same day
        test_day = policy.tests_on(day) | (self._tried & building)
        enough = self.given + released >= policy.total_mg_n_l - 1e-9
        if day < OWN_AMMONIA_WAIT_D:
            offered = oxidised + ammonia
            gone = (offered >= policy.ammonia_below_mg_n_l) & (oxidised >= 0.5 * offered)
            test_day = test_day & (gone | self._no_own_source)
        first = building & enough & clear & test_day & ~failed
        by_food = np.full(ammonia.shape, policy.food_mg_n_l > 0) & ~self._tried
        if day < policy.food_shows_d:
            first = first & (self._shown | ~by_food)
        challenge = again | first
        fed = test_day & building & by_food & ~challenge & (ammonia < policy.food_below_mg_n_l) & (nitrite < policy.nitrite_below_mg_n_l)
        hungry = (ammonia < policy.ammonia_below_mg_n_l) & (nitrite < policy.nitrite_below_mg_n_l)
        still = failed | ~(low & enough) if policy.until_clear else failed | ~enough
        feed = test_day & hungry & ~by_food & np.where(building, still, policy.keep_fed & clear)
        dose = np.where(challenge, policy.challenge_mg_n_l, np.where(feed, policy.redose_mg_n_l, 0.0))
        food = np.where(fed, policy.food_mg_n_l, 0.0)
        self._tried = self._tried | challenge
        # While tests are daily a feed as large as a challenge is judged as one.
        self._challenged = self._tried & building & (dose >= policy.challenge_mg_n_l) & (dose > 0)
        self._failed = failed & (dose <= 0)
        self.given = self.given + dose + food
        self.to_come = self.to_come + np.where(building, dose + food, 0.0)
        return dose, food
