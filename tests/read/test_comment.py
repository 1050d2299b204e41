"""Comments as the stamp and the headers see them."""

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
