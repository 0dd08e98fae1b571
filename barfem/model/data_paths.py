"""Where the data that ships with barfem lies: material tables and demo bars.

The wheel carries both folders inside the package (barfem/data); a checkout or an editable install has them at its top
level, where users can see and copy them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from barfem.model.errors import BarfemError

__all__ = ["demo_bars", "demo_cars", "geometries_dir", "materials_dir"]

CAR_FILE = "*-car.toml"


def materials_dir() -> Path:
    """Folder of the material tables that ship with barfem."""
    return _data_dir("materials")


def geometries_dir() -> Path:
    """Folder of the demo bars and cars that ship with barfem."""
    return _data_dir("geometries")


def demo_bars() -> list[Path]:
    """The demo bars' files, in order of their names."""
    return sorted(path for path in geometries_dir().glob("*.toml") if not path.match(CAR_FILE))


def demo_cars() -> list[Path]:
    """The demo cars' files, in order of their names."""
    return sorted(geometries_dir().glob(CAR_FILE))


@cache
def _data_dir(name: str) -> Path:
    package = Path(__file__).resolve().parents[1]
    # The installed folder first: beside an installed package, a folder called "materials" may be anyone's.
    for folder in (package / "data" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise BarfemError(f"the {name} folder of barfem is missing from {package}: install barfem again")
