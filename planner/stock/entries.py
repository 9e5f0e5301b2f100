"""One livestock file as text entries with places: the narrow door through which the catalogue reads YAML.

The C parser composes the tree; a resolver that never guesses a type keeps every value as it was written. This is
twice as fast as building typed values (211 animals in well under 40 ms) and is where another reader would be put.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import yaml
from yaml.cyaml import CParser  # type: ignore[attr-defined]  # the stubs leave it out

from planner.files.read_file import FileRefused, read_plain_file
from planner.terms.problems import Place, Problem, nearest


class _TextParser(CParser):
    """libyaml's composer with every scalar left as text."""

    def resolve(self, kind: object, value: object, implicit: object) -> str:  # noqa: ARG002  # libyaml asks so
        return "text"

    def descend_resolver(self, parent: object, index: object) -> None:  # noqa: ARG002
        return None

    def ascend_resolver(self) -> None:
        return None


class Entry:
    """A mapping of a livestock file: keys to text, lists of text, or further mappings, and where it stands."""

    __slots__ = ("_nodes", "file", "place")

    def __init__(self, nodes: Mapping[str, yaml.Node], place: Place) -> None:
        self._nodes = nodes
        self.place = place
        self.file = place.file

    def keys(self) -> tuple[str, ...]:
        return tuple(self._nodes)

    def place_of(self, key: str) -> Place:
        """Where the value of a key stands."""
        return _place(self.file, self._nodes[key]) if key in self._nodes else self.place

    def text(self, key: str, otherwise: str = "") -> str:
        node = self._nodes.get(key)
        return otherwise if node is None else str(node.value)

    def number(self, key: str, otherwise: float = 0.0) -> float:
        """Raises ValueError naming the key when the text is no finite number."""
        node = self._nodes.get(key)
        if node is None:
            return otherwise
        try:
            value = float(node.value)
        except (TypeError, ValueError):
            value = float("nan")
        if not -1e12 < value < 1e12:
            raise ValueError(f"{key} is no number: {node.value}")
        return value

    def words(self, key: str, otherwise: tuple[str, ...] = ()) -> tuple[str, ...]:
        node = self._nodes.get(key)
        if node is None:
            return otherwise
        items = node.value if isinstance(node, yaml.SequenceNode) else [node]  # one bare word is a list of one
        return tuple([str(item.value) for item in items])

    def pairs(self, key: str) -> Iterator[tuple[str, str]]:
        node = self._nodes.get(key)
        if node is None:
            return
        for item in node.value:
            first, second = item.value
            yield str(first.value), str(second.value)

    def block(self, key: str, problems: list[Problem]) -> Iterator[tuple[str, Entry]]:
        """The mappings below `key`, by name."""
        node = self._nodes.get(key)
        if node is None:
            return
        for name, value in _pairs(node, self.file, problems).items():
            if isinstance(value, yaml.MappingNode):
                yield name, Entry(_pairs(value, self.file, problems), _place(self.file, value))

    def listed(self, key: str, problems: list[Problem]) -> Iterator[Entry]:
        """The mappings of the list at `key`."""
        node = self._nodes.get(key)
        if not isinstance(node, yaml.SequenceNode):
            return
        for item in node.value:
            yield Entry(_pairs(item, self.file, problems), _place(self.file, item))

    def over(self, below: Entry) -> Entry:
        """This entry on top of `below`, with this entry's place."""
        return Entry({**below._nodes, **self._nodes}, self.place)

    def same(self, other: Entry) -> bool:
        """Do both say the same, wherever they stand?"""
        return self._nodes.keys() == other._nodes.keys() and all(self.words(key) == other.words(key) for key in self._nodes)

    def without(self, keys: Sequence[str]) -> Entry:
        return Entry({k: n for k, n in self._nodes.items() if k not in keys}, self.place)

    def missing(self, keys: Sequence[str], problems: list[Problem]) -> bool:
        """Reports every key that is not there; true if any."""
        lacking = [key for key in keys if key not in self._nodes]
        for key in lacking:
            problems.append(Problem(self.place, "missing_key", f"an animal without '{key}'", f"add '{key}'"))
        return bool(lacking)

    def check(self, keys: frozenset[str], words: Mapping[str, frozenset[str]], numbers: frozenset[str], problems: list[Problem]) -> None:
        """Reports unknown keys, unknown words and texts where a number belongs."""
        for key, node in self._nodes.items():
            if key not in keys:
                known = nearest(key, keys)
                fix = f"write '{known}'" if known else f"use one of the known keys: {', '.join(sorted(keys))}"
                problems.append(Problem(_place(self.file, node), "unknown_key", f"unknown key '{key}'", fix))
            elif key in words:
                values = [n.value for n in node.value] if isinstance(node, yaml.SequenceNode) else [node.value]
                for value in values:
                    if value not in words[key]:
                        known = nearest(str(value), words[key])
                        fix = f"write '{known}'" if known else f"use one of: {', '.join(sorted(words[key]))}"
                        problems.append(
                            Problem(
                                _place(self.file, node),
                                "unknown_word",
                                f"'{value}' is no word for '{key}'",
                                fix,
                            )
                        )
            elif key in numbers:
                try:
                    if self.number(key) < 0:
                        raise ValueError(f"{key} cannot be less than nothing: {self.text(key)}")
                except ValueError as error:
                    problems.append(Problem(_place(self.file, node), "no_number", str(error), "write a number"))


def _place(file: str, node: yaml.Node) -> Place:
    return Place(file, node.start_mark.line + 1, node.start_mark.column + 1)


def _pairs(node: yaml.Node, file: str, problems: list[Problem]) -> dict[str, yaml.Node]:
    if not isinstance(node, yaml.MappingNode):
        problems.append(Problem(_place(file, node), "no_mapping", "expected 'key: value' pairs here", "write pairs"))
        return {}
    found: dict[str, yaml.Node] = {key.value: value for key, value in node.value}
    if len(found) < len(node.value):
        problems.append(Problem(_place(file, node), "twice", "a key stands here twice", "keep one of them"))
    return found


@contextmanager
def without_collection() -> Iterator[None]:
    """No garbage collection meanwhile: a catalogue is some fifty thousand small objects and no garbage, and walking
    them again and again costs a third of the time to read it (measured)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _place_of(error: yaml.YAMLError, text: str, file: str) -> Place:
    """Of a sign that no YAML may hold the library gives the position in the text instead of a mark."""
    if isinstance(error, yaml.reader.ReaderError):
        before = text[:error.position]
        return Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
    mark = getattr(error, "problem_mark", None)
    return Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1)


def read_entry(path: Path, problems: list[Problem], file: str) -> Entry | None:
    """The file's top mapping, or None with a problem if it cannot be read as YAML. `file` is how it is called."""
    text = ""
    try:
        text = read_plain_file(path).decode("utf-8-sig")
        root = _TextParser(text).get_single_node()
    except yaml.YAMLError as error:
        problems.append(Problem(_place_of(error, text, file), "bad_yaml", "this line cannot be read", "check brackets, quotes and indents, and take out signs that cannot be seen"))
        return None
    except FileRefused as error:
        problems.append(Problem(Place(file), error.code, error.message, error.fix))
        return None
    except (OSError, UnicodeDecodeError):
        problems.append(Problem(Place(file), "unreadable", "this file cannot be read", "save it as UTF-8 text"))
        return None
    if root is None:
        return None
    return Entry(_pairs(root, file, problems), Place(file, 1, 1))
