"""The style of ribbon and charts on paper; `studio.drawings` resolves it."""

from pathlib import Path

from studio.drawings import paper_style

SHEET = (
    Path(__file__).resolve().parents[1] / "static" / "firing" / "css" / "drawings.css"
)


def drawing_style() -> str:
    """Return the rules that style ribbon, chart and tension on paper."""
    return paper_style.drawing_style(SHEET)
