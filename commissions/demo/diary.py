"""Lets the demo's work happen in the past, through the operations that the screens use."""

import datetime as dt
import io
import random
from collections.abc import Mapping, Sequence

from commissions.demo import pictures, recorder
from commissions.demo.pictures import Scene
from commissions.demo.workshops import Workshop
from firing.firings.services.firings import book_fuse, make_up_enamel_firing
from firing.firings.services.running import finish_firing, start_firing
from firing.kiln_time.selectors.bookings import is_attended, may_open_at
from firing.kiln_time.selectors.free_starts import earliest_free_start
from firing.loads.selectors.known import ReadByHand
from firing.models import Firing, ScheduleRule
from firing.planning.problem import practice
from firing.readings.services.readings import import_readings
from firing.schedules.selectors.programmes import kiln_model
from firing.schedules.selectors.schedules import programme_of
from firing.schedules.services.schedules import compute_fuse_schedule
from studio.models import (
    MOST_MINUTES_AT_ONCE,
    Kiln,
    Outcome,
    Pass,
    Person,
    Piece,
)
from studio.selectors.bench_times import minutes_by_rule, tasks_of
from studio.selectors.pieces import fresh
from studio.selectors.task_times import local_day
from studio.services.finished import save_record
from studio.services.layers import change_layer, record_painted
from studio.services.photographs import develop
from studio.services.pictures import add_picture
from studio.services.pieces import check_stack
from studio.services.task_times import record_time

# How long a load keeps a kiln at most: loading, cooling, and a night until somebody is
# in.
ENAMEL_SPAN_S = 44 * 3600.0


def read_by_hand(firing: Firing) -> ReadByHand:
    """Return what the demo's people read: a recorder ends within its noise of open."""
    return ReadByHand(shown_c=firing.booking.opens_below_c, is_confirmed=True)


