"""``python -m halfstep`` is the command line."""

from halfstep.app.terminal.command_line import run

run()
