"""`make bench`: measurements as ratios within one run, since machines differ and are noisy.

Each module of this package has `run() -> list[tuple[str, str]]`: what was measured, and what came out. Nothing here
is a test: a figure that a limit is stated for is printed beside its limit, and the run ends with 1 if one is broken.
"""

import importlib
import sys

MODULES = ["planning", "dates", "pages", "years", "estimating", "letters", "live", "killed", "machines"]


def main() -> int:
    chosen = sys.argv[1:] or MODULES
    broken = 0
    for name in chosen:
        print(f"\n{name}")
        for label, value in importlib.import_module(f"tests.bench.{name}").run():
            print(f"  {label:<68} {value}", flush=True)
            broken += "BROKEN" in value
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
