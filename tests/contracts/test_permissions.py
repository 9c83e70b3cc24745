"""Who may open which address: every address, every role, and another studio's people.

The table is compared with the URL configuration: an address without a line here, or a
line without an address, fails.
"""

from dataclasses import dataclass

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from commissions.models import Client as Customer
from commissions.models import (
    Commission,
    Instalment,
    Invoice,
    Payment,
    Post,
    Quote,
    Receipt,
    Reminder,
    ShareLink,
)
from commissions.selectors.share_links import link_token
from firing.models import (
    Booking,
    CalendarLink,
    Firing,
    FiringEvent,
    KilnChange,
    KilnComparison,
    KilnEvenness,
    KilnLogger,
    KilnUpkeep,
    LoadItem,
    Plan,
    ReadingImport,
    Schedule,
    TypedProgramme,
)
from studio.models import (
    AccessHours,
    Closure,
    Delivery,
    Glass,
    Invitation,
    Kiln,
    KilnUser,
    Layer,
    Material,
    Membership,
    Pass,
    Phone,
    Picture,
    Piece,
    PieceEvent,
    PieceMove,
    Role,
    StockMove,
    StockSheet,
    TaskTime,
)
from studio.roles import Can, allowed
from tests import make
from tests.demo import MONDAY_MORNING

ANYBODY = None
SIGNED_IN = "signed in"

