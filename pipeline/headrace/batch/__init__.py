"""Many jobs by one recipe: each is prepared by itself, and one bad job never stops the others."""

from headrace.batch.examination import examine_jobs
from headrace.batch.folder import prepare_folder
from headrace.batch.prepared import Paper, Prepared, Written
from headrace.batch.record import Record
from headrace.batch.sources import JobFile, collect_jobs

__all__ = [
    "JobFile",
    "Paper",
    "Prepared",
    "Record",
    "Written",
    "collect_jobs",
    "examine_jobs",
    "prepare_folder",
]
