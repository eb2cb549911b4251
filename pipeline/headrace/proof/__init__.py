"""Proof that the cut path is what CAM wrote, but for what the steps have declared.

After each step both programs are compared by what the interpreter makes of them (`steps`). In the
end the finished file is compared with the job once more, from the bytes of both and by a reading
of its own (`whole`, `second`).
"""

from headrace.proof.steps import StepProof, breach_findings, prove_step
from headrace.proof.version import Breach, Version
from headrace.proof.whole import RunProof, prove_run

__all__ = [
    "Breach",
    "RunProof",
    "StepProof",
    "Version",
    "breach_findings",
    "prove_run",
    "prove_step",
]
