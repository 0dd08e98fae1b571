"""Every notebook runs, tells what it says, uses the public API alone, and lies in the repository without outputs."""

from __future__ import annotations

import ast
import io
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import barfem
from barfem.show.console import make_console, print_table
from barfem.show.tables import column, table

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

# What each notebook's text says, as expressions over its own variables, to be true at its end. The numbers are
# barfem's own (tests/validation holds the outside truth); they are as coarse as the text that leans on them.
CLAIMS: dict[str, dict[str, str]] = {
    "01-first-check": {
        "it passes, and the stiffest hole governs; the stress is greatest on top of the bar in its bushing": (
            "check.passes and worst.left == 'stiff' and 'mount' in check.governing_for_stress.peak.where"
            " and 'top' in check.governing_for_stress.peak.where"
        ),
        "the picture has the colours that the text speaks of": (
            "any('check.plot(\"bar-at-full-travel' in cell for cell in In[:-1])"
            " and 'coloured' in check.plot('bar-at-full-travel').caption"
        ),
        "life is decided in the bend": ("'bend' in worst.fatigue.where"),
        "past ten million cycles nothing more is claimed": "worst.fatigue.runout",
        "rates": "[round(row['rate_N_per_mm']) for row in check.records()] == [25, 30, 36]",
        "a margin of 4": "round(check.governing_for_stress.yield_margin, 1) == 4.0",
        "scaled, it fails; peened, it passes": "not scaled.passes and peened.passes",
        "bar is untouched": "bar.steel.peening is not None and bar.travel.up_mm == 24",
    },
    "02-solid-against-hollow": {
        "a tube of the same rate has 62 % and 51 % of the mass": (
            "[round(row['mass_kg'] / solid['mass_kg'], 2) for row in tubes] == [0.62, 0.51]"
        ),
        "the hand sum finds its diameter": (
            "all(abs(row['diameter_mm'] / by_hand(*s)[0] - 1) < 0.01 for row, s in zip(tubes, [(24, 4), (26, 3)]))"
        ),
        "at equal geometry the thickest is the most stressed tube": (
            "stiff_hole(seen, 'equal geometry')[2]['peak_von_mises_MPa']"
            " > stiff_hole(seen, 'equal geometry')[1]['peak_von_mises_MPa']"
        ),
        "the diameter says 6 % and 12 %; the first tube keeps to it, the second is above it": (
            "abs(tubes[0]['peak_von_mises_MPa'] / solid['peak_von_mises_MPa'] - 1.058) < 0.01"
            " and tubes[1]['peak_von_mises_MPa'] / solid['peak_von_mises_MPa'] > 1.13"
        ),
        "its weak place is the bend": "'bend' in tubes[1]['peak_where'] and 'mount' in solid['peak_where']",
        "nearly a third of the weight for a few per cent of stress": (
            "thinner[2]['peak_von_mises_MPa'] / solid['peak_von_mises_MPa'] < 1.04"
            " and thinner[2]['mass_kg'] / solid['mass_kg'] < 0.72"
        ),
        "half of it costs a tenth": "1.08 < thinner[4]['peak_von_mises_MPa'] / solid['peak_von_mises_MPa'] < 1.13",
        "the last step saves a quarter of a kilogram": "0.22 < thinner[4]['mass_kg'] - thinner[5]['mass_kg'] < 0.28",
        "half the weight takes two fifths of the safety factor": (
            "0.55 < thinner[4]['fatigue_safety_factor_at_target'] / solid['fatigue_safety_factor_at_target'] < 0.65"
        ),
        "the bore decides from the fourth tube on": (
            "[row['fatigue_surface'] == 'bore' for row in thinner] == [False, False, False, False, True, True]"
        ),
        "the last step as much again": "thinner[5]['peak_von_mises_MPa'] / thinner[4]['peak_von_mises_MPa'] > 1.1",
    },
    "03-what-a-bend-does": {
        "closed forms are the coil spring's in the tight bend": "abs(closed[36] / coil_spring(36) - 1) < 0.02",
        "which charges nearly twice too much": "1.7 < (closed[36] - 1) / (solid[36] - 1) < 2.1",
        "closed forms are on the safe side": "all(closed[radius] >= solid[radius] for radius in radii)",
        "a wide bend costs next to nothing": "1.0 < solid[120] < 1.03 and solid[36] > 1.15",
        "in a tube they are not": "all(tube[radius][1][0] > 1.15 * tube[radius][0][0] for radius in (36, 48, 60))",
        "the whole bar as one solid agrees": "abs(in_parts / in_one_piece - 1) < 0.01 and by_forms < 0.85 * in_parts",
        "its worst place is in the bore": "all(tube[radius][1][2] == 'bore' for radius in (36, 48, 60))",
        "three diameters help": "tube[80][1][0] < 1.05",
        "the bushing is the weak place": "all('mount' in peak.where for peak in peaks.values())",
        "a wider bend is then more stressed": (
            "peaks[120].von_mises_MPa > peaks[60].von_mises_MPa > peaks[36].von_mises_MPa"
        ),
    },
    "04-what-a-tolerance-band-costs": {
        "nearly every bright bar is softer than drawn": "rate(bright)['high'] < 1.005 * rate(bright)['drawn']",
        "E makes two thirds of it, the diameter comes next": (
            "list(shares(bright))[:2] == ['E', 'diameter'] and 0.55 < shares(bright)['E'] < 0.75"
        ),
        "margin and factor are better than drawn, the factor by less": (
            "1.0 < number(bright, 'fatigue_safety_factor_at_target')['mean']"
            " / number(bright, 'fatigue_safety_factor_at_target')['drawn']"
            " < (1 + number(bright, 'yield_margin')['mean']) / (1 + number(bright, 'yield_margin')['drawn'])"
        ),
        "ground would gain little": "0.8 < left < 0.95",
        "black spreads several times as wide": "3 < rate(black)['deviation'] / rate(bright)['deviation'] < 5",
        "and misses more than one in twenty": "misses(black) > 0.05 and misses(bright) == 0.0",
        "by its diameter": "shares(black)['diameter'] > 0.9",
    },
    "05-holes-and-life": {
        "four do not fit": "not four.fits",
        "three in equal steps of 22 %": "plan.fits and round(plan.step_percent) == 22",
        "the last one is 37 N/mm": "abs(plan.records()[-1]['rate_N_per_mm'] - 37) < 0.1",
        "the gaps become smaller": "[r['from_tip_mm'] for r in plan.records()] == [26.0, 58.0, 87.5]",
        "they pass": "check.passes",
        "ten per cent more travel takes near half of the life": (
            "0.5 < further.fatigue.life_cycles / fatigue.life_cycles < 0.62"
        ),
        "99 % of bars reach much less than half of them": (
            "[r['life'] for r in check.records('lives') if r['left'] == stiff.left][2] < 0.5 * fatigue.life_cycles"
        ),
    },
    "06-which-hole-for-which-car": {
        "the whole model is a third more than rigid tyres by hand": (
            "1.28 < coupe.whole_deg_per_g / coupe.by_hand_deg_per_g['rigid_tyres'] < 1.4"
        ),
        "a stiffer front takes more, about half a point a hole": (
            "0.003 < shares['B'] - shares['A'] < 0.008 and 0.004 < shares['C'] - shares['B'] < 0.009"
        ),
        "there is a start pair": "start.front is not None and start.passes",
        "no pair leans as little as before on stickier tyres": "calm == [] and least > sticky.old_roll_deg",
        "the stiffest rear holes of the pickup fail": "failing == {'3', '4'}",
    },
    "07-a-batch-comes-back": {
        "five bars are named, each with one cause": (
            "[len(each.faults) for each in batch.bars] == [0, 0, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0]"
        ),
        "rotation and angle are told apart": (
            "'rotation' in rows['B-006']['faults'] and 'underbent' in rows['B-007']['faults']"
        ),
        "the angle is farther off and does next to nothing": (
            "rows['B-007']['largest_mm'] > rows['B-006']['largest_mm']"
            " and rows['B-007']['preload_N'] < 0.1 * rows['B-006']['preload_N']"
        ),
        "a fit of all points spreads it": "spread['B-006']['largest_mm'] < 0.8 * rows['B-006']['largest_mm']",
        "the soft bar is turned down and loses a fifth of its margin": (
            "soft['verdict'] == 'reject' and 0.77 < soft['yield_margin'] / sound['yield_margin'] < 0.83"
        ),
        "Ppk of the diameter is good, that of the rotation is not": (
            "{q.name: q.Ppk_95[0] for q in batch.lot.quantities if q.Ppk_95}['diameter_mm'] > 1.0"
            " and next(q for q in batch.lot.quantities if q.name == 'bend 2 rotation_deg').outliers == ('B-006',)"
        ),
    },
}


