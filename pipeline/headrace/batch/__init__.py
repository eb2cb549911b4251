"""Many jobs by one recipe: each is prepared by itself, and one bad job never stops the others."""

from headrace.batch.folder import Prepared, Written, examine_jobs, prepare_folder
from headrace.batch.record import Record
from headrace.batch.sources import JobFile, collect_jobs

__all__ = [
    "JobFile",
    "Prepared",
    "Record",
    "Written",
    "collect_jobs",
    "examine_jobs",
    "prepare_folder",
]
