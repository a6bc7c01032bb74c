"""Figures of a review as screens and pages write them."""

from __future__ import annotations

from diagnose.review.tables import Estimate, Share


def percent_of(share: float) -> str:
    """A share in whole per cent; what is nearly all, or nearly none, is not called so.

    >>> percent_of(0.996), percent_of(1.0), percent_of(0.002), percent_of(0.0)
    ('> 99 %', '100 %', '< 1 %', '0 %')
    """
    if 0.995 <= share < 1:
        return "> 99 %"
    if 0 < share < 0.005:
        return "< 1 %"
    return f"{100 * share:.0f} %"


def share_of(share: Share) -> str:
    """A share with its interval, in per cent."""
    if share.value is None or share.low is None or share.high is None:
        return "-"
    return f"{percent_of(share.value)} ({100 * share.low:.0f}-{100 * share.high:.0f})"


def estimate_of(value: Estimate) -> str:
    """A figure from 0 to 1 with its interval."""
    if value.value is None:
        return "-"
    if value.low is None or value.high is None:
        return f"{value.value:.3f}"
    return f"{value.value:.3f} ({value.low:.3f}-{value.high:.3f})"


def middle_of(value: Estimate, digits: int = 0) -> str:
    """A median with its quartiles."""
    if value.value is None or value.low is None or value.high is None:
        return "-"
    some = (value.value, value.low, value.high)
    middle, low, high = (f"{each:.{digits}f}".removesuffix(".0") for each in some)
    return f"{middle} ({low}-{high})"


def years_of(years: float) -> str:
    """Years with one decimal; less than one, with two digits that count."""
    return f"{years:.1f}" if years >= 1 else f"{years:.2g}"


def number_of(value: float | None) -> str:
    """Three significant digits."""
    return "-" if value is None else digits_of(value, 3)


def digits_of(value: float, digits: int) -> str:
    """So many significant digits, but large numbers whole: 870, not 8.7e+02."""
    return f"{value:.0f}" if value >= 10**digits - 0.5 else f"{value:.{digits}g}"
