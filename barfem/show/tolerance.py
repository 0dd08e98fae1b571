"""What `barfem tolerance` prints, and its tables by themselves, for the report."""

from __future__ import annotations

import math
from collections.abc import Callable

from rich.console import Console

from barfem.model.load_case import CASES
from barfem.model.sentences import enumerated
from barfem.show.console import BAD, HEAD
from barfem.show.lives import one_life
from barfem.show.numbers import NO_BREAK, ratio, significant, whole
from barfem.show.parts import listed, paragraph, printing, titled_table
from barfem.show.tables import Cell, Table, column, table, words
from barfem.study.json_values import KEYS
from barfem.study.tolerance_result import NUMBERS, SettingTolerance, ToleranceResult
from barfem.study.tolerance_summary import Chance, Spread

__all__ = [
    "SHARE_NUMBERS",
    "band_lines",
    "hole_name",
    "least_shown",
    "made_of",
    "print_tolerance",
    "spreads_table",
    "tables",
]

LEAST_SHARE = 0.005
"""Bands whose share of everything is below this are named together."""

MUCH_INTERACTION = 0.05

SHARE_NUMBERS = {
    "rate_N_per_mm": "Rate",
    "peak_MPa": "Stress",
    "yield_margin": "Yield\nmargin",
    "safety_factor_at_target": "Safety\nfactor",
}


def hole_name(result: ToleranceResult, setting: SettingTolerance) -> str:
    """The hole, with its load case where there are several."""
    several = len({each.case for each in result.settings}) > 1
    return f"{setting.hole}, {setting.case}" if several else setting.hole


def least_shown(result: ToleranceResult, setting: SettingTolerance) -> list[int]:
    """Bands that are worth a line, by the greatest of their shares; a share that is not resolved may be as great as its
    interval's end."""
    found = setting.shares.values()
    greatest = [max(float(shares.total[i]) for shares in found) for i in range(len(result.bands))]
    may_be = [
        max(float(shares.total[i] if shares.resolved else shares.total_interval[i, 1]) for shares in found)
        for i in range(len(result.bands))
    ]
    order = sorted(range(len(greatest)), key=lambda i: (-greatest[i], -may_be[i]))
    return [i for i in order if may_be[i] >= LEAST_SHARE]


@printing
def print_tolerance(console: Console, result: ToleranceResult) -> None:
    """Print the whole study; shares at the hole setting that governs."""
    paragraph(console, result.bar.name, style=HEAD)
    paragraph(console, made_of(result))
    for text in result.left_out:
        paragraph(console, f"Left out: {text}", style=BAD)
    for made in tables(result):
        titled_table(console, made)
    listed(console, "Bands", band_lines(result))


def made_of(result: ToleranceResult) -> str:
    """How many bars are answered about, how many of them were solved, and what that costs in certainty."""
    solved = result.solved
    head = f"{whole(result.bars)} bars within the bands below, all different (seed {result.seed}): every spread and "
    head += "chance is of so many. In brackets 95 % intervals"
    if not solved.by_fit:
        fewer = (
            f" {whole(solved.asked)} were asked for, which takes a fit: {solved.no_fit_because}, of "
            f"{whole(solved.count)} bars; so these alone are answered about."
            if solved.no_fit_because
            else ""
        )
        return f"{head}. Each was made, solved and judged.{fewer}"
    errors = ", ".join(f"{NUMBERS[name]} {significant(error, 1)}" for name, error in solved.errors.items())
    return (
        f"{head}, with the fit's error in chances. {whole(solved.count)} were made, solved and judged; the rest are by "
        f"a fit to those, place by place. Its error over solved bars held back from it, a fifth at a time, in standard "
        f"deviations: {errors}. With --exact every bar is solved."
    )


def tables(result: ToleranceResult) -> list[Table]:
    """Everything that spreads; shares at the hole setting that governs."""
    low, high, _ = result.rate_band
    both = f"±{100 * high:g} %" if low == -high else f"{100 * low:+g} to {100 * high:+g} %"
    made = [
        _spread(result, "rate_N_per_mm", f"Rate, N/mm; to be within {both} of the drawn", "rate"),
        _spread(result, "peak_MPa", "Greatest stress, MPa", None),
        _spread(result, "yield_margin", f"Yield margin; target {result.bar.targets.yield_margin:g}", "yield_margin"),
        _lives(result),
        _shares(result, result.settings[result.governing]),
        _mismatch(result),
    ]
    return [each for each in made if each is not None]


