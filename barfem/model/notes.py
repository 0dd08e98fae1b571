"""What reading a bar file has to tell beside the bar: warnings, and the readings and defaults that were taken."""

from __future__ import annotations

from dataclasses import dataclass, field

from barfem.model.warned import Effect, Warned

__all__ = ["Notes"]


@dataclass
class Notes:
    """Collected while one file is read, then frozen into the Bar or Car. Each text is kept once."""

    warnings: list[str] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)

    def warn(self, text: str, effect: Effect = Effect.OTHER, *, about: str = "") -> None:
        """Warn of something, and of what it may do to a verdict; a text that is `Warned` brings its own effect."""
        if text not in self.warnings:
            self.warnings.append(text if isinstance(text, Warned) else Warned(text, effect, about))

    def look_twice(self, text: str) -> None:
        """Warn of what may be a slip of the pen or of the unit: told before anything else as well."""
        self.warn(text)
        if text not in self.odd:
            self.odd.append(text)

    def assume(self, text: str) -> None:
        if text not in self.assumptions:
            self.assumptions.append(text)
