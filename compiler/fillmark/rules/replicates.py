"""How many results make one, when they agree, and whether the specification leaves room for their spread."""

import re
from collections.abc import Iterator
from math import ceil, floor, log10

from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Limit, Method, Step
from fillmark.quantities import brief, express, show, sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule

_DROPPED = re.compile(
    r"\b(?:best\s+(?:two|three|2|3|of)\b"
    r"|(?:discard|drop|ignore|reject|delete|omit|disregard|leave\s+out|throw\s+(?:away|out))\w*\s+(?:\w+\s+){0,4}?"
    r"(?:high|low|odd|worst|bad|outl|extreme|deviat|reading|result|replicate|value|one)\w*"
    r"|(?:closest|nearest)\s+(?:two|three|2|3)\b"
    r"|outlier)",
    re.IGNORECASE,
)
_DENIED = re.compile(r"\b(?:not|never|no|nothing|without|nor)\b", re.IGNORECASE)
_RSD = re.compile(
    r"\b(?:RSD|relative\s+standard\s+deviation|coefficient\s+of\s+variation|CV)\b", re.IGNORECASE
)


def _first(m: Method) -> tuple[Step, Limit] | None:
    """Give the first step that has two limits, by which agreement is judged."""
    for limit in m.specification:
        step = m.step(limit.result)
        if step is not None and limit.lower is not None and limit.upper is not None:
            return step, limit
    return None


def _agreement(m: Method, f: Figures, percent: float) -> str:
    """Write a range (% of the middle of the limits) the way the method writes its own."""
    agree, found = m.replicates.agree_within, _first(m)
    if agree is None or found is None or agree.kind == "percent":
        return f"{sig(percent, 3)} %"
    limit = found[1]
    middle = (limit.lower.value + limit.upper.value) / 2 if limit.lower and limit.upper else 0.0
    return f"{sig(express(percent / 100 * middle, agree.unit), 3)} {agree.unit}"


def _texts(m: Method) -> Iterator[tuple[Path, str]]:
    """Go through the texts that may say what becomes of a replicate."""
    if m.replicates.otherwise is not None:
        yield (*m.replicates.path, "otherwise"), m.replicates.otherwise
    for name, text in m.notes.items():
        yield ("notes", name), text


def _dropped(text: str) -> str | None:
    """Find the words by which a text lets a replicate go; None where it does not, or forbids it."""
    for clause in re.split(r"[.;:\n]", text):
        found = _DROPPED.search(clause)
        if found is not None and not _DENIED.search(clause[: found.start()]):
            return found[0]
    return None


@rule(
    "REP01",
    ERROR,
    sources=("iso-5725-6", "project-decision"),
    example=Example("LMT-VIS-021", right="count: 3", wrong="count: 1", also=("CAL10",)),
)
def single_result_for_release(m: Method, f: Figures) -> Iterator[Outcome]:
    """One single reading decides about a batch.

    A bubble, a badly seated spindle or a warm corner shows only beside a second loading; alone it passes for
    the product, high or low.

    Where the repeatability is so good against the specification that one reading says enough; this is
    computed, and the rule is then silent.
    """
    replicates = m.replicates
    if replicates.count > 1 or m.purpose not in ("release", "stability"):
        return
    found, wanted = _first(m), m.reference.policy["single_result_ratio"]
    related: tuple[Related, ...] = ()
    if found is not None and replicates.repeatability is not None:
        limit = found[1]
        if limit.lower is None or limit.upper is None:
            return
        middle = (limit.lower.value + limit.upper.value) / 2
        half = 100 * (limit.upper.value - limit.lower.value) / 2 / middle
        spread = f["replicates.pair_range"].value
        if spread * wanted <= half:
            return
        says = (
            f"Two readings may differ by {brief(spread)} % ({replicates.repeatability.text} repeatability) "
            f"and the limits leave ± {brief(half)} %, {sig(half / spread, 2)} times that, where "
            f"{brief(wanted)} times would let one reading do."
        )
        related = (Related("the limits", limit.path),)
    else:
        says = "How far two readings may differ is not known, so nobody can say that 1 is enough."
    yield Finding(
        (*replicates.path, "count"),
        f"1 reading decides for {m.purpose}. {says} A slip in loading passes for the product, high or low.",
        (
            "Write count: 2 or more, with agree_within and otherwise.",
            (
                "Or state the purpose as in-process, if no batch is decided by this 1 reading (now "
                f"{m.purpose})."
            ),
        ),
        related,
    )


