"""Block digits and letters: our own design, drawn in half-character squares, to be read from the set.

A digit is drawn as bars on a frame of three rails and two posts, with its outer corners taken off so that
it does not look like a clock radio. Letters for words have one size, three rows high.
"""

from __future__ import annotations

from functools import lru_cache
from unicodedata import combining, normalize

from rich.style import Style

from onecrew.tui.drawing.canvas import Canvas, wrap

Pixels = tuple[tuple[bool, ...], ...]

# Bars: t, m, b the top, middle and bottom rails; a, d the upper and lower left posts; c, e the right ones.
_BARS = {
    "0": "tbadce", "2": "tcmdb", "3": "tcmeb", "4": "acme", "5": "tameb",
    "6": "tamdeb", "7": "tce", "8": "tmbadce", "9": "tacmeb", "-": "m",
}  # fmt: skip

_LETTERS = {
    "A": ".###. #...# #...# ##### #...# #...#",
    "B": "####. #...# ####. #...# #...# ####.",
    "C": ".#### #.... #.... #.... #.... .####",
    "D": "####. #...# #...# #...# #...# ####.",
    "E": "##### #.... ####. #.... #.... #####",
    "F": "##### #.... ####. #.... #.... #....",
    "G": ".#### #.... #.### #...# #...# .####",
    "H": "#...# #...# ##### #...# #...# #...#",
    "I": "### .#. .#. .#. .#. ###",
    "J": "..### ...#. ...#. ...#. #..#. .##..",
    "K": "#..#. #.#.. ##... #.#.. #..#. #...#",
    "L": "#.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #...# #...# #...#",
    "N": "#...# ##..# #.#.# #..## #...# #...#",
    "O": ".###. #...# #...# #...# #...# .###.",
    "P": "####. #...# #...# ####. #.... #....",
    "Q": ".###. #...# #...# #.#.# #..#. .##.#",
    "R": "####. #...# #...# ####. #..#. #...#",
    "S": ".#### #.... .###. ....# ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #...# #.#.# ##.## #...#",
    "X": "#...# .#.#. ..#.. ..#.. .#.#. #...#",
    "Y": "#...# #...# .#.#. ..#.. ..#.. ..#..",
    "Z": "##### ...#. ..#.. .#... #.... #####",
    "0": ".###. #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. .###.",
    "2": "####. ....# .###. #.... #.... #####",
    "3": "####. ....# .###. ....# ....# ####.",
    "4": "#..#. #..#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ....# ####.",
    "6": ".###. #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ..#.. ..#.. ..#..",
    "8": ".###. #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# .###.",
    "-": "... ... ### ... ... ...",
    "–": "... ... ### ... ... ...",
    ".": ". . . . . #",
    ",": ".. .. .. .. .# #.",
    ":": ". # . . # .",
    "'": "# # . . . .",
    "’": "# # . . . .",
    "!": "# # # # . #",
    "?": "###. ...# .##. .#.. .... .#..",
    "/": "....# ...#. ..#.. ..#.. .#... #....",
    "%": "##..# ##.#. ..#.. ..#.. .#.## #..##",
    " ": "... ... ... ... ... ...",
}


