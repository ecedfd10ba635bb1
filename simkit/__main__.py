"""``python -m simkit`` is the command line."""

from simkit.cli import main

main()
