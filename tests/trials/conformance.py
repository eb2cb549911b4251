"""The bundled transforms tried by the kit at length.

    python tests/trials/conformance.py --jobs 300 --seed 1 [TRANSFORM ...]

Every bundled transform, or those that are named, on so many odd and made-up jobs of that seed, on
the kit's three machines. It prints what the kit says of each fault and one line of JSON, and fails
where there is any.
"""

from __future__ import annotations

import argparse
import json
import sys
import warnings
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from plugins.shop import TRANSFORMS  # noqa: E402
from plugins.test_conformance import by_the_kit  # noqa: E402


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("names", nargs="*", metavar="TRANSFORM")
    asked = parser.parse_args()
    warnings.filterwarnings("ignore", ".* was not seen")
    faulty = []
    for name in asked.names or sorted(TRANSFORMS):
        try:
            by_the_kit(TRANSFORMS[name], asked.jobs, asked.seed)
        except AssertionError as error:
            print(error)
            faulty.append(name)
    print(json.dumps({"jobs": asked.jobs, "seed": asked.seed, "faulty": faulty}))
    return 1 if faulty else 0


if __name__ == "__main__":
    sys.exit(main())
