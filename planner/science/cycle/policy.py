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
        self._passes = np.zeros(count, dtype=np.int64)

    def note_dose(self, rise_mg_n_l: float) -> None:
        """A dose from the journal: it counts towards the total."""
        self.given = self.given + rise_mg_n_l

    def dose_mg_n_l(
        self, day: int, ammonia: Floats, nitrite: Floats, oxidised: Floats, released: Floats
    ) -> Floats:
        """What each member is given on this whole day since the start; zeros where nothing is due.

        oxidised: ammonia turned to nitrite so far. released: ammonia that the rock has set free so far.
        """
        policy = self.policy
        dose = np.zeros_like(ammonia)
        if day < policy.first_day_d:
            return dose
        clear = (ammonia <= policy.pass_mg_n_l) & (nitrite <= policy.pass_mg_n_l)
        passed = self._challenged & clear
        self._passes = np.where(self._challenged, np.where(clear, self._passes + 1, 0), self._passes)
        finished = passed & (self._passes >= policy.passes_needed) & np.isinf(self.done_d)
        self.done_d = np.where(finished, float(day), self.done_d)
        building = np.isinf(self.done_d)
        again = building & passed  # the second challenge follows on the same day
        test_day = np.full(ammonia.shape, policy.tests_on(day))
        enough = self.given + released >= policy.total_mg_n_l - 1e-9
        if day < OWN_AMMONIA_WAIT_D:
            offered = oxidised + ammonia
            gone = (offered >= policy.ammonia_below_mg_n_l) & (oxidised >= 0.5 * offered)
            test_day = test_day & (gone | self._no_own_source)
        first = building & enough & clear & test_day
        challenge = again | first
        hungry = (ammonia < policy.ammonia_below_mg_n_l) & (nitrite < policy.nitrite_below_mg_n_l)
        still = ~(clear & enough) if policy.until_clear else ~enough
        feed = test_day & hungry & np.where(building, still, policy.keep_fed & clear)
        dose = np.where(challenge, policy.challenge_mg_n_l, np.where(feed, policy.redose_mg_n_l, 0.0))
        self._challenged = challenge
        self.given = self.given + dose
        self.to_come = self.to_come + np.where(building, dose, 0.0)
        return dose
