"""Programs made of pieces of grammar, sane and odd, for the reader's property tests."""

from __future__ import annotations

from hypothesis import strategies as st

numbers = st.one_of(
    st.integers(0, 99).map(lambda n: b"%d" % n),
    st.decimals(-9999, 9999, places=3).map(lambda d: str(d).encode()),
    st.from_regex(rb"[+-]?([0-9]{1,12}(\.[0-9]{0,12})?|\.[0-9]{1,17})", fullmatch=True),
    st.from_regex(rb"[+-]?[ \t]?[0-9]{1,3}[ \t]?\.?[ \t]?[0-9]{0,9}[ \t]?", fullmatch=True),
)
letters = st.sampled_from([bytes([code]) for code in b"ABCDEFGHIJKLMNPQRSTUVWXYZabcdefghijklmnpqrstuvwxyz"])
blanks = st.sampled_from([b"", b"", b" ", b" ", b"  ", b"\t", b" \t ", b" " * 20])
words = st.tuples(letters, blanks, numbers, blanks).map(b"".join)
comment_text = st.binary(max_size=12).map(lambda b: b.translate(None, b"\r\n"))
comments = st.one_of(
    comment_text.map(lambda b: b"(" + b.replace(b")", b"") + b")"),
    st.sampled_from([b"(a (b))", b"(G1 X5)", b"()", b"(x;y)", b"(one)(two)"]),
)
closings = st.one_of(
    st.just(b""), comment_text.map(lambda b: b";" + b), st.sampled_from([b"*71", b"* 1 2", b"(open"])
)
openings = st.sampled_from(
    [b"", b"", b"", b"/", b"/2", b"N10 ", b"N5/", b" /N7 ", b"O1000 ", b":7", b"%", b"N9 %"]
)
oddities = st.sampled_from(
    b"X|X-|X--1|X1.2.3|X4.5e-17|X4.5E5|1|e5|Y13.8E22.4|X[#1+2]|X#5|X sin[30]|#1=5|#<name>=[2]|R1=5|X=3|"
    b"o100 sub|o<hole> call [1][2]|IF[#1 EQ 2]GOTO 5|WHILE|DEF REAL|O|:|*|*5|**5|/|)|(|(a (b) X1 )|[|]|#|@|^|"
    b"!|,|=|<|>|%|X99999999999|X89999999999.99999999|X90000000000|X1e400|X.|X+|\0|\x1a|\x80|\xef\xbb\xbf|"
    b"N|G|+|-|.|5".split(b"|")
)
sane_lines = st.tuples(
    openings, st.lists(st.one_of(words, words, words, comments), max_size=6).map(b"".join), closings
)
odd_lines = st.tuples(
    openings, st.lists(st.one_of(words, oddities, comments, blanks), max_size=6).map(b"".join), closings
)
letters_only = st.lists(
    st.sampled_from([bytes([c]) for c in b"GXYE1250.-+ \t();*/%NO:#[]=@\r\n"]), max_size=40
)
line_ends = st.sampled_from([b"\n", b"\r\n", b"\r"])
lines = st.one_of(sane_lines, odd_lines).map(b"".join)
steady = st.tuples(line_ends, st.lists(lines, max_size=12)).map(lambda pair: pair[0].join(pair[1]))
mixed = st.lists(st.tuples(lines, line_ends).map(b"".join), max_size=12).map(b"".join)
starts = st.sampled_from([b"", b"", b"", b"\xef\xbb\xbf", b"%\n", b"\xef\xbb\xbf%\r\n", b"\n \n"])

#: whole programs: sane, odd and garbage lines, every kind of line end, with and without the last one.
programs = st.tuples(
    starts, st.one_of(steady, mixed, letters_only.map(b"".join), st.binary(max_size=60))
).map(b"".join)
