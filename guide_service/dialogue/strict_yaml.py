"""Flow files as text: a YAML reader in which every scalar is a string and nothing happens twice.

Why not the usual loader: YAML 1.1 turns ``on``, ``no``, ``12:30`` and ``1e3`` into other things than the author wrote,
and a key written twice silently drops the first. Here ``on`` stays ``"on"``, and a repeated key, an alias, a tag or a
second document is refused with file and line. Values are ``Mapping``, ``Sequence`` and ``str``; the first two know
their lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import yaml

_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_PLAIN_TAGS = frozenset({"tag:yaml.org,2002:str", "tag:yaml.org,2002:seq", "tag:yaml.org,2002:map"})


class FlowFileError(ValueError):
    """Something in a flow file is refused. Reads ``check.yaml:12: the key 'on' stands twice``."""

    def __init__(self, file: str, line: int, problem: str) -> None:
        super().__init__(f"{file}:{line}: {problem}")
        self.file = file
        self.line = line
        self.problem = problem


class Mapping(dict[str, "Value"]):
    """A mapping that knows where it stands: its own ``line``, and in ``lines`` the line of each key."""

    def __init__(self, file: str, line: int) -> None:
        super().__init__()
        self.file = file
        self.line = line
        self.lines: dict[str, int] = {}

    def error(self, problem: str, key: str | None = None) -> FlowFileError:
        """The error to raise about this mapping, at the line of ``key`` when that is given and there."""
        return FlowFileError(self.file, self.lines.get(key, self.line) if key else self.line, problem)


class Sequence(list["Value"]):
    """A list that knows its own ``line``, and in ``lines`` the line of each item."""

    def __init__(self, file: str, line: int) -> None:
        super().__init__()
        self.file = file
        self.line = line
        self.lines: list[int] = []

    def error(self, problem: str, index: int | None = None) -> FlowFileError:
        """The error to raise about this list, at the line of item ``index`` when that is given."""
        return FlowFileError(self.file, self.line if index is None else self.lines[index], problem)


Value = str | Mapping | Sequence


def load_strict(path: Path) -> Mapping:
    """Read one flow file, whose top is a mapping. Raises ``FlowFileError``; errors name the file without its folder."""
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise FlowFileError(path.name, 1, f"not UTF-8 text: {error.reason} at byte {error.start}") from error
    return parse_strict(text, path.name)


def parse_strict(text: str, file: str) -> Mapping:
    """The same from a string; ``file`` is the name that errors show."""
    try:
        root = yaml.compose(text, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        raise FlowFileError(file, line, error.problem or error.context or "not YAML") from error
    except yaml.YAMLError as error:
        raise FlowFileError(file, 1, str(error).partition("\n")[0]) from error
    if not isinstance(root, yaml.MappingNode):
        raise FlowFileError(file, 1, "the top of a flow file is a mapping (key: value)")
    value = _Reader(file).value(root)
    assert isinstance(value, Mapping)
    return value


def mappings(value: Value) -> Iterator[Mapping]:
    """Every mapping inside ``value``, itself first, in the order of the file."""
    if isinstance(value, Mapping):
        yield value
        for inner in value.values():
            yield from mappings(inner)
    elif isinstance(value, Sequence):
        for inner in value:
            yield from mappings(inner)


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.seen: set[int] = set()

    def value(self, node: yaml.Node) -> Value:
        if id(node) in self.seen:
            raise self.error(node, "an alias (*name): write it out, or refer to an id")
        self.seen.add(id(node))
        if node.tag and node.tag not in _PLAIN_TAGS:
            raise self.error(node, f"a tag ({node.tag}): everything here is plain text")
        if isinstance(node, yaml.MappingNode):
            return self.mapping(node)
        if isinstance(node, yaml.SequenceNode):
            return self.sequence(node)
        return str(node.value)

    def mapping(self, node: yaml.MappingNode) -> Mapping:
        result = Mapping(self.file, _line(node))
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode):
                raise self.error(key_node, "a key is one word or phrase, not a list or mapping")
            key = str(self.value(key_node))
            if key == "<<":
                raise self.error(key_node, "a merge key (<<): write it out")
            if key in result:
                raise self.error(key_node, f"the key {key!r} stands twice, first at line {result.lines[key]}")
            result[key] = self.value(value_node)
            result.lines[key] = _line(key_node)
        return result

    def sequence(self, node: yaml.SequenceNode) -> Sequence:
        result = Sequence(self.file, _line(node))
        for item in node.value:
            result.append(self.value(item))
            result.lines.append(_line(item))
        return result

    def error(self, node: yaml.Node, problem: str) -> FlowFileError:
        return FlowFileError(self.file, _line(node), problem)


def _line(node: yaml.Node) -> int:
    return int(node.start_mark.line) + 1
