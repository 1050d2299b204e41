"""Comments as the stamp and the headers see them."""

from hypothesis import given
from hypothesis import strategies as st

from roundwright.errors import ProgramError
from roundwright.read import comments, read_program


def test_comments_in_order():
    data = b"%\n(one) G1 X1 (two) ; three (x)\nG1 (four ; x\n\xef ;\n%\n(behind the end)\n"
    assert list(comments(read_program(data))) == [
        (1, b"one"),
        (1, b"two"),
        (1, b" three (x)"),
        (2, b"four ; x"),
        (3, b""),
    ]


def test_a_tape_mark_holds_no_comment():
    assert list(comments(read_program(b"% (title)\nG1 X1\n"))) == []


@given(st.binary(max_size=300).map(lambda noise: noise.replace(b"%", b"d")), st.sampled_from("AdZ"))
def test_with_a_letter_every_comment_that_has_it_is_there(noise: bytes, letter: str):
    try:
        program = read_program(b"(D) G1\n" + noise + b"\n;d")
    except ProgramError:
        return
    having = [c for c in comments(program) if letter.lower().encode() in c[1].lower()]
    found = list(comments(program, letter))
    assert [c for c in found if c in having] == having
    assert all(letter.lower().encode() in program.line_text(line).lower() for line, _ in found)