def band_lines(result: ToleranceResult) -> list[str]:
    """The bands with their sources, how they are distributed, and what else there is to say of the bars."""
    shapes = {variable.distribution for band in result.bands for variable in band.variables}
    shapes_in_words = {
        "normal": "normal about the middle of the band, three standard deviations to each end and cut off there",
        "uniform": "uniform over the band",
    }
    return [
        *(f"{band.title}: {band.text}; {band.source}." for band in result.bands),
        f"Distribution: {'; or '.join(shapes_in_words[shape] for shape in sorted(shapes))}.",
        *result.notes,
        *_unsolved(result),
    ]


def spreads_table(result: ToleranceResult) -> Table:
    """Every number that spreads at every hole setting, for files."""
    names = ("drawn", "mean", "deviation", "low", "middle", "high", "count")
    return table(
        "spreads",
        "Spread",
        [
            {"setting": setting, "number": KEYS[name].replace(".", "_"), "spread": spread}
            for setting in result.settings
            for name, spread in setting.spreads.items()
        ],
        [
            *(words(name, f"setting.{name}", key=name) for name in ("left", "right", "case")),
            words("number", "number"),
            *(column(name, "", f"spread.{name}", key=name) for name in names),
        ],
    )


def _spread(result: ToleranceResult, name: str, title: str, chance: str | None) -> Table:
    show = ratio if name == "yield_margin" else significant

    def deviation(setting: SettingTolerance) -> str:
        spread = setting.spreads[name]
        share = f" ({significant(100 * spread.deviation / abs(spread.mean), 2)} %)" if spread.mean else ""
        return significant(spread.deviation, 2) + (share if name != "yield_margin" else "")

    def range_of(setting: SettingTolerance) -> str:
        spread = setting.spreads[name]
        return f"{show(spread.low)} to {show(spread.high)}"

    return table(
        f"spread-{name}",
        title,
        result.settings,
        [
            words("Hole", lambda setting: hole_name(result, setting)),
            column("Drawn", "", lambda setting: setting.spreads[name].drawn, show=show),
            column("Mean", "", lambda setting: setting.spreads[name].mean, show=show),
            column("Standard\ndeviation", "", deviation),
            column("95 % of bars", "", range_of),
            column("Miss, % of bars", "", lambda setting: _chance(setting.chances[chance])) if chance else None,
        ],
    )


def _lives(result: ToleranceResult) -> Table:
    bar = result.bar
    judged = bar.duty.target_cycles_given
    missed = "life at survival"
    if bar.duty.blocks:
        missed += f"{', or that,' if judged else ''} in repeats of the blocks"
    short = f"falls short of {bar.duty.repeats:g}" if bar.duty.blocks else "falls short"

    def spread(setting: SettingTolerance) -> Spread:
        return setting.spreads["life_at_survival_cycles"]

    return table(
        "spread-life",
        f"Life at {100 * bar.targets.survival:g} % survival, cycles; "
        + (f"target {whole(bar.duty.target_cycles)}" if judged else "shown, not judged (the duty is in blocks)"),
        result.settings,
        [
            words("Hole", lambda setting: hole_name(result, setting)),
            column("Drawn", "", lambda setting: _life(spread(setting).drawn)),
            column("Median", "", lambda setting: _life(spread(setting).middle)),
            column("95 % of bars", "", lambda setting: _lives_between(spread(setting))),
            column("Miss, % of bars", "", lambda setting: _chance(setting.chances["life"])),
            column("Break, % of bars", "", lambda setting: _chance(setting.chances["breaking"])),
        ],
        f"Miss: bars whose {missed} {short}. Break: before {whole(bar.duty.target_cycles)} cycles of full "
        "travel, by their dimensions and the scatter of steel together.",
        _all_together(result),
    )


def _all_together(result: ToleranceResult) -> str:
    """How many bars miss anything at any hole."""
    chance = result.any_hole["any"]
    return (
        f"Miss any of this at any hole, % of bars: {_chance(chance).text}; {whole(chance.misses)} of "
        f"{whole(chance.of)}." + (" " + _more_bars(chance) if chance.misses == 0 else "")
    )


def _more_bars(chance: Chance) -> str:
    return f"None missed; a chance below {_percent(chance.interval[1])} % needs more --samples to be seen."


def _shares(result: ToleranceResult, setting: SettingTolerance) -> Table:
    shown = least_shown(result, setting)

    def share_of(name: str) -> Callable[[int], str]:
        shares = setting.shares[name]
        return lambda i: _share(float(shares.total[i]), shares.total_interval[i].tolist(), resolved=shares.resolved)

    rest = [band.title for i, band in enumerate(result.bands) if i not in shown]
    return table(
        "shares",
        f"What it comes from, at hole {hole_name(result, setting)}: share of the variance, %",
        shown,
        [
            words("Band", lambda i: result.bands[i].title),
            *(column(heading, "", share_of(name)) for name, heading in SHARE_NUMBERS.items()),
        ],
        f"Below {100 * LEAST_SHARE:g} % of everything: {', '.join(rest)}." if rest else "",
        _how_known(result, setting),
    )


