"""The drawings' style sheet for papers.

WeasyPrint draws an SVG only with the rules inside it and does not know `var()` there.
So the same sheet is resolved for the light theme and put into the SVG.
"""

import re
from functools import cache
from pathlib import Path

CSS_DIR = Path(__file__).resolve().parent.parent / "static" / "studio" / "css"

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_TOKEN = re.compile(r"(--[\w-]+)\s*:\s*([^;{}]+);")
_VAR = re.compile(r"var\((--[\w-]+)\)")
_RULE = re.compile(r"(?<=[{};\s])(\.[\w.:, -]+?)\s*\{([^{}]*)\}")
_PAINT = re.compile(r"^(fill|stroke|stop|font|text|opacity|dominant)(-[\w-]+)?$")


def read_tokens(css: str) -> dict[str, str]:
    """Return every custom property of a style sheet with its value as written.

    The first value counts: later ones only flip a theme.
    """
    tokens: dict[str, str] = {}
    for name, value in _TOKEN.findall(_COMMENT.sub("", css)):
        tokens.setdefault(name, " ".join(value.split()))
    return tokens


def resolve(value: str, tokens: dict[str, str], *, dark: bool = False) -> str:
    """Replace `var()` and `light-dark()` in a value until plain CSS is left.

    Raises
    ------
    KeyError
        The value uses a token that does not exist.
    """
    while match := _VAR.search(value):
        value = value.replace(match[0], tokens[match[1]])
    sides = re.compile(r"light-dark\(([^(),]+),\s*([^(),]+)\)")
    return sides.sub(lambda found: found[2 if dark else 1].strip(), value)


@cache
def drawing_style(sheet: Path = CSS_DIR / "drawings.css") -> str:
    """Return a sheet's painting rules for the light theme, without `var()`."""
    tokens = read_tokens((CSS_DIR / "tokens.css").read_text(encoding="utf-8"))
    rules = []
    for selector, body in _RULE.findall(_COMMENT.sub("", sheet.read_text("utf-8"))):
        # No pointer or keyboard on paper. Without `paint-order` a halo hides words;
        # `.chart-under` separates them there.
        if ":" in selector or "paint-order" in body:
            continue
        kept = []
        for declaration in body.split(";"):
            name, _, value = declaration.partition(":")
            if _PAINT.match(name.strip()):
                kept.append(f"{name.strip()}:{resolve(value.strip(), tokens)}")
        if kept:
            rules.append(f"{selector.strip()}{{{';'.join(kept)}}}")
    return "\n".join(rules)
