from pathlib import Path

import pytest

from guide_service.dialogue.strict_yaml import FlowFileError
from guide_service.wording.messages import load_messages

FLOW = """\
id: check
messages:
  band.dry:
    text: "%(place)s: this place reads dry today."
    kind: line
  short: Thank you.
states:
  ask_reading:
    say:
      id: check.ask
      text: >
        Read %(place)s.
        Text the number.
      note: Asked at each point.
      spoken: Please read %(place)s, then say the number.
    answers:
      - id: check.answer_later
        text: later
  gas:
    say: [{id: danger.gas, text: Get out now., critical: "true", budget: "1"}]
    then: short
  count:
    say: {id: check.places, text: "%(count)s place", plural: "%(count)s places"}
"""


def written(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


def refusal(folder: Path, text: str) -> str:
    with pytest.raises(FlowFileError) as caught:
        load_messages(written(folder, a=text))
    return str(caught.value)


def test_messages_are_found_at_any_depth_and_under_messages(tmp_path: Path) -> None:
    messages = load_messages(written(tmp_path, check=FLOW))
    assert sorted(messages) == [
        "band.dry",
        "check.answer_later",
        "check.ask",
        "check.places",
        "danger.gas",
        "short",
    ]
    ask = messages["check.ask"]
    assert ask.text == "Read %(place)s. Text the number."
    assert ask.note == "Asked at each point."
    assert ask.spoken == "Please read %(place)s, then say the number."
    assert (ask.budget, ask.critical, ask.kind) == (2, False, "message")
    assert (ask.file, ask.line) == ("check.yaml", 10)


def test_optional_keys(tmp_path: Path) -> None:
    messages = load_messages(written(tmp_path, check=FLOW))
    assert messages["danger.gas"].critical is True
    assert messages["danger.gas"].budget == 1
    assert messages["check.places"].plural == "%(count)s places"
    assert messages["band.dry"].kind == "line"
    assert messages["short"].text == "Thank you."


def test_a_message_id_defined_twice_names_both_places(tmp_path: Path) -> None:
    folder = written(tmp_path, a="s:\n  id: same\n  text: One.\n", b="messages:\n  other: Two.\n  same: Three.\n")
    with pytest.raises(FlowFileError, match=r"^b\.yaml:3: .*'same'.*a\.yaml:2$"):
        load_messages(folder)


def test_twice_in_one_file_is_refused_too(tmp_path: Path) -> None:
    assert refusal(tmp_path, "messages: {x: One.}\ns: {id: x, text: Two.}\n").startswith("a.yaml:2: ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("messages: {x: {note: no text}}\n", "no 'text'"),
        ("messages: {x: {text: One., plurals: Ones.}}\n", "plurals"),
        ("messages: [x]\n", "mapping of ids"),
        ("messages: {x: {id: y, text: One.}}\n", "another id"),
        ("s: {id: Bad Id, text: One.}\n", "not an id"),
        ("s: {id: x, text: ' '}\n", "empty"),
        ("s: {id: x, text: [One.]}\n", "'text' is a text"),
        ("s: {id: x, text: One., budget: '4'}\n", "from 1 to 3"),
        ("s: {id: x, text: One., critical: yes}\n", "'critical'"),
        ("s: {id: x, text: One., kind: lines}\n", "'kind'"),
    ],
)
def test_what_is_refused_says_where_and_why(tmp_path: Path, text: str, words: str) -> None:
    problem = refusal(tmp_path, text)
    assert problem.startswith("a.yaml:1: ")
    assert words in problem
