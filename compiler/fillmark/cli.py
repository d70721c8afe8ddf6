"""The command line: one command a module in `commands/`, loaded when it is called.

Exit codes: 0 nothing found, 1 findings, 2 wrong use or files that cannot be read or written, 3 a fault of
Fillmark, 130 stopped from the keyboard.
"""

import atexit
import codecs
import gc
import os
import sys
import traceback
from importlib import import_module
from io import StringIO, TextIOWrapper

try:
    import click

    from fillmark import __version__
    from fillmark.commands.console import CLEAN, INTERRUPTED, OUR_FAULT, USAGE, put
    from fillmark.terminal import plain_ascii, without_controls
except ImportError as error:
    sys.stderr.write(
        f"fillmark cannot start: {error}.\nWhat is missing is told by: python -m fillmark.doctor\n"
    )
    raise SystemExit(2) from error

COMMANDS = (
    "check",
    "build",
    "watch",
    "explain",
    "new",
    "doctor",
    "library",
    "choose",
    "show",
    "misuse",
    "uncertainty",
    "compare",
    "completion",
    "release",
    "verify",
    "study",
    "record",
    "evaluate",
    "verification-log",
    "trend",
    "issue",
    "recall",
    "assess",
    "levels",
    "packs",
    "form",
)
"""Each is a module of `commands/` (with _ for -) that holds its `command`."""


class _OnDemand(click.Group):
    """Loads the module of a command when that command is asked for, so that the others cost no time."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click asks so
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - idem
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"fillmark.commands.{cmd_name.replace('-', '_')}")
        found: click.Command = module.command
        return found


@click.group(cls=_OnDemand, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="fillmark")
def cli() -> None:
    """Check viscosity test methods and compile them into bench paper."""


class _SpeltOut(codecs.IncrementalEncoder):
    """ASCII, with the signs of the trade spelt out: mPa.s, 23 degC."""

    def encode(self, text: str, final: bool = False) -> bytes:  # noqa: ARG002 - there is nothing to finish
        return text.encode("ascii", "spell-out")


def _spelt_out(name: str) -> codecs.CodecInfo | None:
    if name.replace("_", "-") != "spelt-out":
        return None
    ascii_codec = codecs.lookup("ascii")
    return codecs.CodecInfo(
        lambda text, errors="strict": (text.encode("ascii", "spell-out"), len(text)),  # noqa: ARG005
        ascii_codec.decode, incrementalencoder=_SpeltOut, incrementaldecoder=ascii_codec.incrementaldecoder,
        name="spelt-out",
    )  # fmt: skip


def _open_what_is_closed() -> None:
    """Lead standard streams that the caller has closed to nowhere.

    Else the next file opened would take the place of one: a warning of a library would be written into a paper.
    """
    while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(handle, True)  # noqa: FBT003 - takes no keyword
    os.close(handle)
    if sys.stdout is None:
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115


def _suit_terminal() -> None:
    """Have signs that the terminal does not know spelt out in all that is written to it, help included."""
    codecs.register_error("spell-out", lambda e: (plain_ascii(e.object[e.start : e.end]), e.end))  # type: ignore[attr-defined]
    codecs.register(_spelt_out)
    _open_what_is_closed()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            plain = os.environ.get("FILLMARK_ASCII") or codecs.lookup(stream.encoding).name == "ascii"
            # Under the name of ASCII itself, click would take the stream for a mistake and write UTF-8.
            stream.reconfigure(encoding="spelt-out" if plain else stream.encoding, errors="spell-out")


def _spare_the_collector() -> None:
    """Have Python seldom look for circles of objects: hardly any are made, and a fifth of a short run goes there.

    At the end all goes with the process, and need not be looked through once more.
    """
    gc.set_threshold(100_000, 20, 100)
    atexit.register(gc.freeze)


def main() -> int:
    """Run the command line and give its exit code."""
    _spare_the_collector()
    _suit_terminal()
    try:
        code = cli.main(prog_name="fillmark", standalone_mode=False)
    except click.exceptions.Abort:
        put("Stopped. What was finished is in place; nothing is half-written.", err=True)
        return INTERRUPTED
    except click.ClickException as error:
        shown = StringIO()
        error.show(shown)
        put(without_controls(shown.getvalue().rstrip("\n")), err=True)
        return USAGE
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else USAGE
    except Exception:  # noqa: BLE001 - the one place where our own faults are shown as such
        put(traceback.format_exc().rstrip(), err=True)
        put("This is a fault of Fillmark, not of your file. Please report it with the lines above.", err=True)
        return OUR_FAULT
    return code if isinstance(code, int) else CLEAN
