"""What a process of barfem's own spares: work of the libraries that nobody in it sees. No number comes from it.

In a script or a notebook that imports barfem nothing of this is done.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import importlib.util
import logging
import os
import sys
from collections import defaultdict
from functools import cache
from importlib.machinery import PathFinder
from types import ModuleType
from typing import Any, NamedTuple

__all__ = ["keep_to_files", "spare_start_and_end"]


def keep_to_files() -> None:
    """Have matplotlib draw into files and say nothing; before it is imported.

    It refuses to be imported where MPLBACKEND names what is not installed beside barfem, as the kernel of a notebook
    hands its own on to every command that is run from a cell. Where it cannot keep a list of fonts, in a home folder
    that may not be written to, it is a little slower: no word of that is for who asked for a report.
    """
    os.environ["MPLBACKEND"] = "agg"
    logging.getLogger("matplotlib").setLevel(logging.ERROR)


def spare_start_and_end() -> None:
    """Spare a tenth of a check's time, at its start and its end; before any library is imported."""
    # Looking for garbage while hundreds of modules load, and once more through all of them at the very end.
    gc.set_threshold(200_000, 20, 20)
    atexit.register(gc.freeze)
    # SciPy parses the documents of its functions as it is imported, and writes them anew.
    _stand_in("scipy._lib._docscrape", FunctionDoc=_FunctionDoc, Parameter=_Parameter)
    # pydantic looks through every installed package for plugins. None may change how a bar is read.
    _stand_in("pydantic.plugin._loader", get_plugins=tuple)


class _StandIn(ModuleType):
    """A module that has some names of the one that it stands for, and gets others from that one."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(_meant(self.__name__), name)


def _stand_in(name: str, **known: Any) -> None:
    module = _StandIn(name)
    vars(module).update(known)
    sys.modules.setdefault(name, module)


@cache
def _meant(name: str) -> ModuleType:
    """The module that a stand-in stands for."""
    spec = PathFinder.find_spec(name, importlib.import_module(name.rpartition(".")[0]).__path__)
    if spec is None or spec.loader is None:
        raise ImportError(name)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


class _Parameter(NamedTuple):
    name: str
    type: str
    desc: list[str]


class _FunctionDoc(defaultdict[str, list[Any]]):
    """A function's document, in sections that nobody reads: empty, whatever is written into them."""

    def __init__(self, function: Any = None, *others: Any, **more: Any) -> None:
        super().__init__(list)
        self._of = (function, *others), more

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        given, more = self._of
        return getattr(_meant("scipy._lib._docscrape").FunctionDoc(*given, **more), name)

    def __str__(self) -> str:
        return "\n"
