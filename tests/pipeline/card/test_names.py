"""Names on the card. Outside reference: FAT32 File System Specification 1.03 (Microsoft, 2000),
"FAT Directory Structure": DIR_Name holds eight characters and three, in capitals, and lists the
characters that may not stand there; device names and the rest are common practice."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headrace.card.names import Naming, card_names
from headrace.errors import CardError
from headrace.machine.description import Card

SHORT = Card(names="short", extension="NC")
LONG = Card(names="long", extension="nc")
FORBIDDEN_ON_FAT = {*range(0x20), *b'"*+,./:;<=>?[\\]|'}
"""FAT32 specification 1.03: below 20h (but for the Kanji byte 05h), 22h, 2Ah to 2Ch, 2Eh, 2Fh,
3Ah to 3Fh, 5Bh to 5Dh, 7Ch."""

names_of_jobs = st.lists(
    st.one_of(
        st.text(min_size=1).filter(lambda name: name.strip("/") != ""),
        st.sampled_from(["con.nc", "NUL", "lpt1.tap", "headrace.nc", "a" * 300, "..", ".nc"]),
        st.from_regex(r"[Ll]id[ _-]?[0-9]?\.(nc|tap)", fullmatch=True),
        st.from_regex(r"(a/)?reducer(-2)?-[0-9]{1,4}\.nc", fullmatch=True),
    ),
    unique=True,
    max_size=30,
)


def only(source: str, rules: Card = SHORT) -> str:
    return card_names([], [source], rules)[0].name


@pytest.mark.parametrize(
    ("source", "short", "long"),
    [
        pytest.param("lid.nc", "LID.NC", "lid.nc", id="a plain name stays"),
        pytest.param("lid.tap", "LID.NC", "lid.nc", id="the extension is the machine's"),
        pytest.param("frame side.nc", "FRAME_SI.NC", "frame_side.nc", id="blanks go"),
        pytest.param("con.nc", "CON_.NC", "con_.nc", id="a device is no file"),
        pytest.param("con.top.nc", "CON_TOP.NC", "con_.top.nc", id="a device before a point"),
        pytest.param("lpt9.nc", "LPT9_.NC", "lpt9_.nc", id="a printer is no file"),
        pytest.param(".hidden.nc", "HIDDEN.NC", "hidden.nc", id="a leading point goes"),
        pytest.param("-rf.nc", "RF.NC", "rf.nc", id="a leading dash goes"),
        pytest.param("...", "JOB.NC", "job.nc", id="nothing but points"),
        pytest.param(".nc", "NC.NC", "nc.nc", id="nothing but an extension"),
        pytest.param("蜂.nc", "JOB.NC", "job.nc", id="nothing that can be folded"),
        pytest.param("Schlüßel Œuvre.nc", "SCHLUSSE.NC", "Schlussel_OEuvre.nc", id="accents"),
        pytest.param("no-extension", "NO-EXTEN.NC", "no-extension.nc", id="no extension"),
        pytest.param("a/b/lid.nc", "LID.NC", "lid.nc", id="folders go"),
        pytest.param("lid..nc", "LID.NC", "lid.nc", id="a point at the end goes"),
        pytest.param("HEADRACE.NC", "HEADRA_2.NC", "HEADRACE_2.nc", id="our list's name is taken"),
        pytest.param("a" * 80, "AAAAAAAA.NC", "a" * 61 + ".nc", id="too long a name is cut"),
    ],
)
def test_a_name_becomes_legal(source: str, short: str, long: str) -> None:
    assert (only(source), only(source, LONG)) == (short, long)


def test_card_files_come_first_in_the_order_of_the_recipe_then_jobs_by_name() -> None:
    namings = card_names(["SETUP", "FIRST"], ["z.nc", "a.nc"], SHORT)
    assert [naming.name for naming in namings] == ["SETUP.NC", "FIRST.NC", "A.NC", "Z.NC"]


def test_the_second_of_two_equal_names_gets_a_number_in_the_order_of_sources() -> None:
    namings = card_names(
        ["LID"], ["lid.tap", "Lid.nc", "frame-side-b.nc", "frame-side-a.nc"], SHORT
    )
    assert namings == (
        Naming("LID", "LID.NC", False),
        Naming("Lid.nc", "LID_2.NC", True),
        Naming("frame-side-a.nc", "FRAME-SI.NC", True),
        Naming("frame-side-b.nc", "FRAME-_2.NC", True),
        Naming("lid.tap", "LID_3.NC", True),
    )


def test_files_that_are_counted_keep_their_counts_and_stay_together() -> None:
    """The operator runs them in the order of their counts, and finds them in that of the names."""
    jobs = [f"{name}-{n}.nc" for name in ("coolant", "spinon", "spinon-line") for n in (1, 2)]

    namings = card_names([], [*jobs, "spinon-line-3.nc"], SHORT)

    assert [naming.name.removesuffix(".NC") for naming in namings] == [
        "COOLAN-1",
        "COOLAN-2",
        "SPINON-1",
        "SPINON-2",
        "SPIN_2-1",
        "SPIN_2-2",
        "SPIN_2-3",
    ]


def test_many_equal_names_keep_within_eight_characters() -> None:
    namings = card_names([], [f"{n:04}/entrance-reducer.nc" for n in range(1200)], SHORT)
    assert len({naming.name for naming in namings}) == 1200
    assert max(len(naming.name) for naming in namings) == 11


@pytest.mark.parametrize("extension", ["GCODE", "", "N C", "HRT", "json", "ä", "../x"])
def test_an_extension_that_no_short_name_can_have_is_refused(extension: str) -> None:
    with pytest.raises(CardError) as caught:
        card_names([], ["lid.nc"], Card("short", extension))
    assert caught.value.findings[0].name == "card-extension"


@given(names_of_jobs)
def test_short_names_are_legal_unique_and_stable(jobs: list[str]) -> None:
    namings = card_names(["SETUP"], jobs, SHORT)
    assert {naming.source for naming in namings[1:]} == set(jobs)
    for naming in namings:
        stem, point, extension = naming.name.partition(".")
        assert 1 <= len(stem) <= 8
        assert point + extension == ".NC"
        assert not FORBIDDEN_ON_FAT & set(stem.encode("ascii"))
        assert stem == stem.upper()
        assert not re.fullmatch(r"CON|PRN|AUX|NUL|(COM|LPT)[0-9]|HEADRACE", stem)
    assert len({naming.name for naming in namings}) == len(namings)
    assert card_names(["SETUP"], jobs[::-1], SHORT) == namings


@given(names_of_jobs)
def test_long_names_are_legal_unique_and_stable(jobs: list[str]) -> None:
    namings = card_names([], jobs, LONG)
    for naming in namings:
        assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*\.nc", naming.name)
        assert len(naming.name) <= 64
        assert not naming.name.removesuffix(".nc").endswith(".")
        assert not re.match(r"(?i)(CON|PRN|AUX|NUL|(COM|LPT)[0-9])\.", naming.name)
    assert len({naming.name.casefold() for naming in namings}) == len(namings)
    assert card_names([], jobs[::-1], LONG) == namings
