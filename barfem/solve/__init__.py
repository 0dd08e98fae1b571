"""What the bar does under its travel: the geometrically exact beam, and the swept solid."""

import importlib.util
import sys
import threading
from types import ModuleType
from typing import Any

import numpy as np

# glibc gives freed arrays of a megabyte back to the system at once and asks for them again, page by page, in the next
# line: a sixth of a check's time. It stops doing so once it has seen a block just below its own limit of 32 MiB come
# and go. No byte of it is touched, so that no memory is taken; other allocators don't care.
np.empty(31 << 20, np.uint8)


_RUNNING = threading.RLock()


class _Asleep(ModuleType):
    """A module that is run when something of it is first asked for; other threads wait until it has been.

    The standard library's `LazyLoader` shows them a module half run, before Python 3.11.9 and 3.12.3.
    """

    def __getattribute__(self, name: str) -> Any:
        with _RUNNING:
            values = object.__getattribute__(self, "__dict__")
            if values.pop("_asleep", False):  # else it is awake, or this thread runs it now
                try:
                    values["__spec__"].loader.exec_module(self)
                except BaseException:
                    values["_asleep"] = True
                    raise
                self.__class__ = ModuleType  # type: ignore[assignment]
        return ModuleType.__getattribute__(self, name)


def _when_asked_for(part: str) -> None:
    """Have a part of NumPy imported when something of it is first asked for."""
    name = f"numpy.{part}"
    spec = None if name in sys.modules else importlib.util.find_spec(name)
    if spec is None or spec.loader is None:
        return
    module = importlib.util.module_from_spec(spec)
    module.__dict__["_asleep"] = True
    module.__class__ = _Asleep
    sys.modules[name] = module
    setattr(np, part, module)


# SciPy copies NumPy's whole namespace as it is imported, and with it these, which nobody here needs: a Fortran parser,
# a test framework and masked arrays, a fifteenth of a check.
_when_asked_for("f2py")
_when_asked_for("testing")
_when_asked_for("ma")