@lru_cache(maxsize=256)
def digit(sign: str, width: int, height: int) -> Pixels:
    """One sign of a number, ``width`` × ``height`` squares, with bars about a fifth of its height thick."""
    bar = max(1, round(height / 5))
    post = max(1, min(bar, width // 3))
    grid = [[False] * width for _ in range(height)]

    def fill(x0: int, y0: int, x1: int, y1: int) -> None:
        for y in range(max(y0, 0), min(y1, height)):
            for x in range(max(x0, 0), min(x1, width)):
                grid[y][x] = True

    if sign == "1":
        middle = (width - post) // 2
        fill(middle, 0, middle + post, height)
        fill(middle - post, bar // 2, middle, bar // 2 + bar)
        fill(middle - post, height - bar, middle + 2 * post, height)
    elif sign == ".":
        fill(0, height - bar, width, height)
    else:
        half = (height - bar) // 2
        boxes = {
            "t": (0, 0, width, bar),
            "m": (0, half, width, half + bar),
            "b": (0, height - bar, width, height),
            "a": (0, 0, post, half + bar),
            "d": (0, half, post, height),
            "c": (width - post, 0, width, half + bar),
            "e": (width - post, half, width, height),
        }
        bars = _BARS.get(sign, "m")
        for name in bars:
            fill(*boxes[name])
        if bar > 1:
            for meet, x, y in (("ta", 0, 0), ("tc", width - 1, 0), ("bd", 0, -1), ("be", width - 1, -1)):
                if all(name in bars for name in meet):
                    grid[y][x] = False
    return tuple(tuple(row) for row in grid)


def _widths(text: str, width: int) -> list[int]:
    return [max(1, width // 3) if sign == "." else width for sign in text]


def _gap(width: int) -> int:
    return 2 if width >= 6 else 1


def size(text: str, rows: int, space: int) -> tuple[int, int]:
    """(digit width, whole width) in columns for ``text`` at ``rows`` rows, narrowed to fit ``space``."""
    width = max(3, round(rows * 2 * 0.7))
    while True:
        whole = sum(_widths(text, width)) + _gap(width) * max(len(text) - 1, 0)
        if whole <= space or width <= 3:
            return width, whole
        width -= 1


def put_number(canvas: Canvas, x: int, y: int, text: str, rows: int, style: Style) -> int:
    """Draw a number ``rows`` rows high, narrower where the canvas ends; returns the column after it."""
    space = canvas.width - x
    width, whole = size(text, rows, space)
    if whole > space:  # too long even at its narrowest: plain characters still say it
        return canvas.put(x, y + rows // 2, text, style)
    for row, line in enumerate(_number(text, width, rows)):
        canvas.put(x, y + row, line, style)
    return x + whole


@lru_cache(maxsize=512)
def _number(text: str, width: int, rows: int) -> tuple[str, ...]:
    glyphs = [digit(sign, w, rows * 2) for sign, w in zip(text, _widths(text, width), strict=True)]
    return _lines(_joined(glyphs, _gap(width)))


def word_width(text: str) -> int:
    """Columns that a state word takes."""
    return sum(len(_LETTERS[letter].split()[0]) for letter in text) + max(len(text) - 1, 0)


def put_word(canvas: Canvas, x: int, y: int, text: str, style: Style) -> int:
    """Draw a state word, three rows high; returns the column after it."""
    for row, line in enumerate(_word(text)):
        canvas.put(x, y + row, line, style)
    return x + word_width(text)


def put_text(canvas: Canvas, text: str, style: Style) -> int:
    """Draw a text in lines of block letters, or plainly where they do not fit; returns the rows taken."""
    letters = "".join(sign for sign in normalize("NFKD", text.upper()) if not combining(sign))
    if set(letters) <= _LETTERS.keys():
        lines = [""]
        for word in letters.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and word_width(longer) > canvas.width:
                lines.append(word)
            else:
                lines[-1] = longer
        rows = 4 * len(lines) - 1
        if rows <= canvas.height and all(word_width(line) <= canvas.width for line in lines):
            for index, line in enumerate(lines):
                put_word(canvas, 0, 4 * index, line, style)
            return rows
    plain = wrap(text, canvas.width)[: canvas.height]
    for y, line in enumerate(plain):
        canvas.put(0, y, line, style)
    return len(plain)


@lru_cache(maxsize=64)
def _word(text: str) -> tuple[str, ...]:
    glyphs = [
        tuple(tuple(square == "#" for square in row) for row in _LETTERS[letter].split()) for letter in text
    ]
    return _lines(_joined(glyphs, 1))


def _joined(glyphs: list[Pixels], gap: int) -> Pixels:
    if not glyphs:
        return ()
    height = len(glyphs[0])
    rows: list[tuple[bool, ...]] = []
    for y in range(height):
        row: list[bool] = []
        for index, glyph in enumerate(glyphs):
            if index:
                row.extend([False] * gap)
            row.extend(glyph[y])
        rows.append(tuple(row))
    return tuple(rows)


_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def _lines(pixels: Pixels) -> tuple[str, ...]:
    """Squares as rows of characters, two squares a character."""
    pairs = zip(pixels[::2], pixels[1::2], strict=True)
    return tuple("".join(_HALVES[pair] for pair in zip(upper, lower, strict=True)) for upper, lower in pairs)
