"""One module per command, read only when the command is called; each holds its `command`."""
