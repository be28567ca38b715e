"""Published ranges of CdA and Crr, and how well unchanged set-ups repeat.

CdA 0.276 m² in the drops and 0.262 low [Grappe1997] (from memory), 2k/rho of [Lim2011] 0.258 to
0.350 m²; Crr 0.0032 [Martin1998] (from memory), 0.002 to 0.008 on roads (from memory).
"""

from dataclasses import replace

import numpy as np
import pytest

from simulator.fieldtest.outcome import PUBLISHED_CDA_M2, PUBLISHED_CRR
from simulator.fieldtest.testday_file import TestDayFile as DayFile
from simulator.fieldtest.verdict_file import VerdictFile


@pytest.mark.parametrize("cda_m2", [0.216, 0.262, 0.276, 0.299, 0.258, 0.292, 0.310, 0.350])
def test_published_drag_areas_are_not_questioned(cda_m2):
    low, high = PUBLISHED_CDA_M2
    assert low <= cda_m2 <= high


@pytest.mark.parametrize("crr", [0.0016, 0.0032, 0.005, 0.008])
def test_published_rolling_coefficients_are_not_questioned(crr):
    low, high = PUBLISHED_CRR
    assert low <= crr <= high


@pytest.mark.parametrize(("cda_m2", "crr"), [(0.15, 0.004), (0.50, 0.004), (0.30, 0.012)])
def test_figures_outside_are_questioned(cda_m2, crr):
    inside = PUBLISHED_CDA_M2[0] <= cda_m2 <= PUBLISHED_CDA_M2[1]
    assert not (inside and PUBLISHED_CRR[0] <= crr <= PUBLISHED_CRR[1])


def test_stated_scatter_is_that_of_common_practice():
    """Unchanged set-ups repeat a climb of about three minutes within one or two seconds.

    Common practice, no source: nine in ten pairs of runs at the default scatter differ by less
    than 1.645 sqrt(2) 0.5 % of 180 s = 2.1 s (test day), and half of them by about 0.9 s.
    """
    scatter = DayFile.model_fields["scatter_pct"].default / 100.0
    nine_in_ten_s = 1.645 * np.sqrt(2.0) * scatter * 180.0
    half_s = 0.6745 * np.sqrt(2.0) * scatter * 180.0
    assert 1.0 <= nine_in_ten_s <= 2.2
    assert half_s < 1.0
    verdict = VerdictFile.model_fields["scatter_pct"].default / 100.0
    assert 1.0 <= 1.645 * np.sqrt(2.0) * verdict * 180.0 <= 2.6


def test_figure_outside_reaches_the_user(plain_setup):
    """A fit that is sure of an area no rider has is told as doubtful."""
    from simulator.fieldtest.outcome import _figures
    from simulator.fieldtest.testday import TestedBuild

    tested = TestedBuild(build=replace(plain_setup.build, name="Plover"))

    class Known:
        role, before_sd = "cda", 0.3

    class KnownCrr:
        role, before_sd = "crr", 0.006

    class Problem:
        parameters = (Known(), KnownCrr())

    class Fit:
        problem = Problem()
        values = np.array([0.55, 0.004])
        sds = np.array([0.01, 0.0003])
        covariance = np.diag([1e-4, 9e-8])

        def index(self, role, owner):
            assert owner == "Plover"
            return {"cda": 0, "crr": 1}[role]

    figures = _figures(Fit(), tested)
    assert figures.doubts == ("CdA of Plover is 0.55, outside the published 0.2 to 0.4",)
    assert figures.hardly_told == ()
