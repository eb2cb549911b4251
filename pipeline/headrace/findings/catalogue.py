"""Every kind of finding there is.

Ids are stable: `HR`, a letter for the area, three digits. An id is never given to another kind.
Areas: J a file as a job, L the language, R recipe, machine and set-up files, M the machine,
P plugins and contracts, C the card.
"""

from __future__ import annotations

from dataclasses import dataclass

from headrace.findings.finding import Severity

_REFUSE, _WARN, _NOTE = Severity.REFUSE, Severity.WARN, Severity.NOTE


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding: id, name, usual severity, why it matters, what to do."""

    id: str
    name: str
    severity: Severity
    why: str
    remedy: str


_KINDS = (
    # --- J: a file as a job -------------------------------------------------------------------
    Kind("HRJ001", "binary-file", _REFUSE,
         "a job is plain text; running anything else moves the machine at random",
         "give the file that CAM exported, not an archive, a picture or a project file"),
    # --- L: the language ----------------------------------------------------------------------
    # --- R: recipe, machine and set-up files --------------------------------------------------
    # --- M: the machine -----------------------------------------------------------------------
    Kind("HRM001", "not-described", _REFUSE,
         "where the description is silent the answer is never \"fine\"",
         "fill in the field"),
    # --- P: plugins and contracts -------------------------------------------------------------
    Kind("HRP001", "plugin-faulty", _REFUSE,
         "a transform that cannot be described cannot be checked",
         "mend the plugin, or take it out of the recipe"),
    # --- C: the card --------------------------------------------------------------------------
)  # fmt: skip

CATALOGUE: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
