"""`fillmark new`: start a laboratory's folder, or a method file that passes the check as it stands.

A new method is written from answers: flags, or questions on a terminal. How a draft follows from them stands in
`starter.py`. Every run of the command line imports this file, so it loads what is heavy only where it is used.
"""

import json
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from fillmark.model import Reference
    from fillmark.starter import Answers, Draft

BEHAVIOURS = ("newtonian", "shear-thinning", "thixotropic", "yield-stress", "unknown")
PURPOSES = ("release", "stability", "in-process", "development", "training")
_ID_WORDS = (
    "An id has 2 to 40 letters, digits, dots, dashes and underscores, begins with a letter or a digit and ends "
    "in no dot, such as PNT-VIS-001; it names the files that are made from the method, so that a name Windows "
    "keeps for itself (CON, NUL) is none."
)


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
    from fillmark.starter import findings, nothing_suits, prescribed, search  # noqa: PLC0415
    from fillmark.workspace import find_workspace  # noqa: PLC0415

    try:
        home = find_workspace(folder or Path())
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be looked into: {error.strerror}.") from error
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
        click.echo(f"Nothing was written. {nothing_suits(answers, reference)}", err=True)
        raise SystemExit(1)
    file = target / f"{answers.id}.yaml"
    text = draft.text(_modeline(file, home))
    left = findings(draft.compiled)
    if left and not anyway:
        count = f"{len(left)} finding{'' if len(left) == 1 else 's'}"
        click.echo(
            f"Nothing was written: {'this' if prescribed(answers) else 'the best found'} has {count}.",
            err=True,
        )
        for d in left:
            click.echo(f"  {d.severity.word} {d.code}: {d.message}", err=True)
            for way in d.ways_out:
                click.echo(f"    - {way}", err=True)
        leave = "leave --spindle or --speed out to have one chosen, " if prescribed(answers) else ""
        click.echo(f"Answer otherwise, {leave}or write it nevertheless with --anyway.", err=True)
        raise SystemExit(1)
    _write(file, text, home)
    for line in _told(draft, answers, reference, file, home):
        click.echo(line)
    raise SystemExit(1 if left else 0)


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
    from fillmark.starter import GUARDS  # noqa: PLC0415

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


def _ask(flags: Mapping[str, str | None], reference: "Reference", target: Path) -> "Answers":
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


def _answers(given: Mapping[str, Any], reference: "Reference") -> "Answers":
    from fillmark.starter import Answers  # noqa: PLC0415

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
    draft: "Draft", answers: "Answers", reference: "Reference", file: Path, home: Path | None
) -> Iterator[str]:
    """Say what was chosen and why, what is to be confirmed, and what comes next."""
    from fillmark.starter import prescribed, step_name, with_decimals  # noqa: PLC0415

    n, figures = draft.numbers, draft.compiled.figures
    one = n.instruments[0]
    yield (
        f"{'As prescribed' if prescribed(answers) else 'Chosen'}: spindle {n.spindle} at {n.rpm:g} rpm "
        f"on spring {n.spring} ({one.readout}, {one.coupling}), guard {n.guard}."
    )
    if figures is not None:
        step = f"run.{step_name(n.rpm)}."

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
    if with_decimals(answers.upper, n.decimals) != answers.upper.text:
        decimals = f"{n.decimals} decimal{'' if n.decimals == 1 else 's'}"
        yield f"  The limits are written with {decimals}, as the reported value is; their value is the same."
    count = draft.text("").count("# CONFIRM:")
    yield f"Written: {file}. {count} lines in it are marked CONFIRM: they hold what nobody has stated yet."
    if home is None:
        yield "No laboratory's folder is here: what ships with Fillmark was used."
        yield "Your own: fillmark new lab FOLDER"
    yield f"Next: fillmark check {file}"
