"""Entry point: runs the command line and turns errors into messages and exit codes."""

import json
import os
import sys

from scalegen.errors import PatternError, ScalegenError

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
    try:
        return _run(words)
    except ScalegenError as error:
        _report(error, as_json="--json" in words)
        return error.exit_code
    except KeyboardInterrupt:
        print("stopped; nothing was written", file=sys.stderr)  # noqa: T201 - the command line's own voice
        return INTERRUPTED_CODE
    except BrokenPipeError:
        # Whoever was reading has gone; that is their right.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if os.environ.get("SCALEGEN_TRACE"):
            raise
        text = f"{type(error).__name__}: {error}"
        print(  # noqa: T201 - as above
            f"scalegen: this is a fault of the program, not of your files ({text})\n"
            "  what to do: report it with the command and files; SCALEGEN_TRACE=1 shows where it happened",
            file=sys.stderr,
        )
        return BUG_CODE


def _run(words: list[str]) -> int:
    from scalegen.cli import app

    try:
        app(words, prog_name="scalegen")
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    return 0


def _report(error: ScalegenError, *, as_json: bool) -> None:
    if as_json:
        faults = error.faults if isinstance(error, PatternError) else ()
        data = {
            "exit_code": error.exit_code,
            "message": error.message,
            "where": error.where,
            "remedy": error.remedy,
            "faults": [
                {"file": f.file, "field": f.field, "found": f.found, "allowed": f.allowed, "hint": f.hint}
                for f in faults
            ],
        }
        print(json.dumps({"error": data}, indent=1, ensure_ascii=False))  # noqa: T201 - as above
    print(f"scalegen: {error}", file=sys.stderr)  # noqa: T201 - as above


if __name__ == "__main__":
    sys.exit(main())
