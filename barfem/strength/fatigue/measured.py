"""Published fatigue tests against what barfem predicts: predicted over measured strength, by series and kind of skin.

`materials/measured/tests.csv` holds the tests, `sources.toml` beside it where they come from. A series is one source,
steel family, skin and load, and counts once, by its median. What is compared is strength: the amplitude that barfem
says lasts the measured cycles, at the test's own mean, over the measured one. Nothing is fitted to these tests.

`compared.json` beside this file holds the outcome, so that a check can say at once how well its own kind of skin has
been compared; a test holds it against the tests. After a change of the strength model:

    python -m barfem.strength.fatigue.measured
"""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from statistics import median

import numpy as np

from barfem.model.data_paths import materials_dir
from barfem.model.frozen import frozen
from barfem.model.material import Steel
from barfem.model.skin import Peening, Skin
from barfem.strength.fatigue.assess import amplitude_lasting
from barfem.strength.fatigue.criteria import DEFAULT_CRITERION
from barfem.strength.fatigue.mean_stress import MeanStress
from barfem.strength.fatigue.residual import cyclic_yield, surface_residual
from barfem.strength.fatigue.strength import fatigue_strength

__all__ = [
    "MeasuredTest",
    "Series",
    "compared",
    "comparison_words",
    "measured_tests",
    "predicted_over_measured",
    "series_of",
]

COMPARED = Path(__file__).with_name("compared.json")
_AXIAL = 0.85
_ROOT_3 = float(np.sqrt(3.0))


@frozen
class MeasuredTest:
    """One row of tests.csv. `amplitude_MPa` and `mean_MPa` are the test's own: shear stresses in torsion."""

    source: str
    family: str
    steel: str
    tensile_MPa: float
    skin: Skin
    load: str
    torsion_share: float
    diameter_mm: float
    amplitude_MPa: float
    mean_MPa: float
    cycles: float
    kind: str
    note: str

    @property
    def series(self) -> tuple[str, str, str, str]:
        return self.source, self.family, self.skin.kind, self.load


@frozen
class Series:
    """Predicted over measured strength of one source, steel family, skin and load: median and all tests."""

    source: str
    family: str
    skin: str
    load: str
    ratio: float
    ratios: tuple[float, ...]


def measured_tests() -> list[MeasuredTest]:
    """Every test that ships."""
    with (materials_dir() / "measured" / "tests.csv").open(encoding="utf-8", newline="") as stream:
        return [
            MeasuredTest(
                source=row["source"],
                family=row["family"],
                steel=row["steel"],
                tensile_MPa=float(row["tensile_MPa"]),
                skin=Skin(
                    row["finish"],
                    Peening() if row["peening"] == "shot" else None,
                    float(row["decarburised_mm"]) if row["decarburised_mm"] else None,
                ),
                load=row["load"],
                torsion_share=float(row["torsion_share"]),
                diameter_mm=float(row["diameter_mm"]),
                amplitude_MPa=float(row["amplitude_MPa"]),
                mean_MPa=float(row["mean_MPa"]),
                cycles=float(row["cycles"]),
                kind=row["kind"],
                note=row["note"],
            )
            for row in csv.DictReader(stream)
        ]


def predicted_over_measured(test: MeasuredTest, *, method: str = DEFAULT_CRITERION) -> float:
    """Amplitude that lasts the measured cycles at the test's mean, over the measured amplitude.

    The steel is known by its tensile strength alone; an axial specimen has the handbook's load factor and no size.
    """
    steel = Steel("", "", 206000.0, 0.3, 7850.0, test.tensile_MPa, test.tensile_MPa)
    axial = test.load == "axial"
    # A specimen that rotates is stressed all round, as in torsion: its whole diameter counts.
    rotating = 1.0 / 0.37 if test.load == "rotating bending" else 1.0
    strength = fatigue_strength(
        steel,
        diameter_mm=None if axial else test.diameter_mm * rotating,
        torsion_share=test.torsion_share,
        skin=test.skin,
        load_factor=_AXIAL if axial else 1.0,
    )
    to_von_mises = _ROOT_3 if test.torsion_share == 1.0 else 1.0
    predicted = amplitude_lasting(
        strength,
        test.cycles,
        mean_MPa=to_von_mises * test.mean_MPa,
        residual_MPa=surface_residual(steel, skin=test.skin),
        yield_MPa=test.tensile_MPa,
        tensile_MPa=test.tensile_MPa,
        cyclic_yield_MPa=cyclic_yield(steel),
        rule=MeanStress(method),
    )
    return float(predicted) / (to_von_mises * test.amplitude_MPa)


def series_of(tests: list[MeasuredTest], *, method: str = DEFAULT_CRITERION) -> list[Series]:
    """The series in the order of their first tests."""
    found: dict[tuple[str, str, str, str], list[float]] = {}
    for test in tests:
        found.setdefault(test.series, []).append(predicted_over_measured(test, method=method))
    return [Series(*key, median(ratios), tuple(ratios)) for key, ratios in found.items()]


def by_skin(series: list[Series]) -> dict[str, list[float]]:
    """The ratios of all series of each kind of skin, the least first."""
    kinds: dict[str, list[float]] = {}
    for one in series:
        kinds.setdefault(one.skin, []).append(round(one.ratio, 3))
    return {kind: sorted(ratios) for kind, ratios in sorted(kinds.items())}


@cache
def compared() -> dict[str, list[float]]:
    """Predicted over measured strength of the series that ship, by kind of skin, as last computed."""
    found: dict[str, list[float]] = json.loads(COMPARED.read_text(encoding="utf-8"))
    return found


def comparison_words(skin: Skin) -> str:
    """How well this kind of skin has been compared with tests, and which way the estimate leans.

    "3 series of tests, predicted 0.70 to 1.00 of measured strength: on the safe side"; where no test of this kind is
    known, that, and what is known of the other skins that were peened, or that were not and are no specimen's.
    """
    known = compared()
    if skin.kind in known:
        return _ratios_in_words(known[skin.kind], "")
    others = [kind for kind in known if kind != "polished" and kind.endswith("peened") == skin.peened]
    words = "no test known of this kind of skin: an estimate"
    if not others:
        return words
    ratios = sorted(ratio for kind in others for ratio in known[kind])
    return f"{words}; of other {'peened' if skin.peened else 'unpeened'} skins {_ratios_in_words(ratios, ' together')}"


def _ratios_in_words(ratios: list[float], together: str) -> str:
    least, greatest = ratios[0], ratios[-1]
    many = f"{len(ratios)} series of tests{together}" if len(ratios) > 1 else "one series of tests"
    between = f"{least:.2f} to {greatest:.2f}" if greatest - least > 0.005 else f"{least:.2f}"
    leans = "on the safe side" if greatest <= 1.0 else "on both sides" if least < 1.0 else "on the unsafe side"
    return f"{many}, predicted {between} of measured strength: {leans}"


if __name__ == "__main__":
    outcome = series_of(measured_tests())
    for one in outcome:
        print(f"{one.ratio:6.2f}  {one.skin:24} {one.load:18} {one.family:24} {one.source}")
    COMPARED.write_text(json.dumps(by_skin(outcome), indent=1) + "\n", encoding="utf-8")
