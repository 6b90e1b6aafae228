"""The command as it is called: `chopstick`, or `python -m chopstick.cli`. The version is told before anything else is
imported, so that to ask for it takes no longer than to start Python."""

import sys


def main() -> None:
    """The console command."""
    if sys.argv[1:] == ["--version"]:
        from . import VERSION

        print(f"chopstick {VERSION}")
        return
    from .main import main as start

    start()


if __name__ == "__main__":
    main()
