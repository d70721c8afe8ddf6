"""`fillmark new`: start a laboratory's folder, or a method file that passes the check as it stands.

A new method is written from answers (flags, or questions on a terminal) and from what the laboratory has:
spindle and speed are searched for like the ways out of a finding, and the whole text is checked before it is
written. What nobody has stated yet is marked CONFIRM in the file.
"""

import json
import math
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from fillmark.choices import Choice
    from fillmark.diagnostics import Diagnostic
    from fillmark.figures import Figures
    from fillmark.model import Instrument, Reference, Spindle
    from fillmark.pipeline import Compiled
    from fillmark.quantities import Quantity, Toleranced

BEHAVIOURS = ("newtonian", "shear-thinning", "thixotropic", "yield-stress", "unknown")
PURPOSES = ("release", "stability", "in-process", "development", "training")
GUARDS = ("required", "not-used")
_ID_WORDS = (
    "An id has 2 to 40 letters, digits, dots, dashes and underscores and begins with a letter or a digit, "
    "such as PNT-VIS-001; it names the files that are made from the method."
)
_TRIED = 60
"""How many of the ranked choices are tried in full before the search is given up."""


# --- the commands


class _New(click.Group):
    """A group that knows what `fillmark new SOMETHING` was meant to be."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and self.get_command(ctx, args[0]) is None:
            raise click.UsageError(
                f"`new` starts a lab or a method. Did you mean `fillmark new method {args[0]}` "
                f"or `fillmark new lab {args[0]}`?", ctx,
            )  # fmt: skip
        return super().resolve_command(ctx, args)


@click.group("new", cls=_New, invoke_without_command=True)
@click.pass_context
def new_command(ctx: click.Context) -> None:
    """Start a laboratory's folder or a method; alone, it asks for a method."""
    if ctx.invoked_subcommand is None:
        ctx.invoke(method_command)


@new_command.command("lab")
@click.argument("folder", type=click.Path(path_type=Path))
def lab_command(folder: Path) -> None:
    """Make a laboratory's FOLDER: methods/, shared/ with its own instruments and policy, schemas/, out/."""
    try:
        make_lab(folder)
    except FileExistsError as error:
        raise click.UsageError(
            f"{folder} is there already and is left as it is ({error.strerror}). Name another folder; "
            f"{_free(folder)} is free."
        ) from error
    except OSError as error:
        raise click.UsageError(f"{folder} cannot be made: {error.strerror}.") from error
    click.echo(f"Made {folder}. Next:")
    click.echo(
        f"  1. List your instruments in {folder / 'shared' / 'instruments.yaml'}, where an example stands."
    )
    click.echo(f"  2. cd {folder}")
    click.echo("  3. fillmark new method")


_text = click.option


@new_command.command("method")
@click.argument("id", required=False)
@_text(
    "--title",
    metavar="TEXT",
    help="What the method measures, on what; made of the product's name unless given.",
)
@_text("--product", metavar="TEXT", help="Product name as on the label.")
@_text("--behaviour", metavar="WORD", help=f"How it flows: {', '.join(BEHAVIOURS)}.")
@_text("--lower", metavar="VISCOSITY", help='Lower limit, such as "8.0 Pa·s".')
@_text("--upper", metavar="VISCOSITY", help='Upper limit, such as "12.0 Pa·s".')
@_text("--temperature", metavar="T±ΔT", help='Test temperature, such as "23.0 °C ± 0.5 °C".')
@_text(
    "--hazards",
    metavar="WORDS",
    help="What can hurt in it, from its safety data sheet, with commas; or none.",
)
@_text("--author", metavar="NAME", help="Who writes the method.")
@_text(
    "--sensitivity",
    metavar="%/K",
    help='Fall of viscosity with temperature, such as "2.0 %/K"; assumed unless given.',
)
@_text("--density", metavar="DENSITY", help='Density, such as "1.42 g/mL"; assumed unless given.')
@_text("--instrument", metavar="KEY", help="Instrument of the laboratory; any unless given.")
@_text("--spring", metavar="KEY", help="Spring range; any that the laboratory has unless given.")
@_text("--readout", metavar="WORD", help="dial or digital; any unless given.")
@_text("--coupling", metavar="KEY", help="Coupling; any unless given.")
@_text("--suspension", metavar="WORD", help="pivot-and-jewel or ball-bearing; any unless given.")
@_text("--spindle", metavar="KEY", help="Spindle; chosen unless given.")
@_text("--speed", metavar="SPEED", help='Speed, such as "20 rpm"; chosen unless given.')
@_text("--guard", metavar="WORD", help="required or not-used; chosen unless given.")
@_text("--purpose", metavar="WORD", help=f"{', '.join(PURPOSES)}; release unless given.")
@click.option(
    "--folder", type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the file; methods/ of the laboratory unless given.",
)  # fmt: skip
@click.option("--anyway", is_flag=True, help="Write the file even if the check finds something in it.")
def method_command(id: str | None, folder: Path | None, anyway: bool, **flags: str | None) -> None:  # noqa: A002
    """Write a method file that passes the check: ID.yaml, from flags or, on a terminal, from questions."""
    from fillmark.reference import load  # noqa: PLC0415
    from fillmark.workspace import find_workspace  # noqa: PLC0415

    home = find_workspace(folder or Path())
    reference, found = load(home)
    if reference is None:
        raise click.UsageError(
            f"The reference data of {home} is not right: {found[0].file}:{found[0].span.line}: "
            f"{found[0].message} All of it: fillmark doctor"
        )
    target = folder or _methods_folder(home)
    answers = _ask({"id": id, **flags}, reference, target)
    draft = search(answers, reference)
    if draft is None:
        click.echo(f"Nothing was written. {_nothing_suits(answers, reference)}", err=True)
        raise SystemExit(1)
    file = target / f"{answers.id}.yaml"
    text = draft.text(_modeline(file, home))
    findings = _findings(draft.compiled)
    if findings and not anyway:
        count = f"{len(findings)} finding{'' if len(findings) == 1 else 's'}"
        click.echo(
            f"Nothing was written: {'this' if _prescribed(answers) else 'the best found'} has {count}.",
            err=True,
        )
        for d in findings:
            click.echo(f"  {d.severity.word} {d.code}: {d.message}", err=True)
            for way in d.ways_out:
                click.echo(f"    - {way}", err=True)
        leave = "leave --spindle or --speed out to have one chosen, " if _prescribed(answers) else ""
        click.echo(f"Answer otherwise, {leave}or write it nevertheless with --anyway.", err=True)
        raise SystemExit(1)
    _write(file, text, home)
    for line in _told(draft, answers, reference, file, home):
        click.echo(line)
    raise SystemExit(1 if findings else 0)