@rule(
    "REP02",
    ERROR,
    sources=("iso-5725-6", "record-practice"),
    example=Example(
        "MCW-VIS-014",
        right="  otherwise: Repeat the pair once on new loadings; report all four.\n",
        wrong="",
        at="count: 2",
    ),
)
def no_agreement_rule(m: Method, f: Figures) -> Iterator[Outcome]:
    """Several results are taken, and either no limit says when they agree or no action says what if not.

    A mean of two that do not agree hides the one that went wrong, and reads high or low by half its error;
    what is done about it is decided at the bench, with the result in view.

    Where every single value is reported and judged by itself.
    """
    replicates = m.replicates
    if replicates.count < 2:
        return
    missing = [
        name
        for name, value in (("agree_within", replicates.agree_within), ("otherwise", replicates.otherwise))
        if value is None
    ]
    if not missing:
        return
    allowed = f.value("replicates.critical_range")
    hint = (
        f"{brief(allowed)} % of the mean is what {replicates.count} good ones keep 19 times in 20"
        if allowed is not None
        else "such as 0.5 Pa·s or 5 %"
    )
    yield Finding(
        replicates.path,
        f"{replicates.count} results are taken and {' and '.join(missing)} "
        f"{'is' if len(missing) == 1 else 'are'} missing: a mean of discordant results reads high or low by "
        "half the error of the bad one.",
        (
            f"Write agree_within ({hint}) and otherwise (such as: repeat the set once, report all).",
            f"Or report each of the {replicates.count} results and judge each against the limits.",
        ),
    )


def _too_fine(m: Method, f: Figures) -> tuple[float, float] | None:
    """Give the agreement limit and what the readout can hold (Pa·s), where the limit is below that."""
    agree, found = f.value("replicates.agree"), _first(m)
    if agree is None or found is None or m.replicates.count < 2:
        return None
    full = f[f"run.{found[0].name}.full_scale"].value
    least = (f["resolution"].value + m.reference.policy["instrument_repeatability"]) / 100 * full
    return (agree, least) if agree < least * (1 - 1e-9) else None


def _held(m: Method, f: Figures) -> float:
    """Give the range that step and scatter of the instrument take, in percent of the middle of the limits."""
    found = _first(m)
    if found is None:
        return 0.0
    step, limit = found
    share = (f["resolution"].value + m.reference.policy["instrument_repeatability"]) / 100
    return 100 * share * f[f"run.{step.name}.full_scale"].value / _middle(limit)


def _failing(f: Figures, count: int) -> str:
    share = f.value("replicates.good_sets_failing")
    if share is None or share < 5:  # as many fail by the rule itself
        return ""
    return f" About {sig(min(share, 100), 2)} % of good sets of {count} would be repeated for nothing."


@rule(
    "REP03",
    WARNING,
    sources=("iso-5725-6",),
    example=Example("MCW-VIS-014", right="agree_within: 0.5 Pa·s", wrong="agree_within: 0.35 Pa·s"),
)
def agreement_tighter_than_the_spread(m: Method, f: Figures) -> Iterator[Outcome]:
    """The agreement limit is tighter than what good results of this product keep.

    Good sets fail by chance and are repeated; people learn to repeat until it fits, and the mean then reads
    high or low by choice.

    Where the declared repeatability is known to be too wide and a new study is under way.
    """
    allowed, agree = f.value("replicates.critical_range"), f.value("replicates.agree_percent")
    replicates = m.replicates
    if replicates.count > 1 and replicates.agree_within is not None and allowed is None:
        yield NotJudged("the repeatability is not given, so the agreement limit cannot be judged")
        return
    if (
        allowed is None
        or agree is None
        or replicates.agree_within is None
        or replicates.repeatability is None
    ):
        return
    if agree >= allowed or _too_fine(m, f) is not None:
        return
    yield Finding(
        (*replicates.path, "agree_within"),
        f"{replicates.agree_within.text} ({brief(agree)} %) is {sig(100 * (1 - agree / allowed), 2)} % "
        f"tighter than the {brief(allowed)} % that {replicates.count} good results keep 19 times in 20 "
        f"(repeatability {replicates.repeatability.text}).{_failing(f, replicates.count)} Repeating until it "
        "fits reads high or low.",
        (
            f"Write agree_within: {_up(m, f, allowed)}.",
            (
                f"Or show a repeatability of {sig(replicates.repeatability.value * agree / allowed, 2)} % or "
                "better by a study."
            ),
        ),
        (Related(f"repeatability: {replicates.repeatability.text}", (*replicates.path, "repeatability")),),
    )


