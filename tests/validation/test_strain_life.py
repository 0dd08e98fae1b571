"""Strain-life, Neuber's rule, hardness and small defects against published values and other solvers.

"Dowling": Mechanical Behavior of Materials, 4th ed. 2012. "Computed": worked out independently.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from barfem.model.hardness import tensile_from_hardness, vickers_from_tensile
from barfem.model.material import CyclicConstants, Steel
from barfem.model.material_table import known_tables, read_table
from barfem.model.materials import steel_from_table
from barfem.strength.fatigue.cyclic_curve import CyclicCurve, cyclic_curve, estimated_cyclic_curve
from barfem.strength.fatigue.flaws import flaw_limit, flaw_size_um
from barfem.strength.fatigue.strain_life import StrainLife, local_loop, neuber_stress, strain_life_constants
from barfem.strength.first_travel import moment_kept, set_share

SAE_1005 = CyclicCurve(207_000.0, 1240.0, 0.27, "Lee, Pan, Hathaway and Barkey 2005")
SAE_1005_LIFE = StrainLife(207_000.0, 886.0, -0.14, 0.28, -0.5)
AIRCRAFT_4340 = StrainLife(207_000.0, 1758.0, -0.0977, 2.12, -0.774)


class TestNeuber:
    """A notched plate of SAE 1005: Kt 2.53, nominal amplitude 100 MPa, reversed (a worked example as quoted)."""

    def test_local_stress_and_strain(self, compare) -> None:
        loop = local_loop(amplitude_MPa=253.0, mean_MPa=0.0, curve=SAE_1005)
        source = "worked example with the constants of Lee, Pan, Hathaway and Barkey 2005, as quoted"
        compare(
            case="Neuber, SAE 1005, local stress amplitude", source=source, ours=loop.stress_amplitude_MPa,
            theirs=182.0, allowed=0.003, why="printed as about 182 MPa",
        )  # fmt: skip
        compare(
            case="Neuber, SAE 1005, local strain amplitude", source=source, ours=loop.strain_amplitude,
            theirs=0.00170, allowed=0.003, why="printed to three figures",
        )  # fmt: skip

    def test_life_of_the_notch(self, compare) -> None:
        loop = local_loop(amplitude_MPa=253.0, mean_MPa=0.0, curve=SAE_1005)
        compare(
            case="strain-life, SAE 1005 notch, cycles",
            source="the same worked example",
            ours=SAE_1005_LIFE.life(
                strain_amplitude=loop.strain_amplitude, max_MPa=loop.max_MPa, mean_MPa=loop.mean_MPa, method="morrow"
            ),
            theirs=5.4e4,
            allowed=0.01,
            why="printed to two figures",
        )

    @pytest.mark.parametrize("elastic", [50.0, 400.0, 900.0, 1800.0])
    def test_against_another_root_finder(self, compare, elastic: float) -> None:
        curve = CyclicCurve(207_000.0, 1655.0, 0.131, "Dowling Table 14.1, 4340")

        def off(stress: float) -> float:
            strain = stress / 207_000.0 + (stress / 1655.0) ** (1.0 / 0.131)
            return stress * strain - elastic**2 / 207_000.0

        compare(
            case=f"Neuber, 4340, elastic {elastic:.0f} MPa, local stress",
            source="computed with scipy.optimize.brentq from the equation itself",
            ours=neuber_stress(elastic, curve),
            theirs=brentq(off, 0.0, elastic, xtol=1e-10),
            allowed=1e-9,
            why="both solve the same equation to rounding",
        )

    def test_ramberg_osgood_of_pylife(self, compare) -> None:
        laws = pytest.importorskip("pylife.materiallaws", reason="pylife is not installed")
        stress = np.array([100.0, 400.0, 700.0])
        compare(
            case="cyclic curve, SAE 1005, strain",
            source="pylife 2.3.1, RambergOsgood",
            ours=SAE_1005.strain(stress),
            theirs=laws.RambergOsgood(E=207_000.0, K=1240.0, n=0.27).strain(stress),
            allowed=1e-12,
            why="the same formula",
        )


class TestCyclicCurve:
    @pytest.mark.parametrize(
        ("tensile", "measured", "grade"),
        [(1172.0, 1655.0 * 0.002**0.131, "4340"), (1413.0, 2210.0 * 0.002**0.133, "4142 at 380 HB"),
         (1757.0, 2080.0 * 0.002**0.093, "4142 at 450 HB")],
    )  # fmt: skip
    def test_estimate_against_measured_steels(self, compare, tensile: float, measured: float, grade: str) -> None:
        coefficient, exponent = estimated_cyclic_curve(tensile)
        compare(
            case=f"cyclic yield strength estimated, {grade}",
            source="Dowling Table 14.1, H' 0.002^n'",
            ours=coefficient * 0.002**exponent,
            theirs=measured,
            allowed=0.15,
            why="an estimate from the tensile strength alone; single bars scatter by as much",
        )

    def test_estimate_is_pylifes(self, compare) -> None:
        constants = pytest.importorskip("pylife.strength.fkm_nonlinear.constants", reason="pylife is not installed")
        row = constants.FKMNLConstants().for_material_group({"MatGroupFKM": "Steel"})
        tensile = np.array([600.0, 1000.0, 1450.0])
        k = row.a_sigma * tensile**row.b_sigma
        k = k / np.minimum(row.epsilon_grenz, row.a_epsilon * tensile**row.b_epsilon) ** row.n_prime
        compare(
            case="K' from the tensile strength, MPa",
            source="constants of pylife 2.3.1 (FKM guideline non-linear 2019, table 2.7 ff.)",
            ours=estimated_cyclic_curve(tensile)[0],
            theirs=k,
            allowed=1e-12,
            why="the same constants",
        )

    def test_curve_of_a_table_and_from_b_and_c(self, compare) -> None:
        steel = steel_from_table(read_table(known_tables()["4340"]), "aircraft quality")
        compare(
            case="cyclic yield of 4340, MPa", source="Dowling Table 14.1: 1655 x 0.002^0.131",
            ours=cyclic_curve(steel).yield_MPa, theirs=733.3, allowed=1e-3, why="computed to four figures",
        )  # fmt: skip
        # 5160 at 430 HB of Shigley A-23: n' = b / c = 0.1246, K' = 1930 / 0.40^0.1246 = 2163.
        constants = CyclicConstants(195e3, 1930.0, -0.071, 0.40, -0.57, tensile_strength_MPa=1670.0)
        derived = Steel("5160", "", 206e3, 0.3, 7850.0, 1530.0, 1670.0, cyclic=constants)
        compare(
            case="K' of 5160 from b and c, MPa", source="computed for this list: 2160, n' 0.125",
            ours=cyclic_curve(derived).coefficient_MPa, theirs=2160.0, allowed=0.003, why="given to three figures",
        )  # fmt: skip


class TestStrainLife:
    @pytest.mark.parametrize("cycles", [10.0, 1e3, 1e5])
    def test_morrow_and_swt_go_back_to_the_cycles(self, compare, cycles: float) -> None:
        strain = float(AIRCRAFT_4340.strain_amplitude(cycles))
        product = float(AIRCRAFT_4340.swt_product(cycles))
        ours = [
            float(AIRCRAFT_4340.life(strain_amplitude=strain, max_MPa=0.0, mean_MPa=0.0, method="morrow")),
            float(AIRCRAFT_4340.life(strain_amplitude=1.0, max_MPa=product, mean_MPa=0.0)),
        ]
        compare(
            case=f"strain-life of 4340 inverted, {cycles:g} cycles", source="the equations themselves",
            ours=ours, theirs=[cycles, cycles], allowed=1e-9, why="bisection to rounding",
        )  # fmt: skip

    @pytest.mark.parametrize("mean", [0.0, 200.0, -150.0])
    def test_morrow_is_dowlings_equation(self, compare, mean: float) -> None:
        theirs = (1758.0 - mean) / 207e3 * 2e4**-0.0977 + 2.12 * 2e4**-0.774
        compare(
            case=f"strain amplitude of 4340 for 10 000 cycles at a mean of {mean:g} MPa", source="Dowling Eq. 14.19",
            ours=AIRCRAFT_4340.strain_amplitude(1e4, mean_MPa=mean), theirs=theirs, allowed=1e-12,
            why="the same equation",
        )  # fmt: skip

    def test_swt_is_dowlings_equation(self, compare) -> None:
        # smax ea = sf'^2 / E (2N)^2b + sf' ef' (2N)^(b+c) at N = 1000: computed by hand with four-figure powers.
        n2 = 2000.0
        theirs = 1758.0**2 / 207e3 * n2 ** (-0.1954) + 1758.0 * 2.12 * n2 ** (-0.8717)
        compare(
            case="SWT product of 4340 at 1 000 cycles", source="Dowling Eq. 14.25",
            ours=AIRCRAFT_4340.swt_product(1e3), theirs=theirs, allowed=1e-12, why="the same equation",
        )  # fmt: skip

    def test_long_lives_are_the_stress_life_line(self, compare) -> None:
        # At long lives plastic strain is nothing and E x strain amplitude is Dowling's line 1643 N^-0.0977 (Table 9.1).
        cycles = 1e7
        compare(
            case="E x strain amplitude of 4340 at 1e7 cycles", source="Dowling Table 9.1: 1643 N^-0.0977",
            ours=207e3 * AIRCRAFT_4340.strain_amplitude(cycles), theirs=1643.0 * cycles**-0.0977, allowed=0.01,
            why="the plastic part is still half a percent there",
        )  # fmt: skip

    def test_estimate_from_hardness(self, compare) -> None:
        # 151 HB and E 210 GPa give 866.75 MPa and 0.5941 in Metals 15 (2025) 780 (seen). 3.39 MPa a point at 151 HB.
        law = strain_life_constants(Steel("x", "", 210e3, 0.3, 7850.0, 300.0, 640.0 * 151.0 / 190.0))
        ours = [law.strength_coefficient_MPa, law.strength_exponent, law.ductility_coefficient, law.ductility_exponent]
        compare(
            case="Roessle and Fatemi's constants at 151 HB", source="Metals 15 (2025) 780, as printed",
            ours=ours, theirs=[866.75, -0.09, 0.5941, -0.56], allowed=1e-4, why="printed to four or five figures",
        )  # fmt: skip

    @pytest.mark.parametrize(
        ("tensile", "measured", "name"),
        [
            (1413.0, StrainLife(207e3, 2140.0, -0.0944, 0.637, -0.761), "4142 at 380 HB, Dowling Table 14.1"),
            (1757.0, StrainLife(207e3, 1937.0, -0.0762, 0.706, -0.869), "4142 at 450 HB, Dowling Table 14.1"),
            (1670.0, StrainLife(195e3, 1930.0, -0.071, 0.40, -0.57), "5160 at 430 HB, Shigley Table A-23"),
            (1172.0, StrainLife(207e3, 1758.0, -0.0977, 2.12, -0.774), "4340 aircraft quality, Dowling Table 14.1"),
        ],
    )
    def test_estimate_from_hardness_on_measured_steels(
        self, compare, tensile: float, measured: StrainLife, name: str
    ) -> None:
        law = strain_life_constants(Steel("x", "", measured.E_MPa, 0.3, 7850.0, 0.9 * tensile, tensile))
        compare(
            case="strain amplitude at 1 000 cycles estimated from hardness", source=name,
            ours=law.strain_amplitude(1e3), theirs=measured.strain_amplitude(1e3), allowed=0.30,
            why="an estimate from one number; its authors report lives within a factor of 3 on most steels",
        )  # fmt: skip


class TestHardness:
    # ISO 18265 Table A.1 (from memory, sure), retyped: HV, HB, HRC, tensile strength.
    ISO = ((300, 285, 29.8, 965), (400, 380, 40.8, 1290), (450, 428, 45.3, 1455), (520, 494, 50.5, 1700))
    # ASTM E140, non-austenitic steels, seen: HRC, HV, HB.
    ASTM = ((25, 266, 253), (30, 302, 286), (35, 345, 327), (40, 392, 371), (45, 446, 421), (50, 513, 481))

    @pytest.mark.parametrize(("hv", "hb", "hrc", "tensile"), ISO)
    def test_rows(self, compare, hv: float, hb: float, hrc: float, tensile: float) -> None:
        ours = [tensile_from_hardness(value, scale=s) for value, s in ((hv, "HV"), (hb, "HBW"), (hrc, "HRC"))]
        compare(
            case=f"tensile strength at {hv} HV, MPa", source="ISO 18265 Table A.1, from memory (sure)",
            ours=ours, theirs=[tensile] * 3, allowed=1e-12, why="a row of the table",
        )  # fmt: skip

    @pytest.mark.parametrize(("hrc", "hv", "hb"), ASTM)
    def test_scales_agree_with_astm(self, compare, hrc: float, hv: float, hb: float) -> None:
        by_hrc = tensile_from_hardness(hrc, scale="HRC")
        compare(
            case=f"tensile strength at {hrc} HRC by its HV and HB, MPa",
            source="scales set side by side by ASTM E140 (seen)",
            ours=[tensile_from_hardness(hv, scale="HV"), tensile_from_hardness(hb, scale="HBW")],
            theirs=[by_hrc] * 2,
            allowed=0.02,
            why="two standards' own conversions; about one HRC point",
        )

    def test_brinell_rule(self, compare) -> None:
        hb = np.array([250.0, 350.0, 450.0])
        compare(
            case="tensile strength over Brinell hardness", source="Shigley Eq. 2-36: 3.4 HB (seen)",
            ours=[tensile_from_hardness(value, scale="HBW") for value in hb], theirs=3.4 * hb, allowed=0.025,
            why="a rule of two figures",
        )  # fmt: skip

    def test_back_to_vickers(self, compare) -> None:
        compare(
            case="Vickers hardness of 1455 MPa", source="ISO 18265 Table A.1", ours=vickers_from_tensile(1455.0),
            theirs=450.0, allowed=1e-12, why="a row of the table",
        )  # fmt: skip


def test_small_defects(compare) -> None:
    # 1.43 (HV + 120) / (10^0.5 depth)^(1/6), HV 450, 0.1 mm: 1.43 x 570 / 316.2^(1/6) = 815.1 / 2.610 = 312.3 MPa.
    compare(
        case="endurance limit with a flaw 0.1 mm deep, 450 HV", source="Murakami 2002 (from memory), by hand",
        ours=flaw_limit(hardness_HV=450.0, size_um=flaw_size_um(0.1)), theirs=312.3,
        allowed=1e-3, why="four figures by hand",
    )  # fmt: skip


def test_plastic_torsion(compare) -> None:
    # A solid shaft: T / Ty = 4/3 (1 - 1 / (4 eta^3)); over eta for the elastic torque. Any text on plastic torsion.
    eta = np.array([1.0, 1.5, 2.0, 10.0])
    compare(
        case="torque kept by an ideally plastic solid shaft", source="Boresi and Schmidt sec. 6.10, from memory",
        ours=moment_kept(eta), theirs=4.0 / 3.0 * (1.0 - 0.25 / eta**3) / eta, allowed=1e-12, why="the same formula",
    )  # fmt: skip
    # A thin tube has no reserve: it keeps 1 / eta.
    compare(
        case="torque kept by an ideally plastic thin tube", source="all of it yields at once",
        ours=moment_kept(eta, bore_ratio=0.999), theirs=1.0 / eta, allowed=2e-3, why="a wall of 0.1 % of the radius",
    )  # fmt: skip


def test_set_of_a_shaft_twisted_beyond_yield(compare) -> None:
    """Two shafts in a row share their elastic energy 7 to 3; the first yields, to eta = 1.6, and is let go.

    By another route: its fibres at 2 000 radii, ideally plastic in shear, unload elastically; of the twist that was
    imposed on it, 1 - T / (G J theta) stays. The second stays elastic.
    """
    eta, bore = 1.6, 0.5
    r = bore + (1.0 - bore) * (np.arange(2000) + 0.5) / 2000.0
    lost = 1.0 - (np.minimum(eta * r, 1.0) * r**2).sum() / (eta * r**3).sum()
    compare(
        case="set of a tube twisted to 1.6 times yield", source="fibres integrated, elastic unloading",
        ours=set_share(energy=[0.7, 0.3], overstress=[eta, 0.9], bore_ratio=bore), theirs=0.7 * lost, allowed=1e-5,
        why="midpoints of 2 000 fibres",
    )  # fmt: skip
