"""More to show never means more queries on a page."""

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from commissions.invoicing import LineAsked
from commissions.models import InvoiceKind
from commissions.services import invoices, kiln_users, payments, posts, reminders
from firing.firings.services import firings, others_work, running
from firing.models import Firing
from firing.readings.services import readings
from firing.schedules.selectors.designs import DesignAsked
from firing.schedules.services import schedules
from studio.services import layers, pictures, stock, task_times
from tests import make
from tests.commissions import build as work
from tests.firing import build as heat

HOUR = dt.timedelta(hours=1)
READINGS = "Seconds,Temp (°C)\n0,20\n60,{}\n"


class Workshop:
    """One studio whose every list gets a row more each time it is asked to grow."""

    def __init__(self, cast):
        self.cast = cast
        self.now = timezone.now()
        self.rounds = 0
        self.client = work.client(cast)
        accepted = work.accepted(cast, of=work.commission(cast, client=self.client))
        self.commission = accepted.commission
        self.piece = self.commission.commissioned_pieces.get().piece
        self.firing = self.start(heat.enamel(kiln=cast.kiln, glass=cast.glass))
        self.schedule = self.kept()

    def start(self, firing):
        return running.start_firing(firing=firing, by=None, at=self.now)

    def kept(self, kind="re-anneal"):
        """Return the next version of a saved schedule: each is a little thicker."""
        return schedules.keep_design(
            studio=self.cast.studio,
            asked=DesignAsked(
                kind=kind,
                thickness_mm=3.0 + self.rounds / 10,
                glass=self.cast.glass,
                kiln=self.cast.kiln,
                is_dammed=True,
            ),
            by=self.cast.owner,
            at=self.now,
        )

    def new(self):
        """Return what every builder of firings needs: a kiln that is free, and glass."""
        kiln = make.kiln(studio=self.cast.studio)
        return {"kiln": kiln, "glass": self.cast.glass, "starts_at": self.now + HOUR}

    def grow(self):
        self.rounds += 1
        self.grow_bench()
        self.grow_kilns()
        self.grow_money()

    def grow_bench(self):
        studio, glass, title = self.cast.studio, self.cast.glass, f"Reed {self.rounds}"
        make.piece(studio=studio, glass=glass, title=title)
        for one in (glass, make.glass(studio=studio)):
            stock.receive_sheets(
                glass=one,
                width_mm=900,
                height_mm=500 + self.rounds,
                count=2,
                batch="",
                cost_per_m2=Decimal(80),
                by=self.cast.owner,
                at=self.now,
            )
        make.member(studio=studio, role="helper")
        heat.painted(make.piece(studio=studio, glass=glass, title=f"{title}, painted"))
        heat.stacked(studio=studio, glass=glass, title=f"{title}, stacked")
        task_times.record_time(
            piece=self.piece,
            task=("cutting", "dams", "edges")[self.rounds % 3],
            minutes=self.rounds,
            day=self.now.date() - dt.timedelta(days=1),
            note="",
            by=self.cast.owner,
            at=self.now,
        )
        for layer in (None, self.piece.layers.first()):
            pictures.add_picture(
                studio=studio,
                upload=work.image(),
                name="a.jpg",
                piece=self.piece,
                layer=layer,
                is_shown_to_client=True,
                by=self.cast.owner,
                at=self.now,
            )

    def grow_kilns(self):
        self.schedule = self.kept()
        self.kept(kind="enamel")
        heat.enamel(**self.new(), title=f"To start {self.rounds}")
        self.start(heat.enamel(**self.new(), title=f"Running {self.rounds}"))
        stack = heat.stacked(studio=self.cast.studio, glass=self.cast.glass)
        heat.fuse(piece=stack, kiln=make.kiln(studio=self.cast.studio))
        waiting = [p for p in make.passes_of(self.piece) if not p.painted_at][:1]
        layers.record_painted(passes=waiting, by=self.cast.owner, at=self.now)
        new = self.new()
        fired = self.start(
            firings.make_up_enamel_firing(
                studio=self.cast.studio,
                kiln=new["kiln"],
                passes=waiting,
                starts_at=new["starts_at"],
                by=None,
                at=self.now,
            )
        )
        outcomes = {item.pk: ("redo", "") for item in fired.items.all()}
        running.finish_firing(
            firing=fired,
            outcomes=outcomes,
            by=None,
            at=self.now,
            hand=heat.READ_COLD,
        )
        readings.import_readings(
            firing=self.firing,
            data=READINGS.format(20 + self.rounds).encode(),
            file_name=f"{self.rounds}.csv",
            unit="C",
            by=None,
            at=self.now,
        )

    def grow_money(self):
        cast, title = self.cast, f"Tide {self.rounds}"
        work.accepted(cast, of=work.commission(cast, client=self.client, title=title))
        work.sent(cast, of=work.commission(cast, client=work.client(cast, name=title)))
        payments.record_payment(
            commission=self.commission,
            amount=Decimal(self.rounds),
            received_date=self.now.date(),
            by=cast.owner,
            at=self.now,
        )
        self.grow_invoices()
        self.grow_kiln_users()
        posts.post_news(
            commission=self.commission,
            text=title,
            uploads=[work.image()],
            by=cast.owner,
            at=self.now,
        )

    def grow_kiln_users(self):
        """Another maker who shares the kilns, with work in a load and a rented kiln."""
        cast = self.cast
        user = kiln_users.save_kiln_user(
            studio=cast.studio,
            name=f"Potter {self.rounds}",
            terms="guest",
            free_hours=Decimal(1),
            by=None,
            at=self.now,
        )
        fired = Firing.owned.for_studio(cast.studio).filter(finished_at__isnull=False)
        for whose in (user, None):
            others_work.add_work(
                firing=fired.order_by("-pk")[0],
                description=f"Bowl {self.rounds}",
                kiln_user=whose,
                by=None,
                at=self.now,
            )
        heat.booking(
            kiln=make.kiln(studio=cast.studio), starts_at=self.now - 2 * HOUR, hours=1
        )

    def grow_invoices(self):
        """Another part of the price, part paid, and another invoice for other work."""
        cast, quotes = self.cast, self.commission.quotes
        accepted = quotes.get(accepted_at__isnull=False)
        drafts = [
            invoices.make_invoice(
                client=self.client,
                kind=InvoiceKind.OTHER,
                title=f"Framing {self.rounds}",
                lines=[
                    LineAsked(
                        label="Frame", quantity=Decimal(1), unit_price=Decimal(90)
                    )
                ],
                by=cast.owner,
                at=self.now,
            )
        ]
        if self.rounds <= 3:
            part = accepted.instalments.get(number=self.rounds)
            drafts.append(
                invoices.make_part_invoice(instalment=part, by=None, at=self.now)
            )
        for draft in drafts:
            issued = invoices.issue_invoice(invoice=draft, by=None, at=self.now)
            sent = invoices.send_invoice(invoice=issued, by=None, at=self.now)
            reminders.record_reminder(
                invoice=sent,
                sent_date=self.now.astimezone(ZoneInfo(cast.studio.time_zone)).date(),
                sent_to="by post",
                text=f"Round {self.rounds}",
                by=cast.owner,
                at=self.now,
            )
            payments.record_invoice_payment(
                invoice=sent,
                amount=Decimal(self.rounds) + Decimal("0.5"),
                received_date=self.now.date(),
                by=None,
                at=self.now,
            )
        self.invoice = drafts[-1]

    @property
    def pages(self):
        token = work.token(self.commission)
        of_piece, of_commission = [self.piece.pk], [self.commission.pk]
        return {
            "studio:today": [],
            "studio:piece_list": [],
            "studio:piece_detail": of_piece,
            "studio:layer_detail": [self.piece.pk, 1],
            "studio:piece_paint": of_piece,
            "studio:time_list": of_piece,
            "studio:stock": [],
            "studio:stock_moves": [],
            "studio:stock_shopping": [],
            "studio:stock_count": [],
            "studio:glass_cutting": [self.cast.glass.pk],
            "studio:history": [],
            "studio:settings": [],
            "firing:kiln_list": [],
            "firing:kiln_detail": [self.cast.kiln.pk],
            "firing:free_time": [],
            "firing:week_sheet": [],
            "firing:firing_list": [],
            "firing:firing_detail": [self.firing.pk],
            "firing:load_new": [],
            "firing:schedule_list": [],
            "firing:schedule_detail": [self.schedule.pk],
            "firing:schedule_book": [self.schedule.pk],
            "commissions:commission_list": [],
            "commissions:commission_detail": of_commission,
            "commissions:client_list": [],
            "commissions:client_detail": [self.client.pk],
            "commissions:post_new": of_commission,
            "commissions:kiln_use": [],
            "commissions:money_list": [],
            "commissions:client_statement": [self.client.pk],
            "commissions:shared_page": [token],
        }


def counted(browser, pages):
    counts = {}
    for name, arguments in pages.items():
        url = reverse(name, args=arguments)
        browser.get(url)  # what is remembered between requests is remembered now
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(url).status_code == 200, name
        counts[name] = len(seen)
    return counts


@pytest.mark.django_db
def test_no_page_asks_more_often_for_more_rows(cast, signed_in):
    workshop, browser = Workshop(cast), signed_in()
    workshop.grow()
    few = counted(browser, workshop.pages)
    for _ in range(2):
        workshop.grow()
    assert counted(browser, workshop.pages) == few
