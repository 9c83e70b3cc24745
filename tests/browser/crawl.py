"""Goes to one example of every page that can be reached by links."""

import re

# What is no page to look at: pictures, papers, exports, the way out.
NO_PAGE = re.compile(r"/(large|small|depth|face|pdf|download|sign-out)/|\.\w+$")


def kind(path):
    """Return what pages of one kind have in common: their address without numbers."""
    return re.sub(r"\d+", "N", path.partition("?")[0])


def pages(page, base, starts):
    """Yield the path of one page of each kind, once the browser shows it."""
    seen, queue = set(), list(starts)
    while queue:
        path = queue.pop(0)
        if kind(path) in seen or NO_PAGE.search(path.partition("?")[0]):
            continue
        seen.add(kind(path))
        answer = page.goto(base + path)
        assert answer.ok, f"{path}: {answer.status}"
        if "text/html" not in answer.headers["content-type"]:
            continue
        yield path
        found = page.eval_on_selector_all(
            "a[href]",
            "links => links.map(one => new URL(one.getAttribute('href'), location).href)",
        )
        queue += [
            one.removeprefix(base).partition("#")[0]
            for one in found
            if one.startswith(base + "/")
        ]
