"""Upgrading: the text changes where it must and nowhere else, and means what it meant.

Outside reference: PyYAML's own reader (`safe_load`) and `str.replace` on single lines.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st
from pipeline.recipe.workshop import RECIPE, Workshop

from headrace import whole_file
from headrace.errors import RecipeError
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.recipe.upgrading import upgrade_files, upgraded_file, written

GALLERY = Path(__file__).parents[3] / "recipes"
RECIPES = sorted(
    path.relative_to(GALLERY).as_posix()
    for path in (*GALLERY.glob("*.yaml"), *GALLERY.glob("shared/*.yaml"))
)


def older(text: str) -> str:
    """A recipe of the gallery as it read before the newest format."""
    text = re.sub(r"^format: headrace-recipe/2$", "format: headrace-recipe/1", text, flags=re.M)
    return re.sub(r"^python:", "plugins:", text, flags=re.M)


def upgrade(data: bytes, path: Path) -> bytes:
    path.write_bytes(data)
    return upgraded_file(path).after


@pytest.fixture
def gallery(tmp_path: Path) -> Path:
    """The gallery in its older form, without jobs."""
    for source in (path for path in GALLERY.rglob("*") if path.suffix in (".yaml", ".py")):
        target = tmp_path / source.relative_to(GALLERY)
        target.parent.mkdir(parents=True, exist_ok=True)
        text = source.read_text("utf-8")
        target.write_text(older(text) if source.suffix == ".yaml" else text, "utf-8")
    return tmp_path


@pytest.mark.usefixtures("gallery")
def test_the_gallery_has_both_changes() -> None:
    texts = [(GALLERY / name).read_text("utf-8") for name in RECIPES]
    assert len(texts) >= 12
    assert all(older(text) != text for text in texts)
    assert any("\nplugins:" in older(text) for text in texts)


@pytest.mark.parametrize("name", RECIPES)
def test_a_recipe_of_the_gallery_becomes_what_it_is_now(name: str, gallery: Path) -> None:
    done = upgraded_file(gallery / name)

    assert done.changes
    assert (done.stated, done.newest) == ("headrace-recipe/1", "headrace-recipe/2")
    assert done.after == (GALLERY / name).read_bytes()


def test_every_plan_of_the_gallery_stays_the_same(gallery: Path) -> None:
    registry = load_registry()
    whole = [name for name in RECIPES if not name.startswith("shared/")]
    before = [load_plan(gallery / name, registry) for name in whole]
    files, parents = upgrade_files([gallery / name for name in RECIPES])
    written(files)

    assert parents == []
    assert [load_plan(gallery / name, registry) for name in whole] == before
    assert not any(file.changes for file in upgrade_files([file.path for file in files])[0])


ODD = [
    ('"format": "headrace-recipe/1"\n"plugins": [a.py]\n',
     '"format": "headrace-recipe/2"\n"python": [a.py]\n'),
    ("'format' : 'headrace-recipe/1'\n'plugins' : [a.py]\n",
     "'format' : 'headrace-recipe/2'\n'python' : [a.py]\n"),
    ("{format: headrace-recipe/1, plugins: [a.py], name: plugins}",
     "{format: headrace-recipe/2, python: [a.py], name: plugins}"),
    ('{"format":"headrace-recipe/1","plugins":["plugins.py"]}\n',
     '{"format":"headrace-recipe/2","python":["plugins.py"]}\n'),
    ('"plu\\x67ins": [a.py]\r\nformat: "headrace\\u002Drecipe/1"  # was headrace-recipe/1\r\n',
     '"python": [a.py]\r\nformat: "headrace-recipe/2"  # was headrace-recipe/1\r\n'),
    ("? plugins\n: - a.py\n? format\n: headrace-recipe/1\n",
     "? python\n: - a.py\n? format\n: headrace-recipe/2\n"),
    ("\ufeff# plugins: none\r\r\nname: Lids\rformat:   headrace-recipe/1 \rplugins:\r- a.py",
     "\ufeff# plugins: none\r\r\nname: Lids\rformat:   headrace-recipe/2 \rpython:\r- a.py"),
    ("plugins:\n- plugins/plugins.py # plugins: []\nname: '𝔐 plugins:'\nformat: headrace-recipe/1",
     "python:\n- plugins/plugins.py # plugins: []\nname: '𝔐 plugins:'\nformat: headrace-recipe/2"),
    ("name: '𝔐'\n{}".replace("{}", "format: headrace-recipe/1\nassume: {units: mm}\n"),
     "name: '𝔐'\nformat: headrace-recipe/2\nassume: {units: mm}\n"),
    ("--- {name: '蜂𝔐', format: headrace-recipe/1, plugins: []} # so\n...\n",
     "--- {name: '蜂𝔐', format: headrace-recipe/2, python: []} # so\n...\n"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new"), ODD)
def test_odd_spellings(old: str, new: str, tmp_path: Path) -> None:
    assert upgrade(old.encode(), tmp_path / "recipe.yaml") == new.encode()


REFUSED = [
    ("format: |-\n  headrace-recipe/1\n", "recipe-upgrade-unplaced"),
    ("format: >-\n  headrace-recipe/1\nplugins: []\n", "recipe-upgrade-unplaced"),
    ('format: headrace-recipe/1\n? "plu\\\n  gins"\n: []\n', "recipe-upgrade-unplaced"),
    ("format: headrace-recipe/1\nplugins: &a [x.py]\n", "recipe-alias"),
    ("format: headrace-recipe/1\npython: [x.py]\n", "recipe-unknown-key"),
    ("format: headrace-recipe/1\nplugins: [x.txt]\n", "recipe-not-accepted"),
    ("format: headrace-recipe/1\nplugins: []\n'plugins': []\n", "recipe-duplicate-key"),
    ("format: headrace-recipe/1\nextends: gone.yaml\n", "recipe-missing"),
    ("format: headrace-recipe/9\n", "recipe-format-newer"),
    ("format: headrace-machine/2\n", "recipe-format-newer"),
    ("format: bees/1\n", "recipe-format"),
    ("name: Lids\n", "recipe-format"),
    ("- 1\n", "recipe-wrong-type"),
    ("", "recipe-empty"),
]


@pytest.mark.parametrize(("text", "name"), REFUSED)
def test_what_is_at_fault_stays_and_so_do_the_others(
    text: str, name: str, workshop: Workshop
) -> None:
    sound = workshop.write("recipe.yaml", RECIPE.replace("recipe/2", "recipe/1"))
    path = workshop.write("odd.yaml", text)
    with pytest.raises(RecipeError) as caught:
        upgrade_files([sound, path])

    assert [each.name for each in caught.value.findings] == [name] * len(caught.value.findings)
    assert all(each.place is not None for each in caught.value.findings)
    assert path.read_bytes() == text.encode()


# --- generated recipes --------------------------------------------------------------------------

QUOTE = st.sampled_from(["", "'", '"'])
BLANK = st.sampled_from(["", " ", "   "])
NOTE = st.sampled_from(
    ["", " # plugins: [x.py]", "  #headrace-recipe/1", " # 蜂 'plugins'", ' # "python"']
)
BETWEEN = st.sampled_from(["", "# plugins:\n", "\n", "  # format: headrace-recipe/1\n", "#\n\n"])
VALUES = {
    "format": st.just("headrace-recipe/1"),
    "plugins": st.sampled_from(["[plugins.py]", "[]", "[a.py, 'b/plugins.py']", '["a.py"]']),
    "name": st.sampled_from(["plugins", "'plugins:'", '"headrace-recipe/1"', "Bienenkörbe"]),
    "description": st.sampled_from(["'it''s # python'", '"\\u0070lugins"', "format"]),
    "assume": st.sampled_from(["{units: mm}", "{'units': inch, dwell: seconds}"]),
    "steps": st.sampled_from(["[home, park]", "\n  - home\n  - park: {z: 2}", "\n- plugins"]),
}
ENDS = st.sampled_from(["\n", "\r\n", "\r"])


@st.composite
def recipes(draw: st.DrawFn) -> str:
    keys = draw(st.permutations(["format", *draw(st.sets(st.sampled_from(sorted(VALUES))))]))
    lines = []
    for key in dict.fromkeys(keys):
        quote, value = draw(QUOTE), draw(VALUES[key])
        inner = draw(QUOTE) if key == "format" else ""
        first = f"{quote}{key}{quote}{draw(BLANK)}: {draw(BLANK)}{inner}{value}{inner}"
        note = "" if "\n" in value else draw(NOTE)
        lines.append(f"{draw(BETWEEN)}{first}{note}\n")
    text = "".join(lines).replace("\n", draw(ENDS))
    return draw(st.sampled_from(["", "\ufeff"])) + text.rstrip(
        "\r\n " if draw(st.booleans()) else ""
    )


def said(text: str) -> list[tuple[str, Any]]:
    """Outside reference: PyYAML's safe_load keeps the order of keys."""
    return list(yaml.safe_load(text.removeprefix("\ufeff")).items())


