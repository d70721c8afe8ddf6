"""Free text against the parameters: numbers that contradict or repeat them, and words that leave things open.

Text is read by cues: a number belongs to the nearest word that says what it is about ("read", "rest",
"bath"), and where no such word is near, or the clause denies, supposes or gives a range, it is left alone.
"""

import re
from collections.abc import Iterator
from difflib import get_close_matches
from functools import lru_cache
from math import log
from typing import NamedTuple

from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Method, Step
from fillmark.placeholders import PATTERN, known_names, names_in, value_of
from fillmark.quantities import Quantity, brief, find_all
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, Outcome, rule
from fillmark.rules.wording import Clause, any_of, clauses, found_in, may_hold


def _instructions(m: Method) -> Iterator[tuple[Path, str]]:
    """Go through the texts that tell somebody at the bench what to do, or why."""
    yield ("sample", "preparation"), m.sample.preparation
    if m.sample.bubbles is not None:
        yield ("sample", "bubbles"), m.sample.bubbles
    if m.replicates.otherwise is not None:
        yield ("replicates", "otherwise"), m.replicates.otherwise
    if m.verification is not None and m.verification.on_failure is not None:
        yield ("verification", "on_failure"), m.verification.on_failure
    for name, text in m.notes.items():
        yield ("notes", name), text


def _name(path: Path) -> str:
    """Say where a text stands."""
    return f"the note {path[1]!r}" if path[0] == "notes" else ".".join(str(p) for p in path)


def _at_start(path: Path) -> str:
    """Say where a text stands, at the start of a sentence."""
    return f"The note {path[1]!r}" if path[0] == "notes" else _name(path)


# --- numbers ----------------------------------------------------------------------------------------------

_COUNTS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "twelve": 12, "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60,
    "ninety": 90,
}  # fmt: skip
_SPELLED = {
    r"seconds?|secs?": "s",
    r"minutes?|mins?": "min",
    r"hours?|hrs?": "h",
    r"days?": "d",
    r"revolutions?|revs?|turns?|rotations?": "rev",
    r"RPM|r\.p\.m\.?": "rpm",
    r"degrees? C(?:elsius)?|deg C|º ?C|° C": "°C",
    r"mPas|mPa s|cps|cPs": "mPa·s",
    r"Pas|Pa s": "Pa·s",
}
_SPELLED_OUT = re.compile(
    rf"(?<![\w.-])(?P<count>\d+(?:\.\d+)?|{'|'.join(_COUNTS)})[ -]?"
    r"(?:(?:full|whole|complete|more) )?(?:"
    + "|".join(f"(?P<u{i}>{spelling})" for i, spelling in enumerate(_SPELLED))
    + r")(?![\w-])",
    re.IGNORECASE,
)


_MAY_COUNT = re.compile(rf"\d|\b(?:{'|'.join(_COUNTS)})\b", re.IGNORECASE)


class _Said(NamedTuple):
    """A quantity that a text names: its clause, its place there, and the words it is named in."""

    clause: Clause
    start: int
    end: int
    quantity: Quantity
    words: str


@lru_cache(maxsize=4096)
def _said(text: str) -> tuple[_Said, ...]:
    """Find the quantities of a text, those spelled out in words too."""
    words: dict[str, str] = {}

    def canonical(match: re.Match[str]) -> str:
        unit = next(u for i, u in enumerate(_SPELLED.values()) if match[f"u{i}"])
        count = _COUNTS.get(match["count"].lower(), match["count"])
        words[f"{count} {unit}"] = match[0]
        return f"{count} {unit}"

    found = []
    for clause in clauses(_SPELLED_OUT.sub(canonical, text)):
        for start, end, quantity in find_all(clause.text):
            found.append(
                _Said(clause, start, end, quantity, words.get(clause.text[start:end], quantity.text))
            )
    return tuple(found)


class _Parameter(NamedTuple):
    """A value of the method that a text may speak of."""

    name: str
    """What stands between the braces of a placeholder."""
    value: float
    off: float
    """By how much a number may differ and still mean the same."""
    path: Path
    step: Step | None = None


def _of(name: str, q: Quantity | None, path: Path, off: float = 0.0) -> Iterator[_Parameter]:
    if q is not None:
        yield _Parameter(name, q.value, off, path)


