"""pytest tries transforms by itself: an item for each check of each transform.

    [tool.pytest.ini_options]
    headrace_transforms = ["settle.py", "my_package"]

gives items such as `settle.py::settle::keeps-its-contract`. Nothing of headrace is loaded unless
transforms are named or the fixture `headrace_bench` is used.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from headrace.plugins import Transform
    from headrace.testing.bench import Bench
    from headrace.testing.examination import Examination

_INI = "headrace_transforms"


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("headrace", "transforms of headrace")
    group.addoption(
        "--headrace-transforms",
        action="append",
        metavar="FILE|MODULE",
        help="try the transforms of this file or module (may be given again)",
    )
    group.addoption(
        "--headrace-jobs", type=int, metavar="COUNT", help="on so many jobs (1000 if not given)"
    )
    parser.addini(_INI, "files and modules whose transforms are tried", type="args", default=[])
    parser.addini("headrace_jobs", "on so many jobs", default="1000")
    parser.addini("headrace_machines", "on these machines, if not the kit's own", type="paths")


def pytest_report_header(config: pytest.Config) -> str | None:
    named = _named(config)
    if not named:
        return None
    return f"headrace: transforms of {', '.join(named)}, on {_jobs(config)} jobs"


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A named file, where it is among what pytest was told to look at."""
    config = parent.config
    for named in _named(config):
        if named.endswith(".py") and _path(config, named) == file_path.resolve():
            return TransformFile.from_parent(parent, path=file_path, named=named)
    return None


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(
    session: pytest.Session, config: pytest.Config, items: list[pytest.Item]
) -> None:
    """Add what no folder holds that pytest looked at, unless it was told of certain files only."""
    if not _whole_run(config):
        return
    collected = {item.named for item in items if isinstance(item, CheckItem)}
    for named in _named(config):
        if named not in collected:
            module = TransformModule.from_parent(session, name=named, nodeid=named, named=named)
            try:
                items.extend(item for each in module.collect() for item in each.collect())
            except Exception as error:
                what = f"headrace_transforms: {named}: {type(error).__name__}: {error}"
                raise pytest.UsageError(what) from error


@pytest.fixture
def headrace_bench() -> Bench:
    """A bench with a relay-driven router; `headrace_bench.on("hand")` gives another."""
    from headrace.testing.bench import Bench

    return Bench()


class TransformNode(pytest.Collector):
    """One transform: its items share one examination, which runs with the first of them."""

    def __init__(self, *, transform: Transform, named: str, **more: Any) -> None:
        super().__init__(name=transform.name, **more)
        self.transform = transform
        self.named = named
        self._examination: Examination | None = None

    @property
    def examination(self) -> Examination:
        if self._examination is None:
            from headrace.testing.conformance import examined
            from headrace.testing.shops import SHOPS

            own = self.config.getini("headrace_machines")
            self._examination = examined(
                self.transform, jobs=_jobs(self.config), machines=own or SHOPS
            )
        return self._examination

    def collect(self) -> Iterator[CheckItem]:
        from headrace.testing.examination import checks_of

        for check in checks_of(self.transform):
            yield CheckItem.from_parent(self, name=check, named=self.named)


class CheckItem(pytest.Item):
    """One check of one transform."""

    def __init__(self, *, named: str, **more: Any) -> None:
        super().__init__(**more)
        self.named = named

    def runtest(self) -> None:
        assert isinstance(self.parent, TransformNode)
        examination = self.parent.examination
        fault = examination.faults.get(self.name)
        if fault is not None:
            from headrace.testing.conformance import report

            raise AssertionError(report(examination, fault))
        if self.name not in examination.judged:
            pytest.skip("nothing to judge by: see the checks that failed")
        if self.name in examination.unseen:
            pytest.skip(examination.unseen[self.name])

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException]) -> Any:  # type: ignore[override]
        if isinstance(excinfo.value, AssertionError):
            return str(excinfo.value)
        return super().repr_failure(excinfo)

    def reportinfo(self) -> tuple[Path, int | None, str]:
        return self.path, None, self.name


class TransformFile(pytest.File):
    """A file of transforms, by its path."""

    def __init__(self, *, named: str, **more: Any) -> None:
        super().__init__(**more)
        self.named = named

    def collect(self) -> Iterator[TransformNode]:
        return _collected(self, self.named)


class TransformModule(pytest.Collector):
    """A module of transforms by its name, or a file that lies elsewhere."""

    def __init__(self, *, named: str, **more: Any) -> None:
        super().__init__(**more)
        self.named = named

    def collect(self) -> Iterator[TransformNode]:
        return _collected(self, self.named)


def _collected(parent: pytest.Collector, named: str) -> Iterator[TransformNode]:
    from headrace.testing.loading import transforms_of

    place = _path(parent.config, named) if named.endswith(".py") else named
    for transform in transforms_of(place):
        yield TransformNode.from_parent(parent, transform=transform, named=named)


def _named(config: pytest.Config) -> list[str]:
    """What the command line names, else the configuration."""
    given: Iterable[str] = config.getoption("headrace_transforms") or config.getini(_INI)
    return list(given)


def _jobs(config: pytest.Config) -> int:
    given = config.getoption("headrace_jobs")
    return int(config.getini("headrace_jobs")) if given is None else int(given)


def _path(config: pytest.Config, named: str) -> Path:
    """A named file: from where pytest was started on the command line, else from its root."""
    given = config.getoption("headrace_transforms")
    start = config.invocation_params.dir if given else config.rootpath
    return (start / named).resolve()


def _whole_run(config: pytest.Config) -> bool:
    """Whether pytest looks at folders: certain files or items are asked for by themselves."""
    if config.getoption("headrace_transforms"):
        return True
    start = config.invocation_params.dir
    return any((start / each).is_dir() for each in config.args)
