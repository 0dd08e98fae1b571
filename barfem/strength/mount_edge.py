"""The edge of a bushing, and the seat of a collar: what contact takes from the fatigue strength there.

A factor on the stress that fatigue sees (amplitude and mean), none on yield. Only the clamped metal seat has a source;
what rubber does is experience without one, and the file may say otherwise for each mount.
"""

from __future__ import annotations

from barfem.model.bar import Collar, Mount
from barfem.model.frozen import frozen

__all__ = ["COLLAR_FACTORS", "CONTACT_FACTORS", "Contact", "collar_contact", "mount_contact"]


@frozen
class Contact:
    """`factor` on the stress that fatigue sees beside the contact, and where it comes from."""

    kind: str
    factor: float
    source: str


CONTACT_FACTORS = {
    "bonded": Contact("bonded", 1.0, "rubber bonded to the bar seals its edge (common practice, no source)"),
    "slipping": Contact(
        "slipping",
        1.2,
        "grit, water and wear under the edge of rubber that the bar turns in (common practice, no source)",
    ),
    "clamped": Contact(
        "clamped",
        2.0,
        "metal clamped or pressed on the bar frets at its edge: Kf about 2 for press-fitted collars (Peterson, Stress"
        " Concentration Factors, and Shigley Ch. 7, from memory)",
    ),
}

COLLAR_FACTORS = {
    "pressed": Contact("pressed", 2.0, CONTACT_FACTORS["clamped"].source),
    "clamped": CONTACT_FACTORS["clamped"],
    "moulded": Contact(
        "moulded", 1.2, "plastic or rubber moulded on the bar: as rubber that slips (common practice, no source)"
    ),
}


def mount_contact(mount: Mount) -> Contact | None:
    """The contact at a mount's edges; None where the file does not say how it lies on the bar."""
    if mount.contact_factor is not None:
        return Contact(mount.contact or "its own", mount.contact_factor, "the bar file, contact_factor")
    return None if mount.contact is None else CONTACT_FACTORS[mount.contact]


def collar_contact(collar: Collar) -> Contact:
    """The contact at a collar's edges."""
    contact = COLLAR_FACTORS[collar.kind]
    return contact if collar.factor is None else Contact(contact.kind, collar.factor, "the bar file, factor")
