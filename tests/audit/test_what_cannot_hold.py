"""What no number can make good, and what an output path may be."""

from __future__ import annotations

import json
import os
import threading
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.cli.main import main
from barfem.model.errors import InputError
from barfem.model.read import bar_from_dict, read_bar
from barfem.study.evaluate import evaluate
from tests.model.bar_data import TUBE, changed


@pytest.mark.parametrize("from_tip", [0.0, 4.0, 5.9])
def test_a_hole_that_is_open_at_the_cut_end_never_passes(from_tip: float) -> None:
    """Nothing holds the bolt there, however low the stress: the table's last column must say so, in every command."""
    holes = [{"name": "1", "from_tip": from_tip, "diameter": 12.0}, {"name": "2", "from_tip": 45.0, "diameter": 12.0}]
    bar = bar_from_dict(changed(("ends.holes", holes), ("travel.pickup", 3.0)))
    first, second = check_bar(bar).settings
    assert not first.passes and any("breaks out of the cut end" in line for line in first.why)
    assert second.passes, second.why
    (found,) = evaluate([bar])
    assert found.passes.tolist() == [False, True]


def test_a_hole_that_touches_the_cut_end_is_still_a_hole() -> None:
    holes = [{"name": "1", "from_tip": 6.0, "diameter": 12.0}]
    assert not bar_from_dict(changed(("ends.holes", holes))).left.holes[0].breaks_out


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_is_written_into_and_stays_a_pipe(tmp_path: Path) -> None:
    """--json to a pipe (or /dev/null) goes through it; a file put in its place would leave the reader waiting."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text(encoding="utf-8")), daemon=True)
    reader.start()
    status = main(["check", "geometries/pickup-front-solid.toml", "--json", str(pipe)])
    reader.join(timeout=30.0)
    assert status in (0, 1) and json.loads(read[0])["format"] == 1
    assert pipe.is_fifo()


SLIPS = {
    "travel that drowns in rounding": ([("travel.pickup", 1e-9)], r"\[travel\] pickup: a travel of 1e-09 mm"),
    "thickness of a hair": (
        [("ends.flat", {"kind": "forged", "thickness": 1e-300, "width": 40.0, "length": 95.0, "transition": 25.0,
                        "normal": [0, 1, 0]})],
        r"flat, thickness: thickness 1e-300 mm",
    ),
    "hole of a hair": ([("ends.holes.0.diameter", 1e-300)], r"holes 1, diameter: diameter 1e-300 mm"),
    "hardness without its scale": ([("material.hardness", 45)], 'hardness: 45 does not say its scale.*"45 HRC"'),
    "collar longer than the bar": (
        [("collars", [{"from_middle": 0.0, "length": 3000.0, "kind": "pressed"}])],
        "a collar of 3000 mm is longer than the bar, 1458.8 mm",
    ),
    "name of two lines": ([("name", "a\nb")], "line break or a control character"),
    "name that colours the terminal": ([("name", "a\x1b[31mb")], "line break or a control character"),
}  # fmt: skip


@pytest.mark.parametrize("name", SLIPS)
def test_slips_are_refused_where_they_stand(name: str) -> None:
    changes, message = SLIPS[name]
    with pytest.raises(InputError, match=message):
        bar_from_dict(changed(*changes))


@pytest.mark.parametrize("text", ["x = " + "[" * 5000 + "]" * 5000, "x = " + "9" * 5000])
def test_toml_that_python_cannot_hold_is_an_input_error(text: str, tmp_path: Path) -> None:
    path = tmp_path / "bar.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="the file is not TOML"):
        read_bar(path)


UNUSUAL = {
    "both mounts left of the middle": ([("mounts.0.from_middle", 200.0)], "lie on its left side"),
    "a mount that holds nothing across": ([("mounts.0.radial_stiffness", 0.0)], "holds nothing across the bar"),
    "a length error that is a length": ([("links.length_error", 50.0)], "not its length"),
    "a tube of foil": ([*TUBE, ("section.wall", 0.5)], "a tube may dent, buckle"),
    "wheel travel that nothing uses": (
        [("travel", {"wheel": 60, "motion_ratio": 0.5, "up": 50, "down": 70, "direction": [0, 0, 1]})],
        "wheel is not used",
    ),
    "pickup travel that nothing uses": ([("travel.up", 50), ("travel.down", 30)], "pickup is not used"),
    "what is known of a peening that there is none of": (
        [("material.peening", {"kind": "none", "residual": -600, "depth": 0.2})],
        'kind = "none" leaves depth and residual unused',
    ),
}


@pytest.mark.parametrize("name", UNUSUAL)
def test_what_is_likely_a_slip_but_can_be_is_warned_of(name: str) -> None:
    changes, message = UNUSUAL[name]
    assert any(message in warning for warning in bar_from_dict(changed(*changes)).warnings)


def test_a_life_at_survival_below_a_thousand_cycles_is_called_an_orientation() -> None:
    """The median may stand and the life at survival not: Shigley's line begins at a thousand cycles."""
    soft = [("material.yield_strength", 790.0), ("material.tensile_strength", 800.0)]
    for travel in range(30, 80, 2):
        (one, _) = check_bar(bar_from_dict(changed(*soft, ("travel.pickup", float(travel))))).settings
        life = one.fatigue.life_at_survival_cycles
        if life is not None and life < 1000.0 < (one.fatigue.life_cycles or 0.0):
            assert one.fatigue.reason is not None and "90 % survival, below 1 000 cycles" in one.fatigue.reason
            return
    pytest.fail("no travel has its two lives on both sides of a thousand cycles")
