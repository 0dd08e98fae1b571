"""What reading a bar file has to tell beside the bar: warnings, and the readings and defaults that were taken."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Notes"]


@dataclass
class Notes:
    """Collected while one file is read, then frozen into the Bar. Each text is kept once."""

    warnings: list[str] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)

    def warn(self, text: str) -> None:
        if text not in self.warnings:
            self.warnings.append(text)

    def assume(self, text: str) -> None:
        if text not in self.assumptions:
            self.assumptions.append(text)
