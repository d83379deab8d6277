"""Let Textual let go of what was drawn: it would keep the last thousand widgets' lines, sixty megabytes of them."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from textual._styles_cache import StylesCache


def of_drawn_widgets() -> None:
    """Two colours of a widget are cached by the two they come from, not by whose lines they were made for as well.

    Textual 8 caches a method, and with it the object that the method is of. Another Textual is left as it is.
    """
    by_object: Any = getattr(StylesCache, "get_inner_outer", None)
    made = getattr(by_object, "__wrapped__", None)
    if made is None:
        return

    @lru_cache(1024)
    def by_colours(base: Any, background: Any) -> Any:
        return made(None, base, background)

    def get_inner_outer(_: StylesCache, base: Any, background: Any) -> Any:
        return by_colours(base, background)

    replaced: Any = get_inner_outer
    StylesCache.get_inner_outer = replaced  # type: ignore[method-assign]
