"""The command line: thin, no arithmetic."""

from lapwright.cli.app import main

__all__ = ["main"]
