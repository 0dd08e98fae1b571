"""Every example of every command's help runs as it stands, on a bar of the name that it uses."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from barfem.cli.main import COMMANDS, main
from tests.cli.test_help import examples, help_of

ROOT = Path(__file__).parents[2]
GEOMETRIES = ROOT / "geometries"

# Few bands, so that few bars will do.
FIXED = """
    flat_thickness flat_width straight_length tip_position bend_radius bend_angle bend_rotation hole_position
    mount_position yield_ratio wall
"""
FEW = "16"
# Over the whole stock list, each of these takes some seconds; the cheapest of its command runs.
SLOW = {"size": ("--vary",)}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with everything that the examples name. The tube has arms, a motion ratio, and holes 1 and 2."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "geometries").symlink_to(GEOMETRIES)
    tube = (GEOMETRIES / "pickup-rear-tube.toml").read_text(encoding="utf-8")
    tube = re.sub(r'  \{ name = "[34]".*\n', "", tube)
    tube += "\n[tolerances]\n" + "".join(f"{key} = 0\n" for key in FIXED.split())
    for name in ("BAR", "FRONT", "front"):
        (tmp_path / f"{name}.toml").write_text(tube, encoding="utf-8")
    (tmp_path / "OTHER.toml").write_text((GEOMETRIES / "pickup-front-solid.toml").read_text(encoding="utf-8"))
    car = (GEOMETRIES / "coupe-car.toml").read_text(encoding="utf-8").replace('"B"', '"2"')
    bar = str(GEOMETRIES / "coupe-rear-cranked.toml")  # its pickups are fixed in the car; holes 1, 2, 3
    (tmp_path / "CAR.toml").write_text(car.replace("coupe-front-splayed.toml", bar), encoding="utf-8")
    rows = [f"{0.01 * i:.2f},{28 * math.sin(i / 3):.3f},{-24 * math.sin(i / 3.3):.3f}" for i in range(24)]
    (tmp_path / "stage.csv").write_text("time_s,left_mm,right_mm\n" + "\n".join(rows) + "\n")
    lives = ["620,61000,broken", "620,88000,broken", "540,170000,broken", "470,1000000,stopped"]
    (tmp_path / "tests.csv").write_text("amplitude_MPa,cycles,result\n" + "\n".join(lives) + "\n")
    measured = ["# barfem inspection, format 1", "# units = mm, N, deg, HRC", "bar,what,place,value,unit"]
    (tmp_path / "measured.csv").write_text("\n".join([*measured, "B-1,hardness,middle,45.5,HRC\n"]))
    points = "\n".join(f"{x},{12.5 * x + (-1) ** x:.1f}" for x in range(-20, 21))
    (tmp_path / "curves.csv").write_text(f"# units = mm, N ; case = one_end_held ; hole = 1\nx_mm,force_N\n{points}\n")
    return tmp_path


def cheaper(words: list[str]) -> list[str]:
    """The same example with few bars, and few values of each key."""
    short = [FEW if i and words[i - 1] == "--samples" else word for i, word in enumerate(words)]
    if words[1] == "sweep":
        short = [re.sub(r":\d+$", ":2", word) for word in short]
    if words[1] == "tolerance" and "--samples" not in words:
        short += ["--samples", FEW]
    return [("1" if i and short[i - 1] == "--workers" else word) for i, word in enumerate(short)]


NOT_LONG = ("check", "new", "life", "materials")


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[] if name in NOT_LONG else [pytest.mark.long])
        for name in COMMANDS
        if name != "completion"
    ],
)
def test_it_runs(name, folder, capsys, monkeypatch, unpictured, request):
    # barfem page serves until it is stopped: here it is stopped at once, and opens no browser.
    monkeypatch.setattr("uvicorn.Server.run", lambda self, sockets=None: None)
    monkeypatch.setattr("webbrowser.open", lambda url: False)
    found = [words for words in examples(help_of(name, capsys)) if words[1] == name]
    # A cluster is not there; the solid with its file runs in tests/check/test_solid_in_check.py.
    run = [words for words in found if not {"--cluster", "--vtu"} & set(words)]
    if name in SLOW:
        run = [words for words in run if set(SLOW[name]) & set(words)]
    assert run
    # Paper has its own tests, in tests/drawing and tests/report; here the package alone would print twelve sheets.
    monkeypatch.setattr("barfem.show.report.paper.page_to_pdf", lambda page, **how: b"%PDF-1.4 /Type /Page ")
    if name == "package":
        request.getfixturevalue("unprinted")
    for words in run:
        for made in folder.glob("*.jsonl"):
            made.unlink()
        if name == "new":  # it never replaces a file
            (folder / words[2]).unlink(missing_ok=True)
        status = main(cheaper(words)[1:])
        captured = capsys.readouterr()
        assert status in (0, 1), f"{' '.join(words)}: {captured.err}"
        assert captured.out
