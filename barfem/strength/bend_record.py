"""The record of where a bend's stress comes from."""

from __future__ import annotations

from barfem.model.frozen import frozen

__all__ = ["BendStress"]


@frozen(kw_only=True)
class BendStress:
    """Where the stress of one bend comes from.

    `index` counts from the right tip. `source` is "grid" (shipped fields, interpolated within `stated_error`, a share
    of the bend's greatest von Mises stress), "computed" (a field of this very bend) or "closed forms", then `why`.
    `with_bends` are all the bends that were solved as one with it, since they see each other; empty if none.
    `superposes` is False where something lies so `near` that the field is not quite this bend's.
    """

    index: int
    source: str
    stated_error: float | None = None
    why: str | None = None
    superposes: bool = True
    near: str | None = None
    with_bends: tuple[int, ...] = ()
