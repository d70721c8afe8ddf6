"""How a method's geometry, windows, limits and rules of reporting read on paper, for every paper alike."""

from fillmark.documents import Span, Text
from fillmark.documents.wording import Phrases, between, on_paper, written
from fillmark.figures import Figures
from fillmark.model import Limit, Method, ReportLine, Spindle, Step, Verification


def form(spindle: Spindle, phrases: Phrases) -> Text:
    """Describe a spindle by its kind and the dimension a caliper can check."""
    if spindle.kind == "cone" and spindle.cone_angle is not None:
        return phrases.line("form-cone", angle=written(spindle.cone_angle))
    if spindle.diameter is None:
        return phrases.line("form-unmeasured", kind=spindle.kind)
    return phrases.line(f"form-{spindle.kind}", diameter=written(spindle.diameter))


def window(figures: Figures, lower: str, upper: str) -> str:
    """Write the range between two figures; what is open on one side with a sign; nothing where both are."""
    low = figures[lower].text if lower in figures else ""
    high = figures[upper].text if upper in figures else ""
    if low and high:
        return between(low, high)
    return on_paper(f"≥ {low}" if low else f"≤ {high}" if high else "")


def torque_window(figures: Figures, step: Step) -> tuple[str, str]:
    """Write the torque of a conforming batch, nominal and worst case."""
    key = f"run.{step.name}.torque_"
    return (
        window(figures, f"{key}lower", f"{key}upper"),
        window(figures, f"{key}lower_worst", f"{key}upper_worst"),
    )


def temperature_window(figures: Figures) -> str:
    """Write the range of temperatures allowed."""
    return window(figures, "temperature.lower", "temperature.upper")


def unit_of(figures: Figures, step: Step) -> str:
    """Give the unit a step's viscosity is written in."""
    return figures[f"run.{step.name}.full_scale"].unit


def factor(figures: Figures, step: Step) -> str:
    """Write the factor as a number with its viscosity unit: what torque in percent is multiplied by."""
    return on_paper(figures[f"run.{step.name}.factor"].text.removesuffix(" per %"))


def bounds(method: Method, figures: Figures, step: Step, phrases: Phrases) -> tuple[str, str]:
    """Write exactly what goes down below the torque floor and above full scale."""
    line = next((r for r in method.report if r.result == step.name), None)
    void = phrases.word("out-of-range-void")
    below, above = (on_paper(figures[f"run.{step.name}.{which}_bound"].text) for which in ("below", "above"))
    return (
        void if line is not None and line.below_range == "void" else below,
        void if line is not None and line.above_range == "void" else above,
    )


def floor_and_ceiling(method: Method) -> tuple[str, str]:
    """Write the torques between which a reading counts."""
    texts = method.reference.policy.texts
    return on_paper(texts["torque_floor"]), on_paper(texts["torque_ceiling"])


def limits(limit: Limit | None, phrases: Phrases) -> str:
    """Write the limits of a result."""
    if limit is None:
        return phrases.word("limit-none")
    if limit.lower is not None and limit.upper is not None:
        return between(limit.lower.text, limit.upper.text)
    if limit.upper is not None:
        return phrases.word("limit-at-most", limit=written(limit.upper))
    if limit.lower is not None:
        return phrases.word("limit-at-least", lower=written(limit.lower))
    return phrases.word("limit-none")


def range_allowed(method: Method, line: ReportLine) -> str:
    """Write the largest range of the replicates of a result: nothing where none is set for it."""
    agree = method.replicates.agree_within
    if agree is None or method.replicates.count < 2:
        return ""
    if agree.kind != "percent" and (line.ratio is not None or _judged_elsewhere(method, line)):
        return ""
    return on_paper(agree.text)


def _judged_elsewhere(method: Method, line: ReportLine) -> bool:
    """Whether another viscosity of the report, the first, is the one an absolute range is meant for."""
    first = next((r.result for r in method.report if r.ratio is None), None)
    return line.result != first


