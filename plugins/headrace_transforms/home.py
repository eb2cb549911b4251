"""Homing."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Facet, Job, before, needed, pausing, transform
from headrace_transforms.framing.stopping import require_still
from headrace_transforms.telling.refusing import refusal


@transform(
    "home",
    changes=[Facet.WORK_ZERO, Facet.STOPS, Facet.COMMENTS],
    adds_motion=True,
    options={
        "axes": {
            "type": "array",
            "description": "The axes to home, without unit; when left out, every axis in the"
            " machine's order.",
            "items": {"description": "One axis.", "enum": ["x", "y", "z"]},
            "minItems": 1,
            "uniqueItems": True,
            "examples": [["z"]],
        }
    },
)
def home(job: Job, *, axes: list[str] | None) -> Iterator[Edit]:
    """Home the machine before the job, axis by axis in the described order.

    Writes the homing word once for each group of axes, or the bare word where it homes all axes
    at once. Where the machine is homed at its panel, writes a pause that asks for it.

        G21                     G21
        G0 X0 Y0      ->        G28 Z0
                                G28 X0 Y0
                                G0 X0 Y0
    """
    start = job.landmarks.start
    homing = job.machine.homing
    require_still(job.state_at(start), "home")
    if axes and (homing.by == "by-hand" or homing.axes == "all"):
        raise refusal(
            "home-all-axes", f"home is asked for {' '.join(axes).upper()} only, and all axes home"
        )
    if homing.by == "by-hand":
        texts = ("HOME ALL AXES AT THE PANEL", "HOME AT THE PANEL", "HOME NOW", "HOME")
        yield from pausing(job.machine, start, *texts, asks="homed")
        return
    word = needed(homing.word, "machine.homing.word", "home")
    if homing.axes == "all":
        yield before(start, word)
        return
    for group in homing.order:
        named = [axis for axis in group if not axes or axis in axes]
        if named:
            yield before(start, f"{word} {' '.join(f'{axis.upper()}0' for axis in named)}")
