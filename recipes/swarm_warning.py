"""A transform of one workshop's own: nobody starts the spindle before the bees are shut in.

Named under `python` in swarm-warning.yaml. Copy it to write another: a function from the job to
edits, with its options and with what it may change declared above it. Whatever is not declared and
changes all the same is refused by name.
"""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Facet, Job, pausing, transform


@transform(
    "swarm-warning",
    changes=[Facet.STOPS, Facet.COMMENTS],
    options={
        "text": {
            "type": "string",
            "description": "What the operator is asked.",
            "pattern": "^[ -'*-:<-~]+$",
            "default": "HIVE SHUTTER CLOSED?",
        }
    },
)
def swarm_warning(job: Job, *, text: str) -> Iterator[Edit]:
    """Ask for the observation hive's shutter before the spindle first starts.

    Where no word starts it, the question comes before the first cut.
    """
    place = next((line.index for line in job.program if line.has("M", 3, 4)), None)
    if place is None:
        place = job.landmarks.first_cut
    if place is not None:
        yield from pausing(job.machine, place, text)
