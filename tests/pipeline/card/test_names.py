"""Names on the card. Outside reference: FAT32 File System Specification 1.03 (Microsoft, 2000),
"FAT Directory Structure": DIR_Name holds eight characters and three, in capitals, and lists the
characters that may not stand there; device names and the rest are common practice."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from workshop.hostile import HOSTILE

from headrace.card.names import CHARACTERS, Naming, card_names, is_card_name
from headrace.errors import CardError
from headrace.machine import Card

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


RULES = st.builds(
    Card,
    names=st.sampled_from(["short", "long"]),
    extension=st.just("NC"),
    case=st.sampled_from([None, "upper", "lower", "as-is"]),
    characters=st.none() | st.text(alphabet=CHARACTERS),
    length=st.none() | st.integers(6, 8),
    numbered=st.booleans(),
)
LEGAL_IN_SHORT = set(range(0x41, 0x5B)) | set(range(0x30, 0x3A)) | set(b"$%'-_@~`!(){}^#&")
"""FAT32 specification 1.03, "FAT Directory Structure": what a short name may hold."""


@pytest.mark.parametrize("rules", [SHORT, LONG], ids=["short", "long"])
def test_hostile_names_become_plain_ones(rules: Card) -> None:
    """`DIR_Name` as above; device names and trailing points and blanks are common practice."""
    assert len(HOSTILE) >= 250
    namings = card_names([], HOSTILE, rules)
    names = [naming.name for naming in namings]
    assert sorted(naming.source for naming in namings) == sorted(HOSTILE)
    assert len({name.upper() for name in names}) == len(names)
    for name in names:
        stem, _, extension = name.rpartition(".")
        assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9_.-]*", name)
        assert extension == rules.extension
        assert not stem.endswith((".", " "))
        assert not re.fullmatch(r"CON|PRN|AUX|NUL|(COM|LPT)[0-9]", stem.split(".")[0].upper())
        assert stem.upper() != "HEADRACE"
        assert is_card_name(name)
        if rules is SHORT:
            assert len(stem) <= 8
            assert set(stem.encode()) <= LEGAL_IN_SHORT
    assert card_names([], HOSTILE[::-1], rules) == namings


@given(st.lists(st.sampled_from(HOSTILE), unique=True, max_size=40), RULES)
def test_names_keep_to_every_rule_of_the_reader(jobs: list[str], rules: Card) -> None:
    namings = card_names(["SETUP"], jobs, rules)
    marks = rules.characters
    if marks is None:
        marks = "_-" if rules.names == "short" else "._-"
    for turn, naming in enumerate(namings, 1):
        stem, _, _ = naming.name.rpartition(".")
        assert len(stem) <= (rules.length or (8 if rules.names == "short" else 61))
        assert set(re.sub("[A-Za-z0-9]", "", stem)) <= set(marks)
        if rules.numbered:
            assert stem.startswith(f"{turn:02}")
        case = rules.case or ("upper" if rules.names == "short" else "as-is")
        if case != "as-is":
            assert naming.name == getattr(naming.name, case)()
        assert not re.match(r"(CON|PRN|AUX|NUL|(COM|LPT)[0-9])(\.|$)", naming.name.upper())
    assert len({naming.name.casefold() for naming in namings}) == len(namings)


@pytest.mark.parametrize(
    ("rules", "names"),
    [
        (Card("short", "NC", numbered=True), "01SETUP.NC 02COOLAN.NC 03FRAME-.NC 04LID.NC"),
        (Card("short", "nc", case="lower"), "setup.nc coolant.nc frame-si.nc lid.nc"),
        (Card("short", "NC", case="as-is"), "SETUP.NC Coolant.NC frame-si.NC lid.NC"),
        (Card("short", "NC", characters=""), "SETUP.NC COOLANT.NC FRAMESID.NC LID.NC"),
        (Card("short", "NC", characters="_"), "SETUP.NC COOLANT.NC FRAME_SI.NC LID.NC"),
        (Card("short", "NC", length=6), "SETUP.NC COOLAN.NC FRAME-.NC LID.NC"),
        (Card("long", "nc", case="upper"), "SETUP.NC COOLANT.NC FRAME-SIDE.NC LID.NC"),
        (Card("long", "nc", length=7), "SETUP.nc Coolant.nc frame-s.nc lid.nc"),
    ],
)
def test_names_as_the_reader_wants_them(rules: Card, names: str) -> None:
    namings = card_names(["SETUP"], ["lid.tap", "frame-side.nc", "Coolant.nc"], rules)
    assert [naming.name for naming in namings] == names.split()


def test_numbers_have_as_many_digits_as_the_last_one_needs() -> None:
    namings = card_names([], [f"{n:03}.nc" for n in range(100)], Card("short", "NC", numbered=True))
    names = [naming.name for naming in namings]
    assert (names[0], names[99]) == ("001000.NC", "100099.NC")
    assert names == sorted(names)


def test_a_number_alone_is_no_other_name() -> None:
    """Nobody is told that lid.nc is named otherwise because it is the first."""
    (naming,) = card_names([], ["lid.nc"], Card("short", "NC", numbered=True))
    assert naming == Naming("lid.nc", "01LID.NC", False)


def test_files_are_named_singly_where_names_are_too_short_for_their_counts() -> None:
    namings = card_names([], [f"lid-{n:03}.nc" for n in (1, 2)], Card("short", "NC", length=4))
    assert [naming.name for naming in namings] == ["LID-.NC", "LI_2.NC"]


def test_a_number_that_makes_a_device_of_a_name_is_passed_over() -> None:
    rules = Card("short", "NC", characters="")
    namings = card_names([], ["a/com.nc", "b/com.nc"], rules)
    assert [naming.name for naming in namings] == ["COM.NC", "COM10.NC"]


def test_more_files_than_names_are_refused() -> None:
    with pytest.raises(CardError) as caught:
        card_names([], [f"{n}/lid.nc" for n in range(200)], Card("short", "NC", length=3))
    assert [finding.name for finding in caught.value.findings] == ["card-names-used-up"]


@pytest.mark.parametrize(
    "name", ["", ".", "..", ".NC", "a/b", "a\\b", "a b", "LID.NC\n", "ä", "~", ":"]
)
def test_what_is_no_name_on_a_card(name: str) -> None:
    assert not is_card_name(name)