def _up(m: Method, f: Figures, percent: float) -> str:
    """Write a range no smaller than so many percent, in two digits as a method would state it."""
    number, _, unit = _agreement(m, f, percent).partition(" ")
    grid = 10.0 ** (floor(log10(float(number))) - 1)
    return f"{sig(ceil(float(number) / grid - 1e-9) * grid, 2)} {unit}"


@rule(
    "REP04",
    WARNING,
    sources=("iso-5725-6", "project-decision"),
    example=Example("LMT-VIS-021", right="agree_within: 15 %", wrong="agree_within: 30 %"),
)
def agreement_too_loose(m: Method, f: Figures) -> Iterator[Outcome]:
    """The agreement limit is so loose that it catches next to nothing.

    One result that went wrong passes beside good ones, and the mean reads high or low by its share.

    Where the declared repeatability holds for one operator on one day and replicates are taken on several.
    """
    allowed, agree = f.value("replicates.critical_range"), f.value("replicates.agree_percent")
    replicates, loose = m.replicates, m.reference.policy["agreement_loose"]
    if (
        allowed is None
        or agree is None
        or replicates.agree_within is None
        or replicates.repeatability is None
    ):
        return
    if agree <= allowed * loose:
        return
    yield Finding(
        (*replicates.path, "agree_within"),
        f"{replicates.agree_within.text} ({brief(agree)} %) is {sig(agree / allowed, 2)} times the "
        f"{brief(allowed)} % that {replicates.count} good results keep 19 times in 20: one result off by "
        f"{sig(agree, 2)} % passes, and the mean reads {sig(agree / replicates.count, 2)} % high or low.",
        (
            f"Write agree_within: {_up(m, f, max(allowed, _held(m, f)))}.",
            (
                "Or state the repeatability your results have, if it is nearer to "
                f"{sig(replicates.repeatability.value * agree / allowed, 2)} %."
            ),
        ),
        (Related(f"repeatability: {replicates.repeatability.text}", (*replicates.path, "repeatability")),),
    )


