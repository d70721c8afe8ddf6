"""`fillmark evaluate`: filled records into results."""

import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    ascii_wanted,
    day,
    each,
    home_of,
    put,
    reference_for,
    terminal_width,
    workspace_option,
)
from fillmark.files import read_at_most, shown
from fillmark.publish import write_whole
from fillmark.records.codes import found
from fillmark.records.evaluate import again, evaluate, occasion, unjudged
from fillmark.records.judged_by import Judge, Library, of_bundle, of_compiled
from fillmark.records.reading import LARGEST, read_records
from fillmark.records.record import Finding, Record
from fillmark.records.result import Result
from fillmark.records.written import as_brief, as_data, as_json, as_line, told
from fillmark.terminal import render
from fillmark.workspace import method_files

LINES = {"jsonl": as_line, "brief": as_brief}
"""Forms of one result a line."""

SUFFIXES = (".csv", ".json", ".xlsx", ".tsv", ".txt")
"""What is looked for in a folder that is named."""


@click.command("evaluate")
@click.argument("records", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@workspace_option
@click.option(
    "--method",
    "named",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Method file or released bundle to judge by; found by the id on the sheet unless given.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "jsonl", "brief"]),
    default="text",
    show_default=True,
    help="How the results are written; jsonl is one a line, brief what trend and verification-log need of it.",
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Folder for result pages and result files.",
)
@click.option(
    "--page",
    "pages",
    type=click.Choice(["html", "pdf"]),
    multiple=True,
    help="With --out: form of the pages; both unless named.",
)
@click.option(
    "--paper",
    type=click.Choice(["policy", "A4", "Letter"]),
    default="policy",
    show_default=True,
    help="Paper size of the pages.",
)
@click.option(
    "--print-date",
    type=click.DateTime(["%Y-%m-%d"]),
    default=None,
    metavar="DATE",
    help="Date printed on every page.",
)
def command(
    records: tuple[Path, ...],
    workspace: Path | None,
    named: Path | None,
    form: str,
    out: Path | None,
    pages: tuple[str, ...],
    paper: str,
    print_date: object,
) -> None:
    """Judge filled RECORDs (JSON, CSV, XLSX or folders of them) by their methods and work out their results.

    Every entry is kept as typed, beside what it was understood as. Exit code 0 if nothing was found, 1 for findings (a
    result outside its limits is one), 2 for a file that cannot be read.
    """
    files = _files(records)
    library = _library(workspace, named, files)
    made = _results(files, library)
    codes, written = set[str](), True
    if form in LINES and out is None:
        # One by one as they come: there may be 100,000 of them.
        for result in made:
            put(LINES[form](result).encode())
            codes |= {f.code for f in result.findings}
    else:
        results = list(made)
        codes = {f.code for r in results for f in r.findings}
        if form == "text":
            _tell(results)
        elif form == "json":
            put(as_json(results).encode())
        else:
            put("\n".join(map(LINES[form], results)).encode())
        if out is not None:
            on = day(print_date) if print_date is not None else None
            written = _write(results, out, pages, paper, on)
    if not written or "EVA01" in codes:
        raise SystemExit(USAGE)
    raise SystemExit(FINDINGS if codes else CLEAN)


def _results(files: Sequence[Path], library: Library) -> Iterator[Result]:
    """Judge one record after another; of those before only their occasions are kept."""
    seen: dict[str, tuple[Path, int]] = {}
    for file in files:
        for index, record in enumerate(_read(file)):
            mark = occasion(record)
            before = seen.setdefault(mark, (file, index)) if record.entries else (file, index)
            if before != (file, index):
                known = _read(before[0])
                first = known[before[1]] if before[1] < len(known) else record
                yield _judged(replace(record, findings=(*record.findings, again(record, first))), library)
                continue
            yield _judged(record, library)


def _files(paths: Sequence[Path]) -> list[Path]:
    files: dict[str, Path] = {}
    for path in paths:
        if path.is_dir():
            try:
                inside = sorted(f for f in path.rglob("*") if _may_be_one(f))
            except OSError as error:
                raise click.UsageError(
                    f"The folder {path} cannot be looked into: {error.strerror}."
                ) from error
            if not inside:
                raise click.UsageError(f"There is no record (*.csv, *.json, *.xlsx) in {path}.")
        else:
            inside = [path]
        files |= {str(f.resolve()): f for f in inside if str(f.resolve()) not in files}
    return list(files.values())


