"""How numbers leave the program: lengths to 0.1 mm, other figures to four significant digits (contract)."""

from __future__ import annotations


def figure(value: float | None, digits: int = 4) -> float | None:
    """Return a number to so many significant figures; None stays None.

    >>> figure(123.456789), figure(0.00123456)
    (123.5, 0.001235)
    """
    return None if value is None else float(f"{value:.{digits}g}")


def length(value: float | None) -> float | None:
    """Return a length in metres rounded to 0.1 mm; -0.0 becomes 0.0.

    >>> length(1.23456), length(-0.00001)
    (1.2346, 0.0)
    """
    return None if value is None else round(float(value), 4) + 0.0
