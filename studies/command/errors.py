"""A command line whose every failure is one line on stderr and an exit code that tells what kind it was."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

import click

from ..case.toml import CaseError
from ..field.table import TableError
from ..files.lock import Busy
from .plain_text import one_line

GO_ON = "stopped: what was finished is kept; the same command goes on from there"


class BadInput(click.ClickException):
    """Ends the command with one line, or one for each bad row of a table."""

    exit_code = 2


class Unsolved(click.ClickException):
    """A case that could not be solved."""

    exit_code = 1


class Stopped(click.ClickException):
    """Stopped from the keyboard."""

    exit_code = 130


class OneLineGroup(click.Group):
    """A click group that reports as this module's first line says; bad options and arguments too."""

    def main(  # type: ignore[override]  # one signature for click's overloads
        self, args: Sequence[str] | None = None, prog_name: str | None = None, **extra: Any
    ) -> Any:
        """Run; leaves through SystemExit unless `standalone_mode` is off."""
        if not extra.pop("standalone_mode", True):
            return super().main(args, prog_name, standalone_mode=False, **extra)
        try:
            code = super().main(args, prog_name, standalone_mode=False, **extra)
        except click.ClickException as error:
            for line in error.format_message().splitlines():
                click.echo(f"icecone: {one_line(line)}", err=True)
            sys.exit(error.exit_code)
        except click.Abort:
            sys.exit(Stopped.exit_code)
        sys.exit(code if isinstance(code, int) else 0)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what a user can bring about becomes one line, a bug keeps its traceback."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise Stopped(GO_ON) from None
        except (CaseError, TableError, Busy) as error:
            raise BadInput(str(error)) from None
        except BrokenPipeError:
            raise
        except OSError as error:
            named = f"{error.filename}: " if error.filename else ""
            raise BadInput(f"{named}cannot be read or written: {error.strerror or error}") from None
