"""Round numbers along a scale."""

import math


def round_steps(low: float, high: float, most: int) -> list[float]:
    """Return round values from low to high, at most ``most`` of them, in steps of 1, 2 or 5 times a power of
    ten.

    Raises ValueError when the scale has no length or is not finite.
    """
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        raise ValueError(f"a scale from {low} to {high} has no length")
    rough = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1, 2, 5, 10, 20):
        step = factor * power
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return [round(count * step, 10) for count in range(first, last + 1)]


def plain(value: float) -> str:
    """Return a number for a scale: no trailing zeros, a true minus sign."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return ("−" + text[1:]) if text.startswith("-") and text != "-0" else text.lstrip("-")