EXPECTED = {
    "studio:process_up": ANYBODY,
    "studio:ready": ANYBODY,
    "studio:sign_in": ANYBODY,
    "studio:sign_in_code": ANYBODY,
    "studio:sign_out": ANYBODY,
    "studio:password_set": ANYBODY,
    "studio:today": Can.SEE_WORK,
    "studio:stock_count": Can.RECORD_WORK,
    "studio:stock_moves": Can.SEE_WORK,
    "studio:stock_move_take_back": Can.RECORD_WORK,
    "studio:stock_shopping": Can.SEE_WORK,
    "studio:stock_cutting_terms": Can.PLAN_PIECES,
    "studio:stock_sheet_correct": Can.RECORD_WORK,
    "studio:material_receive": Can.RECORD_WORK,
    "studio:material_correct": Can.RECORD_WORK,
    "studio:glass_receive": Can.RECORD_WORK,
    "studio:glass_cutting": Can.SEE_WORK,
    "studio:glass_cut": Can.RECORD_WORK,
    "studio:glass_cutting_sheet": Can.SEE_WORK,
    "studio:piece_list": Can.SEE_WORK,
    "studio:search": Can.SEE_WORK,
    "studio:piece_new": Can.PLAN_PIECES,
    "studio:piece_detail": Can.SEE_WORK,
    "studio:piece_edit": Can.PLAN_PIECES,
    "studio:piece_face": Can.SEE_WORK,
    "studio:piece_paint": Can.RECORD_WORK,
    "studio:stack_check": Can.PLAN_PIECES,
    "studio:piece_finish": Can.PLAN_PIECES,
    "studio:piece_lost": Can.PLAN_PIECES,
    "studio:layer_detail": Can.SEE_WORK,
    "studio:layer_make_again": Can.RECORD_WORK,
    "studio:layer_rename": Can.RECORD_WORK,
    "studio:layer_again_take_back": Can.RECORD_WORK,
    "studio:painting_take_back": Can.RECORD_WORK,
    "studio:event_take_back": Can.PLAN_PIECES,
    "firing:firing_started": Can.RUN_FIRINGS,
    "firing:firing_not_started": Can.RUN_FIRINGS,
    "firing:firing_not_unloaded": Can.RUN_FIRINGS,
    "firing:item_outcome": Can.RUN_FIRINGS,
    "firing:item_shot": Can.RUN_FIRINGS,
    "studio:timer_start": Can.RECORD_WORK,
    "studio:timer_stop": Can.RECORD_WORK,
    "studio:timer_resume": Can.RECORD_WORK,
    "studio:time_list": Can.SEE_WORK,
    "studio:time_new": Can.RECORD_WORK,
    "studio:time_correct": Can.RECORD_WORK,
    "studio:time_take_back": Can.RECORD_WORK,
    "studio:time_put_back": Can.RECORD_WORK,
    "studio:layer_add": Can.PLAN_PIECES,
    "studio:layer_take_out": Can.PLAN_PIECES,
    "studio:layer_put_back": Can.PLAN_PIECES,
    "studio:layer_move": Can.PLAN_PIECES,
    "studio:pass_add": Can.PLAN_PIECES,
    "studio:pass_take_out": Can.PLAN_PIECES,
    "studio:pass_shot": Can.RECORD_WORK,
    "studio:pass_take_back": Can.RECORD_WORK,
    "studio:picture": Can.SEE_WORK,
    "studio:picture_add": Can.RECORD_WORK,
    "studio:layer_picture_add": Can.RECORD_WORK,
    "studio:picture_detail": Can.SEE_WORK,
    "studio:picture_caption": Can.RECORD_WORK,
    "studio:picture_show": Can.PLAN_PIECES,
    "studio:picture_remove": Can.RECORD_WORK,
    "studio:stock": Can.SEE_WORK,
    "studio:glass_new": Can.SEE_MONEY,
    "studio:glass_edit": Can.SEE_MONEY,
    "studio:material_new": Can.SEE_MONEY,
    "studio:material_edit": Can.SEE_MONEY,
    "studio:settings": Can.SEE_WORK,
    "studio:my_units": Can.SEE_WORK,
    "studio:my_hours": Can.SEE_WORK,
    "studio:studio_edit": Can.MANAGE_STUDIO,
    "studio:currency_edit": Can.MANAGE_STUDIO,
    "studio:currency_take_back": Can.MANAGE_STUDIO,
    "studio:yours": Can.MANAGE_STUDIO,
    "studio:export_make": Can.MANAGE_STUDIO,
    "studio:export_state": Can.MANAGE_STUDIO,
    "studio:export_download": Can.MANAGE_STUDIO,
    "studio:studio_delete": Can.MANAGE_STUDIO,
    "studio:studio_keep": Can.MANAGE_STUDIO,
    "studio:demo_remove": Can.MANAGE_STUDIO,
    "studio:password_change": Can.SEE_WORK,
    "studio:signing_in": Can.SEE_WORK,
    "studio:second_step": Can.SEE_WORK,
    "studio:second_step_confirm": Can.SEE_WORK,
    "studio:second_step_off": Can.SEE_WORK,
    "studio:recovery_codes_new": Can.SEE_WORK,
    "studio:device_end": Can.SEE_WORK,
    "studio:devices_end_others": Can.SEE_WORK,
    "studio:studio_switch": Can.SEE_WORK,
    "studio:studio_home": Can.SEE_WORK,
    "studio:password_forgotten": ANYBODY,
    "studio:invitation": ANYBODY,
    "studio:invitation_link": ANYBODY,
    "studio:invitation_join": ANYBODY,
    "studio:invitation_accept": ANYBODY,
    "studio:invitation_decline": ANYBODY,
    "studio:invitation_new": Can.MANAGE_STUDIO,
    "studio:invitation_renew": Can.MANAGE_STUDIO,
    "studio:invitation_withdraw": Can.MANAGE_STUDIO,
    "studio:member_edit": Can.MANAGE_STUDIO,
    "studio:member_password": Can.MANAGE_STUDIO,
    "studio:member_hours": Can.PLAN_PIECES,
    "studio:kiln_new": Can.MANAGE_KILNS,
    "studio:kiln_edit": Can.MANAGE_KILNS,
    "studio:access_add": Can.MANAGE_KILNS,
    "studio:access_remove": Can.MANAGE_KILNS,
    "studio:closure_add": Can.MANAGE_KILNS,
    "studio:closure_remove": Can.MANAGE_KILNS,
    "studio:history": Can.SEE_WORK,
    "studio:styleguide": Can.SEE_WORK,
    "firing:kiln_list": Can.SEE_WORK,
    "firing:kiln_detail": Can.SEE_WORK,
    "firing:kiln_use_measured": Can.MANAGE_KILNS,
    "firing:readings_push": ANYBODY,
    "firing:kiln_logger_new": Can.MANAGE_KILNS,
    "firing:logger_revoke": Can.MANAGE_KILNS,
    "firing:kiln_change_new": Can.MANAGE_KILNS,
    "firing:kiln_change_remove": Can.MANAGE_KILNS,
    "firing:kiln_change_edit": Can.MANAGE_KILNS,
    "firing:upkeep_new": Can.MANAGE_KILNS,
    "firing:upkeep_done": Can.MANAGE_KILNS,
    "firing:upkeep_remove": Can.MANAGE_KILNS,
    "firing:comparison_new": Can.MANAGE_KILNS,
    "firing:comparison_edit": Can.MANAGE_KILNS,
    "firing:comparison_remove": Can.MANAGE_KILNS,
    "firing:evenness_new": Can.MANAGE_KILNS,
    "firing:evenness_edit": Can.MANAGE_KILNS,
    "firing:evenness_remove": Can.MANAGE_KILNS,
    "firing:plan": Can.SEE_WORK,
    "firing:plan_make": Can.BOOK_KILNS,
    "firing:plan_confirm": Can.BOOK_KILNS,
    "firing:plan_why": Can.SEE_WORK,
    "firing:plan_detail": Can.SEE_WORK,
    "firing:plan_stop": Can.BOOK_KILNS,
    "firing:plan_accept": Can.BOOK_KILNS,
    "firing:plan_refuse": Can.BOOK_KILNS,
    "firing:free_time": Can.SEE_WORK,
    "firing:week_sheet": Can.SEE_WORK,
    "firing:booking_new": Can.BOOK_KILNS,
    "firing:booking_detail": Can.SEE_WORK,
    "firing:booking_cancel": Can.BOOK_KILNS,
    "firing:booking_undo": Can.BOOK_KILNS,
    "firing:booking_used": Can.BOOK_KILNS,
    "firing:booking_move": Can.BOOK_KILNS,
    "firing:booking_place": Can.BOOK_KILNS,
    "firing:load_new": Can.BOOK_KILNS,
    "firing:firing_list": Can.SEE_WORK,
    "studio:manifest": ANYBODY,
    "studio:worker_script": ANYBODY,
    "studio:piece_labels": Can.SEE_WORK,
    "studio:work_list": Can.SEE_WORK,
    "studio:work_move": Can.PLAN_PIECES,
    "studio:work_paper": Can.SEE_WORK,
    "studio:piece_moves": Can.SEE_WORK,
    "studio:move_take_back": Can.PLAN_PIECES,
    "firing:piece_record": Can.SEE_WORK,
    "firing:record_edit": Can.PLAN_PIECES,
    "firing:record_on_paper": Can.SEE_WORK,
    "studio:piece_registration": Can.SEE_WORK,
    "studio:offline": ANYBODY,
    "studio:offline_token": Can.SEE_WORK,
    "studio:message_list": Can.SEE_WORK,
    "studio:message_wishes": Can.SEE_WORK,
    "studio:phone_add": Can.SEE_WORK,
    "studio:phone_remove": Can.SEE_WORK,
    "studio:delivery_again": Can.SEE_WORK,
    "studio:letter_file": Can.MANAGE_STUDIO,
    "studio:message_stop": ANYBODY,
    "studio:letters_stop": ANYBODY,
    "commissions:client_letter": Can.SEE_MONEY,
    "commissions:commission_letter": Can.SEE_MONEY,
    "commissions:quote_letter": Can.SEE_MONEY,
    "commissions:invoice_letter": Can.SEE_MONEY,
    "firing:firing_detail": Can.SEE_WORK,
    "firing:firing_start": Can.RUN_FIRINGS,
    "firing:readings_openapi": ANYBODY,
    "firing:door_sign": Can.SEE_WORK,
    "firing:calendar_feed": ANYBODY,
    "firing:calendar_links": Can.SEE_WORK,
    "firing:calendar_link_remove": Can.SEE_WORK,
    "firing:event_seen_to": Can.RUN_FIRINGS,
    "firing:event_not_seen_to": Can.RUN_FIRINGS,
    "firing:firing_finish": Can.RUN_FIRINGS,
    "firing:work_add": Can.RUN_FIRINGS,
    "firing:work_change": Can.RUN_FIRINGS,
    "firing:firing_cancel": Can.BOOK_KILNS,
    "firing:controller_sheet": Can.SEE_WORK,
    "firing:firing_judgement": Can.SEE_WORK,
    "firing:verdict_paper": Can.SEE_WORK,
    "firing:firing_re_anneal": Can.BOOK_KILNS,
    "firing:firing_type_now": Can.SEE_WORK,
    "firing:firing_judge_again": Can.RUN_FIRINGS,
    "firing:firing_typed": Can.RUN_FIRINGS,
    "firing:typed_take_back": Can.RUN_FIRINGS,
    "firing:readings_import": Can.RUN_FIRINGS,
    "firing:readings_remove": Can.RUN_FIRINGS,
    "firing:readings_pushed": Can.RUN_FIRINGS,
    "firing:readings_sent": Can.RUN_FIRINGS,
    "firing:readings_sent_drop": Can.RUN_FIRINGS,
    "firing:fuse_plan": Can.BOOK_KILNS,
    "firing:fuse_book": Can.BOOK_KILNS,
    "firing:schedule_detail": Can.SEE_WORK,
    "firing:schedule_designer": Can.BOOK_KILNS,
    "firing:schedule_how": Can.SEE_WORK,
    "firing:limits_edit": Can.MANAGE_KILNS,
    "firing:fuse_anneal_edit": Can.MANAGE_KILNS,
    "firing:schedule_list": Can.SEE_WORK,
    "firing:schedule_keep": Can.BOOK_KILNS,
    "firing:schedule_book": Can.BOOK_KILNS,
    "commissions:commission_list": Can.SEE_MONEY,
    "commissions:commission_new": Can.SEE_MONEY,
    "commissions:commission_detail": Can.SEE_MONEY,
    "commissions:commission_edit": Can.SEE_MONEY,
    "commissions:commission_close": Can.SEE_MONEY,
    "commissions:commission_reopen": Can.SEE_MONEY,
    "commissions:commission_close_again": Can.SEE_MONEY,
    "commissions:commission_use_credit": Can.SEE_MONEY,
    "commissions:lost_remake": Can.SEE_MONEY,
    "commissions:lost_remake_take_back": Can.SEE_MONEY,
    "commissions:lost_tell": Can.SEE_MONEY,
    "commissions:lost_tell_take_back": Can.SEE_MONEY,
    "commissions:commission_check_day": Can.SEE_MONEY,
    "commissions:commission_agree_day": Can.SEE_MONEY,
    "commissions:client_list": Can.SEE_MONEY,
    "commissions:client_detail": Can.SEE_MONEY,
    "commissions:client_edit": Can.SEE_MONEY,
    "commissions:rates_edit": Can.MANAGE_STUDIO,
    "commissions:quote_new": Can.SEE_MONEY,
    "commissions:quote_detail": Can.SEE_MONEY,
    "commissions:cost_list": Can.SEE_MONEY,
    "commissions:piece_cost": Can.SEE_MONEY,
    "commissions:commission_cost": Can.SEE_MONEY,
    "commissions:quote_lines": Can.SEE_MONEY,
    "commissions:quote_option_new": Can.SEE_MONEY,
    "commissions:quote_option_remove": Can.SEE_MONEY,
    "commissions:quote_send": Can.SEE_MONEY,
    "commissions:addendum_new": Can.SEE_MONEY,
    "commissions:commission_as_agreed": Can.SEE_MONEY,
    "commissions:quote_pdf": Can.SEE_MONEY,
    "commissions:quote_accepted_pdf": Can.SEE_MONEY,
    "commissions:quote_acceptance_new": Can.SEE_MONEY,
    "commissions:quote_acceptance_take_back": Can.SEE_MONEY,
    "commissions:quote_paper_state": Can.SEE_MONEY,
    "commissions:payment_new": Can.SEE_MONEY,
    "commissions:payment_take_back": Can.SEE_MONEY,
    "commissions:payment_put_back": Can.SEE_MONEY,
    "commissions:kiln_use": Can.SEE_MONEY,
    "commissions:kiln_use_invoice": Can.SEE_MONEY,
    "commissions:kiln_rates": Can.MANAGE_STUDIO,
    "commissions:kiln_user_new": Can.SEE_MONEY,
    "commissions:kiln_user_edit": Can.SEE_MONEY,
    "commissions:money_list": Can.SEE_MONEY,
    "commissions:money_csv": Can.SEE_MONEY,
    "commissions:client_statement": Can.SEE_MONEY,
    "commissions:client_statement_pdf": Can.SEE_MONEY,
    "commissions:client_invoice_new": Can.SEE_MONEY,
    "commissions:instalment_invoice": Can.SEE_MONEY,
    "commissions:invoice_detail": Can.SEE_MONEY,
    "commissions:invoice_edit": Can.SEE_MONEY,
    "commissions:invoice_delete": Can.SEE_MONEY,
    "commissions:invoice_issue": Can.SEE_MONEY,
    "commissions:invoice_send": Can.SEE_MONEY,
    "commissions:invoice_unsend": Can.SEE_MONEY,
    "commissions:invoice_pdf": Can.SEE_MONEY,
    "commissions:invoice_pay": Can.SEE_MONEY,
    "commissions:invoice_credit": Can.SEE_MONEY,
    "commissions:invoice_refund": Can.SEE_MONEY,
    "commissions:invoice_use_credit": Can.SEE_MONEY,
    "commissions:invoice_remind": Can.SEE_MONEY,
    "commissions:reminder_take_back": Can.SEE_MONEY,
    "commissions:reminder_put_back": Can.SEE_MONEY,
    "commissions:receipt_pdf": Can.SEE_MONEY,
    "commissions:consignment_pdf": Can.SEE_MONEY,
    "commissions:business_edit": Can.MANAGE_STUDIO,
    "commissions:shared_invoice_pdf": ANYBODY,
    "commissions:shared_receipt_pdf": ANYBODY,
    "commissions:share_new": Can.SEE_MONEY,
    "commissions:share_revoke": Can.SEE_MONEY,
    "commissions:share_restore": Can.SEE_MONEY,
    "commissions:post_new": Can.SEE_MONEY,
    "commissions:post_withdraw": Can.SEE_MONEY,
    "commissions:post_restore": Can.SEE_MONEY,
    "commissions:shared_page": ANYBODY,
    "commissions:shared_quote_accept": ANYBODY,
    "commissions:shared_quote_decline": ANYBODY,
    "commissions:shared_quote_pdf": ANYBODY,
    "commissions:shared_version_pdf": ANYBODY,
    "commissions:shared_accepted_pdf": ANYBODY,
    "commissions:shared_picture": ANYBODY,
}