@rule(
    "REP05",
    WARNING,
    sources=("from-memory", "definition"),
    example=Example("QAP-VIS-002", right="agree_within: 1.8 Pa·s", wrong="agree_within: 0.1 Pa·s"),
)
def agreement_finer_than_the_readout(m: Method, f: Figures) -> Iterator[Outcome]:
    """The agreement limit is finer than the instrument can hold.

    A step of the readout and the instrument's own scatter already exceed it: good sets are repeated for ever,
    or until two readings agree by luck, high or low.

    Where the readings come from a finer output than the display.
    """
    found, fine, agree = _first(m), _too_fine(m, f), m.replicates.agree_within
    if found is None or fine is None or agree is None:
        return
    limit, least = fine
    step = found[0]
    full = f[f"run.{step.name}.full_scale"]
    own = m.reference.policy["instrument_repeatability"]
    spread = f.value("replicates.critical_range")
    wanted = max(100 * least / _middle(found[1]), spread if spread is not None else 0.0)
    yield Finding(
        (*m.replicates.path, "agree_within"),
        f"{agree.text} is {sig(100 * limit / full.value, 2)} % of full scale ({full.text}); a step of the "
        f"readout ({f.text('resolution')}) and the instrument's own scatter ({brief(own)} %) take "
        f"{show(least, 'viscosity', full.unit)}.{_failing(f, m.replicates.count)} What agrees at last agrees "
        "by luck, high or low.",
        (
            f"Write agree_within: {_up(m, f, wanted)}.",
            (
                "Or read higher on the scale, in a range of "
                f"{show(full.value * limit / least, 'viscosity', full.unit)} or less."
            ),
        ),
        (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
    )


def _middle(limit: Limit) -> float:
    return (limit.lower.value + limit.upper.value) / 2 if limit.lower and limit.upper else 1.0


@rule(
    "REP06",
    ERROR,
    waivable=False,
    sources=("record-practice",),
    example=Example(
        "MCW-VIS-014",
        right="otherwise: Repeat the pair once on new loadings; report all four.",
        wrong="otherwise: Run a third loading and take the best two.",
    ),
)
def replicate_dropped(m: Method, f: Figures) -> Iterator[Outcome]:
    """The method lets a replicate be left out for no cause but its value.

    What is left agrees because it was chosen to: the spread looks small, and the mean moves to the side the
    choice falls on, high or low.

    Never: a result is left out for a cause that was seen and written down, not for what it says.
    """
    for path, text in _texts(m):
        words = _dropped(text)
        if words is None:
            continue
        more = m.replicates.count * 2
        yield Finding(
            path,
            f"{' '.join(words.split())!r}: of {m.replicates.count} results or more 1 goes for its value "
            "alone. The rest agrees because it was chosen to, and the mean is high or low by the choice.",
            (
                f"Repeat the whole set once and report all {more}.",
                "Or leave out only for a cause seen at the bench and written down, and report that 1 too.",
            ),
            (Related(f"{m.replicates.count} replicates", (*m.replicates.path, "count")),),
        )


@rule(
    "REP07",
    ERROR,
    sources=("gum", "jcgm-106", "project-decision"),
    example=Example(
        "BBM-VIS-007", right="repeatability: 1.5 %", wrong="repeatability: 7.0 %", at="speed: 50 rpm"
    ),
)
def specification_too_narrow_for_the_method(m: Method, f: Figures) -> Iterator[Outcome]:
    """The uncertainty of the result takes too much of the specification.

    Batches near a limit are passed or failed by chance, high or low, and a second laboratory finds otherwise.

    Where the limits are history; then with guarded limits, so that the risk is known and somebody bears it.
    """
    policy = m.reference.policy
    least, wanted = policy["uncertainty_ratio_error"], policy["uncertainty_ratio_warning"]
    for step in m.run:
        key = f"run.{step.name}."
        if key + "uncertainty" in f.open:
            yield NotJudged(f"the uncertainty of {step.name}: {f.open[key + 'uncertainty']}")
            continue
        ratio, limit = f.value(key + "uncertainty_ratio"), m.limit(step.name)
        if ratio is None or limit is None or ratio >= wanted:
            continue
        parts = {
            "the instrument": f[key + "u_instrument"],
            "the temperature": f[key + "u_temperature"],
            "the repeatability": f[key + "u_repeatability"],
        }
        largest = max(parts, key=lambda name: parts[name].value)
        instrument = f.value(key + "instrument_ratio")
        narrow = instrument is not None and instrument < policy["instrument_ratio_warning"]
        if narrow and largest == "the instrument":
            continue  # TRQ07 says it
        uncertainty = f[key + "uncertainty"]
        share = ", ".join(f"{name[4:]} {figure.text}" for name, figure in parts.items())
        cure = {
            "the instrument": f"read higher on the scale (now {f.text(key + 'full_scale')} full scale)",
            "the temperature": f"hold the temperature closer than ± {m.temperature.target.tolerance.text}",
            "the repeatability": _more_loadings(m, f, key, wanted),
        }[largest]
        yield Finding(
            (*step.path, "speed"),
            f"The uncertainty of {step.name} is {uncertainty.text} (k = 2) and the specification leaves ± "
            f"{show(ratio * uncertainty.value, 'viscosity', uncertainty.unit)}: a ratio of {sig(ratio, 3)}, "
            f"where {brief(wanted)} is wanted and {brief(least)} the least. Near a limit chance decides, "
            f"high or low. Standard uncertainties: {share}.",
            (
                f"Work on {largest}, the largest part: {cure}.",
                (
                    "Or widen the limits to ± "
                    f"{show(wanted * uncertainty.value, 'viscosity', uncertainty.unit)}, if the product "
                    "allows."
                ),
            ),
            (Related("the limits", limit.path),),
            severity=ERROR if ratio < least else WARNING,
        )


def _more_loadings(m: Method, f: Figures, key: str, wanted: float) -> str:
    """Say how many loadings would bring the ratio up to what is wanted, where ten or fewer do."""
    half = f[key + "uncertainty_ratio"].value * f[key + "uncertainty"].value
    left = (half / wanted / 2) ** 2 - f[key + "u_instrument"].value ** 2 - f[key + "u_temperature"].value ** 2
    one = f[key + "u_repeatability"].value ** 2 * m.replicates.count
    need = ceil(one / left - 1e-9) if left > 0 else 0
    if 0 < need <= 10:
        return f"take {need} loadings, or load more evenly"
    return "load more evenly, and find out where the spread comes from"


@rule(
    "REP08",
    WARNING,
    sources=("iso-17025", "jcgm-106"),
    example=Example(
        "TGF-VIS-003", right=", decision_rule: simple}", wrong="}", at="result: viscosity_10, lower"
    ),
)
def decision_rule_missing(m: Method, f: Figures) -> Iterator[Outcome]:
    """Limits are given and no decision rule.

    A result just inside a limit is passed by one laboratory as it stands and held back by another for its
    uncertainty: whose risk it is has not been said, and the dispute comes with the first border case.

    Where no conformity is stated and the result is only recorded.
    """
    for limit in m.specification:
        if limit.decision_rule is not None:
            continue
        figure = f.value(f"run.{limit.result}.uncertainty")
        size = f", {f.text(f'run.{limit.result}.uncertainty')}" if figure is not None else ""
        bound = limit.upper or limit.lower
        yield Finding(
            limit.path,
            f"{limit.result} has limits and 0 decision rules: whether a result at "
            f"{bound.text if bound else 'the limit'} passes in spite of its uncertainty{size} is open, and "
            "each laboratory decides high or low for itself.",
            (
                "Write decision_rule: simple; a result exactly on the limit is then wrong 50 times in 100.",
                (
                    "Or write decision_rule: guarded; the limits are drawn in by the uncertainty, and a "
                    "result there is wrong 2 to 3 times in 100."
                ),
            ),
            severity=WARNING if m.purpose in ("release", "stability") else ADVICE,
        )


@rule(
    "REP09",
    WARNING,
    sources=("iso-5725-6", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        right="otherwise: Repeat the pair once on new loadings; report all four.",
        wrong="otherwise: If the RSD is high, repeat the pair once; report all four.",
    ),
)
def standard_deviation_of_two(m: Method, f: Figures) -> Iterator[Outcome]:
    """Agreement of two results is judged by their relative standard deviation.

    That of two is nothing but their difference divided by 1.41, and reads low against the range that people
    compare it with: a limit of 5 % lets 7 % apart pass.

    Where a larger set is meant and the text says so.
    """
    if m.replicates.count != 2:
        return
    for path, text in _texts(m):
        words = _RSD.search(text)
        if words is None:
            continue
        allowed = f.value("replicates.critical_range")
        fit = f" (19 good pairs in 20 keep {brief(allowed)} %)" if allowed is not None else ""
        yield Finding(
            path,
            f"{words[0]} of 2 results: it is their difference divided by 1.41, so it reads low against the "
            "range and a limit of 5 % lets results 7 % apart pass.",
            (
                f"Judge the range, as agree_within does{fit}.",
                "Or take 6 results or more, of which a standard deviation says something.",
            ),
            (Related("2 replicates", (*m.replicates.path, "count")),),
        )
