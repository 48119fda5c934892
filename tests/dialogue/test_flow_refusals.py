"""What the loader refuses, each with the file and the line: a household must never meet an author's mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from guide_service.dialogue.flow import COMMON_EXITS, SAFETY_EVENTS
from guide_service.dialogue.flow_checks import KNOWN_STATES
from guide_service.dialogue.flow_loader import load_flows
from guide_service.dialogue.strict_yaml import FlowFileError
from guide_service.wording.checking import CARRIER_KEYWORDS

TALK = """\
flow: talk
initial: talk.hello

states:
  talk.hello:
    ask: {id: talk.hello, text: "How is the wall?"}
    answers:
      - {key: wet, label: {id: label.wet, text: "Wet"}, to: talk.rest}
      - {key: dry, label: {id: label.dry, text: "Dry"}, do: [miss], say: [talk.good], to: talk.rest}
    on:
      skip: talk.rest
  talk.rest:
    expect: nothing
    on:
      choice: {to: talk.hello}

messages:
  talk.good: {text: "Good. %(office)s is glad."}
"""
ANYWHERE = """\
flow: anywhere

states:
  stopped:
    final: "true"
    on:
      "*": {}

anywhere:
  danger: {do: [escalate_danger], tell: [danger]}
  stop: {do: [opt_out], to: stopped}
  start: {do: [opt_in], to: talk.hello}
  person: {do: [ask_for_person]}
  repeat: {to: same}
  back: {to: back}
  language: {do: [ask_for_language]}
  "*": {to: same}