RECORD_OF = {
    "piece": Piece,
    "stack": Piece,
    "layer": Piece,
    "lost": Piece,
    "fuse": Piece,
    "pass": Pass,
    "glass": Glass,
    "material": Material,
    "member": Membership,
    "invitation": Invitation,
    "kiln": Kiln,
    "access": AccessHours,
    "closure": Closure,
    "booking": Booking,
    "firing": Firing,
    "plan": Plan,
    "schedule": Schedule,
    "commission": Commission,
    "client": Customer,
    "quote": Quote,
    "post": Post,
    "share": ShareLink,
    "payment": Payment,
    "invoice": Invoice,
    "instalment": Instalment,
    "receipt": Receipt,
    "reminder": Reminder,
    "consignment": Commission,
}
# Where the first word of the name does not say whose number the address holds.
RECORD_OF_NAME = {
    "studio:picture_add": Piece,
    "studio:stock_move_take_back": StockMove,
    "studio:stock_sheet_correct": StockSheet,
    "studio:painting_take_back": Piece,
    "studio:event_take_back": PieceEvent,
    "firing:item_outcome": LoadItem,
    "firing:event_seen_to": FiringEvent,
    "firing:calendar_link_remove": CalendarLink,
    "studio:phone_remove": Phone,
    "studio:delivery_again": Delivery,
    "studio:letter_file": Delivery,
    "firing:event_not_seen_to": FiringEvent,
    "firing:work_add": Firing,
    "firing:work_change": LoadItem,
    "commissions:kiln_user_edit": KilnUser,
    "firing:item_shot": LoadItem,
    "studio:timer_start": Piece,
    "studio:timer_stop": TaskTime,
    "studio:timer_resume": TaskTime,
    "studio:time_list": Piece,
    "studio:time_new": Piece,
    "studio:time_correct": TaskTime,
    "studio:time_take_back": TaskTime,
    "studio:time_put_back": TaskTime,
    "studio:pass_add": Piece,
    "studio:pass_take_out": Piece,
    "studio:layer_put_back": Layer,
    "commissions:quote_new": Commission,
    "commissions:addendum_new": Commission,
    "commissions:shared_version_pdf": Quote,
    "commissions:shared_accepted_pdf": Quote,
    "commissions:shared_invoice_pdf": Invoice,
    "commissions:shared_receipt_pdf": Receipt,
    "commissions:payment_new": Commission,
    "commissions:share_new": Commission,
    "commissions:post_new": Commission,
    "firing:kiln_change_new": Kiln,
    "firing:kiln_change_remove": KilnChange,
    "firing:kiln_change_edit": KilnChange,
    "firing:upkeep_new": Kiln,
    "firing:upkeep_done": KilnUpkeep,
    "firing:upkeep_remove": KilnUpkeep,
    "studio:move_take_back": PieceMove,
    "firing:record_edit": Piece,
    "firing:record_on_paper": Piece,
    "firing:comparison_new": Kiln,
    "firing:comparison_edit": KilnComparison,
    "firing:comparison_remove": KilnComparison,
    "firing:evenness_new": Kiln,
    "firing:evenness_edit": KilnEvenness,
    "firing:evenness_remove": KilnEvenness,
    "firing:logger_revoke": KilnLogger,
    "firing:verdict_paper": Firing,
    "firing:controller_sheet": Firing,
    "firing:door_sign": Firing,
    "firing:plan_why": Piece,
    "firing:readings_import": Firing,
    "firing:readings_remove": ReadingImport,
    "firing:readings_pushed": Firing,
    "firing:readings_sent": Firing,
    "firing:readings_sent_drop": Firing,
    "firing:typed_take_back": TypedProgramme,
    "commissions:shared_picture": Picture,
}
# People's own, not a studio's: tests/studio/views/test_accounts.py,
# tests/attacks/test_sessions.py and test_invitations.py try those that are somebody's.
NOT_OF_A_STUDIO = {
    "studio:password_set": {"uidb64": "MA", "token": "none"},
    "studio:invitation_link": {"token": "none"},
    "studio:device_end": {"pk": 0},
}


