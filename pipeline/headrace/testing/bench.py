"""A bench for examples: a job of a few lines, some steps, and what comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from headrace.errors import JobRefused
from headrace.findings import Finding
from headrace.run import prepare_job
from headrace.testing.case import NAME, Case
from headrace.testing.shops import Named, Shop, shops
from headrace.testing.subject import Ahead, registry_with, steps_of
from headrace.way import Way


@dataclass(frozen=True)
class Tried:
    """What came of a job: the file, or None where it was refused, and what there is to say."""

    data: bytes | None
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> bool:
        """Whether there is no result; the findings say why."""
        return self.data is None

    @property
    def text(self) -> str:
        """The file with LF for its line ends. Raises AssertionError where the job was refused."""
        return self._data().decode().replace("\r\n", "\n").replace("\r", "\n")

    @property
    def lines(self) -> list[str]:
        """The lines of the file without their ends."""
        return self.text.splitlines()

    def _data(self) -> bytes:
        if self.data is None:
            said = "; ".join(f"{finding.name}: {finding.what}" for finding in self.findings)
            raise AssertionError(f"the job was refused: {said}")
        return self.data


@dataclass(frozen=True)
class Bench:
    """A described machine to try steps on: one of `SHOPS`, a machine file, or a machine file with
    its set-up file. Jobs that state no unit are in mm."""

    machine: Named = "relay"

    def run(self, job: str | bytes, steps: Ahead) -> Tried:
        """A job, or some lines of one, through the steps. Each must keep its contract, as in every
        run; how the job begins and ends, and whether it fits the machine, is not looked at.

        Steps are transforms or names, each with its options behind it:
        `run("M3 S9000", [settle, {"seconds": 2}, "park"])`.

        Raises PluginError where a step fails.
        """
        wanted, given = steps_of(steps)
        way = Way(Case("", _bytes(job), self._shop()).job(), registry_with(given), [])
        try:
            for step in wanted:
                way.take(step, 0)
        except JobRefused as error:
            return Tried(None, error.findings)
        return Tried(way.job.program.to_bytes(), ())

    def prepare(self, job: str | bytes, steps: Ahead) -> Tried:
        """A whole job through the steps and through all that `headrace prepare` asks of it: the
        proof of the whole and the rehearsal on the machine."""
        wanted, given = steps_of(steps)
        plan = replace(self._shop().plan, steps=wanted)
        outcome = prepare_job(NAME, _bytes(job), plan, registry_with(given))
        data = None if outcome.result is None else outcome.result.to_bytes()
        return Tried(data, outcome.findings)

    def on(self, machine: Named) -> Bench:
        """The same for another machine."""
        return Bench(machine)

    def _shop(self) -> Shop:
        return shops([self.machine])[0]


def _bytes(job: str | bytes) -> bytes:
    return job if isinstance(job, bytes) else job.encode()