"""


def folder_with(folder: Path, talk: str = TALK, anywhere: str = ANYWHERE, **more: str) -> Path:
    files = {"talk.yaml": talk, "anywhere.yaml": anywhere, **{f"{name}.yaml": text for name, text in more.items()}}
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def refused(folder: Path) -> FlowFileError:
    with pytest.raises(FlowFileError) as error:
        load_flows(folder)
    assert str(error.value).startswith(f"{error.value.file}:{error.value.line}: ")
    return error.value


def test_flows_without_a_mistake_are_loaded(tmp_path: Path) -> None:
    flows = load_flows(folder_with(tmp_path))
    assert flows.initial == "talk.hello"
    assert set(flows.states) == {"talk.hello", "talk.rest", "stopped"}
    assert flows.states["talk.hello"].line == 6


def test_the_digest_is_of_every_flow_file(tmp_path: Path) -> None:
    before = load_flows(folder_with(tmp_path)).digest
    assert load_flows(tmp_path).digest == before
    assert load_flows(folder_with(tmp_path, TALK.replace("glad", "happy"))).digest != before


TALK_REFUSALS = [
    # (what is written, what is written instead, the line of the mistake: the one that holds this, the complaint)
    ('"Wet"}, to: talk.rest', '"Wet"}, to: talk.gone', "talk.gone", "unknown target 'talk.gone'"),
    ("skip: talk.rest", "skip: talk.gone", "skip: talk.gone", "unknown target 'talk.gone'"),
    ("skip: talk.rest", "skip: {if: raining, to: talk.rest}", "raining", "unknown guard 'raining'"),
    ("skip: talk.rest", "skip: {if: not raining, to: talk.rest}", "raining", "unknown guard 'raining'"),
    ("do: [miss]", "do: [dance]", "dance", "unknown effect 'dance'"),
    ("skip: talk.rest", "skip: {tell: [fortunes], to: talk.rest}", "fortunes", "unknown telling 'fortunes'"),
    ("say: [talk.good]", "say: [talk.bad]", "talk.bad", "unknown message 'talk.bad'"),
    ("%(office)s", "%(weather)s", "talk.good], to", "the unknown value %(weather)s"),
    ("skip: talk.rest", "sneeze: talk.rest", "sneeze", "unknown event 'sneeze'"),
    ("    on:\n      skip: talk.rest", "    offers: boats", "ask: {id: talk.hello", "unknown offers 'boats'"),
    ("expect: nothing", "expect: miracles", "miracles", "unknown kind of answer 'miracles'"),
    ("expect: nothing", "expects: nothing", "expects", "the state 'talk.rest' has no key 'expects'"),
    ("skip: talk.rest", "skip: {too: talk.rest}", "too:", "a transition has no key 'too'"),
    ("key: wet,", "key: wet, value: 3,", "value: 3", "an answer has no key 'value'"),
    ('{key: wet, label: {id: label.wet, text: "Wet"}, to', "{key: wet, to", "key: wet", "needs a key and a label"),
    ("flow: talk\n", "flow: talk\nstats: {}\n", "stats", "a flow file has no key 'stats'"),
    ("choice: {to: talk.hello}", "choice: {to: talk.hello}\n  talk.lost: {ask: talk.hello, on: {done: talk.rest}}",
     "talk.lost", "'talk.lost' cannot be reached"),
    ("    on:\n      choice: {to: talk.hello}", "", "expect: nothing", "the state 'talk.rest' has no way on"),
    ("expect: nothing\n    on:\n      choice: {to: talk.hello}", "ask: talk.hello\n    expect: count", "ask: talk.",
     "the state 'talk.rest' has no way on"),
    ("expect: nothing", "expect: count", "expect: count", "waits for an answer and asks nothing"),
    ("expect: nothing", "always: [{if: renting, to: talk.hello}]", "always", "the last of always needs no guard"),
    ("skip: talk.rest", "stop: talk.rest", "ask: {id: talk.hello", "stop is handled by anywhere alone"),
    ('text: "How is the wall?"', 'text: "How is the wall?", id: other', "ask: {id", "'id' stands twice"),
    ("skip: talk.rest", "skip: talk.rest\n      skip: talk.rest", "skip: talk.rest", "'skip' stands twice"),
    ("say: [talk.good]", "say: [[talk.good]]", "[[talk.good]]", "a message is an id"),
    ("do: [miss]", "do: [{miss: 1}]", "miss: 1", "do takes names"),
    ("on:\n      skip: talk.rest", "on: skip", "on: skip", "on takes key: value pairs"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "at", "problem"), TALK_REFUSALS, ids=[row[3] for row in TALK_REFUSALS])
def test_a_mistake_of_a_flow_is_refused_at_its_line(tmp_path: Path, old: str, new: str, at: str, problem: str) -> None:
    assert TALK.count(old) == 1
    text = TALK.replace(old, new)
    error = refused(folder_with(tmp_path, text))
    assert problem in error.problem
    assert error.file == "talk.yaml"
    assert at.splitlines()[0] in text.splitlines()[error.line - 1]


@pytest.mark.parametrize("event", [event for event in COMMON_EXITS if event not in SAFETY_EVENTS])
def test_a_state_that_closes_a_common_exit_is_refused(tmp_path: Path, event: str) -> None:
    text = TALK.replace("skip: talk.rest", f"{event}: {{}}")
    error = refused(folder_with(tmp_path, text))
    assert f"does not offer the exit {event}" in error.problem
    assert text.splitlines()[error.line - 1].strip() == f"{event}: {{}}"


@pytest.mark.parametrize("event", SAFETY_EVENTS)
def test_no_state_may_handle_safety_itself(tmp_path: Path, event: str) -> None:
    error = refused(folder_with(tmp_path, TALK.replace("skip: talk.rest", f"{event}: talk.rest")))
    assert (error.file, error.problem) == ("talk.yaml", f"'talk.hello': {event} is handled by anywhere alone")


@pytest.mark.parametrize("event", sorted({*COMMON_EXITS, *SAFETY_EVENTS}))
def test_anywhere_must_offer_every_common_exit(tmp_path: Path, event: str) -> None:
    kept = [line for line in ANYWHERE.splitlines(keepends=True) if not line.startswith(f"  {event}:")]
    # the state stopped must stay reachable, or that is what is refused
    talk = TALK.replace("skip: talk.rest", "skip: stopped")
    error = refused(folder_with(tmp_path, talk, "".join(kept)))
    assert f"no way on for {event}" in error.problem


@pytest.mark.parametrize("word", sorted(CARRIER_KEYWORDS))
@pytest.mark.parametrize("written", [str.upper, str.capitalize, lambda word: f" {word.lower()} "])
def test_an_answer_that_the_carrier_takes_is_refused(tmp_path: Path, word: str, written: object) -> None:
    assert callable(written)
    text = TALK.replace('"Dry"', f'"{written(word)}"')
    error = refused(folder_with(tmp_path, text))
    assert "a word that the carrier takes" in error.problem
    assert "key: dry" in text.splitlines()[error.line - 1]


def test_a_text_over_its_segments_is_refused(tmp_path: Path) -> None:
    fits = "a" * 306  # two segments of 153 seven-bit characters: the carrier's published sizes
    load_flows(folder_with(tmp_path, TALK.replace("Good. %(office)s is glad.", fits)))
    text = TALK.replace("Good. %(office)s is glad.", fits + "a")
    error = refused(folder_with(tmp_path, text))
    assert "'talk.good' may take 3 segments, its budget is 2" in error.problem
    assert "talk.good" in text.splitlines()[error.line - 1]


def test_a_budget_is_counted_with_the_longest_values(tmp_path: Path) -> None:
    text = TALK.replace("Good. %(office)s is glad.", "%(office)s " * 12)
    assert "its budget is 2" in refused(folder_with(tmp_path, text)).problem


def test_flows_without_a_beginning_are_refused(tmp_path: Path) -> None:
    assert (
        "no flow file names the initial state"
        in refused(folder_with(tmp_path, TALK.replace("initial: talk.hello\n", ""))).problem
    )
    error = refused(folder_with(tmp_path, TALK.replace("initial: talk.hello", "initial: talk.hallo")))
    assert "the initial state 'talk.hallo' does not exist" in error.problem


def test_a_state_of_two_files_is_refused(tmp_path: Path) -> None:
    more = "flow: more\nstates:\n  talk.rest:\n    expect: nothing\n    on: {choice: talk.hello}\n"
    error = refused(folder_with(tmp_path, talk2=more))
    assert (error.file, error.line) == ("talk2.yaml", 3)
    assert "the state 'talk.rest' stands twice (also talk.yaml)" in error.problem


def test_a_message_of_two_files_is_refused(tmp_path: Path) -> None:
    more = 'flow: more\nmessages:\n  talk.good: {text: "Fine."}\n'
    error = refused(folder_with(tmp_path, talk2=more))
    assert (error.file, error.line) == ("talk2.yaml", 3)
    assert "talk.good" in error.problem
    assert "talk.yaml" in error.problem


def test_a_mistake_of_anywhere_is_refused_there(tmp_path: Path) -> None:
    text = ANYWHERE.replace("repeat: {to: same}", "repeat: {to: nowhere}")
    error = refused(folder_with(tmp_path, anywhere=text))
    assert (error.file, error.problem) == ("anywhere.yaml", "unknown target 'nowhere'")
    assert "nowhere" in text.splitlines()[error.line - 1]


def known(folder: Path, *states: str) -> Path:
    (folder / KNOWN_STATES).write_text("".join(f"{state}\n" for state in states), encoding="utf-8")
    return folder


def test_a_state_that_is_gone_without_a_successor_is_refused(tmp_path: Path) -> None:
    error = refused(known(folder_with(tmp_path), "talk.hello", "talk.rest", "talk.chat", "stopped"))
    assert (error.file, error.line) == (KNOWN_STATES, 3)
    assert "'talk.chat' is gone and no successor is declared" in error.problem


def test_a_state_that_is_gone_goes_on_in_its_successor(tmp_path: Path) -> None:
    text = TALK + "\nreplaced:\n  talk.chat: talk.talk\n  talk.talk: talk.rest\n"
    flows = load_flows(known(folder_with(tmp_path, text), "talk.hello", "talk.rest", "talk.chat", "talk.talk"))
    assert flows.resume("talk.chat") == "talk.rest"
    assert flows.resume("talk.talk") == "talk.rest"
    assert flows.resume("talk.hello") == "talk.hello"
    with pytest.raises(KeyError):
        flows.resume("talk.never")


@pytest.mark.parametrize(
    ("replaced", "problem"),
    [
        ("talk.chat: talk.nowhere", "'talk.chat' is replaced by the unknown state 'talk.nowhere'"),
        ("talk.rest: talk.hello", "'talk.rest' is replaced and still there"),
    ],
)
def test_a_successor_that_cannot_be_is_refused(tmp_path: Path, replaced: str, problem: str) -> None:
    error = refused(folder_with(tmp_path, TALK + f"\nreplaced:\n  {replaced}\n"))
    assert error.problem == problem