@dataclass(frozen=True)
class Address:
    name: str
    pattern: URLPattern
    arguments: frozenset[str]

    @property
    def view(self):
        return self.pattern.callback


def walk(patterns, namespace=""):
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            name = f"{namespace}:{pattern.name}" if namespace else str(pattern.name)
            yield name, pattern
        else:
            yield from walk(pattern.url_patterns, pattern.namespace or namespace)


def addresses():
    """Every address of the project with the arguments that its name needs."""
    resolver = get_resolver()
    found = []
    for name, pattern in walk(resolver.url_patterns):
        space, _, short = name.partition(":")
        forms = resolver.namespace_dict[space][1].reverse_dict.getlist(short)
        found.append(Address(name, pattern, frozenset(forms[0][0][0][1])))
    return found


ADDRESSES = addresses()


def test_every_address_has_an_expectation_and_every_expectation_an_address():
    names = [address.name for address in ADDRESSES]
    assert len(names) == len(set(names)), "An address has two places."
    assert set(names) == set(EXPECTED)


@pytest.mark.parametrize("address", ADDRESSES, ids=lambda address: address.name)
def test_every_view_declares_what_it_asks_for(address):
    assert hasattr(address.view, "requires"), "Decorate it: @requires or @public."
    assert address.view.requires == EXPECTED[address.name]


