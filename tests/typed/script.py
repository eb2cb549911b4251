# pyright: strict
"""A script that prepares jobs: first in memory, then to a card."""

from __future__ import annotations

import sys
from pathlib import Path

from headrace import CardRun, Finding, RecipeError, Result, Severity, load_recipe


def grave(findings: tuple[Finding, ...]) -> list[str]:
    """What keeps a job from the card."""
    return [each.what for each in findings if each.severity is Severity.REFUSE]


def main(recipe_file: str, job: str, card: str) -> int:
    """Prepare a job in memory, then write it to a card; the exit code."""
    try:
        recipe = load_recipe(recipe_file, ["setup.sheet.thickness.most=18.4"])
    except RecipeError as error:
        print(*grave(error.findings), sep="\n", file=sys.stderr)
        return error.exit_code
    results: tuple[Result, ...] = recipe.prepare([job])
    for result in results:
        if result.data is None or result.proof is None:
            print(result.name, *grave(result.findings))
        else:
            deviation: float = result.proof.deviation
            print(f"{result.name} {len(result.data)} bytes, within {deviation:g} mm")
    (again,) = recipe.prepare_bytes(Path(job).read_bytes(), "again.nc")
    print(again.name, "refused" if again.refused else "fit")
    run: CardRun = recipe.write([job], card)
    for file in run.files:
        print(file.name, file.fate)
    return run.exit_code


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