def _of_steps(m: Method, figures: Figures, topic: str) -> Iterator[_Parameter]:
    share = m.reference.policy["read_agreement"] / 100
    for step in m.run:
        key = f"run.{step.name}"
        if topic == "speed":
            yield _Parameter(f"{key}.speed", step.speed.value, 0.0, (*step.path, "speed"), step)
            if step.preshear is not None:
                path = (*step.preshear.path, "speed")
                yield _Parameter(f"{key}.preshear.speed", step.preshear.speed.value, 0.0, path, step)
        elif topic == "read" and f"{key}.read_at" in figures:
            yield _Parameter(f"{key}.read_at", figures[f"{key}.read_at"].value, 0.0, step.read.path, step)
        elif topic == "turns" and f"{key}.revolutions" in figures:
            turns = figures[f"{key}.revolutions"].value
            yield _Parameter(f"{key}.revolutions", turns, share * turns, step.read.path, step)
        elif topic == "average" and step.read.average is not None:
            path = (*step.read.path, "average")
            yield _Parameter(f"{key}.read.average", step.read.average.value, 0.0, path, step)
        elif topic == "preshear" and step.preshear is not None:
            path = (*step.preshear.path, "time")
            yield _Parameter(f"{key}.preshear.time", step.preshear.time.value, 0.0, path, step)
        elif topic == "shear-rate" and f"{key}.shear_rate" in figures:
            rate = figures[f"{key}.shear_rate"].value
            yield _Parameter(
                f"{key}.shear_rate", rate, rate * m.reference.policy["shear_rate"] / 100, step.path, step
            )


def _limits(m: Method) -> Iterator[_Parameter]:
    for limit in m.specification:
        for key, q in (("lower", limit.lower), ("target", limit.target), ("upper", limit.upper)):
            if q is not None and q.kind == "viscosity":
                yield _Parameter(f"specification.{limit.result}.{key}", q.value, 0.0, (*limit.path, key))


def _parameters(m: Method, figures: Figures, topic: str) -> list[_Parameter]:
    """List the values of the method that belong to a topic."""
    sample, temperature, immersion = m.sample, m.temperature, m.immersion
    target = temperature.target
    found: Iterator[_Parameter]
    match topic:
        case "speed" | "read" | "turns" | "average" | "preshear" | "shear-rate":
            found = _of_steps(m, figures, topic)
        case "rest":
            found = _of("sample.rest", sample.rest, ("sample", "rest"))
        case "open":
            found = _of("sample.open_time", sample.open_time, ("sample", "open_time"))
        case "conditioning":
            time = None if temperature.conditioning is None else temperature.conditioning.time
            path: Path = ("temperature", "conditioning", "time")
            found = _of("temperature.conditioning.time", time, path)
        case "age" | "volume" | "mass":
            toleranced = {"age": sample.age, "volume": sample.volume, "mass": sample.mass}[topic]
            if toleranced is None:
                return []
            off = toleranced.tolerance.value
            found = _of(f"sample.{topic}", toleranced.value, ("sample", topic), off)
        case "temperature":
            found = _of("temperature.target", target.value, ("temperature", "target"), target.tolerance.value)
        case "start" | "room":
            q = temperature.start if topic == "start" else temperature.room
            found = _of(f"temperature.{topic}", q, ("temperature", topic))
        case "clearance":
            found = _of(
                "immersion.bottom_clearance", immersion.bottom_clearance, ("immersion", "bottom_clearance")
            )
        case "depth":
            found = _of("immersion.depth", immersion.depth, ("immersion", "depth"))
        case "limit":
            found = _limits(m)
        case _:
            return []
    return list(found)


_WORKING = (
    r"\b(?:stir|mix|shak|spin|spun|centrifug|pour|beat|roll|whisk|fold|fill|load|draw|drew|scoop|blend"
    r"|dispers|homogeni|"
    r"paddle|impeller)\w*"
)
_AWAY = (
    r"\b(?:wash|rins|clean|soak|dry|dried|stor|shelf|fridge|refrigerat|freez|transport|oven|melt|boil|flash|"
    r"dissolv)\w*"
)

