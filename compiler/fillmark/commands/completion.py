"""`fillmark completion`: the completion script of a shell."""

import click
from click.shell_completion import get_completion_class

from fillmark.commands.console import put


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def command(context: click.Context, shell: str) -> None:
    """Print the completion script of a shell; put it where your shell loads such scripts."""
    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f"No completion for {shell}.")
    put(kind(context.find_root().command, {}, "fillmark", "_FILLMARK_COMPLETE").source())
