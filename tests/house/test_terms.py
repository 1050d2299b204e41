"""One word for one thing: the terms have meaning and source, and texts for people keep to them."""

from __future__ import annotations

import re

import click
import pytest

from command import commands_below
from source_tree import ROOT

#: what is said otherwise, and the only words beside which it may stand.
UNSAID = {
    "deviation": ("limit", "standard"),
    "deviations": ("limit", "standard"),
    "adjustment": (),
    "pocket": (),
    "segment": (),
    "operation": (),
    "toolpath": (),
}
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TERMS = DEVELOPERS.partition("## Terms")[2].partition("\n## ")[0]


def texts() -> dict[str, str]:
    """What people and scripts read: documents, schemas, and the help of every command."""
    paths = [ROOT / "README.md", *(ROOT / "samples").glob("*.md"), *(ROOT / "shared" / "schemas").iterdir()]
    found = {path.name: path.read_text(encoding="utf-8") for path in paths}
    for path, command in commands_below():
        context = click.Context(command, info_name=" ".join(("roundwright", *path)))
        found[f"help of {context.info_name}"] = command.get_help(context)
    return found


def unsaid(text: str) -> list[str]:
    """The words of a text that are not this project's."""
    words = re.findall(r"[a-z]+", text.lower())
    pairs = zip(["", *words], words, strict=False)
    return [word for before, word in pairs if word in UNSAID and before not in UNSAID[word]]


def test_every_term_has_one_meaning_and_a_source():
    rows = re.findall(r"^\| (.+?) \| (.+?) \| (.+?) \|$", TERMS, re.MULTILINE)[2:]
    terms = [term for row in rows for term in row[0].split(", ")]
    assert len(rows) > 25 and len(terms) == len(set(terms))
    assert all(re.match(r"own|trade|NIST|VIM|GUM|ISO", source) for _, _, source in rows)
    assert len(rows) == len(re.findall(r"^\| ", TERMS, re.MULTILINE)) - 2, "every row has three cells"


@pytest.mark.parametrize("name", texts())
def test_texts_for_people_keep_to_the_terms(name):
    assert unsaid(texts()[name]) == []


def test_another_word_would_be_seen():
    assert unsaid("The deviation of this pocket. A limit deviation.") == ["deviation", "pocket"]