# kind -> (topic, cue); an empty topic says that the number is none of ours.
_CUES: dict[str, tuple[tuple[str, re.Pattern[str]], ...]] = {
    kind: tuple((topic, re.compile(cue, re.IGNORECASE)) for topic, cue in cues)
    for kind, cues in {
        "speed": (
            ("", r"\b(?:stir|mix|shak|centrifug|paddle|impeller|blend|dispers|homogeni|roll)\w*"),
            ("speed", r"\b(?:readings?|read|spindle|runs?|motor|speed|measur\w*|step|turns?|set)\b"),
        ),
        "time": (
            ("", _WORKING),
            ("", r"\b(?:heat|warm|cool|zero|level|verif|calibrat|repeat)\w*"),
            ("read", r"\b(?:read|reading|readings|motor)\b"),
            ("rest", r"\b(?:rest|rests|rested|resting)\b|\b(?:let|leave|left)\b[^,]{0,25}\bstand(?:ing)?\b"),
            ("conditioning", r"\b(?:condition|equilibrat|thermostat)\w*|\bin the (?:\w+ )?(?:bath|jacket)\b"),
            ("average", r"\baverag\w*"),
            ("age", r"\bafter (?:production|filling|making|manufacture|sampling)\b|\bold\b|\baged?\b"),
            ("open", r"\bin the open\b|\buncovered\b|\bopen time\b|\bexposed\b"),
            ("preshear", r"\bpre-?shear\w*"),
        ),
        "revolutions": (
            ("", _WORKING),
            ("turns", r"\b(?:read|reading|readings|motor|spindle)\b"),
        ),
        "temperature": (
            ("", r"\b(?:fluid|reference|certif\w*|calibrat\w*|verif\w*|oil|gel|cloud|wax|water|hot|cold)\b"),
            ("temperature", r"\b(?:measur|test|read|condition|equilibrat|bath|sample|hold|held|bring)\w*"),
            ("start", r"\b(?:arriv\w*|comes? in|delivered)\b"),
            ("room", r"\b(?:room|ambient)\b"),
        ),
        "volume": (
            ("", r"\b(?:draw|take|pour|rins|wash|suppl|bottle|waste)\w*"),
            ("volume", r"\b(?:fill|load|charg|pipett|transfer)\w*|\bsample volume\b"),
        ),
        "mass": (
            ("", r"\b(?:spin|spun|centrifug|draw|take|suppl|g-force)\w*"),
            ("mass", r"\b(?:fill|load|charg|weigh|transfer)\w*|\bsample mass\b"),
        ),
        "length": (
            ("", r"\b(?:stir|seed|particle|jar|beaker|sieve|mesh)\w*"),
            ("clearance", r"\b(?:clearance|bottom)\b"),
            ("depth", r"\b(?:immers\w*|depth)\b"),
        ),
        "viscosity": (
            ("", r"\b(?:fluid|reference|certif\w*|full scale|oil|resolution|tolerance|uncertain\w*|step)\b"),
            ("limit", r"\b(?:limits?|specification|spec|specified|target)\b"),
        ),
        "shear-rate": (("shear-rate", r"\bshear rate\b|\brate\b"),),
    }.items()
}  # fmt: skip

_FAR = 40  # characters between a number and the word that says what it is about
_BOUNDED = re.compile(
    r"(?:\b(?:at least|at most|up to|within|under|over|(?:less|more|longer|shorter|later|sooner|higher"
    r"|lower|warmer|colder|"
    r"faster|slower) than|exceed(?:s|ing)?|beyond|past|above|below|every|per|each|another|further|extra"
    r"|minimum(?: of)?|"
    r"maximum(?: of)?|max\.?|min\.?|first|last|next|by|until|from|than|between)|[±×x<>≤≥]|\+/-)\s*$",
    re.IGNORECASE,
)
_RANGE_BEFORE = re.compile(r"\d\s*(?:[a-zA-Z°%·/]+\s*)?(?:\bto\b|\band\b|\bor\b|[-\u2013\u2014])\s*$")
_RANGE_AFTER = re.compile(r"\s*(?:\bto\b|\bor\b|[-\u2013\u2014])\s*\d")
_ELSEWHERE = re.compile(
    r"\s*(?:later|apart|before|ago|between|in between|each|per|thick|wide|across)\b", re.IGNORECASE
)
_NAMES_A_THING = re.compile(
    (
        r"\s+(?:(?!(?:in|into|to|from|of|with|the|an?)\b)[\w-]+\s+){0,2}(?:beaker|flask|cup|jar|bottle|can|tin|pot|syringe|vial|tube|cylinder|bag"
        r"|tub|drum|mesh|sieve)s?\b"
    ),
    re.IGNORECASE,
)
_SUPPOSED = re.compile(
    r"\b(?:would|could|might|had|if|were|was|earlier|formerly|previous(?:ly)?|old|older|unlike"
    r"|compared?|for example|such as|"
    r"e\.g|another|other|elsewhere|unless|except|than|used to)\b",
    re.IGNORECASE,
)
# Words that say of a number of this kind that it is none of ours, wherever in the clause they stand.
_VETO = {
    "time": re.compile(rf"\b(?:temperature|thermometer)\b|{_AWAY}", re.IGNORECASE),
    "temperature": re.compile(rf"\b(?:thermometer|resolution|accura\w+|by \d)|{_AWAY}", re.IGNORECASE),
}
_AT = re.compile(r"\b(?:at|after)\s+(?:exactly\s+|the\s+)?$", re.IGNORECASE)


_LOOK = 2 * _FAR  # characters to either side that are looked at: a cue is shorter than what it may be away


