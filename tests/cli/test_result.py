"""The JSON of a check result: the contract's keys, finite numbers, a fixed order."""

from __future__ import annotations

import json
import math
import pickle

import numpy as np
import pytest

from barfem.check.result import steps_to_next_percent
from tests.cli.made_up import made_up_fatigue, made_up_result, made_up_setting

TOP = {"format", "barfem", "name", "model", "mass_kg", "developed_length_mm", "settings", "assumptions", "warnings"}
SETTING = {
    "left", "right", "case", "rate_N_per_mm", "rate_initial_N_per_mm", "link_force_left_N", "link_force_right_N",
    "peak", "places", "yield_margin", "fatigue", "passes", "why",
}  # fmt: skip
PEAK = {"von_mises_MPa", "station_mm", "from_middle_mm", "where", "surface", "at"}
PLACE = {"kind", "index", "where", "von_mises_MPa", "station_mm", "surface"}
FATIGUE = {
    "station_mm", "where", "surface", "amplitude_MPa", "mean_MPa", "goodman_safety_factor", "safety_factor_at_target",
    "life_cycles", "life_at_survival_cycles", "runout",
}  # fmt: skip


def test_every_key_that_users_script_against_is_there():
    plain = made_up_result().to_json_dict()
    assert set(plain) >= TOP
    assert plain["format"] == 1
    for setting in plain["settings"]:
        assert set(setting) >= SETTING
        assert set(setting["peak"]) >= PEAK
        assert set(setting["fatigue"]) >= FATIGUE
        assert all(set(place) >= PLACE for place in setting["places"])


def test_json_is_strict_and_stable():
    first = json.dumps(made_up_result().to_json_dict(), allow_nan=False)
    assert first == json.dumps(made_up_result().to_json_dict(), allow_nan=False)
    assert list(json.loads(first))[:6] == ["format", "barfem", "name", "model", "mass_kg", "developed_length_mm"]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_number_that_is_not_finite_is_null_and_named(bad):
    result = made_up_result((made_up_setting(rate=bad, passes=True),))
    assert "settings[0].rate_N_per_mm" in result.non_finite()
    plain = result.to_json_dict()
    assert plain["settings"][0]["rate_N_per_mm"] is None
    assert plain["passes"] is False
    assert any("settings[0].rate_N_per_mm" in warning for warning in plain["warnings"])
    json.dumps(plain, allow_nan=False)


def test_numpy_numbers_become_plain_ones():
    setting = made_up_setting(
        twist_deg=np.float32(1.5), passes=np.bool_(True), fatigue=made_up_fatigue(factors={"size": np.float64(0.5)})
    )
    plain = made_up_result((setting,), inputs={"points": np.eye(2)}).to_json_dict()
    assert plain["settings"][0]["twist_deg"] == 1.5 and plain["settings"][0]["passes"] is True
    assert plain["inputs"]["points"] == [[1.0, 0.0], [0.0, 1.0]]
    json.dumps(plain, allow_nan=False)


def test_a_result_can_be_sent_between_processes():
    result = made_up_result()
    assert pickle.loads(pickle.dumps(result)) == result


def test_step_is_to_the_next_stiffer_of_the_same_case():
    rates = (30.0, 33.0, 33.0 * (1 + 1e-9), 36.3, None, 10.0)
    cases = ("roll", "roll", "roll", "roll", "roll", "one-wheel")
    steps = steps_to_next_percent(rates, cases)
    assert steps[:3] == pytest.approx((10.0, 10.0, 10.0), rel=1e-6)
    assert steps[3:] == (None, None, None)
