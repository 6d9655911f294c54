"""Both models beside what was published: figures (SVG, PNG) and tables (CSV) of the residuals, by one command.

usage: python data/models/report.py FOLDER
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    """Refit the density without writing it, draw both, and say which files there are."""
    if len(sys.argv) != 2:
        print(__doc__)
        return 2
    folder = Path(sys.argv[1])
    for script, *options in (("density_fit.py", "--check"), ("melting_report.py",)):
        command = [sys.executable, str(HERE / script), *options, "--report", str(folder)]
        done = subprocess.run(command, check=False)  # noqa: S603  our own scripts, by their full paths
        if done.returncode:
            return done.returncode
    print("\n".join(str(path) for path in sorted(folder.iterdir())))
    return 0


if __name__ == "__main__":
    sys.exit(main())