@pytest.fixture
def world(demo):
    """The demo's two studios; requests are undone one by one."""
    studio = demo
    KilnLogger.across_studios.create(
        studio=studio,
        kiln=Kiln.owned.for_studio(studio).first(),
        name="Laptop",
        nonce="laptop",
        made_at=MONDAY_MORNING,
    )
    KilnChange.across_studios.create(
        studio=studio,
        kiln=Kiln.owned.for_studio(studio).first(),
        changed_on=MONDAY_MORNING.date(),
        part="elements",
        made_at=MONDAY_MORNING,
    )
    KilnUpkeep.across_studios.create(
        studio=studio,
        kiln=Kiln.owned.for_studio(studio).first(),
        what="New kiln wash",
        every=20,
        counted="firings",
        since=MONDAY_MORNING.date(),
        made_at=MONDAY_MORNING,
    )
    KilnComparison.across_studios.create(
        studio=studio,
        kiln=Kiln.owned.for_studio(studio).first(),
        compared_on=MONDAY_MORNING.date(),
        shown_c=500,
        measured_c=505,
        error_k=2,
        compared_by="thermocouple",
        made_at=MONDAY_MORNING,
    )
    KilnEvenness.across_studios.create(
        studio=studio,
        kiln=Kiln.owned.for_studio(studio).first(),
        measured_on=MONDAY_MORNING.date(),
        middle_c=482,
        edge_c=486,
        reach_mm=200,
        error_k=1,
        made_at=MONDAY_MORNING,
    )
    make.invitation(studio=studio)
    CalendarLink.across_studios.create(
        studio=studio,
        kind="studio",
        person=Membership.owned.for_studio(studio).first().person,
        nonce="calendar-nonce",
        made_at=MONDAY_MORNING,
    )
    phone = Phone.across_studios.create(
        studio=studio,
        person=Membership.owned.for_studio(studio).first().person,
        name="Phone",
        endpoint="https://push.example/1",
        made_at=MONDAY_MORNING,
    )
    Delivery.across_studios.create(
        studio=studio,
        phone=phone,
        state="failed",
        made_at=MONDAY_MORNING,
        send_at=MONDAY_MORNING,
    )
    FiringEvent.across_studios.create(
        studio=studio,
        firing=Firing.owned.for_studio(studio).filter(started_at__isnull=False).first(),
        kind="power cut",
        begins_at=MONDAY_MORNING,
        begins_c=500,
        worst_c=450,
        amount=50,
        seen_at=MONDAY_MORNING,
        changed_at=MONDAY_MORNING,
        acknowledged_at=MONDAY_MORNING,
    )
    TypedProgramme.across_studios.create(
        studio=studio,
        firing=Firing.owned.for_studio(studio).filter(started_at__isnull=False).first(),
        at=MONDAY_MORNING,
        action="go on",
        programme={"start_c": 20, "segments": []},
        curve=[[0, 500], [3600, 50]],
        planned_before=[[0, 20], [3600, 50]],
        made_at=MONDAY_MORNING,
    )
    return studio


