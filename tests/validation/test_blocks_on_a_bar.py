"""A duty of blocks on a demo bar against the sums that one does by hand: Goodman, the sloping line, Haibach, Miner."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from typing import Any

import pytest

from barfem.check.api import check_bar
from barfem.check.result import SettingResult
from barfem.model.data_paths import geometries_dir
from barfem.model.read import bar_from_dict
from tests.fatigue.life_by_hand import share

Compare = Callable[..., None]

SURVIVAL_SHARE = share(0.90)
BLOCKS = [
    {"pickup": 62.0, "cycles": 1_000},
    {"pickup": 58.0, "cycles": 10_000, "ratio": 0.0},
    {"pickup": 45.0, "cycles": 200_000, "ratio": -0.5},
]


def checked(**duty: Any) -> SettingResult:
    """The second hole setting of a demo bar, polished, unpeened: sound steel alone, so that Goodman means count."""
    data = tomllib.loads((geometries_dir() / "coupe-rear-cranked.toml").read_text(encoding="utf-8"))
    targets = duty.pop("targets", {})
    data["material"]["surface"] = "polished"
    data["travel"]["pickup"] = 62.0
    data["duty"] = {"blocks": BLOCKS, **duty}
    data["targets"] = targets
    return check_bar(bar_from_dict(data)).settings[1]


def by_hand(setting: SettingResult, *, strength: float) -> list[float]:
    """Damage of each block with `strength` of the median strength."""
    fatigue, duty = setting.fatigue, setting.fatigue.duty
    assert duty is not None
    tensile = fatigue.factors["tensile strength"]
    # The duty's place has a share of torsion, and so a size, of its own: the limit is read back from the first block.
    s3, first = fatigue.factors["strength at 1 000 cycles"], duty.blocks[0]
    assert first.damage is not None
    equivalent = first.amplitude_MPa / (1.0 - first.mean_MPa / tensile) / SURVIVAL_SHARE
    k = math.log(first.cycles / first.damage / 1e3) / math.log(s3 / equivalent)
    s6 = s3 * 10.0 ** (-3.0 / k)
    assert s6 == pytest.approx(fatigue.factors["strength at 1e6 cycles"], rel=0.02)
    damage = []
    for block in duty.blocks:
        equivalent = block.amplitude_MPa / (1.0 - block.mean_MPa / tensile) / strength
        # One of a million cycles at the endurance limit; above it the line's slope, below Haibach's.
        slope = k if equivalent > s6 else 2.0 * k - 1.0
        damage.append(block.cycles * 1e-6 * (equivalent / s6) ** slope)
    return damage


def test_blocks_by_hand(compare: Compare) -> None:
    setting = checked(repeats=3)
    duty = setting.fatigue.duty
    # The same bend as that of full travel, or its mirror image.
    assert duty is not None and abs(duty.from_middle_mm) == pytest.approx(abs(setting.fatigue.from_middle_mm), abs=9.0)
    source = "by hand: sa / (1 - sm / Su) (Shigley Eq. 6-46), N = 1e6 (s / Se)^-k, k' = 2 k - 1 (Haibach 1970), Miner"
    weak, median = by_hand(setting, strength=SURVIVAL_SHARE), by_hand(setting, strength=1.0)
    # All three blocks must tell: one above the limit, one with a mean, one below it.
    assert all(0.02 < part / sum(weak) < 0.97 for part in weak)
    compare(
        case="damage of three blocks, 90 % survival",
        source=source,
        ours=[block.damage for block in duty.blocks],
        theirs=weak,
        allowed=1e-6,
        why="the same arithmetic, z of 90 % to eight digits",
    )
    compare(
        case="life in repeats of three blocks to a sum of 0.5: median, 90 % survival",
        source=source,
        ours=[duty.life_repeats, duty.life_at_survival_repeats],
        theirs=[0.5 / sum(median), 0.5 / sum(weak)],
        allowed=1e-6,
        why="the same arithmetic",
    )
    compare(
        case="mean over amplitude of a block at ratio -0.5",
        source="by hand: (1 + R) / (1 - R) of a stress in proportion to travel",
        ours=duty.blocks[2].mean_MPa / duty.blocks[2].amplitude_MPa,
        theirs=1.0 / 3.0,
        allowed=0.015,
        why="the arms swing: stress leaves proportion by about (travel / arm)^2 / 2, (45 / 265)^2 / 2 = 1.4 %",
    )


@pytest.mark.long
def test_repeats_critical_sum_and_target_cycles() -> None:
    life = checked().fatigue.duty
    assert life is not None and life.life_at_survival_repeats is not None and life.critical_sum == 0.5
    just, more = 0.999 * life.life_at_survival_repeats, 1.001 * life.life_at_survival_repeats
    assert checked(repeats=just).passes and not checked(repeats=more).passes
    whole = checked(repeats=1.9 * life.life_at_survival_repeats, targets={"critical_sum": 1.0})
    assert whole.passes and whole.fatigue.duty is not None and life.life_repeats is not None
    assert whole.fatigue.duty.life_repeats == pytest.approx(2.0 * life.life_repeats)
    # Cycles of full articulation are a second target, and only where the file gives them.
    alone = whole.fatigue.life_at_survival_cycles
    assert alone is not None
    assert checked(repeats=just, target_cycles=0.99 * alone).passes
    both = checked(repeats=just, target_cycles=1.01 * alone)
    assert not both.passes and any("falls short" in why for why in both.why)
