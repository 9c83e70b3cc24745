"""The demo's pieces and commissions: tidal and shoreline scenes, all invented."""

import datetime as dt
from decimal import Decimal
from typing import Any

from commissions.demo import scenes
from commissions.demo.diary import Diary, painted, waiting
from commissions.demo.workshops import INCH, Workshop
from commissions.invoicing import LineAsked
from commissions.models import Commission, Invoice, InvoiceKind, Quote, TaxStatus
from commissions.services.clients import create_client
from commissions.services.commissions import create_commission
from commissions.services.invoices import (
    issue_invoice,
    make_invoice,
    make_part_invoice,
    send_invoice,
)
from commissions.services.payments import record_invoice_payment
from commissions.services.posts import post_news
from commissions.services.quotes import accept_quote, draft_quote, send_quote
from commissions.services.sharing import make_share_link
from firing.kiln_time.selectors.free_starts import earliest_free_start
from firing.kiln_time.services.bookings import book_kiln
from firing.models import BookingKind, ScheduleRule
from firing.plans.services.acceptance import accept_plan
from firing.plans.services.plans import plan_at_once
from firing.records.selectors.record import USUAL_CARE
from firing.schedules.selectors.programmes import run_of
from firing.schedules.selectors.schedules import programme_of
from firing.schedules.services.schedules import compute_fuse_schedule
from studio.models import Outcome, Person, Piece, Technique, Whereabouts
from studio.selectors.whereabouts import Went
from studio.services.finished import move_works
from studio.services.layers import make_again
from studio.services.pieces import LayerPlan, finish_piece, plan_piece

DAY = dt.timedelta(days=1)
HOUR = dt.timedelta(hours=1)
DEEP_STACK_MM = 60.325  # 2 3/8 in
# The rest of the piece at the bench takes about this long, with a day or two to spare.
REED_EDGE_DAYS = 13
# A fraction of a second's search.
PLAN_UNITS = 150_000


def spring_tide(workshop: Workshop, *, now: dt.datetime, seed: int) -> None:
    """The 20-layer commission, on the third day of its cooling; its maquette is done."""
    diary = Diary(workshop, seed=seed)
    wren, isla = workshop.people["Wren"], workshop.people["Isla"]
    odo = workshop.people["Odo"]
    into_kiln = diary.attended_before(now - 2.05 * DAY)
    quote = _spring_tide_sold(workshop, at=into_kiln - 80 * DAY)
    commission = quote.commission
    _invoice_and_pay(quote, 1, by=wren, at=into_kiln - 78 * DAY)
    joined = {
        one.is_maquette: one.piece for one in commission.commissioned_pieces.all()
    }
    _spring_tide_maquette(diary, joined[True], at=into_kiln - 72 * DAY)
    piece = joined[False]
    at = into_kiln - 48 * DAY
    for group in range(0, 24, 6):
        passes = waiting(piece)[:6]
        if not passes:
            break
        done = diary.paint(passes, by=wren if group % 12 else isla, at=at)
        # One sheet cracks and is made again; one pass comes out too pale.
        ill = {7: (Outcome.CRACKED, "Cracked from the edge")} if group == 6 else {}
        ill |= {13: (Outcome.REDO, "Too pale in the sky")} if group == 12 else {}
        diary.burn(
            passes, kiln=workshop.kilns["Curlew"], by=isla, at=done, outcomes=ill
        )
        at += 6 * DAY
    make_again(
        layer=piece.layers.get(number=7),
        reason="Cracked in its enamel firing",
        by=wren,
        at=at,
    )
    done = diary.paint(waiting(piece), by=wren, at=at + HOUR)
    diary.burn(painted(piece), kiln=workshop.kilns["Teal"], by=isla, at=done)
    diary.photograph_layers(
        piece, scenes.SLUICE, 19, by=isla, at=at + 3 * DAY, shown=19
    )
    _invoice_and_pay(quote, 2, by=wren, at=into_kiln - 5 * DAY)
    firing = diary.stack_and_start(
        piece,
        kiln=workshop.kilns["Heron"],
        height_mm=DEEP_STACK_MM,
        by=odo,
        at=into_kiln,
    )
    if firing.started_at is None:
        raise RuntimeError("The demo's firing does not run.")
    diary.record(firing, at=now, until_s=(now - firing.started_at).total_seconds())
    _tell(
        commission,
        "All twenty layers are painted and burnt on. Drag the strip beside the picture "
        "to look at each of them.",
        piece=None,
        at=into_kiln - 2 * DAY,
    )
    _tell(
        commission,
        "The stack went into the kiln. It now cools for days, and we leave it alone.",
        piece=None,
        at=into_kiln + 2 * HOUR,
    )


