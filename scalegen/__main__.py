"""Entry point: runs the command line and turns errors into messages and exit codes."""

import json
import os
import sys

from scalegen.cli import app
from scalegen.errors import ScalegenError, UsageError

BUG_CODE = 1
INTERRUPTED_CODE = 130


def main(arguments: list[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: What follows the program's name; None for the process's own.

    Returns:
        The exit code: 0 done, 1 a bug, 2 usage, 3 pattern or outline, 4 geometry, 5 sheet, 6 a stop
        finding, 7 writing, 130 interrupted.
    """
    words = sys.argv[1:] if arguments is None else arguments
    for stream in (sys.stdout, sys.stderr):
        # A terminal with a small character set shows a question mark rather than stopping the job.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    as_json = "--json" in words
    try:
        code = _run(words)
        sys.stdout.flush()
    except ScalegenError as error:
        _report(error, as_json=as_json)
        return error.exit_code
    except KeyboardInterrupt:
        code = INTERRUPTED_CODE
    except BrokenPipeError:
        # Whoever was reading has gone; that is their right.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if os.environ.get("SCALEGEN_TRACE"):
            raise
        _report(_bug(error), as_json=as_json)
        return BUG_CODE
    if code == INTERRUPTED_CODE:
        _say("scalegen: stopped; the job that was under way is dropped, earlier ones are as they were")
    return code


def _run(words: list[str]) -> int:
    """Run a command; what is wrong with how it was called comes out as a UsageError."""
    try:
        code = app(words, prog_name="scalegen", standalone_mode=False)
    except SystemExit as ended:
        if isinstance(ended.__context__, BrokenPipeError):
            # The command line and table libraries end the program here with a code of their own.
            raise BrokenPipeError from ended
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except Exception as error:
        said = getattr(error, "format_message", None)
        if said is not None:
            raise _usage_error(str(said()), getattr(error, "ctx", None)) from error
        if type(error).__name__ == "Abort":
            return INTERRUPTED_CODE
        raise
    return code if isinstance(code, int) else 0


def _usage_error(text: str, context: object) -> UsageError:
    """What the command line library says, in this program's voice."""
    command = getattr(context, "command_path", "scalegen")
    if text.startswith("Usage:"):
        return UsageError(f"which command?\n\n{text}")
    message = text.rstrip(".")
    return UsageError(message[:1].lower() + message[1:], remedy=f'"{command} --help" shows how it is called')


def _bug(error: Exception) -> ScalegenError:
    return ScalegenError(
        f"this is a fault of the program, not of your files ({type(error).__name__}: {error})",
        remedy="report it with the command and files; SCALEGEN_TRACE=1 shows where it happened",
    )


def _report(error: ScalegenError, *, as_json: bool) -> None:
    if as_json:
        from scalegen.report.record import error_record  # noqa: PLC0415 - brings numpy, which --help can do without

        text = json.dumps({"error": error_record(error)}, indent=1, ensure_ascii=False)
        print(text)  # noqa: T201 - the command line's own voice
    _say(f"scalegen: {error}")


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201 - the command line's own voice


if __name__ == "__main__":
    sys.exit(main())