@given(text=recipes())
@example(text="format: headrace-recipe/1")
def test_any_recipe_means_the_same_and_keeps_all_other_text(
    text: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "generated.yaml"
    made = upgrade(text.encode(), path).decode()
    wanted = [
        ("python" if key == "plugins" else key,
         "headrace-recipe/2" if key == "format" else value)
        for key, value in said(text)
    ]  # fmt: skip

    assert said(made) == wanted
    # what differs is as long as the two words, and all between them is as it was
    shorter = sum(key == "plugins" for key, _ in said(text))
    assert len(made) == len(text) - shorter
    assert re.findall(r"\r\n|\r|\n", made) == re.findall(r"\r\n|\r|\n", text)
    assert re.findall(r"#[^\r\n]*", made) == re.findall(r"#[^\r\n]*", text)
    for one, other in zip(
        re.split(r"\r\n|\r|\n", text), re.split(r"\r\n|\r|\n", made), strict=True
    ):
        mended = (
            re.sub(r"""^(\ufeff?['"]?)plugins(['"]?\s*:)""", r"\1python\2", one)
            if re.match(r"""\ufeff?['"]?plugins['"]?\s*:""", one)
            else one.replace("headrace-recipe/1", "headrace-recipe/2", 1)
            if re.match(r"""\ufeff?['"]?format['"]?\s*:""", one)
            else one
        )
        assert other == mended


# --- whole or not at all ------------------------------------------------------------------------


def two_old(folder: Path) -> tuple[Path, Path]:
    one, other = folder / "one.yaml", folder / "other.yaml"
    for path in (one, other):
        path.write_bytes(b"format: headrace-recipe/1\r\n")
        path.chmod(0o640)
    return one, other


def test_what_is_written_keeps_who_may_read_it_and_links(tmp_path: Path) -> None:
    one, _ = two_old(tmp_path)
    link = tmp_path / "link.yaml"
    link.symlink_to(one.name)
    files, _ = upgrade_files([link, one])
    written(files)

    assert len(files) == 1
    assert link.is_symlink()
    assert one.read_bytes() == b"format: headrace-recipe/2\r\n"
    assert one.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("fails", ["open", "fsync", "first name", "second name", "changed"])
def test_all_or_none(fails: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = two_old(tmp_path)
    files, _ = upgrade_files([one, other])
    names = iter([fails == "first name", fails == "second name"])
    rename = Path.replace

    def refused(*_: object) -> None:
        raise OSError(28, "No space left on device")

    def replaced(self: Path, target: Path) -> Path:
        if next(names, False):
            refused()
        return rename(self, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", replaced)
        if fails in ("open", "fsync"):
            patch.setattr(whole_file.os, fails, refused)
        if fails == "changed":
            other.write_bytes(b"format: headrace-recipe/1 # today\n")
        with pytest.raises(RecipeError) as caught:
            written(files)

    (found,) = caught.value.findings
    assert found.name == "recipe-file-kept"
    assert ("changed meanwhile" if fails == "changed" else "No space left") in found.what
    assert one.read_bytes() == b"format: headrace-recipe/1\r\n"
    assert other.read_bytes().startswith(b"format: headrace-recipe/1")
    assert one.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.yaml", "other.yaml"]


def test_a_protected_file_keeps_all(tmp_path: Path) -> None:
    one, other = two_old(tmp_path)
    other.chmod(0o440)
    with pytest.raises(RecipeError) as caught:
        written(upgrade_files([one, other])[0])

    assert "other.yaml cannot be written: it is write-protected" in caught.value.findings[0].what
    assert one.read_bytes() == b"format: headrace-recipe/1\r\n"