def _spring_tide_sold(workshop: Workshop, *, at: dt.datetime) -> Quote:
    quote = _send_quote(
        workshop,
        client={
            "name": "Oda Lindqvarn (demo)",
            "email": "oda@example.org",
            "address": "Invented: 9 Harbour Steps, Ebbside",
        },
        request={
            "title": "Spring tide at the sluice",
            "brief": "The view from the sluice gate on the highest tide, looking out.",
            "width_mm": 12 * INCH,
            "height_mm": 8 * INCH,
            "layer_count": 20,
            "passes_per_layer": 1,
            "maquette_layer_count": 9,
            "maquette_width_mm": 6 * INCH,
            "maquette_height_mm": 4 * INCH,
        },
        message="Thank you for asking. This is what the piece would cost.",
        promised_date=(at + 100 * DAY).date(),
        by=workshop.people["Wren"],
        at=at,
    )
    return accept_quote(quote=quote, name="Oda Lindqvarn", at=at + 2 * DAY)


def _spring_tide_maquette(diary: Diary, maquette: Piece, *, at: dt.datetime) -> None:
    workshop = diary.workshop
    wren, odo = workshop.people["Wren"], workshop.people["Odo"]
    for _ in range(2):
        passes = waiting(maquette)[:4]
        done = diary.paint(passes, by=wren, at=at)
        at = diary.burn(passes, kiln=workshop.kilns["Teal"], by=wren, at=done)
    into_kiln = diary.attended_before(at + 4 * DAY)
    firing = diary.stack_and_start(
        maquette, kiln=workshop.kilns["Teal"], height_mm=27.4, by=odo, at=into_kiln
    )
    out = diary.unload(
        firing, outcome=Outcome.FINE, note="Clear, no bubbles at the edge", by=odo
    )
    diary.record(firing, at=out)
    diary.photograph_layers(maquette, scenes.SLUICE, 8, by=wren, at=into_kiln - DAY)
    diary.photograph_piece(maquette, scenes.SLUICE, by=wren, at=out + HOUR)
    finish_piece(
        piece=maquette, by=wren, at=out + 2 * HOUR, note="Shown to the client."
    )
    diary.write_record(
        maquette,
        by=wren,
        at=out + 3 * HOUR,
        weight_kg=1.05,
        thickness_mm=26.1,
        edition="Unique",
        cold_work="Edges ground on 120 to 600 grit and polished with cerium oxide.",
        seen="Even grey, a little lighter at two corners.",
        seen_nm_cm=6.0,
        hanging="Stands in a slot, or on two angles; each carries ten times its weight.",
        care=USUAL_CARE,
        value=Decimal(950),
    )
    move_works(
        pieces=[maquette],
        went=Went(
            kind=Whereabouts.SHOW,
            place="Spring show at the net loft",
            day=(out + 6 * DAY).date(),
            back_on=(out + 90 * DAY).date(),
        ),
        by=wren,
        at=out + 6 * DAY,
    )


