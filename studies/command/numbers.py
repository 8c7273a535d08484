"""Numbers and counts as screens, pictures and pages write them."""

from __future__ import annotations

ZERO = 1e-9  # in any unit of the users': what is left of a zero after rounding in the computer


def short(value: float, digits: int = 3) -> str:
    """So many digits that count; all digits before the point of a larger number; no minus before a zero."""
    if abs(value) < ZERO:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{value:.0f}" if "e+" in text else text


def fixed(value: float, digits: int = 1) -> str:
    """So many digits after the point; no minus before a zero."""
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0 else text


def signed(value: float, digits: int = 1) -> str:
    """With its sign, but for what reads as zero."""
    text = fixed(value, digits)
    return text if float(text) <= 0 else f"+{text}"


def error(value: float) -> str:
    """An error of a computation, however small."""
    return f"{value:.2g}"


def percent(share: float, digits: int = 1) -> str:
    """A share in per cent."""
    return f"{fixed(100 * share, digits)} %"


def plural(count: int, noun: str, nouns: str = "") -> str:
    """The count with its noun: `1 check`, `2 checks`; nouns : if an s at the end does not do."""
    return f"{count} {noun if count == 1 else nouns or f'{noun}s'}"
