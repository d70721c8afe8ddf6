"""`fillmark new`: a workspace, or a method asked for step by step."""

from fillmark.new import new_command as command

__all__ = ["command"]