def arguments_of(address, studio):
    """Fill an address with the studio's own records."""
    filled = {}
    if address.name in NOT_OF_A_STUDIO:
        return NOT_OF_A_STUDIO[address.name]
    for argument in address.arguments:
        if argument == "number":
            filled[argument] = 1
        elif argument == "size":
            filled[argument] = "small"
        elif argument == "token":
            link = ShareLink.owned.for_studio(studio).order_by("pk").first()
            filled[argument] = link_token(link)
        else:
            filled[argument] = number_for(address.name, studio)
    return filled


def model_for(name):
    """Return whose number the address holds."""
    short = name.partition(":")[2]
    if short.startswith(("picture", "layer_picture")) and name not in RECORD_OF_NAME:
        return Piece if short.startswith("layer") else Picture
    return RECORD_OF_NAME.get(name) or RECORD_OF.get(short.split("_")[0])


def number_for(name, studio):
    model = model_for(name)
    record = model.owned.for_studio(studio).order_by("pk").first()
    assert record is not None, f"The demo has no {model.__name__} for {name}."
    return record.pk


def ask(browser, address, studio, *, photographer=None):
    """Ask for an address by GET, or by POST where it takes no GET; undo it.

    The one POST that needs a value to find anything is the choice of a studio.
    """
    arguments = arguments_of(address, studio)
    if address.name == "studio:picture_remove" and photographer is not None:
        # Everybody may remove a picture of their own.
        own = Picture.owned.for_studio(studio).filter(by=photographer).first()
        arguments = {"pk": own.pk} if own is not None else arguments
    url = reverse(address.name, kwargs=arguments)
    with transaction.atomic():
        response = browser.get(url)
        if response.status_code == 405:
            response = browser.post(url, {"studio": studio.pk})
        if response.streaming:
            # Read to the end: the test client then closes it without the database.
            b"".join(response.streaming_content)
        transaction.set_rollback(True)
    return response


