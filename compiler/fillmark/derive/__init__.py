"""Stage 4: every figure that follows from a method, each computed here once and nowhere else.

The modules gather a method's values by topic, call the physics, and keep the result with its formula, inputs
and sources. A figure that cannot be computed is left open with the reason. Conversions between the units a
bench uses and those of the physics are visible at the call.
"""

from fillmark.derive.container import container
from fillmark.derive.figuring import Figuring
from fillmark.derive.results import replicates, report_line, verification
from fillmark.derive.run import step_figures, times_taken
from fillmark.derive.setup import setup
from fillmark.derive.temperature import temperature
from fillmark.figures import Figures
from fillmark.model import Method


def derive(method: Method) -> Figures:
    """Compute every figure of a method. Never fails: what cannot be computed is left open with its reason."""
    f = Figuring(method)
    setup(f)
    for step in method.run:
        step_figures(f, step)
    times_taken(f)
    container(f)
    temperature(f)
    replicates(f)
    verification(f)
    for line in method.report:
        report_line(f, line)
    return Figures(f.by_key, f.open)
