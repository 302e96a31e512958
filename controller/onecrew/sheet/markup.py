"""Markup: elements of HTML and SVG whose text is always escaped. There is no other way into a page."""

from __future__ import annotations

import html

from onecrew.log.text import clean

VOID = frozenset({"meta", "br", "col", "hr", "img"})
INSIDE_SVG = frozenset({"circle", "line", "path", "polygon", "polyline", "rect", "ellipse"})


class Markup(str):
    """Text that is markup already. Made by ``el`` and ``joined`` alone."""

    __slots__ = ()


def el(tag: str, *inside: str | float, **attributes: str | float | None) -> Markup:
    """An element. What is inside is escaped unless it is markup; an attribute that is None is left out.

    Attribute names: a trailing underscore goes (``class_``), others inside become hyphens (``stroke_width``).
    """
    said = "".join(
        f' {_name(name)}="{html.escape(_text(value))}"'
        for name, value in attributes.items()
        if value is not None
    )
    if tag in VOID:
        return Markup(f"<{tag}{said}>")
    if tag in INSIDE_SVG and not inside:
        return Markup(f"<{tag}{said}/>")
    return Markup(f"<{tag}{said}>{joined(*inside)}</{tag}>")


def joined(*parts: str | float) -> Markup:
    """Parts one after the other, those that are no markup escaped."""
    return Markup(
        "".join(part if isinstance(part, Markup) else html.escape(_text(part), quote=False) for part in parts)
    )


def _text(value: str | float) -> str:
    if isinstance(value, str):
        return _one_line(value)
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def _one_line(text: str) -> str:
    """Clean, but blanks at the ends stay: they stand between elements."""
    shown = clean(text)
    lead = " " if text[:1] == " " and shown else ""
    trail = " " if text[-1:] == " " and shown else ""
    return f"{lead}{shown}{trail}" if shown else text[:1] if text.isspace() else ""


def _name(name: str) -> str:
    return name.rstrip("_").replace("_", "-")
