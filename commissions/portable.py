"""What an exported studio takes along from the commissions app, and its spreadsheet
lists.
"""

from datetime import datetime

from commissions import (
    consignment_papers,
    documents,
    invoice_papers,
    statement_papers,
)
from commissions.models import (
    BusinessDetails,
    Client,
    ClientLetter,
    Commission,
    CommissionedPiece,
    Instalment,
    Invoice,
    InvoiceLine,
    NumberSeries,
    Payment,
    Post,
    PriceBook,
    PromiseCheck,
    Quote,
    QuoteLine,
    Receipt,
    Reminder,
    ShareLink,
)
from commissions.selectors.promise_checks import checks
from commissions.services.promises import order_check
from studio.keyed_tokens import new_nonce
from studio.models import Studio
from studio.selectors.kinds import (
    Keys,
    carry,
    name_paper,
    name_subjects,
    on_arrival,
)
from studio.selectors.lists import add_table, length, plain


def mend_quote(quote: Quote, keys: Keys) -> bool:
    """Point the numbers behind a price at the new rows of glass, materials and kilns."""
    work = quote.inputs.get("work", {})
    if "glass_id" in work:
        work["glass_id"] = keys["studio.glass"].get(work["glass_id"])
    pricing = quote.inputs.get("pricing", {})
    for row in (*pricing.get("materials", ()), *pricing.get("kiln_times", ())):
        kind, _, pk = row.get("key", "").partition(" ")
        if kind:
            row["key"] = f"{kind} {keys[f'studio.{kind}'].get(int(pk))}"
    choices = quote.inputs.get("choices", {})
    for name in ("enamel_kiln", "fuse_kiln"):
        if choices.get(name) is not None:
            choices[name] = keys["studio.kiln"].get(choices[name])
    return True


@on_arrival
def order_checks(studio: Studio, _: datetime) -> None:
    """Order again what was waiting for the old server's worker."""
    for check in checks(studio).filter(made_at=None):
        order_check(check)


carry(
    Client,
    "name email phone address tax_status tax_number kiln_user note created_at",
)
carry(
    Commission,
    "client title brief reference width_mm height_mm layer_count cap_count technique "
    "passes_per_layer glass is_dammed maquette_layer_count "
    "maquette_width_mm maquette_height_mm gallery gallery_cut_percent gallery_sells gallery_returns_date "
    "wanted_by_date "
    "created_at created_by closed_at closed_reason closed_money closed_money_amount "
    "closed_money_reason reopened_at",
    left={"request_key": "tells a form pressed twice on the old server"},
)
carry(
    ClientLetter,
    "client commission to subject text at by",
    left={"delivery": "the sending itself, which is over or stays here"},
)
carry(CommissionedPiece, "commission piece is_maquette replaced_at loss_told_at")
carry(
    Payment,
    "commission invoice amount currency received_date method note from_credit recorded_at recorded_by "
    "taken_back_at taken_back_reason",
)
carry(
    PriceBook,
    "labour_rate_per_hour energy_price_per_kwh waste_percent overhead_percent "
    "remake_percent markup_percent rounding tax_name tax_percent second_tax_name "
    "second_tax_percent tax_included kiln_rate_has_energy deposit_percent "
    "stage_percent quote_valid_days needs_deposit needs_stage_payment",
)
carry(
    Quote,
    "commission version option option_name adds_to currency net tax tax_name total to_studio inputs promised_date "
    "agreed_date agreed_at valid_until_date message made_at made_by sent_at "
    "accepted_at accepted_by_name accepted_how acceptance_recorded_at "
    "acceptance_recorded_by declined_at declined_reason paper",
    left={
        "promise_facts": "facts by old keys; the next check of the date names no changes"
    },
    mend=mend_quote,
    mended="inputs",
)
carry(
    QuoteLine,
    "quote number section key label explanation quantity unit unit_price amount is_shown",
)
carry(
    BusinessDetails,
    "name address tax_number account_holder iban bic other_ways payment_link "
    "days_to_pay terms",
)
carry(NumberSeries, "name year last")
carry(
    Invoice,
    "client commission instalment kiln_user kiln_month corrects kind year serial number "
    "title message "
    "currency net tax rounding total issued_date due_date made_at made_by issued_at "
    "issued_by sent_at paper",
)
carry(
    InvoiceLine,
    "invoice number label quantity unit unit_price net tax_category tax_name "
    "tax_percent",
)
carry(
    Reminder,
    "invoice sent_date sent_to text recorded_at recorded_by taken_back_at "
    "taken_back_reason",
)
carry(Receipt, "payment year serial number made_at paper")
carry(Instalment, "quote number label due_on percent amount")
carry(
    ShareLink,
    "commission made_at made_by expires_at revoked_at last_opened_at",
    left={"nonce": "half of the link; each link is made anew, send it to the client"},
    given={"nonce": lambda _: new_nonce()},
)
carry(Post, "commission text pictures at by withdrawn_at")
carry(
    PromiseCheck,
    "quote why asked_at made_at ready_date date_80 date_95 outcome reason problem "
    "changes advice",
    left={"job": "an order for the old server's worker; what waits is ordered again"},
)