def mud_flats(workshop: Workshop, *, now: dt.datetime, seed: int) -> None:
    """A 9-layer piece for a show: some layers wait for their second pass."""
    diary = Diary(workshop, seed=seed)
    tobin = workshop.people["Tobin"]
    piece = _plan(
        workshop,
        title="Mud flats, last light",
        width_mm=9 * INCH,
        height_mm=7 * INCH,
        images=8,
        passes=2,
        by=tobin,
        at=now - 30 * DAY,
    )
    at = now - 26 * DAY
    for _ in range(2):
        passes = waiting(piece)[:4]
        done = diary.paint(passes, by=tobin, at=at)
        diary.burn(passes, kiln=workshop.kilns["Teal"], by=tobin, at=done)
        at += 5 * DAY
    second = waiting(piece)
    done = diary.paint(second[:3], by=tobin, at=at)
    diary.burn(painted(piece), kiln=workshop.kilns["Teal"], by=tobin, at=done)
    diary.paint(waiting(piece)[3:5], by=tobin, at=now - 28 * HOUR)
    diary.photograph_layers(piece, scenes.FLATS, 8, by=tobin, at=now - 20 * HOUR)


def reed_edge(workshop: Workshop, *, now: dt.datetime, seed: int) -> None:
    """A 20-layer commission at the bench: some layers burnt, some painted, the rest not."""
    diary = Diary(workshop, seed=seed)
    wren = workshop.people["Wren"]
    quote = _reed_edge_sold(workshop, at=now - 30 * DAY, now=now)
    _invoice_and_pay(quote, 1, by=wren, at=now - 28 * DAY)
    piece = quote.commission.commissioned_pieces.get().piece
    at = now - 24 * DAY
    for _ in range(3):
        passes = waiting(piece)[:4]
        done = diary.paint(passes, by=wren, at=at)
        diary.burn(passes, kiln=workshop.kilns["Curlew"], by=wren, at=done)
        at += 4 * DAY
    diary.paint(waiting(piece)[:3], by=wren, at=now - 30 * HOUR)
    diary.photograph_layers(
        piece, scenes.REEDS, 19, by=wren, at=now - 24 * HOUR, shown=2
    )


def _reed_edge_sold(workshop: Workshop, *, at: dt.datetime, now: dt.datetime) -> Quote:
    quote = _send_quote(
        workshop,
        client={
            "name": "Reading room at Fen End (demo)",
            "email": "room@example.org",
            "address": "Invented: 4 Fen End, Ebbside",
        },
        request={
            "title": "Reed edge, slack water",
            "brief": "Reeds standing in still water, for the long wall of the reading "
            "room.",
            "width_mm": 12 * INCH,
            "height_mm": 8 * INCH,
            "layer_count": 20,
            "passes_per_layer": 1,
        },
        message="Thank you. The date leaves room for one layer that has to be redone.",
        promised_date=(now + REED_EDGE_DAYS * DAY).date(),
        by=workshop.people["Wren"],
        at=at,
    )
    return accept_quote(quote=quote, name="Reading room at Fen End", at=at + 2 * DAY)


def plan_the_kilns(workshop: Workshop, *, now: dt.datetime) -> None:
    """The kiln plan, made and accepted: its firings are provisional bookings."""
    wren = workshop.people["Wren"]
    plan = plan_at_once(studio=workshop.studio, by=wren, at=now, units=PLAN_UNITS)
    accept_plan(plan=plan, option=plan.options[0]["name"], by=wren, at=now)


