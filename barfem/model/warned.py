"""Warnings: the sentence, and what it may do to a verdict.

A warning is the text that people read, wherever it goes; what it may do is known where it is given, and goes with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import Enum

from barfem.model.sentences import with_capital

__all__ = ["ANY", "Asked", "Effect", "Warned", "told_above"]

ANY = float("inf")


class Effect(Enum):
    """What a warning may do: in words, and to which share it may add to a stress at most (`ANY`: whatever).

    In the order in which they are told, of equal share. Sizes without a source are common practice, and say so. The
    last words are said as well where one-wheel is judged.
    """

    NOT_CHECKED = "nothing is known there", ANY
    BENDS_UNSAFE = "may hide any stress in the bends", ANY
    RIGHT_WHEEL = "may fail where the left one passes", ANY
    BREAKS_OUT = "these settings fail", ANY
    NO_BAR = "the drawing cannot be meant", ANY
    UNITS = "a slip of units changes every number", ANY
    SIGN = "a slip of sign changes every number", ANY
    TRAVEL = "a slip here changes the travel", ANY
    IDLE = "the bar does not work", ANY
    MOUNT_PLACE = "the mount may not be meant there", ANY
    MOUNT_LOOSE = "the mount may not be meant so", ANY
    PRELOAD = "a slip here preloads the bar", ANY
    DRAWING = "a slip of the drawing", ANY
    NO_ARM = "the rate means nothing", ANY
    DEAD_CENTRE = "the rate changes along the travel", ANY
    REACH = "the travel may not be reached", ANY
    PAIRS = "other pairs have other rates", ANY
    UNPAIRED = "nothing is known of it here", ANY
    CRACKS = "may break the bar below any stress here", ANY
    SUPPORTS = "the rate hangs on their stiffness", ANY
    UNSEATED = "the bar may slip or fret there, uncounted", ANY
    STEEL = "the steel may not be meant so", ANY
    SHORT = "a beam does not describe it well: some 10 % of rate and stress", 0.10
    DENTS = "may not be made so: other walls, other stress", ANY
    TIGHT = "may not be made so: other radius, other stress", ANY
    STRAIGHTS = "may not be made so: other straights, other rate", ANY
    FORGING = "may not be made so: another end, other stress", ANY
    TEARS_OUT = "the end's edge is not in the numbers", ANY
    LIGAMENT = "may add 50 % at that hole (common practice, no source)", 0.5
    NEIGHBOURS = "may add 25 % to the stress at these holes", 0.25
    BEYOND_TABLE = "may add 5 % at these holes (extrapolated, no source)", 0.05
    FRETTING = "may halve the strength at these edges (common practice, no source)", 1.0
    FOLDED_EDGES = "may add 50 % at the fold (common practice, no source)", 0.5
    FOLDS = "counted as half more stress; cracks in them are not", 0.0
    STEP = "may double the stress at the step (common practice, no source)", 1.0
    BORE_END = "may add what it says to the stress at the shoulders", 0.0
    BORE = "may take 30 % of the strength in the bore (common practice, no source)", 0.43
    THICKER = "may take 20 % of the strength (as from 16 to 40 mm in EN 10083-3)", 0.25
    WEAKER = "may take 10 % of the strength (common practice, no source)", 0.11
    NEAR_BEND = "may add 0.6 % to the peak of these bends", 0.006
    HOLE_NEAR_BEND = "may add 22 % to the peak of these bends", 0.22
    WEAR = "the link gets play; no stress here changes", 0.0
    COUNTED = "counted in the verdict", 0.0
    UNEQUAL = "counted in the verdict; ", 0.0, "one-wheel travel is that of the left wheel"
    ASKED = "asked about above", 0.0
    NOTHING = "changes nothing", 0.0
    NOTHING_IF_MEANT = "changes nothing if it is meant", 0.0
    OTHER = "", 0.02
    """Whatever none of these is: 2 %, what barfem's own approximations come to."""

    def __init__(self, words: str, share: float, of_one_wheel: str = "") -> None:
        self.words, self.share, self.of_one_wheel = words, share, of_one_wheel

    def size(self, *, one_wheel: bool) -> str:
        """What it may do in words, where one-wheel is judged or not."""
        return f"{self.words}{self.of_one_wheel}" if one_wheel else self.words.removesuffix("; ")


class Warned(str):
    """A warning's text, with its effect. Equal, printed and written as its text. `about`: what a question may ask of
    too (`Asked`).
    """

    effect: Effect
    about: str

    def __new__(cls, text: str, effect: Effect = Effect.OTHER, about: str = "") -> Warned:
        made = super().__new__(cls, text)
        made.effect, made.about = effect, about
        return made

    @property
    def sentence(self) -> Warned:
        """With a capital letter and a full stop."""
        return self.reworded(f"{with_capital(self)}.")

    def reworded(self, text: str) -> Warned:
        """Another text to the same effect."""
        return Warned(text, self.effect, self.about)


class Asked(str):
    """A question on what may be a slip, told before anything else, and what it is about: a warning about it says the
    same.
    """

    about: str

    def __new__(cls, text: str, about: str = "") -> Asked:  # copies are made of the text alone, then told the rest
        made = super().__new__(cls, text)
        made.about = about
        return made


def told_above(warnings: Iterable[str], questions: Sequence[str]) -> tuple[str, ...]:
    """The warnings, those that a question has told already to no more effect than that."""
    told = {each.about for each in questions if isinstance(each, Asked)} - {""}
    return tuple(
        Warned(text, Effect.ASKED) if isinstance(text, Warned) and text.about in told else text for text in warnings
    )
