"""Text written in Markdown, as far as the manual uses it, for a page of any width."""

from __future__ import annotations

import re
from itertools import groupby

from rich.text import Text

_PIECES = re.compile(r"`([^`]+)`|\*\*([^*]+)\*\*|\[([^\]]+)\]\([^)]*\)")
_CELLS = re.compile(r"(?<!\\)\|")
_RULE = re.compile(r"[|\s:-]+")


def as_text(source: str) -> Text:
    """The text with what is marked in bold; paragraphs are lines of their own, to be wrapped where shown."""
    text = Text()
    blocks = source.split("```")
    for at, block in enumerate(blocks):
        if at % 2:  # code: between fences, after the name of its language
            for line in block.splitlines()[1:]:
                text.append(f"  {line}\n")
            text.append("\n")
            continue
        for kind, lines in groupby(block.strip().splitlines(), _kind):
            _add(text, kind, [line.strip() for line in lines])
        text.append("\n")
    text.rstrip()
    return text


def _kind(line: str) -> str:
    stripped = line.strip()
    return "head" if stripped.startswith("#") else "row" if stripped.startswith("|") else stripped and "words"


def _add(text: Text, kind: str, lines: list[str]) -> None:
    if kind == "head":
        text.append("\n".join(line.lstrip("# ") for line in lines) + "\n", "bold")
    elif kind == "row":
        for line in lines:
            if not _RULE.fullmatch(line):
                first, *rest = [cell.strip().replace("\\|", "|") for cell in _CELLS.split(line.strip("|"))]
                _inline(
                    text, " · ".join([f"**{first.replace('`', '')}**" if first else "", *filter(None, rest)])
                )
    elif kind == "words":
        for paragraph in re.split(r"\n(?=(?:[-*]|\d+\.) )", "\n".join(lines)):
            _inline(text, paragraph.replace("\n", " "))
    else:
        text.append("\n")


def _inline(text: Text, words: str) -> None:
    """A line, its code and its strong words in bold, its links by their words."""
    at = 0
    for found in _PIECES.finditer(words):
        text.append(words[at : found.start()])
        text.append(found[1] or found[2] or found[3], "bold" if found[3] is None else "")
        at = found.end()
    text.append(f"{words[at:]}\n")
