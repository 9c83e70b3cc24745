"""The record of a piece: its words, its page, and its paper read back."""

import io
from decimal import Decimal

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from firing.loads.selectors.firings import firings
from firing.models import Judgement
from firing.records import record_paper
from firing.records.selectors.record import UNSURE, record_words
from firing.schedules.selectors.verdict_numbers import numbers_of
from studio.models import HistoryEntry, JobState, PaperSize, Picture, Piece
from studio.pdf import render_pdf
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.piece_record import record_of
from studio.selectors.pieces import fresh
from studio.services.finished import save_record
from studio.viewer import Viewer
from tests.cast import NOW
from tests.firing.pages import address, text_of
from tests.firing.readings.test_verdicts import fused, log_of, take_in
from tests.papers import needs_pango, paper_faces, paper_sizes, read_pdf
from tests.worker import run_waiting_jobs

POINTS = {PaperSize.A4: (595, 842), PaperSize.LETTER: (612, 792)}
SCALE = 3


def piece_of(firing):
    return firing.items.get().piece


def words_of(piece, *, has_value=False):
    viewer = Viewer.of_studio(piece.studio)
    return record_words(
        fresh(piece), record_of(piece), viewer=viewer, has_value=has_value
    )


def saved(piece, **told):
    return save_record(piece=piece, told=told, by=None, at=NOW)


def judged(cast):
    """Fuse, unload and judge a piece: the record has nothing of a firing that runs."""
    firing = fused(cast)
    firings(firing.studio).filter(pk=firing.pk).update(
        finished_at=firing.booking.ends_at
    )
    take_in(firing, log_of(firing))
    assert run_waiting_jobs() == [JobState.DONE]
    return firing, Judgement.owned.for_studio(cast.studio).get()


class TestStress:
    def test_what_was_seen_is_held_against_what_is_computed(self, cast):
        firing, judgement = judged(cast)
        piece = piece_of(firing)
        band = numbers_of(judgement)["retardation_nm_cm"]
        for seen, said in (
            (band["high"] + 1, "More than computed."),
            ((band["low"] + band["high"]) / 2, "As computed."),
            (max(band["low"] - 1, 0.0), "Less than computed"),
        ):
            saved(piece, seen_nm_cm=seen)
            assert words_of(piece).compared.startswith(said)

    def test_what_is_computed_follows_from_the_stress_by_the_glass_s_constant(
        self, cast
    ):
        """Retardation is C times stress (ASTM C770); C of soda-lime is 2.4 to 2.9
        brewster by handbooks, from memory; a brewster is 10 nm/cm per MPa."""
        firing, judgement = judged(cast)
        numbers = numbers_of(judgement)
        mpa = numbers["residual_max_tension_pa"]["middle"] / 1e6
        assert mpa > 0
        per_mpa = numbers["retardation_nm_cm"]["middle"] / mpa
        assert 24 <= per_mpa <= 29

    def test_without_readings_there_is_nothing_to_hold_it_against(self, cast):
        firing = fused(cast)
        piece = piece_of(firing)
        saved(piece, seen_nm_cm=12.0)
        words = words_of(piece)
        assert words.compared == UNSURE
        assert words.stress == (("Seen between crossed polarisers", "12 nm/cm"),)


def test_it_says_what_was_weighed_beside_what_is_computed(cast):
    piece = piece_of(fused(cast))
    facts = dict(words_of(piece).facts)
    assert facts["Weight"].endswith("computed")
    assert facts["Size"].endswith("as planned")
    saved(piece, weight_kg=3.0, thickness_mm=18.0, edition="2 of 5", value=Decimal(900))
    facts = dict(words_of(piece).facts)
    # 3 kg are 6.6 lb: NIST SP 811.
    assert facts["Weight"].startswith("6.6 lb weighed, ")
    assert not facts["Size"].endswith("as planned")
    assert facts["Edition"] == "2 of 5"
    assert "Value" not in facts
    assert dict(words_of(piece, has_value=True).facts)["Value"] == "$900.00"


