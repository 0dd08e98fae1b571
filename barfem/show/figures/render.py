"""A figure as SVG or PNG, the same to the byte for the same input and the same versions."""

from __future__ import annotations

import io
import re
import warnings

from barfem.show.figures import style
from barfem.show.figures.picture import Picture

__all__ = ["png", "svg", "svg_inline"]

DOTS_PER_INCH = 160

# Colours that the page decides, by its own names, so that one drawing serves light and dark.
_BY_NAME = {
    style.INK: "var(--ink)",
    style.MUTED: "var(--muted)",
    style.RULE: "var(--rule)",
    style.WASH: "var(--wash)",
    style.PAPER: "var(--paper)",
    style.LEAD: "var(--lead)",
    style.OTHER: "var(--other)",
    style.BORE: "var(--bore)",
    style.SHEAR: "var(--shear)",
    style.BELOW: "var(--below)",
}


STAMP_IN = 0.16  # height of the line that says what a figure is of


def _saved(picture: Picture, size: style.Size, kind: str, stamp: str = "") -> bytes:
    with style.context(size), warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes; the page's own text has it right.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure = picture.draw(size)
        if stamp:
            width, height = figure.get_size_inches()
            figure.set_size_inches(width, height + STAMP_IN)
            share = STAMP_IN / (height + STAMP_IN)
            engine = figure.get_layout_engine()
            if engine is not None:
                engine.set(rect=(0.0, share, 1.0, 1.0 - share))  # type: ignore[call-arg]
            figure.text(0.995, 0.25 * share, stamp, ha="right", va="bottom", fontsize=6.0, color=style.MUTED)
        buffer = io.BytesIO()
        # matplotlib would write the date and its version.
        metadata = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(buffer, format=kind, metadata=metadata, dpi=DOTS_PER_INCH)
    return buffer.getvalue()


def png(picture: Picture, size: style.Size = "wide", *, stamp: str = "") -> bytes:
    """The picture as PNG; `stamp` says at its foot what it is of."""
    return _saved(picture, size, "png", stamp)


def svg(picture: Picture, size: style.Size = "wide", *, stamp: str = "") -> str:
    """The picture as a file of its own, its description for those who cannot see it included."""
    text = _saved(picture, size, "svg", stamp).decode("utf-8")
    described = f"<title>{_escaped(picture.title)}</title><desc>{_escaped(picture.alt)}</desc>"
    return re.sub(r"(<svg\b[^>]*>)", lambda found: found.group(1) + described, text, count=1)


def svg_inline(picture: Picture, size: style.Size) -> str:
    """The picture as an element of a page: coloured by the page's names, its ids its own, described."""
    text = _saved(picture, size, "svg").decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    for colour, name in _BY_NAME.items():
        text = text.replace(colour, name)
    prefix = f"{picture.slug}-{size}-"
    text = re.sub(r'\bid="', f'id="{prefix}', text)
    text = re.sub(r'(href="#|url\(#)', rf"\g<1>{prefix}", text)
    view = re.search(r'viewBox="([^"]*)"', text)
    width = float(view.group(1).split()[2]) if view else 0.0
    head = (
        f'<svg class="figure {size}" role="img" aria-label="{_escaped(picture.alt)}" style="--width:{width:.0f}pt" '
        f'viewBox="{view.group(1) if view else ""}" xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink">'
    )
    return re.sub(r"<svg\b[^>]*>", lambda _: head, text, count=1).strip()


def _escaped(text: str) -> str:
    from html import escape

    return escape(text, quote=True)
