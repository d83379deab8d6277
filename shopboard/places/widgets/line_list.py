"""A list of lines drawn one by one: as quick with five thousand rows as with five."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from shopboard.places.lines import Line

#: Builds the lines for a width in cells; the cursor's column is not part of it.
Builder = Callable[[int], Sequence[Line]]

_GUTTER = 1
#: So many lines are kept as drawn.
_DRAWN = 500


class LineView(ScrollView, can_focus=False):
    """Lines to read, with no cursor. `show` gives the builder; the lines are built anew at every new width."""

    DEFAULT_CSS = """
    LineView { overflow-x: hidden; overflow-y: auto; scrollbar-size: 0 1; scrollbar-gutter: stable; }
    LineView.fit { scrollbar-gutter: auto; overflow-y: hidden; }
    LineView.fit { height: auto; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        f"line--{role}" for role in ("strong", "soft", "late", "wait", "good", "mark", "bar", "cursor", "cursor-away")
    }

    def __init__(self, build: Builder | None = None, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._build: Builder = build or (lambda _: ())
        self._lines: Sequence[Line] = ()
        self._built_for = -1
        self._looks: dict[str, Style] = {}
        self._drawn: dict[tuple[int, int], Strip] = {}

    @property
    def lines(self) -> Sequence[Line]:
        """The lines as last built."""
        return self._lines

    def show(self, build: Builder) -> None:
        """Show what `build` gives from now on, keeping the place one reads at."""
        self._build = build
        if self.is_attached and self.size.width:
            self._rebuild()
        else:
            self._built_for = -1

    def _room(self) -> int:
        return max(1, self.scrollable_content_region.width)

    def _rebuild(self) -> bool:
        """Build the lines anew; says whether they are others than before. Drawing them is what costs."""
        room, lines = self._room(), self._build(self._room())
        if room == self._built_for and lines == self._lines:
            return False
        self._built_for, height, self._lines = room, len(self._lines), lines
        self._drawn.clear()
        self.virtual_size = Size(self._built_for, len(self._lines))
        if self.has_class("tail"):  # the newest line stands last and must be seen
            self.call_after_refresh(self.scroll_end, animate=False, immediate=True)
        self.refresh(layout=self.styles.is_auto_height and len(self._lines) != height)
        return True

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many rows as there are lines."""
        if self._built_for < 0:
            return len(self._build(max(1, width)))
        return len(self._lines)

    def on_resize(self, _: events.Resize) -> None:
        if self._built_for != self._room():
            self._rebuild()

    def role_style(self, role: str) -> Style:
        """The look of a role in the present theme."""
        return self.get_component_rich_style(f"line--{role}", partial=True) if role else Style()

    def notify_style_update(self) -> None:
        """Forget how roles looked."""
        super().notify_style_update()
        self._forget_looks()

    def _forget_looks(self) -> None:
        self._looks.clear()
        self._drawn.clear()

    def _look(self, role: str) -> Style:
        """The look of a role on this view's ground: made once, as it costs more than drawing does."""
        found = self._looks.get(role)
        if found is None:
            found = self._looks[role] = self._look("") + self.role_style(role) if role else self.rich_style
        return found

    def render_lines(self, crop: Region) -> list[Strip]:
        """The lines of a part of what is visible."""
        if self._looks.get("") != self.rich_style or len(self._drawn) > _DRAWN:
            self._forget_looks()
        return super().render_lines(crop)

    def render_line(self, y: int) -> Strip:
        """One line of the visible part."""
        index = y + round(self.scroll_offset.y)
        width = self.scrollable_content_region.width
        if index >= len(self._lines):
            return Strip.blank(width, self._look(""))
        return self._strip(index, width)

    def _strip(self, index: int, width: int) -> Strip:
        drawn = self._drawn.get((index, width))
        if drawn is None:
            segments = [Segment(s.text, self._look(s.role)) for s in self._lines[index].spans]
            drawn = Strip(segments).adjust_cell_length(width, self._look(""))
            self._drawn[index, width] = drawn
        return drawn


class LineList(LineView, can_focus=True):
    """Lines with a cursor that stays on its key when lines change around it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,j", "move(1)", "down", show=False),
        Binding("up,k", "move(-1)", "up", show=False),
        Binding("pagedown", "page(1)", "page down", show=False),
        Binding("pageup", "page(-1)", "page up", show=False),
        Binding("home", "far(-1)", "first", show=False),
        Binding("end", "far(1)", "last", show=False),
        Binding("enter", "choose", "open", show=False),
    ]

    class Moved(Message):
        """The cursor stands on another key."""

        def __init__(self, source: LineList, key: str | None) -> None:
            super().__init__()
            self.source, self.key = source, key

        @property
        def control(self) -> LineList:
            """The list whose cursor moved."""
            return self.source

    class Chosen(Message):
        """Enter was pressed on a key."""

        def __init__(self, source: LineList, key: str) -> None:
            super().__init__()
            self.source, self.key = source, key

        @property
        def control(self) -> LineList:
            """The list it was pressed in."""
            return self.source

    def __init__(self, build: Builder | None = None, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(build, id=id, classes=classes)
        self._cursor = -1
        self._key: str | None = None

    @property
    def key(self) -> str | None:
        """The key under the cursor, None when there is nothing to stand on."""
        return self._key

    def go_to(self, key: str) -> bool:
        """Put the cursor on this key; says whether it is there."""
        found = next((i for i, row in enumerate(self._lines) if row.key == key), None)
        if found is None:
            self._key = self._key or key
            return False
        self._stand(found)
        return True

    def to_top(self) -> None:
        """Forget where the cursor stood: the next lines are about something else."""
        self._key, self._cursor = None, -1
        self.scroll_to(y=0, animate=False, immediate=True)

    def _room(self) -> int:
        return max(1, super()._room() - _GUTTER)

    def _rebuild(self) -> bool:
        offset = self._cursor - self.scroll_offset.y
        if not super()._rebuild() and self._cursor >= 0 and self._lines[self._cursor].key == self._key:
            return False
        keys = [row.key for row in self._lines]
        if self._key is not None and self._key in keys:
            self._cursor = keys.index(self._key)
            if self._cursor - self.scroll_offset.y != offset and self.max_scroll_y:
                self.scroll_to(y=self._cursor - offset, animate=False, immediate=True)
            self.refresh()
        else:
            self._stand(self._nearest(max(0, self._cursor), 1))
        return True

    def _nearest(self, start: int, step: int) -> int:
        """The first row with a key from `start` on, in direction `step`, else in the other; -1 if there is none."""
        size = len(self._lines)
        for way in (step, -step):
            index = min(max(start, 0), size - 1)
            while 0 <= index < size:
                if self._lines[index].key is not None:
                    return index
                index += way
        return -1

    def _stand(self, index: int) -> None:
        moved = index < 0 or self._lines[index].key != self._key
        self._cursor = index
        self._key = self._lines[index].key if index >= 0 else None
        if index >= 0:
            top = index - 1 if index and self._lines[index - 1].key is None else index
            self.scroll_to_region(Region(0, top, 1, index - top + 1), animate=False, force=True, immediate=True)
        self.refresh()
        if moved:
            self.post_message(self.Moved(self, self._key))

    def action_move(self, step: int) -> None:
        """Move the cursor to the next row with a key."""
        index = self._cursor + step
        while 0 <= index < len(self._lines) and self._lines[index].key is None:
            index += step
        if 0 <= index < len(self._lines):
            self._stand(index)
        else:
            self._show_edge(step)

    def _show_edge(self, way: int) -> None:
        """Scroll on to lines that stand before the first row with a key, or behind the last."""
        self.scroll_to(y=0 if way < 0 else self.max_scroll_y, animate=False, immediate=True)

    def action_page(self, way: int) -> None:
        """Move the cursor by a screenful."""
        step, before = way * max(1, self.size.height - 2), self._cursor
        self._stand(self._nearest(min(max(self._cursor + step, 0), len(self._lines) - 1), way))
        if self._cursor == before:
            self._show_edge(way)

    def action_far(self, way: int) -> None:
        """Move the cursor to the first or last row."""
        self._stand(self._nearest(0 if way < 0 else len(self._lines) - 1, -way))
        self._show_edge(way)

    def action_choose(self) -> None:
        """Choose the row under the cursor."""
        if self._key is not None:
            self.post_message(self.Chosen(self, self._key))

    def on_click(self, event: events.Click) -> None:
        """A click puts the cursor there; a second one chooses."""
        index = event.y + round(self.scroll_offset.y)
        if 0 <= index < len(self._lines) and self._lines[index].key is not None:
            again = index == self._cursor
            self._stand(index)
            if again:
                self.action_choose()

    def watch_has_focus(self, _: bool) -> None:
        self.refresh()

    def _strip(self, index: int, width: int) -> Strip:
        here = index == self._cursor
        walked = self.has_focus or not self.can_focus  # one that cannot take the focus is walked from a text field
        mark = Segment((">" if walked else "·") if here else " ", self._look(""))
        if here and walked:  # one look from end to end: the words say what the colours of the row repeat
            text = Segment(self._lines[index].text)
            strip = Strip.join([Strip([mark]), Strip([text]).adjust_cell_length(width - _GUTTER)])
            return strip.apply_style(self._look("cursor"))
        strip = Strip.join([Strip([mark]), super()._strip(index, width - _GUTTER)])
        return strip.apply_style(self.role_style("cursor-away")) if here else strip