def comparison(method: Method, line: ReportLine) -> str:
    """Name what is compared with the limits: absolute or rounding."""
    return line.comparison or method.reference.policy.choices.get("comparison", "absolute")


def rounding(method: Method, phrases: Phrases) -> tuple[Text, ...]:
    """Write the rounding rules of the report, and what is compared with the limits."""
    keys = [f"rounding-{r.rounding}" for r in method.report if r.rounding is not None]
    compared = [(r.result, comparison(method, r)) for r in method.report if r.increment is not None]
    lines = [phrases.line(key) for key in dict.fromkeys(keys)]
    if len({how for _, how in compared}) == 1:
        return (*lines, phrases.line(f"comparison-{compared[0][1]}"))
    # Where results are compared in different ways, each example says in which.
    return tuple(lines)


def examples(method: Method, figures: Figures, phrases: Phrases) -> tuple[Text, ...]:
    """Write the worked examples of rounding at the limits."""
    return tuple(
        phrases.line("rounding-example", result=r.result, example=on_paper(figures[key].text))
        for r in method.report
        for key in (f"report.{r.result}.border_lower", f"report.{r.result}.border_upper")
        if key in figures
    )


def repeats(method: Method, phrases: Phrases, confirm: str) -> tuple[Text, ...]:
    """Say when a result is made once more; `confirm` is the phrase for one outside the limits."""
    otherwise = method.replicates.otherwise
    lines: list[Text] = []
    if method.replicates.count > 1:
        lines.append(
            phrases.line("result-otherwise", action=otherwise)
            if otherwise
            else phrases.line("result-otherwise-plain")
        )
    if method.replicates.confirm_outside:
        lines.append(phrases.line(confirm))
    return (*lines, phrases.line("result-outside"))


def clock(figures: Figures, step: Step) -> tuple[str, str, str]:
    """Write the moment of reading, the turns made by then and the end of the reading; empty if not fixed."""
    key = f"run.{step.name}."
    at = figures[key + "read_at"].text if key + "read_at" in figures else ""
    turns = figures[key + "revolutions"].text if key + "revolutions" in figures else ""
    return on_paper(at), on_paper(turns), on_paper(figures[key + "read_end"].text)


def fluid_temperature(check: Verification) -> str:
    """Write the temperature the reference fluid must have; the customary tolerance where none is given."""
    temperature = check.temperature
    return on_paper(f"{check.fluid.temperature.text} ± 0.1 K" if temperature is None else temperature.text)


def verification_band(check: Verification, figures: Figures) -> str:
    """Write the readings of the fluid that pass: the author's own limits, else the computed band."""
    lower = check.lower.text if check.lower is not None else figures.text("verification.lower")
    upper = check.upper.text if check.upper is not None else figures.text("verification.upper")
    return between(lower, upper)


def check_setup(method: Method, check: Verification, phrases: Phrases) -> str:
    """Write what is otherwise in the check with the reference fluid than in the run; nothing where all is alike."""
    setup = ""
    if check.spindle is not None and check.spindle.key != method.spindle.key:
        setup += phrases.word("hold-setup-spindle", spindle=check.spindle.key)
    if check.container is not None and check.container.key != method.container.key:
        setup += phrases.word("hold-setup-container", container=check.container.label)
    if check.guard is not None and check.guard != method.guard:
        setup += phrases.word(f"hold-setup-{check.guard}")
    return setup


def guard_key(method: Method) -> str:
    """Name the guard that goes with the coupling the spindle hangs on."""
    name = method.instrument.adapter or method.instrument.coupling.key
    coupling = method.reference.couplings.get(name, method.instrument.coupling)
    return coupling.guard


def join(parts: tuple[Text, ...]) -> Text:
    """Set texts one after the other with a space between."""
    out: list[Span] = []
    for part in parts:
        if part:
            out.extend((*((Span(" "),) if out else ()), *part))
    return tuple(out)