@lru_cache(maxsize=64)
def _vetoed(kind: str, text: str) -> bool:
    return _VETO[kind].search(text) is not None


def _topic(said: _Said, where: Path) -> str:
    """Tell what a number is about, by the nearest cue; empty where that is none of ours or not clear."""
    text, kind = said.clause.text, said.quantity.kind
    if kind in _VETO and _vetoed(kind, text):
        return ""
    nearest, topic = _FAR + 1, None
    for name, cue in _CUES.get(kind, ()):
        for match in cue.finditer(text, max(0, said.start - _LOOK), said.end + _LOOK):
            gap = said.start - match.end() if match.end() <= said.start else match.start() - said.end
            if 0 <= gap < nearest:
                nearest, topic = gap, name
    before, after = text[max(0, said.start - _LOOK) : said.start], text[said.end : said.end + _LOOK]
    at = _AT.search(before) is not None
    if topic == "read" and not at and not after.lstrip().startswith("after"):
        return ""
    if topic is not None:
        return topic
    if where[0] == "sample":
        return ""
    if kind == "speed" and at:
        return "speed"
    return "turns" if kind == "revolutions" and at and "turn" not in said.words else ""


class _Meeting(NamedTuple):
    """A number of a text with the parameters it speaks of, and the one it is or comes nearest to."""

    said: _Said
    path: Path
    agrees: bool
    parameter: _Parameter


def _of_the_step(m: Method, said: _Said, parameters: list[_Parameter]) -> list[_Parameter]:
    """Keep the parameters of the step that the clause names by its name or its speed, if it names one."""
    text = said.clause.text
    speeds = (
        {q.value for _, _, q in find_all(text) if q.kind == "speed"}
        if said.quantity.kind != "speed"
        else set()
    )
    named = [s for s in m.run if re.search(rf"\b{re.escape(s.name)}\b", text) or s.speed.value in speeds]
    kept = [p for p in parameters if p.step in named]
    return kept or parameters


def _meetings(m: Method, figures: Figures) -> Iterator[_Meeting]:
    for path, text in _instructions(m):
        if not _MAY_COUNT.search(text):
            continue
        for said in _said(text):
            clause = said.clause
            before = clause.text[max(0, said.start - _LOOK) : said.start]
            after = clause.text[said.end : said.end + _LOOK]
            if _RANGE_BEFORE.search(before) or _RANGE_AFTER.match(after) or _ELSEWHERE.match(after):
                continue
            if said.quantity.kind in ("volume", "length", "mass") and _NAMES_A_THING.match(after):
                continue
            topic = _topic(said, path)
            parameters = _parameters(m, figures, topic) if topic else []
            if not parameters:
                continue
            parameters = _of_the_step(m, said, parameters)
            value = said.quantity.value
            same = next(
                (p for p in parameters if abs(p.value - value) <= 1e-9 * abs(p.value) + _loose(p, topic)),
                None,
            )
            if same is not None:
                if before.rstrip().endswith(("±", "every", "each")):
                    continue
                yield _Meeting(said, path, agrees=True, parameter=same)
                continue
            if _BOUNDED.search(before) or _SUPPOSED.search(clause.text) or clause.denied(said.start):
                continue
            if any(abs(p.value - value) <= p.off * (1 + 1e-9) for p in parameters):
                continue
            nearest = min(parameters, key=lambda p: _distance(p.value, value))
            yield _Meeting(said, path, agrees=False, parameter=nearest)


def _loose(p: _Parameter, topic: str) -> float:
    """Give by how much a number may differ and still be the parameter itself, not just allowed by it."""
    return p.off if topic in ("turns", "shear-rate") else 0.0


def _distance(one: float, other: float) -> float:
    return abs(log(one / other)) if one > 0 and other > 0 else abs(one - other)


def _moves(m: Method, figures: Figures, meeting: _Meeting) -> str:
    """Say which way the result moves where the text is followed."""
    parameter = meeting.parameter
    less = meeting.said.quantity.value < parameter.value
    if meeting.said.quantity.kind == "speed" and not m.product.newtonian:
        return (
            f" At the {'slower' if less else 'faster'} speed the product reads {'high' if less else 'low'}."
        )
    if meeting.said.quantity.kind == "temperature":
        return f" {'Colder reads high' if less else 'Warmer reads low'}."
    if parameter.step is None or not parameter.name.endswith((".read_at", ".revolutions")):
        return ""
    moves = f" Read {'sooner' if less else 'later'}, "
    if m.product.has_history:
        moves += (
            "the product is less broken down and reads high"
            if less
            else "it is further broken down and reads low"
        )
    else:
        moves += (
            "the spring may not be wound up and reads low" if less else "what still changes has changed more"
        )
    reached = figures.get(f"run.{parameter.step.name}.fraction")
    if reached is not None:
        moves += f"; the spring itself has come to {reached.text} of its end by the time of the run"
    return moves + "."