def read(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def code(path: Path) -> str:
    return "\n".join("".join(cell["source"]) for cell in read(path)["cells"] if cell["cell_type"] == "code")


def test_there_is_a_claim_for_every_notebook():
    assert [path.stem for path in NOTEBOOKS] == list(CLAIMS)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_outputs_are_stripped(path):
    for cell in read(path)["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == [] and cell["execution_count"] is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_only_the_public_api_is_used(path):
    tree = ast.parse(code(path))
    used = {
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "barfem"
    }
    assert used and used <= set(barfem.__all__)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            assert all(not alias.name.startswith("barfem.") for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not (node.module or "").startswith("barfem")


@pytest.fixture(scope="module")
def kernel() -> Iterator[Any]:
    """One kernel for the notebooks of a process, in their folder: starting one takes longer than most of them."""
    for name in ("nbformat", "nbclient", "ipykernel"):
        pytest.importorskip(name, reason=f"notebooks are run with {name}: pip install '.[test]'")
    from jupyter_client.manager import KernelManager

    path = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
    inline = {"PYTHONPATH": path, "MPLBACKEND": "module://matplotlib_inline.backend_inline"}
    manager = KernelManager(kernel_name="python3")
    manager.start_kernel(cwd=str(ROOT / "notebooks"), env={**os.environ, **inline})
    yield manager
    manager.shutdown_kernel(now=True)


NOT_LONG = ("01-first-check",)


@pytest.mark.parametrize(
    "path",
    [pytest.param(path, id=path.stem, marks=[] if path.stem in NOT_LONG else [pytest.mark.long]) for path in NOTEBOOKS],
)
def test_it_runs_and_tells_what_is_so(path, kernel):
    import nbclient
    import nbformat

    notebook = nbformat.read(path, 4)
    notebook.cells.insert(0, nbformat.v4.new_code_cell("%reset -f"))
    claims = CLAIMS[path.stem]
    asked = "import json\nprint(json.dumps([bool(claim) for claim in [\n" + ",\n".join(claims.values()) + "\n]]))"
    notebook.cells.append(nbformat.v4.new_code_cell(asked))
    # A kernel may send one print in two pieces: they are put together again.
    nbclient.NotebookClient(notebook, km=kernel, timeout=600, coalesce_streams=True).execute()
    complained = [o for cell in notebook.cells for o in cell.get("outputs", []) if o.get("name") == "stderr"]
    assert complained == []
    empty = [o for cell in notebook.cells for o in cell.get("outputs", []) if o.get("data", {}).get("text/plain") == ""]
    assert empty == []  # what a table is measured with was once shown, as a blank line above the result
    (output,) = notebook.cells[-1]["outputs"]
    held = dict(zip(claims, json.loads(output["text"]), strict=True))
    assert [claim for claim, true in held.items() if not true] == []


def test_pictures_named_in_notebooks_and_readme_are_there():
    texts = [
        (ROOT / "README.md").read_text(encoding="utf-8"),
        *(path.read_text(encoding="utf-8") for path in NOTEBOOKS),
    ]
    for text in texts:
        for name in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text):
            assert (ROOT / name).exists(), name


def test_a_notebook_shows_nothing_of_a_table_that_is_measured_for_another_stream(monkeypatch):
    """Where columns must give way the table is tried first; rich shows in a notebook whatever is not told otherwise."""
    shown = []
    monkeypatch.setattr("rich.console._is_jupyter", lambda: True)
    monkeypatch.setattr("rich.jupyter.display", lambda segments, text: shown.append(text))
    stream = io.StringIO()
    columns = [column(f"heading {i}", "mm", lambda row: 1.0, show=lambda _: "12345678.9") for i in range(12)]
    print_table(make_console(stream), table("wide", "A wide table", [None], columns))
    assert "12345" in stream.getvalue() and shown == []
