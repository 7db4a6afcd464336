"""The command line: parses, calls and prints; everything else is done by the packages below it."""

from nest.cli.entry import main

__all__ = ["main"]
