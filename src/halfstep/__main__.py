"""``python -m halfstep`` is the command line."""

from halfstep.app.cli import run

run()