def _how_known(result: ToleranceResult, setting: SettingTolerance) -> str:
    """From how many bars the shares are, what of them is not resolved, and whether they add up."""
    found = {
        SHARE_NUMBERS[name].replace("\n", " ").lower(): setting.shares[name]
        for name in SHARE_NUMBERS
        if not setting.shares[name].constant
    }
    if found and not any(shares.points for shares in found.values()):
        return (
            f"Total Sobol' shares need a fit, and {whole(result.solved.count)} solved bars are too few for one: any "
            "band may have any share; more --samples are needed."
        )
    sentences = [f"Total Sobol' shares, by a fit to {whole(result.solved.count)} solved bars."]
    vague = [name for name, shares in found.items() if not shares.resolved]
    if vague:
        sentences.append(
            f"Of {enumerated(vague)} only intervals are given: shares are not resolved with so few bars solved, more "
            "--samples are needed."
        )
    clear = {name: shares for name, shares in found.items() if shares.resolved}
    together = [name for name, shares in clear.items() if shares.alone_interval[1] < 1.0 - MUCH_INTERACTION]
    apart = [name for name, shares in clear.items() if shares.alone_interval[0] > 1.0 - MUCH_INTERACTION]
    if together:
        sentences.append(
            f"More than {100 * MUCH_INTERACTION:g} % of {enumerated(together)} is made by bands together: there shares "
            "add up to more than 100."
        )
    if apart and len(apart) == len(found):
        sentences.append("Bands act nearly each by itself: shares add up to about 100.")
    elif apart:
        sentences.append(f"On {enumerated(apart)} bands act nearly each by itself.")
    return " ".join(sentences)


def _mismatch(result: ToleranceResult) -> Table | None:
    rows = [setting for setting in result.settings if CASES[setting.case].exchanges]
    if not rows:
        return None
    return table(
        "mismatch",
        "Left against right: 95 % of bars",
        rows,
        [
            words("Hole", lambda setting: hole_name(result, setting)),
            column("Left joint\nhigher, mm", "", lambda setting: _range(setting.mismatch.level_mm, 2)),
            column("Preload, N", "", lambda setting: _range(setting.mismatch.preload_N, 2)),
            column(
                "Left link carries\nmore at travel, %", "", lambda setting: _range(setting.mismatch.force_percent, 2)
            ),
        ],
        "Higher: than drawn, along the travel, the middle held. Preload: of links of equal length, not adjusted to it "
        "(rate x height / 2).",
    )


def _unsolved(result: ToleranceResult) -> list[str]:
    count = sum(result.unsolved.values())
    if not count:
        return ["Every bar could be made and solved."]
    reasons = list(result.unsolved.items())
    shown = "; ".join(f"{whole(number)}: {reason.rstrip('.')}" for reason, number in reasons[:3])
    more = f"; {len(reasons) - 3} more reasons" if len(reasons) > 3 else ""
    return [f"{whole(count)} bars could not be made or solved, and count as misses: {shown}{more}."]


def _range(spread: Spread, digits: int) -> str:
    if not (math.isfinite(spread.low) and math.isfinite(spread.high)):
        return "-"
    low, high = significant(spread.low, digits), significant(spread.high, digits)
    return f"{low} to {high if spread.high <= 0 else '+' + high}"


def _lives_between(spread: Spread) -> str:
    low, high = _life(spread.low), _life(spread.high)
    return low if low == high else f"{low} to {high.replace('over ', '>')}"


def _life(cycles: float) -> str:
    return one_life(cycles, runout=math.isinf(cycles))


def _share(total: float, interval: list[float], *, resolved: bool) -> str:
    """A total share with its interval; where shares are not resolved, the interval alone."""
    if total < LEAST_SHARE and interval[1] < 2.0 * LEAST_SHARE:
        return "-"
    low, high = (round(100.0 * end) for end in interval)
    if not resolved:
        return f"({low}-{high})"
    shown = f"{round(100.0 * total)}"
    return shown if low == high else f"{shown} ({low}-{high})"


def _chance(chance: Chance) -> Cell:
    low, high = (_percent(end) for end in chance.interval)
    text = _percent(chance.share)
    if not low == high == text:  # all below what is shown
        text += f" ({low.replace('<0.01', '0')}{NO_BREAK}to{NO_BREAK}{high})"
    return Cell(text, chance.share, "bad" if chance.share > 0.0 and chance.misses > 0 else "")


def _percent(share: float) -> str:
    value = 100.0 * share
    if value == 0.0 or value == 100.0:
        return f"{value:.0f}"
    return "<0.01" if value < 0.01 else significant(value, 2) if value < 99.5 else f"{value:.2f}"
