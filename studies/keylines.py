"""On which line of a TOML text each key stands; ``tomllib`` does not say.

The text must already have been accepted by ``tomllib``: this scanner only follows it.
"""

import tomllib
from collections.abc import Mapping

from studies.faults import KeyPath

_BLANK = " \t"
_SPACE = " \t\r\n"


def key_lines(text: str) -> dict[KeyPath, int]:
    """Lines of all keys of a valid TOML text.

    Parameters
    ----------
    text : str
        As ``tomllib.loads`` takes it.

    Returns
    -------
    dict
        Line, counted from 1, of each key path; lists by place from 0. A table stands where it is first named.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """Line of ``path``, or of the innermost table around it that is in the file; None where there is none."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


class _Scanner:
    """A cursor over the text that notes lines as it goes."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self.table_counts: dict[KeyPath, int] = {}

    def document(self) -> None:
        table: KeyPath = ()
        while self.skip(_SPACE):
            if self.text.startswith("[[", self.at):
                table = self.header("]]")
            elif self.text[self.at] == "[":
                table = self.header("]")
            else:
                self.pair(table)

    def header(self, closing: str) -> KeyPath:
        """Read ``[a.b]`` or ``[[a.b]]``; a name that is a list of tables means its last table."""
        self.at += len(closing)
        line, keys = self.line, self.key()
        self.skip(_BLANK)
        self.at += len(closing)
        path: KeyPath = ()
        for i, key in enumerate(keys):
            path += (key,)
            self.lines.setdefault(path, line)
            if closing == "]]" and i == len(keys) - 1:
                self.table_counts[path] = self.table_counts.get(path, 0) + 1
            if path in self.table_counts:
                path += (self.table_counts[path] - 1,)
                self.lines.setdefault(path, line)
        return path

    def pair(self, table: KeyPath) -> None:
        """Read ``key = value`` inside ``table``."""
        line, path = self.line, table
        for key in self.key():
            path += (key,)
            self.lines.setdefault(path, line)
        self.skip(_BLANK)
        self.step()  # the equals sign
        self.skip(_BLANK)
        self.value(path)

    def key(self) -> tuple[str, ...]:
        """Read a dotted key."""
        parts: list[str] = []
        while True:
            self.skip(_BLANK)
            start = self.at
            if self.text[self.at] in "\"'":
                self.string()
                parts.append(tomllib.loads("k=" + self.text[start : self.at])["k"])
            else:
                while self.text[self.at].isalnum() or self.text[self.at] in "-_":
                    self.at += 1
                parts.append(self.text[start : self.at])
            self.skip(_BLANK)
            if self.text[self.at] != ".":
                return tuple(parts)
            self.at += 1

    def value(self, path: KeyPath) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}#\n":
                self.at += 1

    def array(self, path: KeyPath) -> None:
        self.step()
        index = 0
        while self.skip(_SPACE) and self.text[self.at] != "]":
            self.lines[(*path, index)] = self.line
            self.value((*path, index))
            index += 1
            self.skip(_SPACE)
            if self.text[self.at] == ",":
                self.step()
        self.step()

    def inline_table(self, path: KeyPath) -> None:
        self.step()
        while self.skip(_SPACE) and self.text[self.at] != "}":
            self.pair(path)
            self.skip(_SPACE)
            if self.text[self.at] == ",":
                self.step()
        self.step()

    def string(self) -> None:
        """Step over a string of any of the four kinds."""
        mark = self.text[self.at]
        quote = mark * 3 if self.text.startswith(mark * 3, self.at) else mark
        self.at += len(quote)
        while not self.text.startswith(quote, self.at):
            self.step()
            if mark == '"' and self.text[self.at - 1] == "\\":
                self.step()
        self.at += len(quote)
        while len(quote) == 3 and self.text.startswith(mark, self.at):
            self.at += 1  # up to two quotation marks may touch the closing three

    def skip(self, blanks: str) -> bool:
        """Step over blanks and, between lines, comments; whether any text is left."""
        while self.at < len(self.text):
            if self.text[self.at] == "#" and "\n" in blanks:
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self.text[self.at] in blanks:
                self.step()
            else:
                return True
        return False

    def step(self) -> None:
        self.line += self.text[self.at] == "\n"
        self.at += 1