class TestPage:
    def test_shows_the_verdict_and_leads_to_the_paper(self, cast, signed_in):
        firing, _ = judged(cast)
        told = text_of(
            signed_in("helper").get(address("piece_record", piece_of(firing).pk))
        )
        assert "Annealed as planned" in told
        assert "Computed from the last firing's readings" in told
        assert "Print the record" in told

    def test_keeps_what_is_typed_in_the_reader_s_units(self, cast, signed_in):
        piece = piece_of(fused(cast))
        sent = {
            "weight_kg": "7 lb 8 oz",
            "thickness_mm": "3/4 in",
            "seen_nm_cm": "15",
            "edition": "1 of 3",
            "value": "1250.50",
            "cold_work": "Edges ground",
        }
        url = address("record_edit", piece.pk)
        assert "The record is saved." in text_of(
            signed_in().post(url, sent, follow=True)
        )
        record = record_of(piece)
        # 1 lb = 0.453 592 37 kg and 1 oz = 28.349 523 125 g: NIST SP 811, appendix B.8.
        assert record.weight_kg == pytest.approx(7 * 0.45359237 + 8 * 0.028349523125)
        assert record.thickness_mm == pytest.approx(19.05)
        assert record.value == Decimal("1250.50")

    @pytest.mark.parametrize(
        ("changed", "told"),
        [
            ({"weight_kg": "7 stone"}, "is not a weight"),
            ({"weight_kg": "0"}, "is outside 1 g to 5 t"),
            ({"weight_kg": "9" * 40}, "is outside 1 g to 5 t"),
            ({"thickness_mm": "-3"}, "cannot be read"),
            ({"seen_nm_cm": "-1"}, "Write 0 or more."),
            ({"seen_nm_cm": "nan"}, "Write a number"),
            ({"value": "-5"}, "Write 0 or more."),
            ({"value": "many"}, "Write an amount"),
        ],
    )
    def test_names_what_is_wrong_and_loses_nothing(
        self, cast, signed_in, changed, told
    ):
        piece = piece_of(fused(cast))
        url = address("record_edit", piece.pk)
        answer = signed_in().post(url, {"care": "Dust it"} | changed)
        assert answer.status_code == 422
        assert told in text_of(answer)
        assert "Dust it" in answer.content.decode()
        assert record_of(piece)._state.adding

    def test_money_is_for_those_who_see_it(self, cast, signed_in, strangers):
        piece = piece_of(fused(cast))
        saved(piece, value=Decimal(900))
        for name in ("piece_record", "record_on_paper"):
            url = address(name, piece.pk)
            assert "900" not in text_of(signed_in("helper").get(f"{url}?value=on"))
            assert signed_in("owner", strangers).get(url).status_code == 404
        assert "$900.00" in text_of(signed_in().get(address("piece_record", piece.pk)))

    def test_a_picture_between_polarisers_is_kept_and_is_not_the_piece_s_face(
        self, cast, signed_in
    ):
        piece = piece_of(fused(cast))
        file = io.BytesIO()
        Image.fromarray(np.zeros((60, 80, 3), np.uint8)).save(file, "JPEG")
        file.seek(0)
        file.name = "dark.jpg"
        signed_in().post(address("record_edit", piece.pk), {"picture": file})
        picture = Picture.owned.for_studio(cast.studio).get()
        assert record_of(piece).seen_picture == picture
        assert looks_of_pieces(cast.studio, [piece.pk]) == {}
        told = HistoryEntry.owned.for_studio(cast.studio).filter(piece=piece)
        assert told.filter(what__contains="picture between polarisers").exists()


def laid_out(piece, *, size, url="https://studio.example/pieces/7/record/"):
    piece.studio.paper_size = size
    piece.studio.save()
    view, record = fresh(piece), record_of(piece)
    words = record_paper.words_on_paper(view, record, has_value=True)
    paper = record_paper.record_paper(view, record, words, url=url)
    context = record_paper.record_context(view, paper, words)
    return render_pdf(record_paper.TEMPLATE, context, title="Record")


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_the_maquette_s_record_is_whole_on_either_paper(demo, size):
    run_waiting_jobs()
    title = "Spring tide at the sluice, maquette"
    piece = Piece.owned.for_studio(demo).get(title=title)
    pdf = laid_out(piece, size=size)
    count, told = read_pdf(pdf)
    assert paper_sizes(pdf) == {POINTS[size]}
    assert paper_faces(pdf) == {"Varta"}
    assert count <= 4
    for words in (
        "Demo data",
        "Annealed as planned",
        "Seen between crossed polarisers",
        "6 nm/cm",
        "Layers, from the back",
        "8 · ",
        "Cold work",
        "Hanging",
        "Care",
        "Unique",
        "$950.00",
        "Signature",
    ):
        assert words in told
    page = pypdfium2.PdfDocument(pdf)[0].render(scale=SCALE).to_pil()
    codes = [one.text for one in zxingcpp.read_barcodes(page)]
    assert codes == ["https://studio.example/pieces/7/record/"]


@needs_pango
def test_the_worker_makes_it_once(cast, signed_in):
    firing, _ = judged(cast)
    browser, url = signed_in("helper"), address("record_on_paper", piece_of(firing).pk)
    assert "is not made yet" in text_of(browser.get(url))
    assert "is being made" in text_of(browser.post(url, follow=True))
    browser.post(url)
    assert run_waiting_jobs() == [JobState.DONE]
    answer = browser.get(url)
    told = read_pdf(b"".join(answer.streaming_content))[1]
    assert "Annealed as planned" in told
