"""What a search for a size works on, in pieces that any process can take: sizes of a list, or a whole search."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

from barfem.model.bar import Bar, Section
from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.study.evaluate import evaluate
from barfem.study.options import Option, Sizing
from barfem.study.sections import section_name, with_section
from barfem.study.workers import run_chunks

__all__ = ["StockWork", "searched", "tried"]

SIZES_A_CHUNK = 8


@frozen
class StockWork:
    """Makes and evaluates a chunk of sections on a bar; picklable, so that any process can. `at`: as in `Option`."""

    bar: Bar
    sections: tuple[Section, ...]
    at: int
    case: str | None
    flats: Literal["scale", "keep"]
    bent: str | None

    @property
    def chunks(self) -> range:
        return range(-(-len(self.sections) // SIZES_A_CHUNK))

    def __call__(self, number: int) -> list[Option]:
        """Options in the order of the sections; one that makes no bar has its problem.

        Raises
        ------
        InputError
            A tube is asked for, and nothing says when it was bent: true of every tube of the list.
        """
        options: list[Option] = []
        for section in self.sections[number * SIZES_A_CHUNK : (number + 1) * SIZES_A_CHUNK]:
            try:
                made = with_section(self.bar, section, flats=self.flats, bent=self.bent)
                options.append(Option(section_name(section), section, made.bar, at=self.at, notes=made.notes))
            except InputError as error:
                if error.where == "[material] bent":
                    raise
                options.append(Option(section_name(section), section, problem=error.problem))
        found = evaluate((each.bar for each in options if each.bar is not None), case=self.case)
        return [
            option
            if option.bar is None
            else replace(option, evaluation=(one := next(found)), problem=one.problem_at(option.at))
            for option in options
        ]


def tried(
    work: StockWork,
    *,
    workers: int | None,
    cluster: str | None,
    progress: Callable[[int, int], None] | None,
) -> list[Option]:
    """Every section of `work`, in order, whoever works on it; `progress` is told sizes done and sizes in all."""
    found: dict[int, Sequence[Option]] = {}
    count = 0
    for number, options in run_chunks(work, work.chunks, workers=workers, cluster=cluster):
        found[number] = options
        count += len(options)
        if progress:
            progress(count, len(work.sections))
    return [option for number in work.chunks for option in found[number]]


@frozen
class _Search:
    search: Callable[[], Sizing]

    def __call__(self, _: int) -> Sizing:
        return self.search()


def searched(search: Callable[[], Sizing], *, workers: int | None, cluster: str | None) -> Sizing:
    """A search whose steps follow from each other: one piece of work, on the cluster where there is one."""
    return next(found for _, found in run_chunks(_Search(search), range(1), workers=workers, cluster=cluster))
