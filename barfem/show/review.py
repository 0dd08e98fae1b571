"""What `barfem review` prints, and the same as text for the package."""

from __future__ import annotations

from barfem.model.bar import drawing_words
from barfem.show.console import wrap
from barfem.vendor.review import ORDER, Review
from barfem.vendor.rules import Finding

__all__ = ["review_text"]

HEADS = {
    "stop": "STOP: not to be made as it is",
    "ask": "ASK: to be answered before it is ordered",
    "note": "NOTE: to be known",
}


def review_text(found: Review, *, width: int = 100) -> str:
    """The review as plain text, the worst first."""
    named = drawing_words(found.drawing, found.revision)
    counts = ", ".join(f"{found.count(severity)} {severity}" for severity in ORDER)
    lines = wrap(f"{found.name}{f' ({named})' if named else ''}: {counts}; {len(found.rules)} rules.", width)
    for severity in ORDER:
        several = [each for each in found.findings if each.severity == severity]
        if several:
            lines += ["", HEADS[severity]]
        # One thing found at several places is said once.
        places: dict[tuple[str, str], list[Finding]] = {}
        for each in several:
            places.setdefault((each.rule, each.what), []).append(each)
        for (_, what), alike in places.items():
            each = alike[0]
            lines += wrap(f"{'; '.join(one.where for one in alike)}: {what}.", width, first="- ", then="  ")
            number = "" if each.number is None else f"{each.number:.4g}{' ' + each.unit if each.unit else ''}"
            limit = "" if each.limit is None else f"limit {each.limit:g}{' ' + each.unit if each.unit else ''}"
            reference = "; ".join(filter(None, (f"rule {each.rule}", number, limit, each.source)))
            lines += wrap(f"[{reference}]", width, first="  ", then="  ")
    lines += [
        "",
        *wrap(
            "Springback is the bender's business and not in the data. This is a review of an estimate, not a release: "
            "validate by test; licensed practice and local rules decide.",
            width,
        ),
    ]
    return "\n".join(lines) + "\n"