# --- the folder of a laboratory

_INSTRUMENTS = """\
# The instruments of this laboratory: methods may only use what stands here. `replace: true` leaves out those
# of the demonstration that ships with Fillmark.
replace: true

# An example: put your own in its place. The key in front is yours to choose.
bench-1:
  label: Bench 1                # what your people call it
  spring: R                     # L 67.37, R 718.7, 2R 1437.4, 8R 5749.6 µN·m full scale
  readout: digital              # dial, digital
  coupling: threaded            # threaded, magnetic, twist-lock, quick-connect
  suspension: pivot-and-jewel   # pivot-and-jewel, ball-bearing
  stand: fine-height            # fine-height, quick-travel, helical
  speeds: {from: 0.1, to: 200, step: 0.1}   # or a list: [0.5, 1, 2, 2.5, 4, 5, 10, 20, 50, 100]
  source: own-records
  known: site
"""
_POLICY = """\
# Site policy: what this laboratory decides otherwise than Fillmark proposes. Take a line in, change its value
# and raise the version; what differs is shown to the reviewer.
version: site-1

# paper: {value: Letter, source: own-records, why: the paper we have}
# torque_floor: {value: 15 %, source: own-records, why: our own study of repeatability}
# review_interval: {value: 24 months, source: own-records, why: our quality manual}
"""
_SOURCES = """\
# Where this laboratory's own values come from. Name such a key as the `source` of an entry.
own-records: {title: Records of this laboratory, known: site}
"""
_LAB_README = """\
# Methods of this laboratory

| folder | what it holds |
| --- | --- |
| methods/ | one YAML file for each viscosity method |
| shared/ | what the methods name: instruments, policy, sources; more kinds below |
| schemas/ | the description of the language, for hints in your editor, offline |
| out/ | the papers that `fillmark build` makes; copies, never edited |

`fillmark new method` starts a method, `fillmark check` checks all of them, `fillmark build` makes their
papers, `fillmark explain CODE` explains a finding, `fillmark doctor` looks whether all that is needed is
here.

Spindles, springs, containers, guards, couplings and reference fluids come with Fillmark. Many of their values
are recalled from memory or invented for demonstration, and each says so. Replace them by the values of your
own certificates: a file of the same name in shared/ (spindles.yaml, fluids.yaml, containers.yaml, ...) adds
entries or overrides them by their key.
"""
_OUT_README = """\
# out

`fillmark build` writes here. Papers found here are copies: what counts is the method they were built from.
"""


