"""What can exist: the few bounds every formula puts on its input."""

from math import inf


def above_zero(**quantities: float) -> None:
    """Raise ValueError, naming the quantity, unless each is finite and above 0."""
    for name, value in quantities.items():
        if not 0 < value < inf:
            raise ValueError(f"{name.replace('_', ' ')} must be finite and above 0, not {value!r}")


def not_below_zero(**quantities: float) -> None:
    """Raise ValueError, naming the quantity, unless each is finite and 0 or above."""
    for name, value in quantities.items():
        if not 0 <= value < inf:
            raise ValueError(f"{name.replace('_', ' ')} must be finite and not below 0, not {value!r}")
