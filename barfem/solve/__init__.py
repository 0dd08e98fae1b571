"""What the bar does under its travel: the geometrically exact beam, and the swept solid."""

import importlib.util
import sys

import numpy as np

# glibc gives freed arrays of a megabyte back to the system at once and asks for them again, page by page, in the next
# line: a sixth of a check's time. It stops doing so once it has seen a block just below its own limit of 32 MiB come
# and go. No byte of it is touched, so that no memory is taken; other allocators don't care.
np.empty(31 << 20, np.uint8)


def _when_asked_for(part: str) -> None:
    """Have a part of NumPy imported when something of it is first asked for (the standard library's recipe)."""
    name = f"numpy.{part}"
    spec = None if name in sys.modules else importlib.util.find_spec(name)
    if spec is None or spec.loader is None:
        return
    spec.loader = importlib.util.LazyLoader(spec.loader)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    setattr(np, part, module)
    spec.loader.exec_module(module)


# SciPy copies NumPy's whole namespace as it is imported, and with it these, which nobody here needs: a Fortran parser,
# a test framework and masked arrays, a fifteenth of a check.
_when_asked_for("f2py")
_when_asked_for("testing")
_when_asked_for("ma")
