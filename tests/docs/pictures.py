"""The pictures of README and DEVELOPERS, made by barfem itself:

    python -m tests.docs.pictures

makes them anew, from the top of the repository, into notebooks/pictures. A test holds that they still look alike.
"""

from __future__ import annotations

from pathlib import Path

import barfem

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "notebooks" / "pictures"
BAR = ROOT / "geometries" / "pickup-front-solid.toml"
PICTURES = ("bar-at-full-travel", "stress-along-the-bar", "predicted-over-measured")


def make(folder: Path) -> list[Path]:
    """Make every picture in `folder` and return their paths."""
    check = barfem.check_bar(BAR)
    return [check.plot(name).save(folder / f"{name}.png") for name in PICTURES]


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for path in make(FOLDER):
        print(path)
