"""A paper as text for a terminal or a plain printer, at any width from 40 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.cells import cell_len

from shopboard.records import visible

from .blocks import Block, Facts, Heading, Label, Labels, Paper, Sheet, Sign, Table, Words

_GAP = 2


def as_text(paper: Paper, width: int) -> str:
    """The paper as lines no wider than `width` cells (40 at least), people's text made visible."""
    width = max(40, width)
    if isinstance(paper, Labels):
        return "\n\n".join(as_text(label, width) for label in paper.labels)
    rows = _sheet(paper, width) if isinstance(paper, Sheet) else _label(paper, width)
    return "\n".join(row.rstrip() for row in rows)


def _sheet(sheet: Sheet, width: int) -> Iterator[str]:
    yield from wrapped(sheet.head, width)
    yield from wrapped(sheet.title.upper(), width)
    for block in sheet.blocks:
        yield from _block(block, width)
    yield ""
    yield from wrapped(sheet.foot, width)


def _label(label: Label, width: int) -> Iterator[str]:
    yield from wrapped(label.head, width)
    yield from wrapped(label.title, width)
    for _, words in label.lines:  # each says itself what it is, as on the printed tag
        yield from wrapped(words, width) if words else ()
    yield from wrapped(f"code {label.code}", width)


def _block(block: Block, width: int) -> Iterator[str]:
    if isinstance(block, Heading):
        yield ""
        yield from wrapped(block.text.upper(), width)
    elif isinstance(block, Words):
        mark = "! " if block.look == "caution" else ""
        pad = "  " * block.indent + mark
        for number, row in enumerate(wrapped(block.text, max(20, width - cell_len(pad)))):
            yield (pad if number == 0 else " " * cell_len(pad)) + row
    elif isinstance(block, Facts):
        yield from _facts(block.pairs, width)
    elif isinstance(block, Table):
        yield from _table(block, width)
    else:
        yield from _sign(block, width)


def _facts(pairs: Sequence[tuple[str, str]], width: int) -> Iterator[str]:
    said = [(what, text) for what, text in pairs if text.strip()]
    most = max((cell_len(what) for what, _ in said), default=0)
    for what, text in said:
        for number, row in enumerate(wrapped(text, max(10, width - most - _GAP))):
            yield _padded(what if number == 0 else "", most) + " " * _GAP + row


def _table(table: Table, width: int) -> Iterator[str]:
    widths = column_widths(table, width)
    titles = tuple(column.title for column in table.columns)
    for cells in (titles, None, *(row.cells for row in table.rows)):
        if cells is None:
            yield "-" * min(width, sum(widths) + _GAP * (len(widths) - 1))
            continue
        columns = [wrapped(text, room) for text, room in zip(cells, widths, strict=True)]
        for number in range(max(map(len, columns))):
            pieces = [rows[number] if number < len(rows) else "" for rows in columns]
            yield (" " * _GAP).join(
                _padded(piece, room, right=column.right)
                for piece, room, column in zip(pieces, widths, table.columns, strict=True)
            )


def column_widths(table: Table, width: int) -> list[int]:
    """Cells for each column: as much as its longest cell needs, and where that is too much for all, by their shares."""
    room = width - _GAP * (len(table.columns) - 1)
    texts = [[column.title, *(row.cells[n] for row in table.rows)] for n, column in enumerate(table.columns)]
    wanted = [max(cell_len(visible(line)) for text in column for line in text.split("\n")) for column in texts]
    whole = sum(column.share for column in table.columns)
    by_share = [max(4, int(room * column.share / whole)) for column in table.columns]
    if sum(wanted) <= room:
        return wanted
    spare = room - sum(min(want, fair) for want, fair in zip(wanted, by_share, strict=True))
    widths = []
    for want, fair in zip(wanted, by_share, strict=True):
        more = max(0, min(want - fair, spare))
        spare -= more
        widths.append(min(want, fair) + more)
    while sum(widths) > room:  # on a narrow terminal the least width of all columns together is too much
        widths[widths.index(max(widths))] -= 1
    return widths


def _sign(sign: Sign, width: int) -> Iterator[str]:
    yield ""
    for what in sign.places:
        yield ""
        yield from wrapped(f"{what}: {'_' * max(10, min(40, width - cell_len(what) - 2))}", width)


def _padded(text: str, width: int, *, right: bool = False) -> str:
    pad = " " * (width - cell_len(text))
    return pad + text if right else text + pad


def wrapped(text: str, width: int) -> list[str]:
    """People's text over as many lines as it needs, broken at blanks where there are any; one line at least."""
    result = []
    for paragraph in visible(text, lines=True).split("\n"):
        row = ""
        for word in paragraph.split(" "):
            for piece in _pieces(word, width):
                if row and cell_len(row) + 1 + cell_len(piece) > width:
                    result.append(row)
                    row = piece
                else:
                    row = f"{row} {piece}" if row else piece
        result.append(row)
    return result


def _pieces(word: str, width: int) -> Iterator[str]:
    while cell_len(word) > width:
        count = next(n for n in range(len(word), 0, -1) if n == 1 or cell_len(word[:n]) <= width)
        yield word[:count]
        word = word[count:]
    yield word
