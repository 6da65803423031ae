"""`python -m pruner` and the command `pruner`: one error boundary around the command line."""

from __future__ import annotations

import sys


def main() -> None:
    """Runs the command line; a user's mistake is one line and an exit code, our fault a crash file."""
    try:
        from pruner.words.process import leave_process, prepare_process

        prepare_process()
        from pruner.cli.boundary import guarded

        code = guarded(sys.argv[1:])
        leave_process()
        sys.exit(code)
    except KeyboardInterrupt:  # before or behind the boundary
        sys.exit(130)


if __name__ == "__main__":
    main()
