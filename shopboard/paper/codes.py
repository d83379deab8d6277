"""The codes on a tag as dark and light modules: QR (ISO/IEC 18004) and Code 128 (ISO/IEC 15417)."""

from __future__ import annotations

#: Light modules that must surround a code, so that a scanner finds its ends (same standards).
QR_QUIET, BARS_QUIET = 4, 10


def qr_modules(digits: str) -> tuple[tuple[bool, ...], ...]:
    """The QR code of the digits, row by row, True for dark, without the quiet zone; error correction M."""
    import segno

    return tuple(tuple(bool(module) for module in row) for row in segno.make_qr(digits, error="m").matrix)


def bar_modules(digits: str) -> tuple[bool, ...]:
    """The Code 128 of the digits, module by module, True for dark, without the quiet zone."""
    from barcode import Code128

    return tuple(module == "1" for module in Code128(digits).build()[0])
