from pathlib import Path

import pytest

from guide_service.dialogue.strict_yaml import FlowFileError, Mapping, Sequence, load_strict, mappings, parse_strict


def test_every_scalar_stays_the_word_that_was_written() -> None:
    top = parse_strict("on: no\ntime: 12:30\nnumber: 014\nnothing:\nlist: [yes, 1e3, ~, 2026-12-01]\n", "x.yaml")
    assert top == {
        "on": "no",
        "time": "12:30",
        "number": "014",
        "nothing": "",
        "list": ["yes", "1e3", "~", "2026-12-01"],
    }


def test_mappings_and_lists_know_their_lines() -> None:
    top = parse_strict("# first\na:\n  b: 1\n  c:\n    - x\n    - y: 2\n", "x.yaml")
    inner = top["a"]
    assert isinstance(inner, Mapping)
    assert (top.line, top.lines, inner.line, inner.lines) == (2, {"a": 2}, 3, {"b": 3, "c": 4})
    items = inner["c"]
    assert isinstance(items, Sequence)
    assert (items.line, items.lines) == (5, [5, 6])
    assert str(inner.error("bad", "c")) == "x.yaml:4: bad"
    assert str(items.error("bad", 1)) == "x.yaml:6: bad"
    assert [m.line for m in mappings(top)] == [2, 3, 6]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, "'a' stands twice, first at line 1"),
        ("x:\n  on: 1\n  'on': 2\n", 3, "'on' stands twice"),
        ("a: &n {k: 1}\nb: *n\n", 1, "alias"),
        ("a: &n [*n]\n", 1, "alias"),
        ("a: {<<: {k: 1}}\n", 1, "merge key"),
        ("a: !!int 3\n", 1, "tag"),
        ("a: !!python/object:os.system x\n", 1, "tag"),
        ("? [a, b]\n: 1\n", 1, "a key is one word"),
        ("- a\n", 1, "top of a flow file"),
        ("", 1, "top of a flow file"),
        ("a: 1\n---\nb: 2\n", 2, "another document"),
        ("a: 1\n b: 2\n", 2, ""),
        ("a: 'open\n", 2, ""),
        ("a: \x07\n", 1, ""),
    ],
)
def test_refused_with_file_and_line(text: str, line: int, words: str) -> None:
    with pytest.raises(FlowFileError) as caught:
        parse_strict(text, "x.yaml")
    assert str(caught.value).startswith(f"x.yaml:{line}: ")
    assert words in caught.value.problem


def test_a_file_is_read_as_utf8_or_refused(tmp_path: Path) -> None:
    good = tmp_path / "good.yaml"
    good.write_bytes("a: más\n".encode())
    assert load_strict(good) == {"a": "más"}
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(b"a: m\xe1s\n")
    with pytest.raises(FlowFileError, match=r"^bad\.yaml:1: not UTF-8"):
        load_strict(bad)
