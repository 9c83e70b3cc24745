"""The verdict on paper: made once by the worker, read back from the PDF."""

from firing.loads.selectors.firings import firings as all_firings
from firing.readings import verdict_sheet
from firing.readings.selectors.verdict_inputs import judging_of
from firing.schedules.selectors.verdict_numbers import mpa
from studio.models import Document, JobState
from tests.firing.pages import address, assert_doors
from tests.firing.readings.test_verdicts import fused, judged, log_of, take_in
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")


@needs_pango
def test_a_cut_firing_s_verdict_is_read_back(cast, signed_in):
    firing, judgement = judged(cast, cut=True)
    browser = signed_in("helper")
    url = address("verdict_paper", firing.pk)
    assert "is not made yet" in browser.get(url).content.decode()
    assert "is being made" in browser.post(url, follow=True).content.decode()
    browser.post(url)
    assert run_waiting_jobs() == [JobState.DONE]
    kept = Document.owned.for_studio(cast.studio).get(kind=verdict_sheet.KIND)
    with kept.file.open("rb") as file:
        count, told = read_pdf(file.read())
    assert count <= 2
    low, _, high = mpa(judgement.numbers["residual_max_tension_pa"])
    assert "Cooled too fast between" in told
    assert f"{low:.2f} to {high:.2f} MPa" in told
    assert "Proposed: Anneal it again" in told
    assert "Power cut" in told
    assert "the pale area the likely range" in told
    assert "A plate of even thickness" in told
    assert "Nothing here promises that a piece will not break" in told
    answer = browser.get(url)
    assert answer["Content-Type"] == "application/pdf"
    answer.close()


def test_what_it_says_is_what_the_page_says(cast):
    firing, judgement = judged(cast)
    firing = all_firings(cast.studio).get(pk=firing.pk)
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    assert sheet.verdict == "Annealed as planned"
    assert sheet.bands[0][0] == "Stays in the cold glass"
    assert sheet.next_words.startswith("Nothing")
    tension = verdict_sheet.sheet_context(firing, judgement, sheet)["tension"]
    assert tension.lines[0].band_path.startswith("M")
    same = verdict_sheet.verdict_sheet(firing, judging_of(firing).judgement)
    assert same.sha256 == sheet.sha256


def test_without_a_verdict_there_is_nothing_to_print(cast, signed_in):
    firing = fused(cast)
    take_in(firing, log_of(firing))
    answer = signed_in("helper").get(address("verdict_paper", firing.pk))
    assert answer["Location"] == address("firing_judgement", firing.pk)


def test_doors(cast, client, signed_in, strangers):
    firing, _ = judged(cast)
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("verdict_paper", firing.pk),
        roles=EVERYBODY,
    )
