"""What the charts of a method follow: points, computed only where a chart is drawn."""

from fillmark.figures import Curves, Figures, Points
from fillmark.model import Method
from fillmark.physics import fluids, heat

STEPS = 60
"""Pieces of a curve."""

BEYOND = 1.25
"""How far past the conditioning time given or needed a curve goes."""


def curves(method: Method, figures: Figures) -> Curves:
    """Compute every curve of a method; one that lacks an input is empty."""
    return Curves(conditioning_curve(method, figures), *temperature_curves(method))


def conditioning_curve(method: Method, figures: Figures) -> Points:
    """Give pairs of time in the bath (s) and temperature still missing at the slowest point (K).

    The model is that of the figure `conditioning.residual`; empty where that is open.
    """
    start, conditioning = method.temperature.start, method.temperature.conditioning
    if "conditioning.residual" not in figures or start is None or conditioning is None:
        return ()
    given = 0.0 if conditioning.time is None else conditioning.time.value
    end = BEYOND * max(given, figures.value("conditioning.needed") or 0.0)
    own = method.product.diffusivity
    alpha = own.value if own is not None else method.reference.policy["diffusivity"]
    offset = abs(start.value - method.temperature.target.value.value)
    inside, spindle = method.container.inside_diameter.value, method.spindle
    points = []
    for time in (end * step / STEPS for step in range(STEPS + 1)):
        if spindle.kind == "coaxial-cylinder" and spindle.diameter is not None:
            gap = (inside - spindle.diameter.value) / 2
            theta = heat.narrow_gap_residual(time=time, gap=gap, diffusivity=alpha)
        else:
            theta = heat.cylinder_residual(
                time=time,
                radius=inside / 2,
                height=figures["container.level"].value,
                diffusivity=alpha,
                position="top",
                top="insulated",
            )
        points.append((time, offset * theta))
    return tuple(points)


def temperature_curves(method: Method) -> tuple[Points, Points]:
    """Give pairs of kelvin off the nominal temperature and shift of the viscosity (%).

    First for the product round its target, then for the reference fluid round the temperature of its
    certificate, both to twice the tolerance of the method: two ends of a straight line, as the figures
    take a sensitivity to be constant.
    """
    reach = 2 * method.temperature.target.tolerance.value
    own, check = method.product.temperature_sensitivity, method.verification
    fluid = None if check is None else check.fluid.sensitivity
    shifts: list[Points] = [
        ()
        if sensitivity is None
        else tuple(
            (off, 100 * fluids.temperature_shift(sensitivity_percent_per_k=sensitivity.value, warmer_by=off))
            for off in (-reach, reach)
        )
        for sensitivity in (own, fluid)
    ]
    return shifts[0], shifts[1]