def signed_in(membership):
    browser = Client()
    browser.force_login(
        membership.person, backend="django.contrib.auth.backends.ModelBackend"
    )
    return browser


def is_sent_to_sign_in(response):
    return response.status_code == 302 and response["Location"].startswith("/sign-in/")


def test_nobody_signed_in_sees_only_what_is_open(world):
    for address in ADDRESSES:
        response = ask(Client(), address, world)
        if EXPECTED[address.name] is ANYBODY:
            assert response.status_code != 403, address.name
            assert not (
                is_sent_to_sign_in(response)
                and address.name not in {"studio:sign_out", "studio:sign_in_code"}
            ), address.name
        else:
            assert is_sent_to_sign_in(response), address.name


@pytest.mark.parametrize("role", list(Role), ids=str)
def test_each_role_may_do_what_the_table_says_and_nothing_else(world, role):
    member = Membership.owned.for_studio(world).get(role=role)
    browser_of = signed_in(member)
    for address in ADDRESSES:
        ability = EXPECTED[address.name]
        if address.name in {"studio:sign_out", "studio:password_change"}:
            continue
        if address.name == "studio:demo_remove" and allowed(role, ability):
            continue  # it ends the session; tests/studio/views/test_yours.py does it
        response = ask(browser_of, address, world, photographer=member.person)
        told = f"{address.name} as {role}: {response.status_code}"
        if ability is ANYBODY:
            assert response.status_code < 500, told
        elif allowed(role, ability):
            # No device or phone of theirs, no letter as a file, and no worker that made the demo's faces.
            is_absent = address.name in {
                "studio:device_end",
                "studio:piece_face",
                "studio:phone_remove",
                "studio:delivery_again",
                "firing:calendar_link_remove",
                "studio:letter_file",
            }
            nobodys = {404} if is_absent else set()
            assert response.status_code in {200, 204, 302, 400, 409, 422} | nobodys, (
                told
            )
            assert not is_sent_to_sign_in(response), told
        else:
            assert response.status_code == 403, told


def test_another_studios_owner_finds_none_of_this_studios_records(world):
    other = Membership.across_studios.exclude(studio=world).get(role=Role.OWNER)
    browser_of = signed_in(other)
    for address in ADDRESSES:
        if EXPECTED[address.name] is ANYBODY or "pk" not in address.arguments:
            continue
        response = ask(browser_of, address, world)
        assert response.status_code == 404, address.name


def test_a_person_of_no_studio_is_told_so(world):
    lonely = Membership.owned.for_studio(world).get(role=Role.HELPER)
    lonely.is_active = False
    lonely.save()
    for address in ADDRESSES:
        if EXPECTED[address.name] is not ANYBODY:
            response = ask(signed_in(lonely), address, world)
            assert response.status_code == 403, address.name
