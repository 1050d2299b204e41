"""Every key and item of a TOML text is found on the line on which it stands."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.calibration.document import read_document

NAMES = st.sampled_from(["a", "b-1", '"q.x"', "'l'", '"e\\"s"', "date", "1"])
SCALARS = st.sampled_from(
    ["1", "-2.5e3", "true", '"x # ] }"', "'[{'", '"\\\\"', '"a\\"]"', "2026-10-03",
     "2026-10-03 10:00:00", "nan", '""',
     '"""\none\n\\"""two\n"""', "'''\n]\n'''", '"""a"""""', "''''b'''"]
)  # fmt: skip
GAPS = st.sampled_from(["", " ", "\n", " # note ] }\n", "\n\n\t", "\r\n"])


@st.composite
def arrays(draw, depth):
    items = draw(st.lists(values(depth - 1), max_size=3))
    return "[" + ",".join(draw(GAPS) + item + draw(GAPS) for item in items) + draw(GAPS) + "]"


@st.composite
def inline_tables(draw, depth):
    keys = draw(st.lists(NAMES, max_size=3, unique=True))
    return "{" + ",".join(f" {key} = {draw(values(depth - 1))} " for key in keys) + "}"


def values(depth):
    return SCALARS if depth <= 0 else st.one_of(SCALARS, arrays(depth), inline_tables(depth))


@st.composite
def pairs(draw):
    keys = draw(st.lists(NAMES, max_size=4, unique=True))
    return "".join(
        f"{draw(GAPS)}{key} = {draw(values(2))}{draw(st.sampled_from(['', ' # c']))}\n" for key in keys
    )


@st.composite
def texts(draw):
    text = draw(pairs())
    for n in range(draw(st.integers(0, 3))):
        name = draw(
            st.sampled_from(["[t{0}]", "[t{0} . u]", "[[list]]", "[[list]]\n[list.sub]", "[[t{0}.v]]"])
        )
        text += name.format(n) + "\n" + draw(pairs())
    return text


def every_path(value, path=()):
    if path:
        yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from every_path(inner, (*path, key))
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            yield from every_path(inner, (*path, position))


@settings(max_examples=300, deadline=None)
@given(texts())
def test_every_path_has_its_line(text):
    values = tomllib.loads(text)
    document = read_document(text, "t")
    rows = text.split("\n")
    paths = set(every_path(values))
    assert paths == set(document.lines) - {()}
    for path in paths:
        row = rows[document.lines[path] - 1]
        key = path[-1]
        if isinstance(key, str):
            assert key.replace('"', '\\"') in row


@settings(max_examples=200, deadline=None)
@given(texts(), st.integers(0, 5))
def test_lines_move_with_what_stands_above(text, blanks):
    plain = read_document(text, "t").lines
    moved = read_document("# above\n" * blanks + text, "t").lines
    assert moved == {path: line + blanks if path else line for path, line in plain.items()}


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a", "b"), 1),
        (("t", 1, "x"), 7),
        (("t", 0, "u", "y"), 5),
        (("t", 1, "x", 1), 9),
        (("t", 1, "x", 1, "z"), 10),
    ],
)
def test_lines_of_a_text_by_hand(path, line):
    text = "a.b = 1\n[[t]]\nx = 1\n[t.u]\ny = 2\n[[t]]\nx = [1,\n\n{ q = 0,\n z = 2 }]\n"
    assert read_document(text, "t").lines[path] == line


def test_what_is_absent_is_placed_where_it_belongs():
    document = read_document("[t]\nx = 1\n", "t")
    assert document.line(("t", "y")) == 1
    assert document.line(("z",)) == 1
