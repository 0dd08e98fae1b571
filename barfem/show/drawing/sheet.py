"""The sheet of a bar with what is computed for it: expected rates, and results only where they are asked for."""

from __future__ import annotations

from barfem.check.hole_names import pair_name
from barfem.check.result import CheckResult
from barfem.model.bar import Bar
from barfem.model.errors import BarfemError
from barfem.model.load_case import ONE_WHEEL
from barfem.show.drawing.ink import Sheet
from barfem.show.drawing.layout import make_sheet
from barfem.show.drawing.notes import drawing_notes
from barfem.show.lives import life_words
from barfem.show.numbers import printable
from barfem.solve.beam import all_settings, solve_bar
from barfem.study.bands import rate_band
from barfem.vendor.bar_solid import left_out

__all__ = ["expected_rates", "sheet_of"]


def expected_rates(bar: Bar) -> list[tuple[str, float, float, float]]:
    """Hole pair, its one_end_held rate in N/mm, and the least and greatest deviation in % that is accepted.

    One pickup moves by the one-wheel travel and the other is held; links, mounts and all as in the car. None where a
    hole cannot follow its travel: the review says so.
    """
    low, high, _ = rate_band(bar)
    try:
        solution = solve_bar(bar, all_settings(bar, cases=(ONE_WHEEL.name,)))
    except BarfemError:
        return []
    out = []
    for setting, rate in zip(solution.settings, solution.rate_N_per_mm, strict=True):
        right, left = bar.right.holes[setting.right].name, bar.left.holes[setting.left].name
        out.append((pair_name(left, right), float(rate), 100.0 * low, 100.0 * high))
    return out


def sheet_of(
    bar: Bar, *, paper: str | None = None, projection: str | None = None, results: CheckResult | None = None
) -> Sheet:
    """Solve the rates and lay the sheet out; stress and life stand on it only with `results`.

    Raises
    ------
    InputError
        The paper asked for is too small.
    """
    omitted = left_out(bar)
    notes = drawing_notes(
        bar,
        rates=expected_rates(bar),
        results=_results(results) if results is not None else (),
        step_note=f"In the STEP file: {'; '.join(omitted)}." if omitted else "",
    )
    return make_sheet(bar, notes, paper=paper, projection=projection)


def _results(result: CheckResult) -> list[str]:
    results = []
    for each in result.settings:
        margin = "none" if each.yield_margin is None else f"{each.yield_margin:.2f}"
        results.append(
            f"hole {each.holes}, {each.case}: {each.peak.von_mises_MPa:.0f} MPa von Mises, yield margin {margin}"
            f", life {printable(life_words(each.fatigue.life))}"
        )
    return [f"Results at full travel (estimates): {'; '.join(results)}."]
