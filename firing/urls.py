"""Addresses of the firing app."""

from django.urls import path

from firing.firings.views import (
    firings,
    fuses,
    kilns,
    loads,
    others_work,
    papers,
    put_right,
    saved_schedules,
    schedule_page,
    schedules,
    typed,
)
from firing.kiln_time.views import feeds, free, week
from firing.plans.views import bookings, moves, plans
from firing.readings.views import (
    entries,
    judging,
    limits,
    loggers,
    pushed,
    readings,
    upkeep,
)
from firing.records.views import record
from firing.schedules.views import fuse_anneal, method
from firing.watch.views import events

app_name = "firing"

urlpatterns = [
    path("kilns/", kilns.kiln_list, name="kiln_list"),
    path("kilns/plan/", plans.plan_page, name="plan"),
    path("kilns/plan/make/", plans.plan_make, name="plan_make"),
    path("kilns/plan/confirm/", plans.plan_confirm, name="plan_confirm"),
    path("kilns/plan/why/<int:pk>/", plans.plan_why, name="plan_why"),
    path("kilns/plan/<int:pk>/", plans.plan_detail, name="plan_detail"),
    path("kilns/plan/<int:pk>/stop/", plans.plan_stop, name="plan_stop"),
    path("kilns/plan/<int:pk>/accept/", plans.plan_accept, name="plan_accept"),
    path("kilns/plan/<int:pk>/refuse/", plans.plan_refuse, name="plan_refuse"),
    path("kilns/<int:pk>/", kilns.kiln_detail, name="kiln_detail"),
    path(
        "kilns/<int:pk>/use-measured/",
        kilns.kiln_use_measured,
        name="kiln_use_measured",
    ),
    path("kilns/week/", week.week_sheet, name="week_sheet"),
    path("kilns/calendar/", feeds.calendar_links, name="calendar_links"),
    path(
        "kilns/calendar/<int:pk>/remove/",
        feeds.calendar_link_remove,
        name="calendar_link_remove",
    ),
    path("calendar/<str:token>/", feeds.calendar_feed, name="calendar_feed"),
    path("pieces/<int:pk>/record/", record.piece_record, name="piece_record"),
    path("pieces/<int:pk>/record/change/", record.record_edit, name="record_edit"),
    path(
        "pieces/<int:pk>/record/paper/",
        record.record_on_paper,
        name="record_on_paper",
    ),
    path("kilns/free/", free.free_time, name="free_time"),
    path("kilns/<int:pk>/compare/", entries.comparison_new, name="comparison_new"),
    path(
        "kilns/comparisons/<int:pk>/correct/",
        entries.comparison_edit,
        name="comparison_edit",
    ),
    path("kilns/<int:pk>/change/", entries.kiln_change_new, name="kiln_change_new"),
    path(
        "kilns/changes/<int:pk>/remove/",
        entries.kiln_change_remove,
        name="kiln_change_remove",
    ),
    path(
        "kilns/changes/<int:pk>/correct/",
        entries.kiln_change_edit,
        name="kiln_change_edit",
    ),
    path("kilns/<int:pk>/upkeep/", upkeep.upkeep_new, name="upkeep_new"),
    path("kilns/upkeep/<int:pk>/done/", upkeep.upkeep_is_done, name="upkeep_done"),
    path(
        "kilns/upkeep/<int:pk>/remove/",
        upkeep.upkeep_remove,
        name="upkeep_remove",
    ),
    path("kilns/<int:pk>/evenness/", entries.evenness_new, name="evenness_new"),
    path(
        "kilns/evenness/<int:pk>/correct/",
        entries.evenness_edit,
        name="evenness_edit",
    ),
    path(
        "kilns/evenness/<int:pk>/remove/",
        entries.evenness_remove,
        name="evenness_remove",
    ),
    path(
        "kilns/comparisons/<int:pk>/remove/",
        entries.comparison_remove,
        name="comparison_remove",
    ),
    path("kilns/<int:pk>/loggers/", loggers.kiln_logger_new, name="kiln_logger_new"),
    path("kilns/loggers/<int:pk>/revoke/", loggers.logger_revoke, name="logger_revoke"),
    path(
        "firings/readings/push/openapi.json",
        loggers.readings_openapi,
        name="readings_openapi",
    ),
    path("firings/readings/push/", loggers.readings_push, name="readings_push"),
    path("kilns/bookings/new/", bookings.booking_new, name="booking_new"),
    path("kilns/bookings/<int:pk>/", bookings.booking_detail, name="booking_detail"),
    path("kilns/bookings/<int:pk>/move/", moves.booking_move, name="booking_move"),
    path("kilns/bookings/<int:pk>/place/", moves.booking_place, name="booking_place"),
    path(
        "kilns/bookings/<int:pk>/cancel/",
        bookings.booking_cancel,
        name="booking_cancel",
    ),
    path("kilns/bookings/<int:pk>/used/", bookings.booking_used, name="booking_used"),
    path("kilns/bookings/<int:pk>/undo/", bookings.booking_undo, name="booking_undo"),
    path("firings/", firings.firing_list, name="firing_list"),
    path("firings/enamel/new/", loads.load_new, name="load_new"),
    path("firings/<int:pk>/", firings.firing_detail, name="firing_detail"),
    path(
        "firings/events/<int:pk>/seen-to/",
        events.event_seen_to,
        name="event_seen_to",
    ),
    path(
        "firings/events/<int:pk>/not-seen-to/",
        events.event_not_seen_to,
        name="event_not_seen_to",
    ),
    path("firings/<int:pk>/start/", firings.firing_start, name="firing_start"),
    path("firings/<int:pk>/finish/", firings.firing_finish, name="firing_finish"),
    path("firings/<int:pk>/started/", put_right.firing_started, name="firing_started"),
    path(
        "firings/<int:pk>/not-started/",
        put_right.firing_not_started,
        name="firing_not_started",
    ),
    path(
        "firings/<int:pk>/not-unloaded/",
        put_right.firing_not_unloaded,
        name="firing_not_unloaded",
    ),
    path("firings/outcomes/<int:pk>/", put_right.item_outcome, name="item_outcome"),
    path("firings/outcomes/<int:pk>/shot/", firings.item_shot, name="item_shot"),
    path("firings/<int:pk>/work/new/", others_work.work_add, name="work_add"),
    path("firings/work/<int:pk>/", others_work.work_change, name="work_change"),
    path("firings/<int:pk>/cancel/", firings.firing_cancel, name="firing_cancel"),
    path(
        "firings/<int:pk>/controller-sheet/",
        papers.controller_sheet,
        name="controller_sheet",
    ),
    path("firings/<int:pk>/door-sign/", papers.door_sign, name="door_sign"),
    path(
        "firings/<int:pk>/judgement/",
        judging.firing_judgement,
        name="firing_judgement",
    ),
    path(
        "firings/<int:pk>/judgement/paper/",
        papers.verdict_paper,
        name="verdict_paper",
    ),
    path(
        "firings/<int:pk>/judgement/again/",
        judging.firing_judge_again,
        name="firing_judge_again",
    ),
    path(
        "firings/<int:pk>/re-anneal/",
        judging.firing_re_anneal,
        name="firing_re_anneal",
    ),
    path(
        "firings/<int:pk>/type-now/",
        judging.firing_type_now,
        name="firing_type_now",
    ),
    path("firings/<int:pk>/typed/", typed.firing_typed, name="firing_typed"),
    path(
        "firings/typed/<int:pk>/take-back/",
        typed.typed_take_back,
        name="typed_take_back",
    ),
    path(
        "firings/<int:pk>/readings/", readings.readings_import, name="readings_import"
    ),
    path(
        "firings/<int:pk>/readings/sent/<int:number>/",
        readings.readings_sent,
        name="readings_sent",
    ),
    path(
        "firings/<int:pk>/readings/sent/<int:number>/drop/",
        readings.readings_sent_drop,
        name="readings_sent_drop",
    ),
    path(
        "firings/<int:pk>/readings/pushed/<int:number>/",
        pushed.readings_pushed,
        name="readings_pushed",
    ),
    path(
        "firings/readings/<int:pk>/remove/",
        readings.readings_remove,
        name="readings_remove",
    ),
    path("pieces/<int:pk>/fuse/", schedule_page.fuse_plan, name="fuse_plan"),
    path("pieces/<int:pk>/fuse/book/", fuses.fuse_book, name="fuse_book"),
    path(
        "schedules/design/", schedule_page.schedule_designer, name="schedule_designer"
    ),
    path("schedules/", saved_schedules.schedule_list, name="schedule_list"),
    path("schedules/keep/", saved_schedules.schedule_keep, name="schedule_keep"),
    path(
        "schedules/<int:pk>/book/", saved_schedules.schedule_book, name="schedule_book"
    ),
    path("schedules/limits/", limits.limits_edit, name="limits_edit"),
    path("schedules/anneal/", fuse_anneal.fuse_anneal_edit, name="fuse_anneal_edit"),
    path("schedules/how/", method.schedule_how, name="schedule_how"),
    path("schedules/<int:pk>/", schedules.schedule_detail, name="schedule_detail"),
]
