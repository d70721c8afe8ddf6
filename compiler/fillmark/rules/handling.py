"""What can hurt, what is left over, and who may run the method. The safety data sheet comes first."""

from collections.abc import Iterator

from fillmark.diagnostics import Related
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.quantities import brief, fixed
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule
from fillmark.rules.wording import any_of, clauses

_MONTH = 2_629_800.0  # s, as `months` in quantities.py


@rule(
    "SAF01",
    ERROR,
    waivable=False,
    sources=("safety-practice", "iso-13732-1"),
    example=Example(
        "QAP-VIS-002",
        right="""  target: 25.0 °C ± 0.1 °C
  measured: chamber-sensor
  start: 22 °C
  thermometer: {resolution: 0.01 K, uncertainty: 0.03 K}
  conditioning: {where: jacket, time: 15 min, covered: true}
""",
        wrong="""  target: 65.0 °C ± 0.1 °C
  measured: chamber-sensor
  start: 65 °C
  thermometer: {resolution: 0.01 K, uncertainty: 0.03 K}
  conditioning: {where: jacket, time: 15 min, covered: true, parts: true}
""",
        at="target: 65.0 °C",
    ),
)
def temperature_can_burn(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The sample is hot or cold enough to burn and the method does not say so.

    The caution printed before the step hangs on the declared hazard; without it hands reach for a hot beaker
    or a cold one unwarned.

    Never: declare it, and the caution is printed.
    """
    policy = m.reference.policy
    target = m.temperature.target.value
    for word, limit, off in (
        ("hot", policy["hot_from"], target.value - policy["hot_from"]),
        ("cold", policy["cold_below"], policy["cold_below"] - target.value),
    ):
        if off >= 0 and word not in m.product.hazards:
            yield Finding(
                ("temperature", "target"),
                f"The sample is held at {target.text}{_past(word, off)}; from {brief(limit, 2)} °C "
                f"{'on' if word == 'hot' else 'down'} skin is hurt, and {word} is not among the hazards.",
                (
                    f"Add {word} to the hazards of the product: the caution is then printed before the step.",
                    f"Or test {'below' if word == 'hot' else 'above'} {brief(limit, 2)} °C.",
                ),
                (Related("hazards declared here", ("product", "hazards")),),
            )


def _past(word: str, kelvin: float) -> str:
    return f", {brief(kelvin, 3)} K {'above' if word == 'hot' else 'below'} the bound" if kelvin > 0 else ""


@rule(
    "SAF02",
    ERROR,
    waivable=False,
    sources=("safety-practice", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        right="hazards: [irritant]",
        wrong="hazards: [irritant, flammable]\n  flash_point: 30 °C",
        at="target: 23.0 °C",
    ),
)
def near_the_flash_point(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The sample is tested near its flash point or above it.

    Vapour over an open beaker beside a motor can catch fire.

    Never here: whoever is licensed for such work has other equipment and other rules.
    """
    flash = m.product.flash_point
    if flash is None:
        return
    margin = m.reference.policy["flash_margin"]
    highest = figures["temperature.upper"].value
    if highest > flash.value - margin:
        off = flash.value - highest
        yield Finding(
            ("temperature", "target"),
            f"The sample may be as warm as {figures.text('temperature.upper')}, {brief(abs(off), 3)} K "
            f"{'below' if off > 0 else 'above'} its flash point of {flash.text}; {brief(margin, 3)} K "
            "below is the "
            "least.",
            (
                (
                    f"Test at {fixed(flash.value - margin - m.temperature.target.tolerance.value, 1)} °C or "
                    "colder, with "
                    f"± {m.temperature.target.tolerance.text}."
                ),
                "Or have the work done where equipment and people are licensed for it.",
            ),
            (Related(f"flash point {flash.text}", ("product", "flash_point")),),
        )


@rule(
    "SAF03",
    ERROR,
    waivable=False,
    sources=("safety-practice",),
    example=Example("MCW-VIS-014", right="agent: warm water", wrong="agent: acetone"),
)
def flammable_agent_not_declared(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Parts are washed with a flammable solvent and the method does not say that it is one.

    The caution about ignition and ventilation hangs on the declared hazard and is not printed.

    Never: declare it. The safety data sheet of the solvent says what applies.
    """
    if m.cleaning is None or m.cleaning.agent is None:
        return
    hazards = m.cleaning.agent_hazards
    if "flammable" in hazards or "volatile-solvent" in hazards:
        return
    pattern = any_of(m.reference.policy.choices.get("flammable_agents", ""))
    for clause in clauses(m.cleaning.agent):
        match = pattern.search(clause.text)
        if (
            match
            and not clause.denied(match.start())
            and not clause.text[match.end() :].startswith(("-free", " free"))
        ):
            yield Finding(
                ("cleaning", "agent"),
                f"{match[0][:1].upper()}{match[0][1:]} burns, and flammable is not among the {len(hazards)} "
                f"hazards declared of the agent{': ' + ', '.join(hazards) if hazards else ''}.",
                (
                    (
                        "Write agent_hazards: [flammable, volatile-solvent], with what else its safety data "
                        "sheet names."
                    ),
                    "Or wash with something that does not burn, such as warm water with a detergent.",
                ),
            )
            return


@rule(
    "SAF04",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="cleaning: {agent: warm water, disposal: waterborne waste drum}\n",
        wrong="",
        at="title:",
    ),
)
def cleaning_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Nothing says how spindle and guard are cleaned.

    What dries on makes the spindle thicker and the next result high; what scrapes it off makes it thinner and
    every later result low.

    Where spindle and container are used once and thrown away.
    """
    if m.cleaning is None or m.cleaning.agent is None:
        yield Finding(
            ("title",) if m.cleaning is None else ("cleaning",),
            f"Nothing says what {m.spindle.key} is washed with"
            + (" and where the waste goes." if m.cleaning is None else ", in 1 word or more."),
            (
                "Add cleaning, with agent and disposal: warm water, and the waste drum of the product.",
                "Or say in a note that the parts are used once, and waive this.",
            ),
        )


@rule(
    "SAF05",
    WARNING,
    sources=("safety-practice",),
    example=Example(
        "MCW-VIS-014",
        right="{agent: warm water, disposal: waterborne waste drum}",
        wrong="{agent: warm water}",
    ),
)
def disposal_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Nothing says where the sample and the washings go.

    They go down the drain, which local rules may forbid.

    Where site rules for waste cover every sample of the laboratory.
    """
    if m.cleaning is not None and m.cleaning.agent is not None and m.cleaning.disposal is None:
        volume = m.sample.volume.value.text if m.sample.volume is not None else "The sample"
        yield Finding(
            ("cleaning", "agent"),
            f"{volume} of {m.product.name} and the washings ({m.cleaning.agent}) have nowhere to go.",
            (
                "Write disposal: the drum or line that takes this product.",
                "Or name the site's waste rules there.",
            ),
        )


@rule(
    "SAF06",
    WARNING,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014", right="training: {level: 2, valid: 24 months}\n", wrong="", at="purpose: release"
    ),
)
def training_level_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The result decides about batches and nothing says who may make it.

    Mounting, depth and clock are in the hands; an untrained pair reads a few percent off, either way.

    Where the laboratory keeps a list of who may run which method.
    """
    if m.training is None and m.purpose in ("release", "stability"):
        yield Finding(
            ("purpose",),
            f"The purpose is {m.purpose} and no training level from 1 to 4 is asked for.",
            (
                "Add training: {level: 2, valid: 24 months}.",
                "Or name in a waiver the list of who may run this method.",
            ),
        )


@rule(
    "SAF07",
    WARNING,
    sources=("project-decision", "iso-17025"),
    example=Example(
        "MCW-VIS-014",
        right="training: {level: 2, valid: 24 months}",
        wrong="training: {level: 2, valid: 5 years}",
    ),
)
def training_lasts_too_long(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Training is taken to hold longer than the site allows.

    Habits creep in: a beaker filled by eye, a reading taken early. Nobody sees it from inside.

    Where the operator runs the method every day and takes part in comparisons.
    """
    valid = None if m.training is None else m.training.valid
    longest = m.reference.policy["training_interval"]
    if valid is not None and valid.value > longest * (1 + 1e-9):
        yield Finding(
            ("training", "valid"),
            f"Training holds for {valid.text}, {(valid.value - longest) / _MONTH:.0f} months longer than the "
            f"{longest / _MONTH:.0f} months the site allows.",
            (
                f"Write valid: {longest / _MONTH:.0f} months.",
                "Or have the site policy changed: training_interval.",
            ),
        )


@rule(
    "SAF08",
    WARNING,
    sources=("iso-17025", "record-practice"),
    example=Example("MCW-VIS-014", right="retention: 10 years\n", wrong="", at="purpose: release"),
)
def retention_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The result decides about batches and nothing says how long its record is kept.

    A complaint comes after the paper is gone.

    Where the site keeps all records alike and says so elsewhere.
    """
    if m.retention is None and m.purpose in ("release", "stability"):
        yield Finding(
            ("purpose",),
            f"The purpose is {m.purpose}, and its records are kept for 0 stated years.",
            (
                "Write retention: and how long records are kept, such as 10 years.",
                "Or name in a waiver the document that says it for all records.",
            ),
        )


@rule(
    "SAF09",
    ADVICE,
    sources=("rheology-text", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        right="  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}\n",
        wrong="  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}\n"
        "  - {name: break_down, speed: 100 rpm, read: {after: 60 s}}\n",
        at="name: break_down",
        also=("TRQ12",),
    ),
)
def may_climb_or_splash(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A product with structure is turned so fast that it may climb the shaft or splash.

    What climbs wets the coupling and the pivot, and the level falls: the reading drifts low.

    Where it has been tried and the product stays where it is.
    """
    if m.product.behaviour == "unknown":
        yield NotJudged("it is not known how the product flows")
        return
    if not m.product.has_history:
        return
    limit = m.reference.policy["splash_speed"]
    for step in m.run:
        fast = [(step.speed, (*step.path, "speed"))]
        if step.preshear is not None:
            fast.append((step.preshear.speed, (*step.preshear.path, "speed")))
        for speed, path in fast:
            if speed.value >= limit:
                yield Finding(
                    path,
                    f"{m.product.name} ({m.product.behaviour}) is turned at {speed.text}; from "
                    f"{brief(limit, 3)} rpm on a "
                    "product with structure may climb the shaft or splash.",
                    (
                        f"Use a speed below {brief(limit, 3)} rpm with a larger spindle or a weaker spring.",
                        "Or tell the operator in a note to stop when it climbs, and wear eye protection.",
                    ),
                    (Related(f"behaviour: {m.product.behaviour}", ("product", "behaviour")),),
                )
