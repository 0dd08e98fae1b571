"""A measured history on a bar."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from barfem.check.api import check_bar
from barfem.check.history_cycles import cycles_with_damage
from barfem.check.history_life import history_lives
from barfem.check.history_words import warnings_of
from barfem.model.read import bar_from_dict
from barfem.solve.beam import HoleSetting
from barfem.strength.duty.damage import history_damage
from barfem.strength.duty.damage_result import PlaceCycles
from tests.check.bar_files import BUILT, check
from tests.check.duty_bars import TRAVEL, bar, fatigues, history, history_life, plain_result
from tests.duty import examples as made_up
from tests.duty.examples import history_from_arrays
from tests.model.bar_data import changed


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return plain_result()


class TestHistory:
    @pytest.mark.parametrize(("amplitude", "felt"), [(240.0, False), (255.0, True), (290.0, True)])
    def test_cycles_harm_the_weaker_bars_before_they_harm_the_middle_one(self, amplitude, felt):
        """Line through 300 MPa at 1e6 cycles, 285.0 at 1e7, where claims end; bars at 90 % survival have 0.8648 of it.
        255 MPa is nothing to the bar in the middle and 294.9 to those; 240 MPa is 277.5 and nothing to any.
        """
        line = made_up.lines(at_1e3=1116.0, at_1e6=300.0)
        cycles = PlaceCycles(np.array([amplitude]), np.zeros(1), np.ones(1))
        found = cycles_with_damage(bar(), cycles, line)
        k = 3.0 / np.log10(1116.0 / 300.0)  # below 300 MPa it goes on at 2 k - 1 (Haibach)
        weaker = amplitude / 0.864818
        slope = k if weaker > 300.0 else 2.0 * k - 1.0
        assert found.damage[0] == pytest.approx(1e-6 * (weaker / 300.0) ** slope if felt else 0.0, rel=1e-4)

    def test_a_sine_of_full_travel_is_as_many_cycles_of_it(self, plain):
        built = bar(("targets", {"critical_sum": 1.0}))
        for j, fatigue in enumerate(fatigues(plain)):
            found = history_life(built, history(TRAVEL), HoleSetting(j, j))
            assert found.largest_amplitude_MPa == pytest.approx(fatigue["amplitude_MPa"], rel=2e-3)
            # 40 cycles, the first from rest as two quarters.
            assert 40.0 * found.life_repeats == pytest.approx(fatigue["life_cycles"], rel=0.03)

    def test_the_peak_is_the_checks_without_the_concentration_at_an_edge(self):
        """Clamps double the stress for fatigue at their edge: in the amplitude that decides, not in the peak."""
        clamped = [{**mount, "contact": "clamped"} for mount in BUILT["mounts"]]
        changes = (("mounts", clamped), ("travel.pickup", 20.0))
        (setting, *_) = check(*changes)["settings"]
        assert "mount" in setting["fatigue"]["where"]
        assert setting["fatigue"]["amplitude_MPa"] > 1.5 * setting["peak"]["von_mises_MPa"]
        found = history_life(bar_from_dict(changed(*changes, base=BUILT)), history(20.0), HoleSetting(0, 0))
        assert found.largest_amplitude_MPa == pytest.approx(setting["fatigue"]["amplitude_MPa"], rel=2e-3)
        assert found.peak_MPa == pytest.approx(setting["peak"]["von_mises_MPa"], rel=2e-3)

    def test_left_is_left(self):
        # Unequal holes, the left wheel alone: the sides must not be exchanged.
        built = bar(("travel.one_wheel", TRAVEL))
        found = check_bar(built, case="one-wheel", mixed=True)
        fatigue = next(s.fatigue for s in found.settings if (s.left, s.right) == ("1", "3"))
        made = history(TRAVEL)
        alone = history_from_arrays(time_s=made.time_s, left_mm=made.left_mm, right_mm=0.0 * made.right_mm)
        ours = history_life(built, alone, HoleSetting(0, 2))
        assert ours.largest_amplitude_MPa == pytest.approx(fatigue.amplitude_MPa, rel=3e-3)
        other = history_life(built, alone, HoleSetting(2, 0))
        assert other.largest_amplitude_MPa != pytest.approx(ours.largest_amplitude_MPa, rel=0.02)

    def test_more_travel_and_more_heave_never_last_longer(self):
        built = bar()
        small, large = (history_life(built, history(a), HoleSetting(2, 2)) for a in (35.0, 45.0))
        assert large.life_repeats < small.life_repeats
        hours = {item.survival: item.life for item in large.lives_hours}
        assert hours[0.5] == pytest.approx(large.life_repeats * 40.0 / 3600.0)
        heaved = history_life(built, history(35.0, heave=8.0), HoleSetting(2, 2))
        assert heaved.life_repeats <= small.life_repeats * (1.0 + 1e-6)

    def test_the_result_says_what_is_left_out(self):
        found = history_life(bar(), history(TRAVEL, heave=3.0), HoleSetting(2, 2), distance_km=2.0)
        assert found.discarded_share is not None and found.discarded_share <= 1.01
        assert abs(found.left_out_share or 0.0) < 0.01 and found.interpolation_share < 0.01
        assert found.lives_km[0].life == pytest.approx(2.0 * (found.life_repeats or 0.0))
        assert any("ASTM E1049" in text for text in found.assumptions)
        assert any("Sonsino" in text for text in found.assumptions)

    def test_travel_beyond_the_bar_files_is_warned_of(self):
        found = history_life(bar(), history(TRAVEL + 3.0), HoleSetting(0, 0))
        assert any("beyond the maximum articulation" in text for text in found.warnings)
        assert not history_life(bar(), history(TRAVEL - 3.0), HoleSetting(0, 0)).warnings

    @pytest.mark.long
    def test_all_hole_settings_at_once_are_each_alone(self):
        built, made = bar(), history(TRAVEL, heave=3.0)
        settings = [HoleSetting(0, 0), HoleSetting(2, 2), HoleSetting(0, 2)]
        together = [life for life, _ in history_lives(built, made, settings)]
        for setting, life in zip(settings, together, strict=True):
            alone = history_life(built, made, setting)
            assert (life.left, life.right, life.where) == (alone.left, alone.right, alone.where)
            assert life.damage_per_repeat == pytest.approx(alone.damage_per_repeat, rel=1e-6)
        assert len({life.damage_per_repeat for life in together}) == 3
        assert together[1].peak_MPa > together[0].peak_MPa

    def test_doubts_are_told(self):
        made = made_up.history(500, roll_mm=5.0, heave_mm=0.0)
        response = made_up.roll_response(made, np.array([9.0]), np.zeros(1))
        sound = history_damage(made, response, made_up.lines(), reference=np.array([[1.0, 0.0, 0.0]]))
        assert warnings_of(bar(), made, sound) == ()
        for doubt, words in (
            ({"discarded_share": 1.2}, "up to 1.2 times the governing damage"),
            ({"out_of_line_share": 0.5}, "50 % of the stress does not follow"),
            ({"interpolation_share": 0.05}, "may be off by 5.0 %"),
        ):
            (warning,) = warnings_of(bar(), made, replace(sound, **doubt))
            assert words in warning
        (warning,) = warnings_of(bar(), made_up.history(500, roll_mm=0.02, heave_mm=0.0), sound)
        assert "metres or inches" in warning and f"{2 * TRAVEL:g} mm" in warning
        unloaded = replace(sound, interpolation_share=0.5, largest_equivalent_MPa=sound.largest_equivalent_MPa * 1e-3)
        assert warnings_of(bar(), made, unloaded) == ()  # a share of rounding
