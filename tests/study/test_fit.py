"""A firm's table of tests: what is read, what is refused in which words, and how travel becomes stress."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from barfem.check.api import check_bar
from barfem.model.data_paths import geometries_dir
from barfem.model.errors import InputError
from barfem.model.material_table import find_table
from barfem.model.materials import load_steel, steel_from_table
from barfem.model.read import read_bar
from barfem.model.skin import Skin
from barfem.solve.beam import HoleSetting, solve_bar
from barfem.strength.fatigue.hand_estimate import estimate
from barfem.strength.fatigue.hand_inputs import LifeInputs
from barfem.study.bar_tests import BarTest, read_bar_tests
from barfem.study.change import change
from barfem.study.fit import Fit, fit_tests
from barfem.study.fit_handbook import handbook_line
from barfem.study.fit_stress import local_cycles
from barfem.study.fit_table import fit_table_text

BAR = geometries_dir() / "pickup-front-solid.toml"
TUBE = geometries_dir() / "pickup-rear-tube.toml"

# Invented.
SIX = """\
bar,amplitude_MPa,cycles,result
1,620,61000,broken
2,620,88000,broken
3,540,170000,broken
4,540,260000,broken
5,470,520000,broken
6,470,1000000,stopped
"""


@pytest.fixture
def write(tmp_path: Path):
    def written(text: str | bytes) -> Path:
        path = tmp_path / "tests.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return written


def refused(path: Path, **how: object) -> str:
    with pytest.raises(InputError) as caught:
        fit_tests(path, **how)
    assert str(path) in str(caught.value)
    return str(caught.value)


def test_what_spreadsheets_write_is_read_alike(write) -> None:
    """A byte-order mark, carriage returns, semicolons with decimal commas, blank lines, remarks, other units."""
    plain, _ = read_bar_tests(write(SIX.replace("620", "620.5")))
    german = SIX.replace("620", "620.5").replace(",", ";").replace("620.5", "620,5")
    marked, _ = read_bar_tests(write(b"\xef\xbb\xbf" + ("# own tests\n\n" + german).replace("\n", "\r\n").encode()))
    assert [(t.amplitude_MPa, t.cycles, t.broken, t.bar) for t in marked] == [
        (t.amplitude_MPa, t.cycles, t.broken, t.bar) for t in plain
    ]
    ksi, _ = read_bar_tests(write("Amplitude (ksi),cycles,result\n90,1e5,Broken\n"))
    assert ksi[0].amplitude_MPa == pytest.approx(620.528, rel=1e-5)
    inch, _ = read_bar_tests(write("travel_in,force_lbf,cycles,result\n1.5,,1e5,broken\n,450,1e5,broken\n"))
    assert inch[0].travel_mm == pytest.approx(38.1)
    assert inch[1].force_N == pytest.approx(2001.7, rel=1e-4)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("7,nan,1e5,broken", 'line 8, column amplitude_MPa: "nan" is not a finite number'),
        ("7,-500,1e5,broken", "line 8, column amplitude_MPa: -500 is not above zero"),
        ("7,abc,1e5,broken", 'line 8, column amplitude_MPa: "abc" is not a number'),
        ("7,500,0,broken", "line 8, column cycles: 0 is not above zero"),
        ('7,500,"200,000",broken', "Right would be: 200000"),
        ("7,500,,broken", "line 8, column cycles: cycles is empty"),
        ("7,500,1e5,cracked", '"cracked" is not known here. Right would be: broken or stopped'),
        ("7,500,1e5,", "line 8, column result: result is empty"),
        ("7,,1e5,broken", "line 8: no load is given"),
        ("7,500,5,1e5,broken", "line 8: 5 cells where the header names 4. If these are decimal commas"),
    ],
)
def test_a_cell_that_cannot_be_is_named_with_its_line_and_column(write, line: str, says: str) -> None:
    assert says in refused(write(SIX + line + "\n"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the table of tests is empty"),
        ("bar,amplitude_MPa,cycles,result\n", "a header and no tests"),
        ("bar,cycles,result\n1,1e5,broken\n", "the header has no column amplitude_MPa, travel_mm or force_N"),
        (
            "500,1e5,broken\n450,3e5,broken\n",
            "line 1: the line of column names is missing: values begin with '500, 1e5",
        ),
        ("500;1,5e5;broken\n", "the line of column names is missing"),
        ("amplitude_MPa,cycles\n500,1e5\n", "the header has no column result"),
        (
            "amplitude,cycles,result\n500,1e5,broken\n",
            'the column "amplitude" has no unit. Right would be: amplitude_MPa',
        ),
        ("amplitude_mm,cycles,result\n500,1e5,broken\n", '"mm" is not a unit of stress'),
        ("amplitude_MPa,stress_ratio,cycles,result\n500,0,1e5,broken\n", 'called "stress_ratio". Did you mean "R"?'),
        # "Did you mean mean_MPa?" was the answer to all three.
        (
            "range_MPa,cycles,result\n1000,1e5,broken\n",
            '"range_MPa" is no amplitude. Right would be: amplitude_MPa, half',
        ),
        ("max_MPa,min_MPa,cycles,result\n500,-500,1e5,broken\n", '"max_MPa" is no amplitude'),
        ("stress_MPa,cycles,result\n500,1e5,broken\n", '"stress_MPa" is no amplitude'),
        ("amplitude_MPa,cycls,result\n500,1e5,broken\n", 'no column is called "cycls". Did you mean "cycles"?'),
        (SIX.replace("broken", "stopped"), "all 6 tests were stopped"),
        ("travel_mm,cycles,result\n30,1e5,broken\n", "line 2: travel_mm becomes a stress through a bar file"),
        (
            "amplitude_MPa,mean_MPa,cycles,result\n500,100,1e5,broken\n",
            "line 2, column mean_MPa: a mean of 100 MPa becomes a reversed amplitude by goodman",
        ),
        (
            "amplitude_MPa,cycles,result,surface\n500,1e5,broken,ground\n600,5e4,broken,polished\n",
            "tests of 2 skins in one file: ground, peening not said (line 2); polished, peening not said (line 3)",
        ),
        (
            "amplitude_MPa,cycles,result,diameter_mm\n500,1e5,broken,24000\n",
            "line 2, column diameter_mm: no bar is 24000 mm thick. Right would be: 3 to 150 mm.",
        ),
        (
            "amplitude_MPa,cycles,result,surface\n500,1e5,broken,grund\n",
            "column surface: no surface condition is called",
        ),
    ],
)
def test_a_table_that_cannot_be_is_refused(write, text: str, says: str) -> None:
    assert says in refused(write(text))


def test_skins_are_fitted_one_at_a_time(write) -> None:
    text = SIX.replace("result", "result,peening").replace("broken", "broken,shot").replace("stopped", "stopped,shot")
    path = write(text + "7,400,1e5,broken,none\n8,350,2e5,broken,none\n")
    peened = fit_tests(path, surface="ground", peening="shot")
    assert (len(peened.points), peened.skin.surface, peened.skin.peening) == (6, "ground", "shot")
    assert len(fit_tests(path, surface="ground", peening="none").points) == 2
    assert "no test has the skin" in refused(write(text), peening="none")


def test_one_load_leaves_the_slope_to_the_prior_and_says_so(write) -> None:
    path = write("amplitude_MPa,cycles,result\n500,1e5,broken\n500,1.5e5,broken\n500,2e5,broken\n")
    fit = fit_tests(path, at_cycles=1.5e5)
    assert fit.line.exponent == pytest.approx(8.0, rel=0.02)
    assert any("one load only: their slope cannot be told" in warning for warning in fit.warnings)
    assert "have no most likely line" in refused(path, prior=False)


def test_what_is_odd_is_told(write) -> None:
    text = SIX + "6,470,1000000,stopped\n5,500,3e5,broken\n9,540,900,broken\n"
    words = " ".join(fit_tests(write(text), at_cycles=1e7).warnings)
    assert "lines 7 and 8 are alike" in words
    assert "bar 5 stands on lines 6 and 9" in words
    assert "line 10: below 1 000 cycles" in words
    assert "line 10: life is" in words
    assert "strength at 10 000 000 cycles lies beyond the tests" in words


def test_slips_that_still_make_a_line_are_told(write) -> None:
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    text = "amplitude_MPa,travel_mm,cycles,result\n500,30,1e4,broken\n600,,5e4,broken\n1400,,1e5,broken\n"
    words = " ".join(fit_tests(write(text), steel=steel).warnings)
    assert "travel_mm of line 2 is not used" in words
    assert "line 4: the amplitude is above the steel's tensile strength, 1350 MPa" in words
    assert "lasted no shorter at higher load" in words
    with pytest.raises(InputError, match='no mean-stress method "goodmann"'):
        fit_tests(write(text), mean_stress="goodmann")


def test_an_amplitude_that_no_steel_bears_is_no_fatigue_test(write) -> None:
    """Above the tensile strength a bar breaks in its first quarter cycle; above twice that it is no range either.

    51CrV4 to EN 10089 has 1350 MPa: 1400 MPa is told, 2800 MPa is refused. Without a steel the hardest spring steels
    (2050 MPa) stand for it.
    """
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    rows = "amplitude_MPa,cycles,result\n{},2e4,broken\n{},8e4,broken\n"
    ranges = fit_tests(write(rows.format(1400, 1200)), steel=steel).warnings
    assert any("line 2: the amplitude is above the steel's tensile strength, 1350 MPa" in each for each in ranges)
    assert any("is it the range (twice the amplitude), or another unit" in each for each in ranges)
    unknown = fit_tests(write(rows.format(2100, 1200))).warnings
    assert any("line 2: the amplitude is above the tensile strength of the hardest spring steels" in w for w in unknown)
    said = "line 2, column amplitude_MPa: 2800 MPa is more than twice the steel's tensile strength, 1350 MPa"
    assert said in refused(write(rows.format(2800, 1200)), steel=steel)
    assert "1 ksi is 6.89 MPa" in refused(write(rows.format(2800, 1200)), steel=steel)
    assert "4200 MPa is more than twice" in refused(write(rows.format(4200, 1200)))


def test_a_line_far_from_the_handbooks_asks_for_unit_and_range(write) -> None:
    """600 MPa are 87 ksi: in a column of MPa they make a line at a seventh of what the steel is known to bear."""
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    rows = "amplitude_MPa,cycles,result\n{},4e4,broken\n{},3e5,broken\n"
    as_ksi = fit_tests(write(rows.format(87, 72.5)), steel=steel, surface="ground", peening="none").warnings
    assert any("times the handbook's" in each and "1 ksi is 6.89 MPa" in each for each in as_ksi)
    alone = fit_tests(write(rows.format(87, 72.5))).warnings  # without a steel to hold it against
    assert any("where pitted and decarburised bars still have 200" in each for each in alone)
    assert not any("pitted" in each for each in fit_tests(write(rows.format(280, 230))).warnings)
    as_MPa = fit_tests(write(rows.format(600, 500)), steel=steel, surface="ground", peening="none").warnings
    assert not any("times the handbook's" in each for each in as_MPa)


def test_a_mean_is_taken_out_by_goodman_and_compression_earns_nothing(write) -> None:
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")  # tensile strength 1350 MPa
    text = "amplitude_MPa,mean_MPa,cycles,result\n500,270,1e5,broken\n500,-270,1e5,broken\n600,0,4e4,broken\n"
    fit = fit_tests(write(text), steel=steel)
    assert [point.reversed_MPa for point in fit.points] == pytest.approx([500 / (1 - 270 / 1350), 500, 600])
    assert any("means of up to 270 MPa were taken out by goodman" in warning for warning in fit.warnings)
    # Rules that would credit compression are not given any.
    assert fit_tests(write(text), mean_stress="swt").points[1].reversed_MPa == 500.0


def test_a_stress_ratio_gives_the_mean(write) -> None:
    """A column R was not read, and tests at R = 0 were called fully reversed."""
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    rows = "amplitude_MPa,R,cycles,result\n500,-1,5e4,broken\n400,0,1e5,broken\n300,0.2,3e5,broken\n300,,9e5,broken\n"
    fit = fit_tests(write(rows), steel=steel)
    assert [point.mean_MPa for point in fit.points] == pytest.approx([0.0, 400.0, 450.0, 0.0])
    assert "no mean stress" not in " ".join(fit.assumptions) and not any("not read" in each for each in fit.warnings)
    for line, head, says in (
        ("400,10", "amplitude_MPa,R", "line 2, column R: R = 10 is not the least over the greatest stress"),
        ("400,0,400", "amplitude_MPa,R,mean_MPa", "a mean stress and a stress ratio on one line"),
        ("24,0", "travel_mm,R", "by its [duty] ratio"),
        ("400,zero", "amplitude_MPa,R", '"zero" is not a number'),
    ):
        assert says in refused(write(f"{head},cycles,result\n{line},1e5,broken\n"), steel=steel)


def test_the_handbooks_line_is_in_bending_where_nobody_says_how_the_bars_were_stressed(write) -> None:
    """Of local stress alone: as barfem life takes it, and said. A flaw bears 1.47 times as much von Mises stress in
    torsion, which stood beside the tests unsaid.
    """
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    fit = fit_tests(write(SIX), steel=steel, surface="as-hardened-scaled", peening="none")
    asked = LifeInputs(amplitude_MPa=400.0, grade="51CrV4", condition="QT EN 10089", surface="as-hardened-scaled")
    by_life = estimate(asked, folder=Path()).line.strength_at(200_000.0)
    assert fit.handbook is not None and fit.handbook.strength_MPa == pytest.approx(float(by_life))
    assert fit.handbook.of.endswith("no size factor, in bending")


@pytest.fixture(scope="module")
def of_the_bar(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    path = tmp_path_factory.mktemp("fit") / "tests.csv"
    path.write_text(
        "hole,travel_mm,force_N,cycles,result,place\n"
        "stiff,30,,90000,broken,\n"
        "stiff,24,,3e5,broken,bend 2\n"
        "stiff,,1000,3e5,stopped,\n",
        encoding="utf-8",
    )
    return fit_tests(path, bar=read_bar(BAR))


def test_travel_becomes_the_stress_that_the_check_says(of_the_bar: Fit) -> None:
    """The same bar checked at 30 mm: amplitude and mean of its governing place."""
    governing = check_bar(change(read_bar(BAR), {"travel.pickup": 30.0}), case="roll").settings[-1]
    first, _, by_force = of_the_bar.points
    assert governing.left == "stiff"
    assert first.amplitude_MPa == pytest.approx(governing.fatigue.amplitude_MPa, rel=1e-9)
    assert first.mean_MPa == pytest.approx(governing.fatigue.mean_MPa, abs=1e-6)
    # Stress follows force almost in proportion.
    force = (governing.rate_N_per_mm or 0.0) * 30.0
    assert by_force.amplitude_MPa / first.amplitude_MPa == pytest.approx(1000.0 / force, rel=0.02)


def test_the_place_that_broke_is_looked_at(of_the_bar: Fit, write) -> None:
    assert "bend 2" in (of_the_bar.points[1].where or "")
    text = "hole,travel_mm,cycles,result,place\nstiff,30,1e5,broken,bend 9\n"
    assert 'line 2, column place: the bar has no loaded place "bend 9"' in refused(write(text), bar=read_bar(BAR))
    assert 'the bar has no hole "7"' in refused(write(text.replace("stiff", "7")), bar=read_bar(BAR))


def test_breaks_in_the_bore_and_outside_have_no_common_line(write) -> None:
    """A peened tube: its bore is not peened, and which of the two is worst changes with the load."""
    tube = change(read_bar(TUBE), {"material.surface": "shot-peened"})
    text = "hole,travel_mm,cycles,result,place\n1,20,9e5,broken,in the bore\n1,25,4e5,broken,in the bore\n"
    bore = fit_tests(write(text), bar=tube)
    (told,) = [warning for warning in bore.warnings if "bore" in warning]
    assert "every test is of the bore (" in told and "shot-peened" in told
    both = fit_tests(write(text + "1,32,9e4,broken,\n1,32,9e4,stopped,\n"), bar=tube)
    told = both.warnings[0]
    assert told.startswith("lines 2, 3 are of the bore (") and "lines 4, 5 of the outside (" in told
    assert "have no common line" in told and "column place" in told


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("stiff,30,,parallel", "line 2, column case: the bar feels nothing in parallel"),
        ("stiff,207,,roll", "line 2, column travel_mm: a travel of 207 mm is beyond this bar"),  # soft follows
        pytest.param(
            "stiff,500,,roll", "line 2, column travel_mm: a travel of 500 mm is beyond this bar", marks=pytest.mark.long
        ),
        ("stiff,,1e9,roll", "line 2, column force_N: the bar does not reach 1e+09 N"),
    ],
)
def test_a_load_that_the_bar_cannot_have_had_is_named_with_its_line(write, line: str, says: str) -> None:
    text = f"hole,travel_mm,force_N,case,cycles,result\n{line},1e5,broken\n"
    assert says in refused(write(text), bar=read_bar(BAR))


def test_skin_steel_and_size_are_the_bars_where_the_table_is_silent(of_the_bar: Fit) -> None:
    assert (of_the_bar.skin.surface, of_the_bar.skin.peening) == ("as-hardened-scaled", "shot")
    assert of_the_bar.diameter_mm == 22.0
    assert of_the_bar.handbook is not None and "torsion's share of the stress squared" in of_the_bar.handbook.of
    assert of_the_bar.line.at_cycles == 200_000


def test_the_written_table_is_a_steel_with_the_line_and_its_scatter(write, tmp_path: Path) -> None:
    steel = steel_from_table(find_table("5160")[0], "QT 425 C")
    fit = fit_tests(write(SIX), steel=steel, surface="ground", peening="none")
    target = tmp_path / "own.toml"
    target.write_text(fit_table_text(fit, target), encoding="utf-8")
    own, _, words = load_steel({"grade": "own.toml", "surface": "ground"}, bar_dir=tmp_path)
    assert (own.E_MPa, own.density_kg_per_m3) == (steel.E_MPa, steel.density_kg_per_m3)
    assert (own.yield_strength_MPa, own.tensile_strength_MPa) == (steel.yield_strength_MPa, steel.tensile_strength_MPa)
    assert own.cyclic == steel.cyclic
    assert own.stress_life is not None and own.scatter is not None
    assert own.stress_life.strength_MPa == pytest.approx(fit.line.strength_MPa, rel=1e-6)
    assert own.stress_life.exponent == pytest.approx(fit.line.exponent, rel=1e-6)
    assert own.scatter.log10_life_deviation == pytest.approx(fit.line.log10_life_deviation, rel=1e-4)
    assert "tests.csv: 6 tests, 5 broken, 1 stopped" in own.stress_life.source
    least, most = fit.line.strength_at_survival_90  # what so few tests leave open goes into every check
    assert f"90 % of bars have {least:.0f} to {most:.0f} MPa at 200 000 cycles" in own.stress_life.source
    assert any("user's own" in text for text in words)


def test_a_table_is_not_written_for_an_unknown_steel_or_skin(write, tmp_path: Path) -> None:
    steel = steel_from_table(find_table("51CrV4")[0], "QT EN 10089")
    with pytest.raises(InputError, match="needs the steel's E"):
        fit_table_text(fit_tests(write(SIX), surface="ground", peening="none"), tmp_path / "own.toml")
    with pytest.raises(InputError, match="--peening with it"):
        fit_table_text(fit_tests(write(SIX), steel=steel, surface="ground"), tmp_path / "own.toml")


def test_the_handbooks_line_leaves_a_steels_own_tests_out() -> None:
    """What a firm's tests are set beside is the estimate without any test: half of 1172 MPa, and not the 426 tested."""
    steel = load_steel({"grade": "4340", "condition": "aircraft quality"})[0]
    assert steel.stress_life is not None
    asked = {"skin": Skin("polished"), "diameter_mm": None, "torsion_share": 0.0, "at_cycles": 1e6}
    found = handbook_line(replace(steel, cyclic=None), **asked)
    assert found.strength_MPa == pytest.approx(586.0, rel=1e-3)
    assert found.strength_MPa > 1.2 * 426.0


@pytest.mark.parametrize("force", [500.0, 1500.0, 2500.0])
def test_the_travel_of_a_force_is_the_one_at_which_the_bar_pulls_so_hard(force: float) -> None:
    """Found from the rate that is nearly constant; the bar solved at that travel has the force to the newton."""
    bar = read_bar(TUBE)
    test = BarTest(line=2, cycles=1e5, broken=True, force_N=force, hole=bar.left.holes[0].name)
    travel = local_cycles(bar, [test], file="tests.csv")[2].travel_mm
    there = replace(bar, travel=replace(bar.travel, up_mm=travel, down_mm=travel))
    solved = solve_bar(there, [HoleSetting(0, 0, "roll")])
    assert float(solved.rate_N_per_mm[0]) * travel == pytest.approx(force, rel=2e-5)
