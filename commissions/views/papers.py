"""How a paper is shown while the worker makes it."""

from studio.documents import PaperState


def paper_job(state: PaperState, *, result_url: str, poll_url: str) -> dict[str, str]:
    """Return what `_job.html` needs; `result_url` takes the POST that orders it."""
    if state.lost is not None:
        return {"state": "failed", "text": state.problem}
    return {
        "state": state.name,
        "text": state.words,
        "result_url": result_url,
        "poll_url": poll_url,
        "retry_url": result_url,
    }
