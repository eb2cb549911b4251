"""What no schema can say: values of one document that contradict each other.

Only for documents that their schema has accepted.
"""

from headrace.recipe.consistency.card_files import card_file_findings
from headrace.recipe.consistency.machine import machine_findings
from headrace.recipe.consistency.setup import blank_findings, setup_findings

__all__ = ["blank_findings", "card_file_findings", "machine_findings", "setup_findings"]
