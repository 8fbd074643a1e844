"""The command line's front door: runs a command, and turns errors into one line and an exit code."""

import gc
import sys
from typing import Annotated

import typer
from typer.exceptions import TyperException

from qclog import texts
from qclog.addresses import without_passwords
from qclog.cli.commands import Listed
from qclog.cli.common import Target, say
from qclog.errors import QclogError, RefusedError

DEFECT = 70
INTERRUPTED = 130
INSTRUMENT = 7


def commands() -> typer.Typer:
    """All commands, of which only the one that is called is loaded."""
    app = typer.Typer(
        name="qclog",
        cls=Listed,
        help="Logbook and judge of workholding: run-out kept per item and setup, and what each one holds.",
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        add_completion=False,
    )
    app.callback()(_all)
    return app


def _all(
    context: typer.Context,
    logbook: Annotated[
        str | None,
        typer.Option(
            metavar="PATH-OR-URL", help="The logbook; without it QCLOG_LOGBOOK, else one in your data folder."
        ),
    ] = None,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    if version:
        from importlib.metadata import version as version_of

        typer.echo(version_of("qclog"))
        raise typer.Exit
    context.obj = Target(logbook)


def main(arguments: list[str] | None = None) -> int:
    """Run one command; the exit code is that of the promises."""
    _print_utf8()
    given = sys.argv[1:] if arguments is None else arguments
    try:
        for number, argument in enumerate(given, start=1):
            texts.argument(argument, f"argument {number}")
        code = commands()(given, prog_name="qclog", standalone_mode=False)
    except QclogError as error:
        _complain(str(error))
        return error.exit_code
    except TyperException as error:
        say(_usage(error))
        return error.exit_code
    except typer.Abort:
        _complain("Interrupted; nothing further was logged.")
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        _complain(f"{error.filename or 'A file'} cannot be used: {error.strerror or error}. Name another place.")
        return RefusedError.exit_code
    except Exception as error:
        if _of_an_instrument(error):
            _complain(str(error))
            return INSTRUMENT
        _complain(f"This is a defect of the program. The details are in {_keep_traceback()}; please report it.")
        return DEFECT
    return code if isinstance(code, int) else 0


def run() -> None:
    """The entry point of the installed command."""
    code = main()
    gc.disable()  # all of it goes with the process
    sys.exit(code)


def _of_an_instrument(error: Exception) -> bool:
    """Whether an indicator, its port or its profile is at fault; instruments are loaded only if one was opened."""
    known = sys.modules.get("instruments.errors")
    return known is not None and isinstance(error, known.InstrumentsError)


def _complain(text: str) -> None:
    say(f"qclog: {text}")


def _print_utf8() -> None:
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None and (stream.encoding or "").lower().replace("-", "") != "utf8":
            reconfigure(encoding="utf-8", errors="backslashreplace")


def _usage(error: TyperException) -> str:
    """What is wrong with what was typed, and the help that tells the right way: that of the command. Where nothing was
    typed that is the help itself."""
    context = getattr(error, "ctx", None)
    what = error.format_message()
    if context and what == context.get_help():
        return what
    end = "" if what.endswith((".", "?", "!")) else "."
    return f"qclog: {what}{end} See: {context.command_path if context else 'qclog'} --help"


def _keep_traceback() -> str:
    import traceback

    from qclog import config, times

    path = config.defect_log()
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="utf-8", errors="backslashreplace") as file:
        file.write(f"{times.utc_stamp()}\n{without_passwords(traceback.format_exc())}\n")
    return str(path)