def _in_time(meeting: _Meeting) -> str:
    """Say a count of revolutions as a time too."""
    step = meeting.parameter.step
    if meeting.said.quantity.kind != "revolutions" or step is None:
        return ""
    return f" ({brief(60 * meeting.said.quantity.value / step.speed.value, 3)} s at {step.speed.text})"


@rule(
    "PRO01",
    ERROR,
    waivable=False,
    sources=("common-practice", "record-practice"),
    example=Example(
        "MCW-VIS-014",
        right="Read at {{run.viscosity_20.read_at}}, never sooner",
        wrong="Read at 10 rpm, never sooner",
        at="why: |",
    ),
)
def text_contradicts_parameter(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A number in the text is not the one the method is run by.

    Checklist and text lie side by side at the bench; half of the operators follow one and half the other, and
    their results differ for no reason that anybody records.

    Never: one of the two is wrong. A number that is meant otherwise can be worded so.
    """
    for meeting in _meetings(m, figures):
        if meeting.agrees:
            continue
        said, parameter = meeting.said, meeting.parameter
        text = value_of(parameter.name, m, figures) or ""
        yield Finding(
            meeting.path,
            f"{_at_start(meeting.path)} says "
            f"{said.words}{_in_time(meeting)}; {parameter.name} is {text}: {_compared(meeting)}."
            f"{_moves(m, figures, meeting)}",
            (
                f"Write {{{{{parameter.name}}}}} in the text: it prints {text}.",
                f"Or, if the text is right, change {parameter.name} to match {said.words}.",
            ),
            (Related(f"{text} here", parameter.path),),
        )


def _compared(meeting: _Meeting) -> str:
    """Say by how much the text differs from the parameter."""
    value, parameter = meeting.said.quantity.value, meeting.parameter
    if meeting.said.quantity.kind == "temperature":
        off = value - parameter.value
        return f"the text is {brief(abs(off), 3)} K {'warmer' if off > 0 else 'colder'}"
    return f"the text has {brief(value / parameter.value, 3)} times as much"


@rule(
    "PRO02",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="Read at {{run.viscosity_20.read_at}}, never",
        wrong="Read at 60 s, never",
        at="why: |",
    ),
)
def text_repeats_parameter(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A number in the text repeats a value of the method.

    With the next revision the value changes and the text does not; then the two contradict each other.

    For a text that is quoted word for word from elsewhere.
    """
    for meeting in _meetings(m, figures):
        if not meeting.agrees:
            continue
        said, parameter = meeting.said, meeting.parameter
        text = value_of(parameter.name, m, figures) or ""
        yield Finding(
            meeting.path,
            f"{_at_start(meeting.path)} repeats "
            f"{said.words}, which is {parameter.name}: in the next revision one of the two may stay behind.",
            (
                f"Write {{{{{parameter.name}}}}} in the text: it prints {text}.",
                "Or take the number out of the text.",
            ),
            (Related(f"{text} here", parameter.path),),
        )


# --- names ------------------------------------------------------------------------------------------------


def _all_texts(m: Method) -> Iterator[tuple[Path, str]]:
    yield from _instructions(m)
    yield ("title",), m.title
    if m.guard_continuity is not None:
        yield ("guard_continuity",), m.guard_continuity
    for index, item in enumerate(m.equipment):
        yield ("equipment", index), item
    if m.cleaning is not None:
        for key, text in (("agent", m.cleaning.agent), ("disposal", m.cleaning.disposal)):
            if text is not None:
                yield ("cleaning", key), text


@rule(
    "PRO03",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example(
        "MCW-VIS-014",
        right="{{run.viscosity_20.read_at}}",
        wrong="{{run.viscosity_20.reads_at}}",
        at="why: |",
    ),
)
def unknown_value_in_braces(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A text asks for a value that nothing bears, or its braces are not closed.

    The braces would be printed where the operator looks for a number.

    Never: the name is a slip.
    """
    for path, text in _all_texts(m):
        if "{{" not in text:
            continue
        names = names_in(text)
        for name in names:
            if value_of(name, m, figures) is not None:
                continue
            why = figures.open.get(name)
            close = get_close_matches(name, list(known_names(m, figures)), n=1, cutoff=0.6)
            yield Finding(
                path,
                f"{{{{{name}}}}} in {_name(path)} stands for nothing: "
                + (f"{why}." if why else "0 values or figures bear that name."),
                (
                    f"Write {{{{{close[0]}}}}}: it prints {value_of(close[0], m, figures)}."
                    if close
                    else "Write the name of a value, such as {{temperature.target}}.",
                    "Or write in words what is meant, without a number.",
                ),
            )
        if text.count("{{") > len(names):
            yield Finding(
                path,
                f"{text.count('{{')} pairs of braces open in {_name(path)}, {len(names)} close round a name.",
                (
                    "Close each name with two braces, such as {{temperature.target}}.",
                    "Or take the braces out.",
                ),
            )


_FIT = r"(?:fit|attach|mount|put on|screw on|refit|slip on|hang on|install)"
_TAKE = r"(?:remove|take off|detach|unscrew|dismount|leave off|leave out|omit|take away)"
_RUN = r"(?:run|measure|read|test|work|operate|lower|use|determine)"
_GUARD = r"(?:the |its |a )?(?:\w+ )?guard\b"
_BARE = re.compile(
    rf"\b{_TAKE}\s+{_GUARD}|\btake\s+{_GUARD}\s+off\b"
    rf"|(?:^|[,(]|\band\b|\bthen\b|\balways\b|\bnot\b"
    rf"|\bnever\b)\s*{_RUN}\b(?!s)[^,]{{0,40}}?\bwithout\s+{_GUARD}"
    rf"|\b(?:is|are|be)\s+(?:run|measured|read|made|used|tested)\b[^,]{{0,30}}?\bwithout\s+{_GUARD}"
    rf"|\b(?:use|run with|with)\s+no\s+guard\b",
    re.IGNORECASE,
)
_FITTED = re.compile(
    rf"\b{_FIT}\s+{_GUARD}|\bput\s+{_GUARD}\s+on\b"
    rf"|(?:^|[,(]|\band\b|\bthen\b|\balways\b|\bnot\b"
    rf"|\bnever\b)\s*{_RUN}\b(?!s)[^,]{{0,40}}?\bwith\s+{_GUARD}"
    rf"|\b(?:is|are|be)\s+(?:run|measured|read|made|used|tested)\b[^,]{{0,30}}?\bwith\s+{_GUARD}"
    rf"|(?:^|[,(]|\bthen\b|\balways\b|\bnot\b|\bnever\b)\s*use\s+{_GUARD}",
    re.IGNORECASE,
)
_AFTERWARDS = re.compile(
    r"\b(?:wash|rins|clean|dry|wipe|store|storage)\w*|\b(?:after|once) (?:the|each|every|a)?\s?(?:last "
    r"|final )?"
    r"(?:run|reading|test|measurement)",
    re.IGNORECASE,
)
_OF_THE_CHECK = re.compile(r"\b(?:verif\w*|check|checks|calibrat\w*|reference fluid)\b", re.IGNORECASE)


def _guard_told(clause: Clause) -> bool | None:
    """Tell whether a clause tells somebody to work with the guard (True) or without (False)."""
    if _AFTERWARDS.search(clause.text):
        return None
    for pattern, wanted in ((_BARE, False), (_FITTED, True)):
        match = pattern.search(clause.text)
        if match:
            # A denial may stand before the match or, as in "never run", be part of it.
            denied = clause.denied(match.start()) or re.match(r"\W*(?:not|never)\b", match[0], re.IGNORECASE)
            return wanted != bool(denied)
    return None


@rule(
    "PRO04",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="The guard belongs to the coefficient.",
        wrong="Remove the guard before the run.",
        at="why: |",
    ),
)
def text_contradicts_guard(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The text tells the operator the opposite of the guard state of the method.

    With a large spindle a guard that is left off reads low, one that is added reads high, by several percent
    up to about 20 % (from memory).

    Never: one of the two is wrong.
    """
    for path, text in _instructions(m):
        if "guard" not in text.casefold():
            continue
        for clause in clauses(text):
            told = _guard_told(clause)
            if told is None:
                continue
            of_check = m.verification is not None and (
                path[0] == "verification" or _OF_THE_CHECK.search(clause.text) is not None
            )
            state = (m.verification.guard if of_check and m.verification is not None else None) or m.guard
            wrong = (told and state != "required") or (not told and state == "required")
            if wrong:
                yield Finding(
                    path,
                    f"{_at_start(path)} says "
                    f"{' '.join(clause.text.split())!r}; the guard of the "
                    f"{'check' if of_check else 'run'} is {state}. "
                    f"{'With a guard that was not there' if told else 'Without the guard'} spindle "
                    f"{m.spindle.key} "
                    f"reads {'high' if told else 'low'}.",
                    (
                        f"Mend the text so that it agrees with guard: {state}.",
                        (
                            f"Or set guard: {'required' if told else 'not-used'}, with a coefficient found "
                            "that way."
                        ),
                    ),
                    (Related(f"guard: {state}", ("guard",)),),
                )


_SPINDLE = re.compile(
    (
        r"\bspindle\s+(?:no\.?\s*|number\s+|nr\.?\s*|#\s*)?(?P<name>[A-Z]{0,2}\d[\w.-]*"
        r"|[a-z]+-\d[\w.-]*)(?P<rest>.{0,12})"
    ),
    re.IGNORECASE | re.DOTALL,
)
_A_MEASURE = re.compile(r"\s*(?:mm|cm|m\b|rpm|s\b|min|h\b|times|turns|rev|%|°|K\b|mL|cP|m?Pa)")


def _names_of_spindle(m: Method) -> set[str]:
    spindles = [m.spindle]
    if m.verification is not None and m.verification.spindle is not None:
        spindles.append(m.verification.spindle)
    known = {s.key.casefold() for s in spindles}
    known |= {s.key.lstrip("LRU").casefold() for s in spindles}
    if m.marking is not None:
        known |= {m.marking.casefold(), *m.marking.casefold().split()}
    return known


@rule(
    "PRO05",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="The guard belongs to the coefficient.",
        wrong="The guard belongs to spindle R4.",
        at="why: |",
    ),
)
def text_names_another_spindle(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The text names a spindle that the method does not use.

    Whoever takes that one off the rack reads with the wrong coefficient: between neighbours of a set the
    result is off by a factor of two or more.

    Never: one of the two is wrong.
    """
    known = _names_of_spindle(m)
    for path, text in (*_instructions(m), (("title",), m.title)):
        if "spindle" not in text.casefold():
            continue
        for match in _SPINDLE.finditer(PATTERN.sub("…", text)):
            name = match["name"].rstrip(".-")
            if name.casefold() in known or _A_MEASURE.match(match["rest"]):
                continue
            # A bare number is one of the method's own set: spindle 4 beside R5 is R4.
            other = m.reference.spindles.get(name) or m.reference.spindles.get(m.spindle.key[:1] + name)
            factor = ""
            if other is not None and other.coefficient_spring == m.spindle.coefficient_spring:
                ratio = m.spindle.coefficient.value / other.coefficient.value
                way = "high" if ratio > 1 else "low"
                times = brief(max(ratio, 1 / ratio), 3)
                factor = f" Read with {other.key}, the result comes out {times} times too {way}."
            yield Finding(
                path,
                f"{_at_start(path)} names spindle {name}; the method uses {m.spindle.key}.{factor}",
                (
                    "Write {{spindle}} in the text."
                    if isinstance(m.data["spindle"], str)
                    else "Write {{spindle.name}} in the text.",
                    f"Or set spindle: {other.key}, if that is the one meant."
                    if other is not None
                    else f"Or give {name} as the marking, if that is what {m.spindle.key} is engraved with.",
                ),
                (Related(f"spindle {m.spindle.key}", ("spindle",)),),
            )


_SAME_TOOL = (
    frozenset({"timer", "stopwatch", "clock"}),
    frozenset({"balance", "scale", "scales"}),
    frozenset({"sieve", "strainer"}),
    frozenset({"spoon", "ladle"}),
)


@lru_cache(maxsize=64)
def _tool(words: str) -> re.Pattern[str]:
    """Find a tool spoken of as a thing: with an article or a preposition and at most two words before it."""
    inner = any_of(words).pattern.replace("(?![\\w-])", "(?:s|es)?(?![\\w-])")
    return re.compile(
        rf"\b(?:a|an|the|with|by|from|in|on|into|of|two|one)\s+(?:[a-z0-9.-]+\s+){{0,2}}?(?P<tool>{inner})",
        re.IGNORECASE,
    )


@rule(
    "PRO06",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014", right='"water bath", "wide spatula"]', wrong='"water bath"]', at="preparation: |"
    ),
)
def tool_not_listed(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The text works with a tool that is not on the list of equipment.

    It is missing when the clock already runs, and something else is taken: another spatula, another shear.

    Where it belongs to the bench and is always there.
    """
    words = m.reference.policy.choices.get("equipment_words", "")
    pattern = _tool(words)
    listed = " ".join(m.equipment).casefold()
    told: set[str] = set()
    for path, text in _instructions(m):
        for clause in clauses(text) if may_hold(text, words) else ():
            for match in pattern.finditer(clause.text):
                tool = match["tool"].casefold()
                plain = next((w for w in (tool, tool.removesuffix("s"), tool.removesuffix("es"))
                              if any_of(words).fullmatch(w)), tool)  # fmt: skip
                names = next((group for group in _SAME_TOOL if plain in group), frozenset({plain}))
                if plain in told or any(n in listed for n in names) or clause.denied(match.start()):
                    continue
                told.add(plain)
                said = " ".join(match[0].split())
                yield Finding(
                    path,
                    f"{_at_start(path)} works with {said!r}; among the "
                    f"{len(m.equipment)} pieces of equipment there is no {plain}.",
                    (
                        f'Add "{plain}" to the equipment, with its size or resolution.',
                        "Or word the text with a tool that is listed.",
                    ),
                    (Related("the list", ("equipment",)),) if m.equipment else (),
                )


# --- words ------------------------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def _before_number(words: str) -> re.Pattern[str]:
    return re.compile(
        rf"{any_of(words).pattern}\.?\s+(?:\d+(?:\.\d+)?|(?:{'|'.join(_COUNTS)})\b)", re.IGNORECASE
    )


@rule(
    "PRO07",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="Stir 30 turns in 30 s with a wide spatula",
        wrong="Stir about 30 turns in 30 s with a wide spatula",
        at="preparation: |",
    ),
)
def words_left_vague(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A word of the text means something else to each operator.

    Results then part by operator, and nobody can say why: the paper was followed by all of them.

    Where the word truly makes no difference to the result.
    """
    choices = m.reference.policy.choices
    vague, before = choices.get("vague_words", ""), choices.get("vague_before_a_number", "")
    for path, text in _instructions(m):
        words = list(found_in(text, vague))
        if may_hold(text, before):
            matches = _before_number(before).finditer(PATTERN.sub("…", text))
            words.extend(" ".join(match[0].split()) for match in matches)
        if words:
            room = (
                "{{temperature.target}}"
                if any("temperature" in w for w in words)
                else "number, unit and tolerance"
            )
            yield Finding(
                path,
                f"{_at_start(path)} leaves {len(words)} "
                f"{'thing' if len(words) == 1 else 'things'} open: {', '.join(repr(w) for w in words)}.",
                (f"Write {room} instead.", "Or take the word out, where nothing hangs on it."),
            )


_PASSIVE = re.compile(
    r"\b(?:should|shall|must|is to|are to|has to|have to|needs? to|ought to) (?:\w+ly )?be (?:\w+ly )?"
    r"(?:\w+ed|taken|read|kept|written|made|done|put|drawn|held|set|run|left|given|found|shaken|known)\b",
    re.IGNORECASE,
)


@rule(
    "PRO08",
    ADVICE,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="Repeat the pair once on new loadings; report all four.",
        wrong="Repeat the pair once on new loadings; all four should be reported.",
    ),
)
def nobody_told_to_do_it(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The text says what should be done and not who does it.

    What nobody is told to do is skipped, first of all under pressure of time.

    Where the sentence explains and asks for nothing.
    """
    for path, text in _instructions(m):
        found = [" ".join(match[0].split()) for match in _PASSIVE.finditer(text)] if " be" in text else []
        if found:
            yield Finding(
                path,
                f"{_at_start(path)} has {len(found)} "
                f"{'sentence' if len(found) == 1 else 'sentences'} without a doer: "
                f"{', '.join(repr(w) for w in found)}.",
                (
                    "Put the verb first: write, read, keep.",
                    "Or say who does it, where it is not the operator.",
                ),
            )


_CAUTION = re.compile(r"(?:caution|warning|danger|attention|beware|be careful|take care)\b", re.IGNORECASE)
_SENTENCE = re.compile(r"(?<=[.!?])\s+|\n+")


@rule(
    "PRO09",
    WARNING,
    sources=("safety-practice",),
    example=Example(
        "MCW-VIS-014",
        right="wide spatula; draw no air in.",
        wrong="wide spatula. Caution: it splashes.",
        at="preparation: |",
    ),
)
def caution_after_its_step(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The preparation warns of a hazard after the step that brings it.

    Who reads line by line has done the step, and been splashed or burnt, before the warning is read.

    Where what stands before is no step.
    """
    sentences = [s.strip() for s in _SENTENCE.split(m.sample.preparation) if s.strip()]
    late = [n for n, s in enumerate(sentences) if n and _CAUTION.match(s)]
    if not late:
        return
    steps = late[0]
    caution = sentences[late[0]]
    yield Finding(
        (*m.sample.path, "preparation"),
        f"{caution!r} stands after {steps} {'sentence' if steps == 1 else 'sentences'} of the preparation. It is "
        "read when the step is done.",
        (
            f"Put {caution!r} at the start of the preparation.",
            "Or name the hazard under product, hazards: the sheet prints its caution above the step.",
        ),
    )