name_subjects(client=Client, commission=Commission)
name_paper(documents.KIND, Quote)
name_paper(consignment_papers.KIND, Commission)
name_paper(documents.ACCEPTED_KIND, Quote)
name_paper(invoice_papers.KIND, Invoice)
name_paper(invoice_papers.RECEIPT_KIND, Receipt)
name_paper(statement_papers.KIND, Client)

add_table(
    "clients",
    lambda studio: Client.owned.for_studio(studio).order_by("name", "pk"),
    plain("Client", "name"),
    plain("E-mail", "email"),
    plain("Phone", "phone"),
    plain("Address", "address"),
    plain("Tax", "get_tax_status_display"),
    plain("Tax number", "tax_number"),
    plain("Note", "note"),
    plain("Entered", "created_at"),
)
add_table(
    "commissions",
    lambda studio: (
        Commission.owned.for_studio(studio)
        .select_related("client", "glass")
        .order_by("created_at", "pk")
    ),
    plain("Commission", "title"),
    plain("Client", "client"),
    length("Width", "width_mm"),
    length("Height", "height_mm"),
    plain("Layers", "layer_count"),
    plain("Glass", "glass"),
    plain("Wanted by", "wanted_by_date"),
    plain("Entered", "created_at"),
    plain("Closed", "closed_at"),
    plain("Why", "closed_reason"),
    plain("Its money", "get_closed_money_display"),
    plain("Paid back or credited", "closed_money_amount"),
)
add_table(
    "quotes",
    lambda studio: (
        Quote.owned.for_studio(studio)
        .select_related("commission__client", "adds_to")
        .order_by("commission", "version")
    ),
    plain("Commission", "commission"),
    plain("Client", "commission.client"),
    plain("Version", "version"),
    plain("Addendum to", "adds_to.version"),
    plain("Net", "net"),
    plain("Tax", "tax"),
    plain("Total", "total"),
    plain("Currency", "currency"),
    plain("Promised for", "promised_date"),
    plain("Valid until", "valid_until_date"),
    plain("Sent", "sent_at"),
    plain("Accepted", "accepted_at"),
    plain("Accepted by", "accepted_by_name"),
    plain("Accepted how", "accepted_how"),
    plain("Declined", "declined_at"),
)
add_table(
    "payments",
    lambda studio: (
        Payment.owned.for_studio(studio)
        .select_related(
            "commission__client", "invoice__client", "receipt", "recorded_by"
        )
        .order_by("received_date", "pk")
    ),
    plain("Received", "received_date"),
    plain("Receipt", "receipt_number"),
    plain("Commission", "commission"),
    plain("Invoice", "invoice.number"),
    plain("Client", "payer"),
    plain("Amount", "amount"),
    plain("Currency", "currency"),
    plain("Method", "method"),
    plain("Note", "note"),
    plain("Recorded by", "recorded_by"),
    plain("Taken back", "taken_back_at"),
    plain("Why", "taken_back_reason"),
)
add_table(
    "invoices",
    lambda studio: (
        Invoice.owned.for_studio(studio)
        .filter(issued_at__isnull=False)
        .select_related("client", "commission", "corrects")
        .order_by("year", "serial", "pk")
    ),
    plain("Number", "number"),
    plain("Kind", "get_kind_display"),
    plain("Issued", "issued_date"),
    plain("Due", "due_date"),
    plain("Client", "client"),
    plain("Commission", "commission"),
    plain("For", "title"),
    plain("Corrects", "corrects.number"),
    plain("Net", "net"),
    plain("Tax", "tax"),
    plain("Rounding", "rounding"),
    plain("Total", "total"),
    plain("Currency", "currency"),
    plain("Sent", "sent_at"),
)
add_table(
    "reminders",
    lambda studio: (
        Reminder.owned.for_studio(studio)
        .select_related("invoice__client", "recorded_by")
        .order_by("sent_date", "pk")
    ),
    plain("Invoice", "invoice.number"),
    plain("Client", "invoice.client"),
    plain("Sent on", "sent_date"),
    plain("Sent to", "sent_to"),
    plain("What it said", "text"),
    plain("Recorded by", "recorded_by"),
    plain("Taken back", "taken_back_at"),
    plain("Why", "taken_back_reason"),
)