def _may_be_one(file: Path) -> bool:
    """Whether a file of a folder is looked at: results that an earlier run wrote beside the records are not."""
    hidden = file.name.startswith(".") or file.name.endswith("-result.json")
    return file.suffix.lower() in SUFFIXES and not hidden and file.is_file()


def _read(file: Path) -> list[Record]:
    name = shown(str(file))
    try:
        data = read_at_most(file, LARGEST)
    except OSError as error:
        wrong = found(
            "EVA01",
            f"The file cannot be read: {error.strerror}.",
            "See that you may read it.",
            "Leave it out.",
        )
        return [Record(name, "1", "csv", "0" * 64, findings=(wrong,))]
    return read_records(data, name)


def _library(workspace: Path | None, named: Path | None, files: Sequence[Path]) -> Library:
    if named is not None:
        judge = _named(workspace, named)
        if isinstance(judge, str):
            raise click.UsageError(f"{named} cannot judge a record: {judge}")
        return Library((), named=judge)
    home = home_of(workspace, files) or home_of(None)
    reference = reference_for(home, [])
    methods = () if home is None or not (home / "methods").is_dir() else (home / "methods",)
    return Library(each(method_files(methods), reference, None), home)


def _named(workspace: Path | None, named: Path) -> Judge | str:
    if named.suffix.lower() == ".zip":
        from fillmark.releases.bundle import LARGEST as LARGEST_BUNDLE  # noqa: PLC0415 - only a bundle needs it

        return of_bundle(read_at_most(named, LARGEST_BUNDLE), shown(str(named)))
    return of_compiled(each([named], reference_for(workspace, [named]), None)[0])


def _judged(record: Record, library: Library) -> Result:
    if any(f.code == "EVA01" for f in record.findings) or not record.entries:
        return unjudged(record)
    judge = library.judge_of(record)
    if isinstance(judge, Finding):
        return unjudged(record, judge)
    return evaluate(record, judge.method, judge.figures, judge.digest, recalled=judge.recalled)


def _tell(results: Sequence[Result]) -> None:
    for result in results:
        put("\n".join(told(result)))
        put("")
    width = min(terminal_width(), 110)
    diagnostics = [f.diagnostic(_called(r)) for r in results for f in r.findings]
    text = render(
        diagnostics,
        {},
        colour=False,
        ascii_only=ascii_wanted(sys.stdout.encoding),
        width=width,
        files=len({r.record.file for r in results}),
    )
    put(text)


def _called(result: Result) -> str:
    record = result.record
    return record.file if record.name == "1" else f"{record.file} ({record.name})"


def _write(
    results: Sequence[Result], out: Path, pages: Sequence[str], paper: str, print_date: date | None
) -> bool:
    """Write pages and result files; gives whether all went well."""
    import json  # noqa: PLC0415 - only files need it

    from fillmark.documents.result_page import plan_result  # noqa: PLC0415 - only pages need it
    from fillmark.printing import PrintingUnavailable, pdf  # noqa: PLC0415 - idem
    from fillmark.render import render as render_page  # noqa: PLC0415 - idem

    well, names = True, set[str]()
    for result in results:
        method = result.method
        stem = _stem(result, names)
        data = as_data(result)
        made = {f"{stem}-result.json": (json.dumps(data, ensure_ascii=False, indent=2) + "\n").encode()}
        if method is not None:
            size = method.reference.policy.choices["paper"] if paper == "policy" else paper
            html = render_page(plan_result(method, result.digest, data, print_date=print_date), paper=size)
            if not pages or "html" in pages:
                made[f"{stem}-result-{size}.html"] = html.encode()
            if not pages or "pdf" in pages:
                try:
                    made[f"{stem}-result-{size}.pdf"] = pdf(html, paper=size)
                except PrintingUnavailable as error:
                    put(f"error: {error}", err=True)
                    well = False
        for name, content in made.items():
            try:
                write_whole(out / name, content)
            except OSError as error:
                put(f"error: {out / name} cannot be written: {error.strerror}.", err=True)
                return False
            put(str(out / name), err=True)
    return well


def _stem(result: Result, taken: set[str]) -> str:
    """Name the files of a result by method, sample and file, with letters that every system takes."""
    record = result.record
    parts = [record.text("method.id"), Path(record.file).stem, record.name if record.name != "1" else ""]
    stem = (
        "-".join(
            dict.fromkeys(
                p for p in (re.sub(r"[^A-Za-z0-9._]+", "-", part).strip("-.")[:60] for part in parts) if p
            )
        )
        or "record"
    )
    name, number = stem, 2
    while name.casefold() in taken:
        name, number = f"{stem}-{number}", number + 1
    taken.add(name.casefold())
    return name
