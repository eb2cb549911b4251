"""Every kind of finding there is.

Ids are stable: `HR`, a letter for the area, three digits. An id is never given to another kind.
Areas: J a file as a job, L the language, R recipe, machine and set-up files, M the machine,
P plugins and contracts, C the card, S the run sheet and times.
"""

from __future__ import annotations

from headrace.findings.kinds import (
    arcs,
    card,
    cleaning,
    cutting,
    describing,
    job,
    language,
    machine,
    numbers,
    order,
    places,
    plugins,
    recipe,
    sheet,
    space,
    tools,
    turning,
    words,
)
from headrace.findings.kinds.kind import Kind

__all__ = ["CATALOGUE", "Kind"]

_AREAS = (
    job,
    language,
    recipe,
    machine,
    describing,
    order,
    space,
    words,
    cutting,
    numbers,
    arcs,
    places,
    cleaning,
    tools,
    turning,
    plugins,
    card,
    sheet,
)

CATALOGUE: dict[str, Kind] = {kind.name: kind for area in _AREAS for kind in area.KINDS}
