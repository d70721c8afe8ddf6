"""`fillmark watch`: check anew, and build if asked, whenever a file is saved."""

import time
from collections.abc import Collection
from datetime import date
from pathlib import Path

import click

from fillmark.commands.build import (
    bring_up_to_date,
    document_option,
    format_option,
    jobs_option,
    order_of,
    out_option,
    paper_option,
    told,
)
from fillmark.commands.console import (
    compile_contents,
    contents_of,
    day,
    home_of,
    inputs,
    paths_option,
    put,
    reference_from,
    tell,
    texts,
    today_option,
    workspace_option,
)
from fillmark.orders import Order
from fillmark.pipeline import Compiled, used_twice
from fillmark.reference import read_files
from fillmark.terminal import summary
from fillmark.watch import changes, marks
from fillmark.workspace import method_files


@click.command("watch")
@paths_option
@workspace_option
@today_option
@click.option("--build", "building", is_flag=True, help="Bring the documents up to date too.")
@out_option
@paper_option
@document_option
@format_option
@jobs_option
@click.option(
    "--every", type=click.FloatRange(min=0.05, max=60), default=0.4, show_default=True, metavar="SECONDS",
    help="How often the files are looked at.",
)  # fmt: skip
def command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, out: Path, paper: str, kinds: tuple[str, ...],
    forms: tuple[str, ...], jobs: int | None, every: float, *, building: bool,
) -> None:  # fmt: skip
    """Check whenever a method or the reference data is saved, until you stop it with Ctrl-C."""
    inputs(paths)
    home = home_of(workspace, paths or (Path("methods"),))
    order = order_of(paper, kinds, forms, None)
    watched = _Watched(paths, home, out if building else None, order, jobs)

    def look() -> dict[str, tuple[int, int, int, int]]:
        return marks([*watched.methods(), *watched.reference_data()])

    before = look()
    watched.look_at(watched.methods(), day(today))
    count = len(watched.methods())
    put(f"Watching {count} file{'' if count == 1 else 's'}; stop with Ctrl-C.", err=True)
    for changed in changes(look, lambda: time.sleep(every), before=before):
        put("")
        put(f"changed: {', '.join(sorted(changed))}", err=True)
        all_of_them = any(home is not None and Path(name).parent == home / "shared" for name in changed)
        names = [file for file in watched.methods() if all_of_them or str(file) in changed]
        watched.look_at(names, day(today))


class _Watched:
    """What is watched, and what is known of it."""

    def __init__(
        self, paths: tuple[Path, ...], home: Path | None, out: Path | None, order: Order, jobs: int | None
    ) -> None:
        self.paths = paths or (Path("methods"),)
        self.home = home
        self.out = out
        self.order = order
        self.jobs = jobs
        self.done: dict[str, Compiled] = {}

    def methods(self) -> list[Path]:
        """List the method files there are now; none where their folder is gone for the moment."""
        try:
            return [file for file in method_files(self.paths) if file.exists()]
        except OSError:
            return []

    def reference_data(self) -> list[Path]:
        """List the files of the laboratory's own reference data."""
        return [] if self.home is None else sorted((self.home / "shared").glob("*.y*ml"))

    def look_at(self, files: Collection[Path], today: date) -> None:
        """Check files, tell what is found in them, and build if asked; faults of the files end nothing."""
        try:
            if self.out is not None:
                result = bring_up_to_date(
                    self.methods(), self.home, today, self.out, self.order, jobs=self.jobs
                )
                told(result, self.out)
                return
            data, faults = read_files(self.home)
            reference = reference_from(data, faults, self.home)
        except (click.ClickException, SystemExit) as error:
            if isinstance(error, click.ClickException):
                put(error.message, err=True)
            return
        there = {str(f) for f in self.methods()}
        fresh = {one.file: one for one in compile_contents(contents_of(list(files)), reference, today)}
        self.done = {name: one for name, one in {**self.done, **fresh}.items() if name in there}
        whole = used_twice(list(self.done.values()))
        news = [one for one in whole if one.file in fresh or one is not self.done[one.file]]
        if news:
            tell(news, texts(news))
        if len(news) < len(whole):
            put(f"in all: {summary([d for one in whole for d in one.diagnostics], len(whole))}", err=True)