def groyne(workshop: Workshop, *, now: dt.datetime, seed: int) -> None:
    """A piece whose anneal was spoilt by a power cut; a re-anneal is proposed."""
    diary = Diary(workshop, seed=seed)
    tobin, odo = workshop.people["Tobin"], workshop.people["Odo"]
    kiln = workshop.kilns["Curlew"]
    piece = _plan(
        workshop,
        title="Groyne in winter",
        width_mm=10 * INCH,
        height_mm=8 * INCH,
        images=11,
        passes=1,
        by=tobin,
        at=now - 40 * DAY,
    )
    at = now - 38 * DAY
    for _ in range(3):
        passes = waiting(piece)[:4]
        done = diary.paint(passes, by=tobin, at=at)
        at = diary.burn(passes, kiln=kiln, by=tobin, at=done)
    into_kiln = diary.attended_before(now - 9 * DAY)
    diary.photograph_layers(piece, scenes.WINTER, 11, by=tobin, at=into_kiln - DAY)
    firing = diary.stack_and_start(
        piece, kiln=kiln, height_mm=36.5, by=odo, at=into_kiln
    )
    out = diary.unload(
        firing,
        outcome=Outcome.REDO,
        note="The power was cut in the first cooling. Whole, but not annealed.",
        by=odo,
    )
    # Two hours into the first cooling, while the glass is still stiffening.
    programme = programme_of(firing.schedule)
    soak = [segment.label for segment in programme.segments].index("anneal soak")
    soaked_s = run_of(kiln, firing.schedule).segment_ends_s[soak]
    diary.record(firing, at=out, cut_at_s=soaked_s + 2 * 3600)
    compute_fuse_schedule(
        piece=piece, kiln=kiln, rule=ScheduleRule.NEXT_ROW, by=odo, at=out + HOUR
    )


def herring_fleet(workshop: Workshop, *, now: dt.datetime) -> None:
    """A 12-layer commission at quote stage, with a date in the quote."""
    at, tobin = now - 4 * DAY, workshop.people["Tobin"]
    gallery = create_client(
        studio=workshop.studio,
        name="Gallery of the Long Quay (demo)",
        email="quay@example.org",
        address="Invented: 2 Long Quay, Ebbside",
        tax_status=TaxStatus.RESALE,
        tax_number="Invented 27-4410",
        by=tobin,
        at=at,
    )
    _send_quote(
        workshop,
        client={
            "name": "Sanna Orell (demo)",
            "email": "sanna@example.org",
            "address": "Invented: 7 Chandler Row, Ebbside",
        },
        request={
            "title": "The fleet comes in",
            "brief": "Boats in mist, seen through rigging; for the window on the "
            "stairs.",
            "width_mm": 14 * INCH,
            "height_mm": 9 * INCH,
            "layer_count": 12,
            "passes_per_layer": 2,
            "gallery": gallery,
            "gallery_cut_percent": Decimal(35),
            "gallery_sells": True,
            "gallery_returns_date": (now + 270 * DAY).date(),
        },
        message="The date counts from your answer within the next weeks.",
        promised_date=(now + 95 * DAY).date(),
        by=tobin,
        at=at,
    )


def maintenance(workshop: Workshop, *, now: dt.datetime) -> None:
    """Kiln time in which nothing is fired."""
    kiln = workshop.kilns["Teal"]
    lasts = 4 * HOUR
    starts_at = earliest_free_start(
        kiln=kiln, lasts_s=lasts.total_seconds(), after=now + 3 * DAY
    )
    book_kiln(
        studio=workshop.studio,
        kiln=kiln,
        kind=BookingKind.MAINTENANCE,
        title="New thermocouple",
        starts_at=starts_at,
        ends_at=starts_at + lasts,
        by=workshop.people["Odo"],
        at=now,
    )


def decals_sold(workshop: Workshop, *, now: dt.datetime) -> None:
    """The second studio's invoice in euro: its paper has a code for the bank's app."""
    benta, at = workshop.people["Benta"], now - 6 * DAY
    draft = make_invoice(
        client=create_client(
            studio=workshop.studio,
            name="Atelier of the Third Weir (demo)",
            email="weir@example.org",
            address="Invented: Travessa da Comporta 7",
            by=benta,
            at=at,
        ),
        kind=InvoiceKind.OTHER,
        title="Decals for an exhibition",
        lines=[
            LineAsked(
                label=label,
                quantity=Decimal(quantity),
                unit_price=Decimal(price),
                tax_name="IVA",
                tax_percent=Decimal(percent),
            )
            for label, quantity, price, percent in (
                ("Decals, printed", 24, "18.50", 23),
                ("Catalogues", 10, "9.80", 6),
            )
        ],
        by=benta,
        at=at,
    )
    _issue_and_send(draft, by=benta, at=at)