class Diary:
    """Records what a demo workshop did, instant by instant."""

    def __init__(self, workshop: Workshop, *, seed: int) -> None:
        self.workshop = workshop
        self.seed = seed
        self.dice = random.Random(seed)  # noqa: S311 - nothing secret
        # Their own, so that times change nothing else that is thrown.
        self.time_dice = random.Random(seed)  # noqa: S311 - nothing secret

    def paint(
        self, passes: Sequence[Pass], *, by: Person, at: dt.datetime
    ) -> dt.datetime:
        """Paint passes one after another; return when the last one was done."""
        for of_pass in passes:
            minutes = self.dice.randrange(55, 145, 5)
            at += dt.timedelta(minutes=minutes + 10)
            record_painted(
                passes=[of_pass],
                by=by,
                at=at,
                minutes=minutes,
                materials=[self.workshop.enamel],
            )
        return at

    def work(self, piece: Piece, *tasks: str, by: Person, at: dt.datetime) -> None:
        """Record how long tasks took, up to this instant: somewhat off their rules."""
        view = fresh(piece)
        for task in tasks_of(self.workshop.studio):
            if task.key in tasks:
                by_rule = float(minutes_by_rule(view, task))
                took = by_rule * self.time_dice.uniform(0.8, 1.35)
                record_time(
                    piece=piece,
                    task=task.key,
                    minutes=min(max(5, round(took / 5) * 5), MOST_MINUTES_AT_ONCE),
                    day=local_day(self.workshop.studio, at),
                    note="Demo",
                    by=by,
                    at=at,
                )

    def burn(
        self,
        passes: Sequence[Pass],
        *,
        kiln: Kiln,
        by: Person,
        at: dt.datetime,
        outcomes: Mapping[int, tuple[str, str]] | None = None,
    ) -> dt.datetime:
        """Fire painted passes in one load; return when it was unloaded.

        `outcomes` by layer number, for those that did not come out well.
        """
        starts_at = earliest_free_start(kiln=kiln, lasts_s=ENAMEL_SPAN_S, after=at)
        firing = make_up_enamel_firing(
            studio=self.workshop.studio,
            kiln=kiln,
            passes=passes,
            starts_at=starts_at,
            by=by,
            at=starts_at,
        )
        load = dt.timedelta(seconds=practice.LOAD_SHEETS_S)
        firing = start_firing(firing=firing, by=by, at=starts_at + load)
        unloaded_at = may_open_at(self.workshop.studio, firing.booking.opens_at)
        self.record(firing, at=unloaded_at)
        ill = outcomes or {}
        finish_firing(
            firing=firing,
            outcomes={
                item.pk: ill.get(item.of_pass.sheet.layer.number, (Outcome.FINE, ""))
                for item in firing.items.select_related("of_pass__sheet__layer")
                if item.of_pass is not None
            },
            by=by,
            at=unloaded_at,
            hand=read_by_hand(firing),
        )
        return unloaded_at

    def record(
        self,
        firing: Firing,
        *,
        at: dt.datetime,
        until_s: float | None = None,
        cut_at_s: float | None = None,
    ) -> None:
        """Import the controller's readings."""
        import_readings(
            firing=firing,
            data=recorder.recorded_csv(
                schedule=programme_of(firing.schedule),
                kiln=kiln_model(firing.kiln),
                opening_c=firing.booking.opens_below_c,
                seed=self.seed + firing.pk,
                until_s=until_s,
                cut_at_s=cut_at_s,
            ),
            file_name=f"demo-{firing.kiln.name.lower()}-{firing.pk}.csv",
            unit=None,
            by=None,
            at=at,
        )

    def stack_and_start(
        self, piece: Piece, *, kiln: Kiln, height_mm: float, by: Person, at: dt.datetime
    ) -> Firing:
        """Check the stack a day before, book the kiln from `at` on, and start it."""
        checked_at = at - dt.timedelta(days=1)
        check_stack(
            piece=piece,
            layers_counted=len(fresh(piece).layers),
            measured_height_mm=height_mm,
            is_order_right=True,
            by=by,
            at=checked_at,
        )
        hand = self.workshop.people["Isla"]
        self.work(piece, "cutting", "stacking", "dams", by=hand, at=checked_at)
        schedule = compute_fuse_schedule(
            piece=piece, kiln=kiln, rule=ScheduleRule.NEXT_ROW, by=by, at=checked_at
        )
        firing = book_fuse(
            piece=piece,
            kiln=kiln,
            schedule=schedule,
            starts_at=at,
            by=by,
            at=checked_at,
        )
        load = dt.timedelta(seconds=practice.LOAD_STACK_S)
        return start_firing(firing=firing, by=by, at=at + load)

    def unload(
        self, firing: Firing, *, outcome: str, note: str, by: Person
    ) -> dt.datetime:
        """Open a kiln when somebody is in, and record how its one piece came out."""
        at = may_open_at(self.workshop.studio, firing.booking.opens_at)
        item = firing.items.get()
        finish_firing(
            firing=firing,
            outcomes={item.pk: (outcome, note)},
            by=by,
            at=at,
            hand=read_by_hand(firing),
        )
        return at

    def attended_before(self, at: dt.datetime) -> dt.datetime:
        """Return the last full hour, no later than `at`, at which a stack may go in."""
        at = at.replace(minute=0, second=0, microsecond=0)
        while not is_attended(self.workshop.studio, at, practice.LOAD_STACK_S):
            at -= dt.timedelta(hours=1)
        return at

    def photograph_layers(
        self,
        piece: Piece,
        scene: Scene,
        images: int,
        *,
        by: Person,
        at: dt.datetime,
        shown: int = 0,
    ) -> None:
        """Name the layers, and add a picture to each one that was painted.

        There are as many `images` in the whole piece; its client sees the last `shown`.
        """
        layers = fresh(piece).layers
        for one in layers[:images]:
            title = scene.title(one.number, images)
            change_layer(layer=one.layer, title=title, by=by, at=at)
        painted_ones = [
            one for one in layers if any(each.painted_at for each in one.all_passes)
        ]
        for left, one in enumerate(painted_ones, start=-len(painted_ones)):
            image = pictures.layer_picture(
                scene, seed=self.seed, number=one.number, count=images
            )
            add_picture(
                studio=self.workshop.studio,
                upload=io.BytesIO(image),
                name="demo.jpg",
                layer=one.layer,
                caption="Demo picture",
                is_shown_to_client=left >= -shown,
                by=by,
                at=at,
            )

    def photograph_piece(
        self, piece: Piece, scene: Scene, *, by: Person, at: dt.datetime
    ) -> None:
        """Add a picture of the finished slab."""
        self.work(piece, "edges", "faces", "inspecting", by=by, at=at)
        images = piece.layers.count() - 1
        image = pictures.stack_picture(scene, seed=self.seed, count=images)
        add_picture(
            studio=self.workshop.studio,
            upload=io.BytesIO(image),
            name="demo.jpg",
            piece=piece,
            caption=f"Demo picture: {piece.title}",
            by=by,
            at=at,
        )

    def write_record(
        self, piece: Piece, *, by: Person, at: dt.datetime, **told: object
    ) -> None:
        """Fill in a finished piece's record, with a demo picture between polarisers."""
        image = pictures.polariser_picture(seed=self.seed)
        save_record(
            piece=piece,
            told=told,
            seen=develop(io.BytesIO(image), "demo.jpg"),
            by=by,
            at=at,
        )


def waiting(piece: Piece) -> list[Pass]:
    """Return the passes that may be painted now, from the back."""
    return [v.pass_to_paint for v in fresh(piece).layers if v.pass_to_paint is not None]


def painted(piece: Piece) -> list[Pass]:
    """Return the passes waiting for the kiln, from the back."""
    return [v.pass_to_fire for v in fresh(piece).layers if v.pass_to_fire is not None]
