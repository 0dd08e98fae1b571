"""The file of a bar as received holds what was measured: checked by itself it is the bar that was judged."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest
import tomlkit

from barfem.cli.main import main
from barfem.model.read import bar_from_dict, read_bar
from barfem.vendor.inspect_shape import drawn_rows, walk
from tests.often import often
from tests.vendor.bars import handed_bar
from tests.vendor.lots import lot_text, written

SIZES = (
    "flat thickness,right end,,,,12.1,mm",
    "flat thickness,left end,,,,11.9,mm",
    "flat width,right end,,,,40.2,mm",
    "flat width,left end,,,,39.9,mm",
    "hole from_tip,hole 1 right,,,,20.6,mm",
    "hole from_tip,hole 2 right,,,,44.5,mm",
    "hole from_tip,hole 1 left,,,,19.7,mm",
    "hole from_tip,hole 2 left,,,,45.4,mm",
    "hole diameter,hole 2 left,,,,12.1,mm",
    "wall,middle,,,,4.05,mm",
    "record,decarburisation,,,,0.25,mm",
    "hardness,bend 1,,,,405,HBW",  # softer than the middle on the other scale
)


def _tables():
    """Mounts by y, which the shape as received would cross elsewhere; joints beside their holes."""
    tables = deepcopy(dict(handed_bar().tables))
    tables["ends"]["holes"] = [{"name": "1", "from_tip": 20.0}, {"name": "2", "from_tip": 45.0, "diameter": 12.0}]
    tables["ends"]["holes"][0]["offset"] = [0.0, 14.0, 6.0]
    for mount, y in zip(tables["mounts"], (-330.0, 330.0), strict=True):
        mount.pop("from_middle", None)
        mount["y"] = y
    return json.loads(json.dumps(tables))


@pytest.mark.parametrize("fault", often(["long", "bend", "rotation"], ["rotation"]))
def test_the_file_s_own_rate_is_that_of_the_bar_as_received(fault, tmp_path):
    bar_path = written(tmp_path, tomlkit.dumps(_tables()), "bar.toml")
    lines = [line for line in lot_text(bar_from_dict(_tables()), [fault], seed=9).splitlines() if ",wall," not in line]
    lot = written(tmp_path, "\n".join(lines) + "\n" + "".join(f"B-001,{line},,\n" for line in SIZES))
    judged, checked, came = tmp_path / "judged.json", tmp_path / "checked.json", tmp_path / "came"
    main(["inspect", str(bar_path), str(lot), "--json", str(judged), "--as-received", str(came)])
    (path,) = came.iterdir()
    main(["check", str(path), "--json", str(checked)])
    received = json.loads(judged.read_text(encoding="utf-8"))["bars"][0]["as_received"]["settings"]
    own = json.loads(checked.read_text(encoding="utf-8"))["settings"]
    assert len(own) == len(received) == 2
    for one, other in zip(own, received, strict=True):
        assert one["rate_N_per_mm"] == pytest.approx(other["rate_N_per_mm"], rel=1e-4)
        assert one["yield_margin"] == pytest.approx(other["yield_margin"], abs=2e-3)
        factor = one["fatigue"]["safety_factor_at_target"]
        assert factor == pytest.approx(other["safety_factor_at_target"], abs=2e-3)
    bar = read_bar(path)
    assert [hole.from_tip_mm for hole in bar.right.holes] == [20.6, 44.5]
    assert [hole.from_tip_mm for hole in bar.left.holes] == [19.7, 45.4] and bar.left.holes[1].diameter_mm == 12.1
    assert (bar.right.flat.thickness_mm, bar.left.flat.width_mm) == (12.1, 39.9)
    head = path.read_text(encoding="utf-8").partition("format")[0]
    assert "right holes" in head and "left flat width" in head and "links length error" in head
    assert bar.steel.decarburised_depth_mm == 0.25 and "decarburised depth" in head


def test_the_file_of_a_bar_whose_peening_failed_has_none(tmp_path):
    """However the drawing says it: as a finish that is peened, or as a treatment on top of any."""
    for material in (
        {"surface": "shot-peened"},
        {"surface": "machined", "peening": {"kind": "shot", "residual": -600}},
    ):
        tables = _tables()
        tables["material"] |= material
        bar_path = written(tmp_path, tomlkit.dumps(tables), "bar.toml")
        lot = written(tmp_path, lot_text(bar_from_dict(tables), ["none"], seed=9) + "B-001,record,peening,,,,fail,,,\n")
        came = tmp_path / str(material["surface"])
        main(["inspect", str(bar_path), str(lot), "--as-received", str(came)])
        (path,) = came.iterdir()
        drawn, found = read_bar(bar_path).steel, read_bar(path).steel
        assert drawn.peening is not None and found.peening is None and found.surface == drawn.surface
        assert "peening failed" in path.read_text(encoding="utf-8").partition("format")[0]


def test_bars_that_differ_by_capitals_alone_would_be_one_file(tmp_path, capsys):
    """On a disk that does not tell capitals apart the second would be written over the first."""
    bar_path = written(tmp_path, tomlkit.dumps(_tables()), "bar.toml")
    head = "# barfem inspection, format 1\n# units = mm, N, deg, HRC\nbar,what,place,value,unit\n"
    lot = written(tmp_path, head + "B-1,diameter,middle,24,mm\nb-1,diameter,middle,24,mm\n")
    assert main(["inspect", str(bar_path), str(lot), "--as-received", str(tmp_path / "came")]) == 2
    assert "differ by signs or capitals alone, such as b-1" in capsys.readouterr().err
    assert not (tmp_path / "came").exists()


def test_a_bar_that_no_file_can_hold_is_named_and_the_others_are_written(tmp_path):
    """Tips 600 mm apart, by a rotation of the wrong sign: links of 140 mm reach no hole. The run ended in an error that
    blamed the drawing's link, and wrote no bar of the lot."""
    drawn = handed_bar()
    bar_path = tmp_path / "bar.toml"
    bar_path.write_text(tomlkit.dumps(json.loads(json.dumps(drawn.tables))), encoding="utf-8")
    lines = lot_text(drawn, ["none", "none"], seed=5).splitlines()
    bent = replace(drawn_rows(drawn), rotation_deg=np.array([160.0]))
    points = walk(bent.vector, bent.bends)[0].tolist()
    at = [i for i, line in enumerate(lines) if line.startswith("B-001,point")]
    for i, (x, y, z) in zip(at, points, strict=True):
        lines[i] = ",".join([*lines[i].split(",")[:3], f"{x:.3f},{y:.3f},{z:.3f}", *lines[i].split(",")[6:]])
    lines = [line for line in lines if not line.startswith("B-001,hole axis")]
    came = tmp_path / "came"
    assert main(["inspect", str(bar_path), str(written(tmp_path, "\n".join(lines))), "--as-received", str(came)]) == 1
    assert sorted(each.name for each in came.iterdir()) == ["as-received-B-002.toml", "not-written.txt"]
    (left_out,) = (came / "not-written.txt").read_text("utf-8").splitlines()
    assert left_out.startswith("B-001: ") and "leaves nothing of a link of 140 mm" in left_out