def salt_pans(workshop: Workshop, *, now: dt.datetime, seed: int) -> None:
    """The second studio's one piece, half painted."""
    diary = Diary(workshop, seed=seed)
    benta = workshop.people["Benta"]
    piece = _plan(
        workshop,
        title="White heaps, noon",
        width_mm=200,
        height_mm=160,
        images=5,
        passes=1,
        technique=Technique.DECAL,
        by=benta,
        at=now - 12 * DAY,
    )
    passes = waiting(piece)[:3]
    done = diary.paint(passes, by=benta, at=now - 9 * DAY)
    diary.burn(passes, kiln=workshop.kilns["Flamingo"], by=benta, at=done)


def _plan(
    workshop: Workshop,
    *,
    title: str,
    width_mm: float,
    height_mm: float,
    images: int,
    passes: int,
    by: Person,
    at: dt.datetime,
    technique: str = Technique.PAINTED,
) -> Piece:
    """Plan a piece without a commission: this many images, and a clear cap in front."""
    image = LayerPlan(technique=technique, passes=passes, glass=workshop.glass)
    cap = LayerPlan(technique=Technique.CLEAR, passes=0, glass=workshop.glass)
    return plan_piece(
        studio=workshop.studio,
        title=title,
        width_mm=width_mm,
        height_mm=height_mm,
        glass=workshop.glass,
        layers=[image] * images + [cap],
        maker=by,
        by=by,
        at=at,
    )


def _send_quote(
    workshop: Workshop,
    *,
    client: dict[str, str],
    request: dict[str, Any],
    message: str,
    promised_date: dt.date,
    by: Person,
    at: dt.datetime,
) -> Quote:
    """Create a new client's commission; its quote is sent two hours later."""
    commission = create_commission(
        studio=workshop.studio,
        client=create_client(studio=workshop.studio, by=by, at=at, **client),
        technique=Technique.PAINTED,
        cap_count=1,
        glass=workshop.glass,
        is_dammed=True,
        by=by,
        at=at,
        **request,
    )
    quote = draft_quote(
        commission=commission,
        message=message,
        promised_date=promised_date,
        by=by,
        at=at + HOUR,
    )
    make_share_link(commission=commission, by=by, at=at + 2 * HOUR)
    return send_quote(quote=quote, by=by, at=at + 2 * HOUR)


def _invoice_and_pay(quote: Quote, number: int, *, by: Person, at: dt.datetime) -> None:
    """Invoice an instalment and send it; its payment comes in two days later."""
    instalment = quote.instalments.get(number=number)
    draft = make_part_invoice(instalment=instalment, by=by, at=at)
    invoice = _issue_and_send(draft, by=by, at=at)
    record_invoice_payment(
        invoice=invoice,
        amount=invoice.total,
        received_date=(at + 2 * DAY).date(),
        method="Bank transfer",
        by=by,
        at=at + 2 * DAY,
    )


def _issue_and_send(draft: Invoice, *, by: Person, at: dt.datetime) -> Invoice:
    issued = issue_invoice(invoice=draft, by=by, at=at)
    return send_invoice(invoice=issued, by=by, at=at)


def _tell(
    commission: Commission, text: str, *, piece: Piece | None, at: dt.datetime
) -> None:
    shown = () if piece is None else list(piece.pictures.all())
    post_news(
        commission=commission,
        text=text,
        pictures=shown,
        by=commission.created_by,
        at=at,
    )
