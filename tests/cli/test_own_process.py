"""What `barfem`, a process of its own, spares of its libraries: work that nobody sees, and in no other process."""

import importlib
import os
import subprocess
import sys
from pathlib import Path

import pytest


def output_of(script: str) -> list[str]:
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return run.stdout.split()


def test_a_script_that_imports_barfem_finds_the_documents_of_scipy_as_scipy_wrote_them() -> None:
    script = "import barfem; barfem.check_bar; import scipy.linalg; print(len(scipy.linalg.eig.__doc__) > 500)"
    assert output_of(script) == ["True"]


SPARED = "from barfem.cli.own_process import spare_start_and_end; spare_start_and_end(); "


def test_the_documents_are_spared_and_every_part_of_scipy_that_barfem_uses_still_works() -> None:
    script = SPARED + (
        "import sys, numpy as np, scipy.linalg, scipy.optimize, scipy.spatial, scipy.sparse.linalg\n"
        "from scipy.interpolate import CubicSpline, PchipInterpolator\n"
        "from scipy.special import betaincinv, ndtri, stdtrit\n"
        "from scipy.stats import binom, chi2, hypergeom, nct, norm, qmc\n"
        "print('barfem' in repr(sys.modules['scipy._lib._docscrape'].FunctionDoc))\n"
        "print(scipy.linalg.eigh(np.diag([3.0, 2.0]))[0].tolist() == [2.0, 3.0])\n"
        "print(abs(norm.ppf(0.975) - 1.96) < 1e-4, qmc.Sobol(2, scramble=False).random(4).shape == (4, 2))"
    )
    assert set(output_of(script)) == {"True"}


def test_what_a_stand_in_does_not_have_comes_from_the_module_that_it_stands_for() -> None:
    script = SPARED + (
        "from scipy._lib._docscrape import FunctionDoc, NumpyDocString; from pydantic.plugin._loader import _plugins\n"
        "print(NumpyDocString.__module__, FunctionDoc(len)['Notes'], FunctionDoc(len).sections['Summary'])"
    )
    assert output_of(script) == ["scipy._lib._docscrape", "[]", "['']"]


@pytest.mark.parametrize(
    ("module", "names"),
    [("scipy._lib._docscrape", ["FunctionDoc", "Parameter"]), ("pydantic.plugin._loader", ["get_plugins"])],
)
def test_the_libraries_still_have_what_is_stood_in_for(module: str, names: list[str]) -> None:
    real = importlib.import_module(module)
    assert all(hasattr(real, name) for name in names)


def test_the_end_of_the_process_does_not_look_through_all_of_its_objects() -> None:
    # Functions registered later run earlier: here before, and there after, what there is has been set aside.
    count = "import atexit, gc; atexit.register(lambda: print(gc.get_freeze_count())); "
    before, after = (int(output_of(script)[0]) for script in (SPARED + count, count + SPARED))
    assert after > before + 1000


def test_a_notebook_s_way_of_drawing_is_not_asked_for(tmp_path: Path) -> None:
    """What a cell starts gets the notebook's MPLBACKEND, and matplotlib refuses one that is not installed beside it."""
    bar = Path(__file__).parents[2] / "geometries" / "pickup-front-solid.toml"
    command = [sys.executable, "-m", "barfem", "check", str(bar), "--plots", str(tmp_path / "pictures")]
    # Nor is there a folder for matplotlib's list of fonts, of which it would speak in three lines.
    environment = {**os.environ, "MPLBACKEND": "module://of_a_notebook.elsewhere", "MPLCONFIGDIR": os.devnull}
    run = subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120)
    assert run.returncode == 0 and run.stderr == ""
    assert any((tmp_path / "pictures").iterdir())
