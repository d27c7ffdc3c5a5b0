"""What a later release and another lift do, in winds whose answer is known."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from columns import EPOCH, PRIOR, column_field
from oracle.forecasts import forecast_field
from pappus.decision import GoLimits
from pappus.errors import BadInput
from pappus.flight_train import FillWish
from pappus.preflight import LaunchCell, Winds, curve_json, delay_curve, lift_curve, to_json
from pappus.wind import WindField
from preflight.windows import NOW, choices, example_plan, flown, forecast

A = example_plan().sites[0]
FIVE = (("five", FillWish("climb", 5.0)),)
DELAYS_S = (0.0, 1800.0, 3600.0, 7200.0)


def cell_in(winds: Winds, **changes: Any) -> LaunchCell:
    return flown(choices(2.0, sites=(A,), fills=FIVE), winds=[winds], flights=80, **changes).cells[0]


def delayed(winds: Winds, cell: LaunchCell) -> Any:
    return delay_curve(example_plan(), [winds], PRIOR, cell, GoLimits(), now=NOW, delays_s=DELAYS_S, flights=80)


def windy(west_wind_m_s_h: float) -> Winds:
    """A west wind, the same everywhere, of 2 m/s and so much more each hour; the air does not change."""
    field = forecast_field(points=5, times=13, step_deg=2.0)
    still = {name: np.broadcast_to(getattr(field, name)[:, :1, :, 2:3, 2:3], field.wind_u_m_s.shape).copy()
             for name in ("pressure_pa", "height_msl_m", "temperature_k")}  # fmt: skip
    hours = (field.time_s / 3600.0)[None, :, None, None, None]
    u = 2.0 + west_wind_m_s_h * hours + 0.0 * field.wind_u_m_s
    made: WindField = replace(field, **still, wind_u_m_s=u, wind_v_m_s=0.0 * u)
    return Winds(made)


class TestDelay:
    """The gas of the planned release, later."""

    def test_in_winds_that_stay_the_landing_stays(self) -> None:
        winds = windy(0.0)
        against = delayed(winds, cell_in(winds))
        middle = against.curve.moved_m[:, 2]
        # the sun climbs and warms the gas a little, and errors of the wind grow with the lead: no more than that
        assert np.abs(middle - middle[0]).max() < 0.1 * against.cells[0].drift_m.values[1]

    def test_a_wind_that_freshens_carries_it_on_by_what_it_freshens(self) -> None:
        winds = windy(1.0)
        cell = cell_in(winds)
        against = delayed(winds, cell)
        assert cell.arrival_s is not None
        # two hours later every wind of the flight is 2 m/s stronger: that for as long as it lasts, to the east
        shift_m = against.cells[-1].drift_m.values[1] - against.cells[0].drift_m.values[1]
        assert shift_m == pytest.approx(2.0 * cell.arrival_s.values[1], rel=0.15)
        assert against.curve.bearing_deg[-1] == pytest.approx(90.0, abs=12.0)

    def test_it_keeps_the_gas_and_starts_at_the_cell(self) -> None:
        winds = forecast()
        cell = cell_in(winds)
        against = delayed(winds, cell)
        assert len({one.fill.gas_mol for one in against.cells}) == 1
        assert against.cells[0].fill.gas_mol == cell.fill.gas_mol
        assert against.cells[0].drift_m.values[1] == pytest.approx(cell.drift_m.values[1], rel=0.05)
        assert [(one.option.release - EPOCH).total_seconds() for one in against.cells] == [
            7200.0 + delay for delay in DELAYS_S
        ]

    def test_beyond_the_winds_the_curve_has_a_gap(self) -> None:
        winds = Winds(column_field(hours=3.5))
        cell = cell_in(Winds(column_field(hours=24.0)))
        against = delayed(winds, cell)
        assert np.isnan(against.curve.moved_m[-1]).all()
        assert against.cells[-1].why_not
        read = json.loads(to_json(curve_json(against)))
        assert read["moved_m"][-1] == [None] * 5
        assert len(read["cells"]) == len(DELAYS_S)

    def test_a_cell_that_was_not_flown_has_no_curve(self) -> None:
        lost = flown(choices(200.0, sites=(A,), fills=FIVE), flights=20).cells[0]
        with pytest.raises(BadInput, match="Choose a cell"):
            delayed(forecast(), lost)


class TestLift:
    """Another lift on the scale."""

    def lifts(self, cell: LaunchCell, lifts_n: list[float] | None = None) -> Any:
        return lift_curve(example_plan(), [forecast()], PRIOR, cell, GoLimits(), now=NOW, lifts_n=lifts_n, flights=80)

    def test_more_gas_bursts_lower_and_climbs_faster(self) -> None:
        cell = cell_in(forecast())
        against = self.lifts(cell)
        # with the least gas some float, stay longer in the sun or never burst
        assert (np.diff(against.curve.burst_msl_m[3:, 2]) < 0.0).all()
        climbs = [one.climb_m_s for one in against.cells]
        assert climbs == sorted(climbs)
        assert against.curve.lift_n[5] == pytest.approx(cell.fill.scale_lift_n)
        assert against.cells[5].climb_m_s == pytest.approx(cell.climb_m_s)
        # that of the very planned lift is the spread of its own landings about their middle
        assert against.curve.moved_m[5, 2] == pytest.approx(against.curve.moved_m[:, 2].min(), rel=0.2)

    def test_the_scale_reads_what_was_asked(self) -> None:
        cell = cell_in(forecast())
        against = self.lifts(cell, [18.0, 20.0, 25.0])
        assert [one.fill.scale_lift_n for one in against.cells] == pytest.approx([18.0, 20.0, 25.0])

    def test_too_little_to_leave_the_ground_is_a_gap(self) -> None:
        cell = cell_in(forecast())
        against = self.lifts(cell, [2.0, 20.0])
        assert np.isnan(against.curve.burst_msl_m[0]).all()
        assert "leave the ground" in against.cells[0].why_not[0]
        assert np.isfinite(against.curve.burst_msl_m[1]).all()
