"""The manual: a page a topic, Markdown files that travel with the program."""

from __future__ import annotations

from importlib.resources import files


def topics() -> dict[str, str]:
    """Each topic with its title, in the order of the alphabet."""
    pages = (page for page in files(__name__).iterdir() if page.name.endswith(".md"))
    return {
        page.name.removesuffix(".md"): page.read_text(encoding="utf-8").partition("\n")[0].removeprefix("# ")
        for page in sorted(pages, key=lambda page: page.name)
    }


def page(topic: str) -> str:
    """The text of a topic. KeyError if there is none of that name."""
    if topic not in topics():
        raise KeyError(topic)
    return (files(__name__) / f"{topic}.md").read_text(encoding="utf-8")
