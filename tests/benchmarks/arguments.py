"""What every benchmark is asked on the command line: whole numbers, each with its usual value.

Imported by the benchmark that is run, from beside it; pytest, which only looks for doctests, does not find it so.
"""

from __future__ import annotations

import argparse
import shutil


def given(about: str | None, *programs: str, **usual: int) -> dict[str, int]:
    """The numbers as given or as usual; ends the program where one that it needs is not installed."""
    parser = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, value in usual.items():
        parser.add_argument(f"--{name}", type=int, default=value)
    numbers = vars(parser.parse_args())
    missing = [program for program in programs if shutil.which(program) is None]
    if missing:
        raise SystemExit(f"this benchmark needs {', '.join(missing)}")
    return numbers
