"""``python -m mixer`` is ``cupside``; Ctrl-C is heeded while the program itself is being read."""

import sys


def main() -> int:
    """The exit status, as of :func:`mixer.cli.main`."""
    try:
        from mixer.cli import main as run

        return run()
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