def make_lab(folder: Path) -> None:
    """Make the folder of a laboratory in one piece; FileExistsError where something stands there."""
    from fillmark.locate import schemas_folder  # noqa: PLC0415

    files: dict[str, bytes] = {
        "README.md": _LAB_README.encode(),
        ".gitignore": b"/out/*\n!/out/README.md\n",
        "shared/instruments.yaml": _INSTRUMENTS.encode(),
        "shared/policy.yaml": _POLICY.encode(),
        "shared/sources.yaml": _SOURCES.encode(),
        "out/README.md": _OUT_README.encode(),
        "methods/README.md": b"# methods\n\nOne YAML file a method: `fillmark new method` starts one.\n",
    }
    files |= {f"schemas/{s.name}": s.read_bytes() for s in sorted(schemas_folder().glob("*.schema.json"))}
    if folder.exists() and (
        not folder.is_dir() or any(not p.name.startswith(".git") for p in folder.iterdir())
    ):
        raise FileExistsError(17, "it is not empty" if folder.is_dir() else "it is a file", str(folder))
    within = folder if folder.is_dir() else folder.parent
    within.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(dir=within, prefix=".making-"))
    try:
        for name, content in files.items():
            (fresh / name).parent.mkdir(exist_ok=True)
            (fresh / name).write_bytes(content)
        fresh.chmod(0o755)
        if within == folder:
            for part in sorted(fresh.iterdir()):
                if not (folder / part.name).exists():
                    part.rename(folder / part.name)
        else:
            fresh.rename(folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _free(path: Path) -> Path:
    """Find a name beside this one that is not taken."""
    for number in range(2, 1000):
        other = path.with_name(
            f"{path.name.removesuffix('.yaml')}-{number}{path.suffix if path.suffix == '.yaml' else ''}"
        )
        if not other.exists():
            return other
    return path.with_name(f"{path.name}-new")


# --- the answers


@dataclass(frozen=True, slots=True)
class Answers:
    """What the author said; None where the choice is left to the search."""

    id: str
    title: str
    product: str
    behaviour: str
    lower: "Quantity"
    upper: "Quantity"
    temperature: "Toleranced"
    hazards: tuple[str, ...]
    author: str
    purpose: str
    sensitivity: str | None
    density: str | None
    instruments: tuple["Instrument", ...]
    """Those of the laboratory that the wishes leave."""
    spindle: str | None
    rpm: float | None
    guard: str | None


@dataclass(frozen=True, slots=True)
class _Question:
    """One thing to be known: its flag, its words on a terminal, and how an answer is read."""

    key: str
    prompt: str
    read: Callable[[str], Any]
    default: str | None = None
    """Offered on a terminal; that of the title follows from the answers before it."""
    needed: bool = True
    """Whether it has to be given where nobody can be asked."""


def _refused(error: Any) -> click.BadParameter:
    ways = " ".join(w for w in (error.suggestion and f"Write {error.suggestion}.", error.expected) if w)
    return click.BadParameter(f"{error.problem} {ways}")


def _quantity(kind: str) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        from fillmark.quantities import QuantityError, parse  # noqa: PLC0415

        try:
            return parse(text, kind)
        except QuantityError as error:
            raise _refused(error) from error

    return read


def _temperature(text: str) -> Any:
    from fillmark.quantities import QuantityError, parse_toleranced  # noqa: PLC0415

    try:
        return parse_toleranced(text, "temperature")
    except QuantityError as error:
        raise _refused(error) from error


def _word(words: tuple[str, ...], what: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        from fillmark.validate import nearest  # noqa: PLC0415

        if text in words:
            return text
        close = nearest(text, words)
        meant = f" Did you mean {close}?" if close else ""
        raise click.BadParameter(f"{text} is no {what}.{meant} Choices: {', '.join(words)}.")

    return read


def _line(longest: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        tidy = text.strip()
        if not tidy or not tidy.isprintable():
            raise click.BadParameter("Write one line of text.")
        if len(tidy) > longest:
            raise click.BadParameter(f"{len(tidy)} characters are too many; at most {longest} fit the page.")
        return tidy

    return read


def _method_schema() -> Mapping[str, Any]:
    from fillmark.locate import schemas_folder  # noqa: PLC0415

    schema: Mapping[str, Any] = json.loads(
        (schemas_folder() / "method.schema.json").read_text(encoding="utf-8")
    )
    return schema


def _id(target: Path) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text.endswith((".yaml", ".yml")):
            raise click.BadParameter(f"Leave the ending out: {text.rpartition('.')[0]}.")
        if not re.fullmatch(_method_schema()["properties"]["id"]["pattern"].strip("^$"), text):
            raise click.BadParameter(f"{text} cannot be an id. {_ID_WORDS}")
        file = target / f"{text}.yaml"
        if file.exists() or file.is_symlink():
            raise click.BadParameter(
                f"{file} is there already and is left as it is. {_free(file).stem} is free."
            )
        return text

    return read


def _hazard_words() -> tuple[str, ...]:
    return tuple(_method_schema()["properties"]["product"]["properties"]["hazards"]["items"]["enum"])


def _hazards(text: str) -> tuple[str, ...]:
    known = _hazard_words()
    words = [w.strip() for w in text.split(",") if w.strip()]
    if words == ["none"]:
        return ()
    if not words:
        raise click.BadParameter(f"Write none, or what can hurt: {', '.join(known)}.")
    return tuple(dict.fromkeys(_word(known, "hazard")(w) for w in words))


def _spindle(reference: "Reference") -> Callable[[str], str]:
    def read(text: str) -> str:
        plain = tuple(s.key for s in reference.spindles.values() if s.plain)
        if text in reference.spindles and text not in plain:
            raise click.BadParameter(
                f"{text} is no plain spindle, and a new method starts with one: {', '.join(plain)}. "
                "Start with one of these and change spindle, container and immersion in the file."
            )
        return _word(plain, "spindle of the laboratory")(text)

    return read


def _questions(reference: "Reference", target: Path) -> list[_Question]:
    instruments = tuple(reference.instruments)
    springs = tuple(dict.fromkeys(i.spring for i in reference.instruments.values()))
    couplings = tuple(dict.fromkeys(i.coupling for i in reference.instruments.values()))
    hazards = ", ".join(_hazard_words())
    several = f"Instrument ({', '.join(instruments)})" if len(instruments) > 1 else ""
    chosen, unknown = "choose for me", "not known"
    return [
        _Question("id", "Id in your document system, such as PNT-VIS-001", _id(target)),
        _Question("product", "Product, as on the label", _line(80)),
        _Question("behaviour", f"How it flows ({', '.join(BEHAVIOURS)})", _word(BEHAVIOURS, "behaviour")),
        _Question("title", "Title", _line(120)),
        _Question("lower", "Lower limit, such as 8.0 Pa·s", _quantity("viscosity")),
        _Question("upper", "Upper limit, such as 12.0 Pa·s", _quantity("viscosity")),
        _Question("temperature", "Test temperature with its tolerance", _temperature, "25.0 °C ± 0.5 °C"),
        _Question(
            "sensitivity", "Fall of viscosity with temperature, such as 2.0 %/K", _quantity("sensitivity"),
            unknown, needed=False,
        ),
        _Question("density", "Density, such as 1.42 g/mL", _quantity("density"), unknown, needed=False),
        _Question("hazards", f"Hazards by its safety data sheet, with commas ({hazards}; or none)", _hazards),
        _Question("author", "Who writes the method", _line(80)),
        _Question(
            "instrument", several, _word(instruments, "instrument of the laboratory"), "any", needed=False
        ),
        _Question("spindle", "Spindle", _spindle(reference), chosen, needed=False),
        _Question("speed", "Speed, such as 20 rpm", _quantity("speed"), chosen, needed=False),
        _Question("spring", "", _word(springs, "spring of the laboratory"), needed=False),
        _Question("readout", "", _word(("dial", "digital"), "readout"), needed=False),
        _Question("coupling", "", _word(couplings, "coupling of the laboratory"), needed=False),
        _Question("suspension", "", _word(("pivot-and-jewel", "ball-bearing"), "suspension"), needed=False),
        _Question("guard", "", _word(GUARDS, "guard state"), needed=False),
        _Question("purpose", "", _word(PURPOSES, "purpose"), needed=False),
    ]  # fmt: skip


def _ask(flags: Mapping[str, str | None], reference: "Reference", target: Path) -> Answers:
    """Read the flags and ask for the rest; UsageError with all that is missing or wrong."""
    asked = sys.stdin.isatty()
    given: dict[str, Any] = {}
    missing: list[str] = []
    wrong: list[str] = []
    questions = _questions(reference, target)
    for question in questions:
        text = flags.get(question.key)
        name = "ID" if question.key == "id" else f"--{question.key}"
        if text is None:
            missing.extend([name] if question.needed and question.key != "title" else [])
            continue
        try:
            given[question.key] = question.read(text)
        except click.BadParameter as error:
            wrong.append(f"{name}: {error.message}")
    if wrong or (missing and not asked):
        lines = [f"  {w}" for w in wrong]
        if missing and not asked:
            lines.append(f"  Missing: {', '.join(missing)}. On a terminal they are asked for.")
        raise click.UsageError("A method cannot be started from this:\n" + "\n".join(lines))
    if asked and missing:
        click.echo("A new method. Ctrl-C stops; nothing is written before the last answer.")
        for question in questions:
            if question.key not in given and question.prompt and flags.get(question.key) is None:
                given[question.key] = _prompted(question, given)
    return _answers(given, reference)


def _prompted(question: _Question, given: Mapping[str, Any]) -> Any:
    """Ask until the answer can be read; None where the default is not an answer itself."""

    def read(text: str) -> Any:
        if not question.needed and text == question.default:
            return None
        value = question.read(text)
        if question.key == "upper" and value.value <= given["lower"].value:
            raise click.BadParameter(f"{value.text} is not above the lower limit {given['lower'].text}.")
        return value

    default = _title(given) if question.key == "title" else question.default
    return click.prompt(question.prompt, default=default, value_proc=read)


def _title(given: Mapping[str, Any]) -> str:
    what = "Viscosity" if given["behaviour"] == "newtonian" else "Apparent viscosity"
    return f"{what} of {given['product']}"


def _answers(given: Mapping[str, Any], reference: "Reference") -> Answers:
    lower, upper = given["lower"], given["upper"]
    if lower.value >= upper.value:
        raise click.UsageError(f"The lower limit {lower.text} is not below the upper limit {upper.text}.")
    if lower.unit != upper.unit:
        raise click.UsageError(f"Write both limits in one unit: {lower.text} and {upper.text} differ.")
    wishes = {k: given.get(k) for k in ("spring", "readout", "coupling", "suspension")}
    fitting = tuple(
        i for i in reference.instruments.values()
        if given.get("instrument") in (None, i.key)
        and all(w is None or getattr(i, k) == w for k, w in wishes.items())
    )  # fmt: skip
    if not fitting:
        listed = "; ".join(
            f"{i.key} (spring {i.spring}, {i.readout}, {i.coupling}, {i.suspension})"
            for i in reference.instruments.values()
        )
        raise click.UsageError(f"The laboratory has no such instrument. It has: {listed or 'none'}.")
    density, sensitivity, speed = given.get("density"), given.get("sensitivity"), given.get("speed")
    purpose = given.get("purpose") or ("development" if given["behaviour"] == "unknown" else "release")
    return Answers(
        id=given["id"], title=given.get("title") or _title(given),
        product=given["product"], behaviour=given["behaviour"],
        lower=lower, upper=upper, temperature=given["temperature"], hazards=given["hazards"],
        author=given["author"], purpose=purpose,
        sensitivity=sensitivity and sensitivity.text, density=density and density.text,
        instruments=fitting, spindle=given.get("spindle"), rpm=speed and speed.value,
        guard=given.get("guard"),
    )  # fmt: skip


# --- the search


@dataclass(frozen=True, slots=True)
class _Numbers:
    """What a draft leaves to be worked out from its own figures."""

    spring: str
    spindle: str
    container: str
    guard: str
    rpm: float
    instruments: tuple["Instrument", ...]
    """Those that may run it."""
    fluid: str
    after: int = 60
    """s"""
    volume: int = 500
    """mL"""
    clearance: int = 20
    """mm"""
    conditioning: int = 240
    """min"""
    increment: str = ""
    decimals: int = 0
    agree: str = "5 %"
    verification_guard: str | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A method as it would be written, and what the check says of it."""

    answers: Answers
    numbers: _Numbers
    compiled: "Compiled"

    def text(self, modeline: str) -> str:
        """Give the file."""
        return _method_text(self.answers, self.numbers, modeline)


def _prescribed(answers: Answers) -> bool:
    """Whether nothing is left to be chosen."""
    return answers.spindle is not None and answers.rpm is not None


def _findings(compiled: "Compiled") -> list["Diagnostic"]:
    """List what keeps a draft from being clean: errors and warnings."""
    from fillmark.diagnostics import Severity  # noqa: PLC0415

    return [d for d in compiled.diagnostics if d.severity >= Severity.WARNING]


def search(answers: Answers, reference: "Reference") -> Draft | None:
    """Find a draft without errors and warnings, or the one nearest to it; None where nothing can be tried."""
    best: Draft | None = None
    for tried, numbers in enumerate(_candidates(answers, reference)):
        draft = _worked_out(answers, numbers, reference)
        if best is None or _weight(draft) < _weight(best):
            best = draft
        if not _findings(best.compiled) or tried >= _TRIED:
            break
    return best


def _weight(draft: Draft) -> tuple[int, int]:
    found = _findings(draft.compiled)
    return sum(d.blocks for d in found), len(found)


def _candidates(answers: Answers, reference: "Reference") -> Iterator[_Numbers]:
    """Give the combinations of the laboratory that pass, the most comfortable first.

    Where spindle and speed are both prescribed, they are tried even if they cannot pass: the check says why.
    """
    ranked = sorted(_choices(answers, reference), key=lambda c: _rank(reference, *c))
    for guard, able, choice in ranked:
        if answers.spindle in (None, choice.spindle.key) and answers.rpm in (None, choice.rpm):
            yield _numbers(answers, reference, guard, able, choice.spindle, rpm=choice.rpm)
    if answers.spindle is None or answers.rpm is None:
        return
    spindle = reference.spindles[answers.spindle]
    sorts = _sorts(answers.instruments)
    for able in [s for s in sorts if s[0].spring in spindle.springs] or sorts:
        takes_guard = reference.springs[able[0].spring].takes_guard and spindle.guard in ("with", "either")
        guard = answers.guard or ("required" if takes_guard else "not-used")
        yield _numbers(answers, reference, guard, able, spindle, rpm=answers.rpm)


def _sorts(instruments: tuple["Instrument", ...]) -> list[tuple["Instrument", ...]]:
    """Put together the instruments that one method can run on, those with a fine drive for the mark first."""
    sorts: dict[tuple[str, ...], list[Instrument]] = {}
    for i in sorted(instruments, key=lambda i: i.stand != "fine-height"):
        sorts.setdefault((i.spring, i.readout, i.coupling, i.suspension), []).append(i)
    return [tuple(able) for able in sorts.values()]


def _choices(
    answers: Answers, reference: "Reference"
) -> Iterator[tuple[str, tuple["Instrument", ...], "Choice"]]:
    """Give what passes, by the search for ways out: guard state, instruments and the choice."""
    from fillmark.choices import alternatives  # noqa: PLC0415

    for sort in _sorts(answers.instruments):
        inventory = replace(reference, instruments={i.key: i for i in sort})
        spindle = next(
            (s for s in reference.spindles.values() if s.plain and sort[0].spring in s.springs), None
        )
        for guard in (answers.guard,) if answers.guard else GUARDS:
            if spindle is None:
                continue
            # No instrument has this speed, so the seed itself is not among what the search leaves out.
            numbers = _numbers(answers, inventory, guard, sort, spindle, rpm=0.123)
            compiled = _compile(answers, numbers, inventory)
            if compiled.method is None:
                continue
            for choice in alternatives(compiled.method, compiled.method.run[0]):
                able = tuple(i for i in sort if i.has_speed(choice.rpm))
                if choice.spindle.plain and able:
                    yield guard, able, choice


def _rank(
    reference: "Reference", guard: str, able: tuple["Instrument", ...], choice: "Choice"
) -> tuple[float, ...]:
    from fillmark.choices import USUAL_SPEEDS  # noqa: PLC0415

    policy = reference.policy
    # Both limits are given, so both torques are.
    lower, upper = choice.torque_lower or 0.0, choice.torque_upper or 0.0
    roomy = upper * (1 + policy["headroom"] / 100) <= policy["torque_ceiling"]
    comfortable = lower >= policy["torque_preferred"] and roomy
    middle = (lower + upper) / 2
    best_zone = policy["best_zone_lower"] <= middle <= policy["best_zone_upper"]
    centre = (policy["best_zone_lower"] + policy["best_zone_upper"]) / 2
    # Where a spring takes a guard, published coefficients are found with it (common practice).
    unguarded = choice.spring.takes_guard and guard != "required"
    slowest, fastest, usual = USUAL_SPEEDS
    return (
        not comfortable, not best_zone, unguarded, not slowest <= choice.rpm <= fastest,
        able[0].stand != "fine-height", len(able) < 2, abs(middle - centre) // 10,
        abs(math.log(choice.rpm / usual)), able[0].readout != "digital",
    )  # fmt: skip


def _numbers(
    answers: Answers,
    reference: "Reference",
    guard: str,
    able: tuple["Instrument", ...],
    spindle: "Spindle",
    *,
    rpm: float,
) -> _Numbers:
    spring = able[0].spring
    container = spindle.container or next(k for k, c in reference.containers.items() if c.reference)
    middle = math.sqrt(answers.lower.value * answers.upper.value)
    fluid = min(reference.fluids.values(), key=lambda f: abs(math.log(f.viscosity.value / middle)))
    # Common practice: on springs that take a guard the reference fluid is measured with it.
    checked = "required" if guard == "not-used" and reference.springs[spring].takes_guard else None
    return _Numbers(
        spring=spring, spindle=spindle.key, container=container, guard=guard, rpm=rpm,
        instruments=able, fluid=fluid.key, verification_guard=checked,
    )  # fmt: skip


def _compile(answers: Answers, numbers: _Numbers, reference: "Reference") -> "Compiled":
    from fillmark.pipeline import compile_method  # noqa: PLC0415

    name = f"{answers.id}.yaml"
    return compile_method(_method_text(answers, numbers, "# ").encode(), name, reference, today=date.today())  # noqa: DTZ011


def _worked_out(answers: Answers, numbers: _Numbers, reference: "Reference") -> Draft:
    """Set volume, times, increment and reference fluid by the figures of the draft itself."""
    figures = _compile(answers, numbers, reference).figures
    if figures is not None:
        step = f"run.{_step_name(numbers.rpm)}."
        waits = [figures.value(step + "customary_wait") or 0.0, figures.value(step + "wind_up") or 0.0]
        least = 60.0 if _careful(answers.behaviour) in ("thixotropic", "yield-stress") else 30.0
        numbers = replace(numbers, after=_up(max(*waits, least), 5 if max(waits) < 60 else 10))
        needed = figures.value("conditioning.needed")
        if needed is not None:
            numbers = replace(numbers, conditioning=_up(needed / 60, 10))
        numbers = _filled(numbers, reference, figures)
        allowed = figures.value("replicates.critical_range")
        if allowed is not None:
            numbers = replace(numbers, agree=f"{math.ceil(allowed * 10) / 10:g} %")
        increment, decimals = _increment(answers, figures.value(step + "resolution") or 0.0)
        numbers = replace(numbers, increment=increment, decimals=decimals)
        numbers = replace(
            numbers, fluid=_fluid(answers, numbers, reference, figures.value(step + "full_scale"))
        )
    return Draft(answers, numbers, _compile(answers, numbers, reference))


def _up(value: float, step: int) -> int:
    return step * math.ceil(value / step - 1e-9)


def _filled(numbers: _Numbers, reference: "Reference", figures: "Figures") -> _Numbers:
    """Fill the container so that the mark is reached and the rim stays free."""
    needed = figures.value("container.level_needed")
    level = figures.value("container.level_upper")
    least = figures.value("container.level_lower")
    if needed is None or level is None or least is None:
        return numbers
    container = reference.containers[numbers.container]
    area = math.pi / 4 * container.inside_diameter.value**2
    most = container.height.value - reference.policy["free_board"]
    for clearance in (numbers.clearance, math.ceil(1000 * reference.policy["bottom_clearance"])):
        short = needed - (numbers.clearance - clearance) / 1000 - least
        more = max(0, _up(short * area * 1e6, 10))
        if level + more * 1e-6 / area <= most:
            return replace(numbers, clearance=clearance, volume=numbers.volume + more)
    return numbers


def _increment(answers: Answers, resolution: float) -> tuple[str, int]:
    """Choose the step of the reported value: not finer than the readout, a twentieth of the limits or less.

    Gives its text and the decimals that it and the limits are written with.
    """
    from fillmark.quantities import express  # noqa: PLC0415

    unit = answers.upper.unit
    width = express(answers.upper.value - answers.lower.value, unit)
    finest = express(resolution, unit)
    written = max(answers.lower.decimals, answers.upper.decimals)
    top = math.floor(math.log10(width / 20))
    steps = [Decimal(n).scaleb(k) for k in range(top, top - 4, -1) for n in (5, 2, 1)]
    fit = [s for s in steps if finest <= float(s) <= width / 20 * (1 + 1e-9)] or [steps[2]]

    def decimals(step: Decimal) -> int:
        return max(0, -int(step.normalize().as_tuple().exponent))

    best = min(
        fit,
        key=lambda s: (
            decimals(s) > written,
            abs(decimals(s) - written),
            s.normalize().as_tuple().digits != (1,),
            -s,
        ),
    )
    places = max(decimals(best), written)
    return f"{best:.{places}f} {unit}", places


def _fluid(answers: Answers, numbers: _Numbers, reference: "Reference", full_scale: float | None) -> str:
    """Choose the reference fluid nearest to the product that gives a torque a fault would show at."""
    policy = reference.policy
    middle = math.sqrt(answers.lower.value * answers.upper.value)
    if not full_scale:
        return numbers.fluid
    least, most = policy["verification_torque_warning"], policy["verification_torque_ceiling"]
    fit = [f for f in reference.fluids.values() if least < 100 * f.viscosity.value / full_scale < most]
    if not fit:
        return numbers.fluid
    return min(fit, key=lambda f: abs(math.log(f.viscosity.value / middle))).key


def _nothing_suits(answers: Answers, reference: "Reference") -> str:
    had = "; ".join(
        dict.fromkeys(f"spring {i.spring}, {i.readout}, {i.coupling}" for i in answers.instruments)
    )
    policy = reference.policy
    texts = policy.texts
    return (
        f"No plain spindle in its beaker reads {answers.lower.text} to {answers.upper.text} on what the "
        f"laboratory has ({had}) with {texts['torque_floor']} to {texts['torque_ceiling']} torque in the "
        "worst case, in laminar flow, and with limits of which half is at least "
        f"{texts['instrument_ratio_error']} times the instrument's tolerance. Widen the limits, name another "
        "instrument, or prescribe --spindle and --speed to see what the check says of them. A product "
        "thinner than about 15 mPa·s needs a narrow gap, and no new method starts with one."
    )


# --- the text of a method


def _step_name(rpm: float) -> str:
    return f"viscosity_{rpm:g}".replace(".", "_")


_PLAIN = re.compile(r"[A-Za-z][\w &()/+%.-]*")
_YAML_WORDS = {"true", "false", "null", "yes", "no", "on", "off"}


def _scalar(text: str) -> str:
    """Write a text so that YAML reads it back as it is."""
    if _PLAIN.fullmatch(text) and text.isascii() and text.lower() not in _YAML_WORDS and text == text.strip():
        return text
    return json.dumps(text, ensure_ascii=False)


_PREPARATION = {
    "newtonian": "Pour slowly down the wall; let bubbles rise for 10 min, until none is seen.",
    "yield-stress": "Fill slowly down the wall within 60 s; do not stir and do not shake.",
}
_STIR = "Stir 20 turns in 20 s with a wide spatula; draw no air in."


def _careful(behaviour: str) -> str:
    """Give the behaviour a method is written for: where it is not known, the one that asks for most care."""
    return "yield-stress" if behaviour == "unknown" else behaviour


def _method_text(answers: Answers, n: _Numbers, modeline: str) -> str:
    a = answers
    one = n.instruments[0]
    target = a.temperature.value.value
    start = 18 if target >= 22 else 28
    step = _step_name(n.rpm)
    unit = a.upper.unit
    lower, upper = (_with_decimals(q, n.decimals) for q in (a.lower, a.upper))
    where = "water-bath" if target <= 90 else "oil-bath"
    parts = ", parts: true" if abs(target - 22) >= 8 else ""
    lock = ", lock: true" if one.readout == "dial" else ""
    only = ", only_this: true" if len(n.instruments) == 1 else ""
    density = a.density or "1.00 g/mL"
    sensitivity = a.sensitivity or "3.0 %/K"
    tolerance = a.temperature.tolerance.value
    thermometer = (
        f"{{resolution: {_step_below(tolerance / 5):g} K, uncertainty: {_step_below(tolerance / 4):g} K}}"
    )
    guard_line = f"\n  guard: {n.verification_guard}" if n.verification_guard else ""
    preparation = _PREPARATION.get(_careful(a.behaviour), _STIR)
    review = date.today().replace(day=1)  # noqa: DTZ011 - the author's own day
    review = review.replace(year=review.year + 2)

    def confirm(condition: bool, why: str) -> str:
        return f"   # CONFIRM: {why}" if condition else ""

    return f"""{modeline}
# A start that passes the check. Lines marked CONFIRM hold what nobody has stated yet: put what you know in
# their place and take the mark away, all of them before the method leaves the state of a draft.
fillmark: 1
id: {_scalar(a.id)}
title: {_scalar(a.title)}
revision: 0
status: draft                     # draft, in-review, released, superseded, withdrawn
purpose: {a.purpose}{confirm(a.purpose == "development" and a.behaviour == "unknown", "a product of unknown behaviour is not released")}
review_by: {review.isoformat()}
people: {{author: {_scalar(a.author)}}}      # add reviewer and approver; the approver is another person

product:
  name: {_scalar(a.product)}
  behaviour: {_careful(a.behaviour)}{confirm(a.behaviour == "unknown", "not known yet; this is the most careful of all")}
  density: {density}{confirm(a.density is None, "assumed; weigh a known volume")}
  temperature_sensitivity: {sensitivity}{confirm(a.sensitivity is None, "assumed; measure 2 K below and 2 K above the target")}
  largest_particle: 100 µm   # CONFIRM: assumed
  thermal_diffusivity: 0.10 mm²/s   # CONFIRM: assumed, on the slow side; it sets the time in the bath
  hazards: [{", ".join(a.hazards)}]   # as the author stated them; the safety data sheet comes first

specification:
  - {{result: {step}, lower: {lower}, upper: {upper}, decision_rule: simple}}

instrument: {{spring: {n.spring}, readout: {one.readout}, coupling: {one.coupling}, suspension: {one.suspension}, stand: {one.stand}{only}}}
spindle: {n.spindle}
guard: {n.guard}
container: {n.container}

sample:
  volume: {n.volume} mL ± 10 mL
  age: 24 h ± 4 h   # CONFIRM: assumed; when after production or sampling it is measured
  preparation: |
    {preparation}
  rest: 5 min   # CONFIRM: assumed, as is the preparation above
immersion: {{to: shaft-mark, tolerance: 2 mm, bottom_clearance: {n.clearance} mm}}

temperature:
  target: {a.temperature.text}
  measured: in-sample
  start: {start} °C   # CONFIRM: assumed; how far off the sample may come in
  thermometer: {thermometer}
  conditioning: {{where: {where}, time: {n.conditioning} min, covered: true{parts}}}

run:
  - {{name: {step}, speed: {n.rpm:g} rpm, read: {{after: {n.after} s{lock}}}}}
replicates:
  count: 2
  each: new-loading
  repeatability: 1.5 %   # CONFIRM: assumed; from a study of your own
  agree_within: {n.agree}
  otherwise: Repeat the pair once on new loadings; report all four.
verification:
  fluid: {n.fluid}
  at: {step}{guard_line}
  frequency: each working day, before the first sample
  on_failure: Stop, tag the instrument, look back to the last pass.

report:
  - {{result: {step}, statistic: mean, unit: {unit}, increment: {n.increment or f"1 {unit}"}, rounding: half-even, below_range: stated, above_range: stated}}

equipment: ["thermometer, 0.1 °C", timer, water bath, wide spatula]
cleaning: {{agent: warm water, disposal: waste route of the site}}   # CONFIRM: assumed
training: {{level: 2, valid: 24 months}}
retention: 5 years   # CONFIRM: assumed
notes:
  why: |
    Read at {{{{run.{step}.read_at}}}}, every time: sooner the spring may still be winding up and the reading is
    low, and a product that changes under shear gives another number at another moment.
"""  # noqa: E501 - the lines of the file that is written


def _step_below(value: float) -> float:
    """Give the coarsest usual step of a thermometer (K) that is not above a value."""
    return next((s for s in (0.1, 0.05, 0.02, 0.01, 0.005, 0.002) if s <= value * (1 + 1e-9)), 0.001)


def _with_decimals(quantity: "Quantity", places: int) -> str:
    """Write a limit with at least so many decimals; its value stays."""
    if places <= quantity.decimals:
        return quantity.text
    return f"{Decimal(quantity.number):.{places}f} {quantity.unit}"


# --- writing and telling


def _methods_folder(home: Path | None) -> Path:
    """Choose where a method goes: methods/ of the workspace, or of this folder."""
    if home is None or home == Path.cwd():
        return Path("methods")
    return home / "methods"


def _home_of(file: Path, home: Path | None) -> Path:
    """Choose the folder that holds, or gets, the copy of the schema."""
    if home is not None:
        return home
    return file.parent.parent if file.parent.name == "methods" else file.parent


def _modeline(file: Path, home: Path | None) -> str:
    import os  # noqa: PLC0415

    schema = _home_of(file, home).resolve() / "schemas" / "method.schema.json"
    relative = Path(os.path.relpath(schema, file.parent.resolve())).as_posix()
    return f"# yaml-language-server: $schema={relative}"


def _write(file: Path, text: str, home: Path | None) -> None:
    from fillmark.locate import schemas_folder  # noqa: PLC0415
    from fillmark.publish import write_whole  # noqa: PLC0415

    schema = _home_of(file, home) / "schemas" / "method.schema.json"
    try:
        if not schema.exists():
            write_whole(schema, (schemas_folder() / schema.name).read_bytes())
        write_whole(file, text.encode(), replace=False)
    except FileExistsError as error:
        raise click.UsageError(
            f"{file} is there already and is left as it is. {_free(file).stem} is free."
        ) from error
    except OSError as error:
        raise click.UsageError(f"{error.filename or file} cannot be written: {error.strerror}.") from error


def _told(
    draft: Draft, answers: Answers, reference: "Reference", file: Path, home: Path | None
) -> Iterator[str]:
    """Say what was chosen and why, what is to be confirmed, and what comes next."""
    n, figures = draft.numbers, draft.compiled.figures
    one = n.instruments[0]
    yield (
        f"{'As prescribed' if _prescribed(answers) else 'Chosen'}: spindle {n.spindle} at {n.rpm:g} rpm "
        f"on spring {n.spring} ({one.readout}, {one.coupling}), guard {n.guard}."
    )
    if figures is not None:
        step = f"run.{_step_name(n.rpm)}."

        def text(key: str) -> str:
            return figures.text(step + key) if step + key in figures else "?"

        policy = reference.policy
        yield (
            f"  Limits {answers.lower.text} and {answers.upper.text} read {text('torque_lower')} and "
            f"{text('torque_upper')} torque; at worst {text('torque_lower_worst')} and "
            f"{text('torque_upper_worst')}. "
            f"Allowed are {policy.texts['torque_floor']} to {policy.texts['torque_ceiling']}."
        )
        yield (
            f"  Half the width of the limits is {text('instrument_ratio')} times the instrument's tolerance "
            f"({text('tolerance')}); {policy.texts['instrument_ratio_warning']} times or more is wanted."
        )
        yield (
            f"  Read after {n.after} s: {policy.texts['revolutions']} revolutions take "
            f"{text('customary_wait')}, the spring winds up in {text('wind_up')}."
        )
    able = ", ".join(i.key for i in n.instruments)
    demo = any(
        reference.origins.get(("instruments", i.key), "").startswith("shipped/") for i in n.instruments
    )
    yield f"  It can run on {able}{', which ships with Fillmark as a demonstration' if demo else ''}."
    if _with_decimals(answers.upper, n.decimals) != answers.upper.text:
        decimals = f"{n.decimals} decimal{'' if n.decimals == 1 else 's'}"
        yield f"  The limits are written with {decimals}, as the reported value is; their value is the same."
    count = draft.text("").count("# CONFIRM:")
    yield f"Written: {file}. {count} lines in it are marked CONFIRM: they hold what nobody has stated yet."
    if home is None:
        yield "No laboratory's folder is here: what ships with Fillmark was used."
        yield "Your own: fillmark new lab FOLDER"
    yield f"Next: fillmark check {file}"
