"""Part-21 text: the same content gives the same bytes, and other content does not."""

import random
import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalegen.errors import WriteError
from scalegen.export.part21 import canonical_part21, check_part21

HEADER = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('d'),'2;1');\nFILE_NAME('n','t',(''),(''),'p','o','');\n"
    "FILE_SCHEMA(('S'));\nENDSEC;\n"
)
# Two solids that say the same, told apart only by the product that uses them and by their color.
ENTITIES = {
    1: ("PRODUCT('it''s #7; a',#%s)", [3]),
    2: ("PRODUCT('b',#%s)", [4]),
    3: ("SOLID('',#%s)", [5]),
    4: ("SOLID('',#%s)", [6]),
    5: ("CARTESIAN_POINT('',(0.,1.,2.))", []),
    6: ("CARTESIAN_POINT('',(0.,1.,2.))", []),
    7: ("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',(#%s,#%s),#%s)", [8, 9, 10]),
    8: ("STYLED_ITEM('color',(#%s),#%s)", [11, 3]),
    9: ("STYLED_ITEM('color',(#%s),#%s)", [12, 4]),
    10: ("( CONTEXT(3)\n  NAMED('Context #1') )", []),
    11: ("COLOUR_RGB('',1.,0.,0.)", []),
    12: ("COLOUR_RGB('',1.,0.,0.)", []),
    13: ("NEXT_ASSEMBLY_USAGE_OCCURRENCE('COUNT1','1L','',#%s,#%s,$)", [1, 2]),
    14: ("NEXT_ASSEMBLY_USAGE_OCCURRENCE('COUNT2','1R','',#%s,#%s,$)", [1, 2]),
}


def as_text(seed: int | None, counter: int = 0) -> str:
    """The entities above as a file: in order, or with numbers, lines and the set of styles shuffled."""
    names = list(ENTITIES)
    order = list(ENTITIES)
    entities = dict(ENTITIES)
    if seed is not None:
        luck = random.Random(seed)  # noqa: S311  (no secret)
        luck.shuffle(order)
        names = luck.sample(range(1, 500), len(ENTITIES))
        styles = luck.sample([8, 9], 2)
        entities[7] = (ENTITIES[7][0], [*styles, 10])
    number = dict(zip(ENTITIES, names, strict=True))
    lines = [f"#{number[i]} = {entities[i][0] % tuple(number[c] for c in entities[i][1])};" for i in order]
    data = "\n".join(lines).replace("COUNT1", str(counter + 1)).replace("COUNT2", str(counter + 2))
    return f"{HEADER}DATA;\n{data}\nENDSEC;\nEND-ISO-10303-21;\n"


@given(seed=st.integers(0, 10**6), counter=st.integers(0, 10**4))
def test_numbers_order_and_counters_do_not_matter(seed: int, counter: int) -> None:
    """Shuffled numbers, lines, style sets and occurrence counters must give the same text."""
    assert canonical_part21(as_text(seed, counter)) == canonical_part21(as_text(None))


def test_result_is_sound_and_final() -> None:
    """The new text must pass the separate checker, keep every entity, and not change a second time."""
    text = canonical_part21(as_text(3))
    assert check_part21(text) == []
    assert text.count("\n#") == len(ENTITIES)
    assert canonical_part21(text) == text


def test_strings_are_left_alone() -> None:
    """A number sign, a semicolon and a doubled apostrophe inside a string must survive."""
    assert "'it''s #7; a'" in canonical_part21(as_text(5))
    assert "NAMED('Context #1')" in canonical_part21(as_text(5))


def test_other_joints_give_other_bytes() -> None:
    """Two equal points and one point used twice are not the same content."""
    shared = (
        as_text(None)
        .replace("#4 = SOLID('',#6)", "#4 = SOLID('',#5)")
        .replace("#6 = CARTESIAN_POINT('',(0.,1.,2.));\n", "")
    )
    assert canonical_part21(shared) != canonical_part21(as_text(None))
    assert check_part21(canonical_part21(shared)) == []


def test_swapped_colors_give_other_bytes() -> None:
    """Which of two equal solids has which color must tell in the bytes."""
    blue = as_text(None).replace("#12 = COLOUR_RGB('',1.,0.,0.)", "#12 = COLOUR_RGB('',0.,0.,1.)")
    swapped = as_text(None).replace("#11 = COLOUR_RGB('',1.,0.,0.)", "#11 = COLOUR_RGB('',0.,0.,1.)")
    assert canonical_part21(blue) != canonical_part21(swapped)


def test_letters_beyond_ascii_are_written_in_the_standards_way() -> None:
    """ISO 10303-21 (from memory): letters beyond ASCII stand as UTF-16 codes between X2 and X0 marks."""
    text = canonical_part21(as_text(None).replace("'b'", "'straße'"))
    assert "'stra\\X2\\00DF\\X0\\e'" in text


@pytest.mark.parametrize(
    ("data", "words"),
    [("#1=A(#2);", "not there"), ("#1=A(#2);#2=B(#1);", "circle")],
)
def test_broken_references_are_refused(data: str, words: str) -> None:
    """A missing entity and a circle must be named, not written."""
    with pytest.raises(WriteError, match=words):
        canonical_part21(f"{HEADER}DATA;{data}ENDSEC;END-ISO-10303-21;")


def test_text_without_data_is_refused() -> None:
    """A text without a DATA section must be refused."""
    with pytest.raises(WriteError, match="DATA"):
        canonical_part21(HEADER)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("ISO-10303-21;\nHEADER", "\nISO-10303-21;\nHEADER", "first line"),
        ("END-ISO-10303-21;\n", "END-ISO-10303-21;\n\n \n", "last line"),
        ("FILE_NAME", "FILE_SCHEMA", "header"),
        ("#2 = ", "#1 = ", "twice"),
        ("#5 = ", "#55 = ", "#5 is named"),
        ("'b',", "'b'(,", "bracket"),
        ("'b'", "'ß'", "ASCII"),
    ],
)
def test_checker_finds_each_fault(old: str, new: str, words: str) -> None:
    """The checker the other tests lean on must itself find every fault it is there for."""
    assert check_part21(as_text(None)) == []
    faults = check_part21(as_text(None).replace(old, new, 1))
    assert any(words in fault for fault in faults), faults


def test_a_large_file_takes_about_a_second() -> None:
    """A megabyte (30,000 entities) must take less than 2 s of processor time."""
    count = 10_000
    lines = [
        f"#{3 * i + 1}=FACE('',#{3 * i + 2},#{3 * i + 3});\n#{3 * i + 2}=POINT('',({i}.,0.,0.));\n"
        f"#{3 * i + 3}=DIRECTION('',(0.,0.,1.));"
        for i in range(count)
    ]
    text = f"{HEADER}DATA;\n" + "\n".join(lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"
    start = time.process_time()
    assert len(re.findall(r"^#", canonical_part21(text), flags=re.MULTILINE)) == 3 * count
    assert time.process_time() - start < 2.0
