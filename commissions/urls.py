"""Addresses of the commissions app; those of the client's page start with ``c/``."""

from django.urls import path

from commissions import sharing
from commissions.views import (
    acceptances,
    clients,
    closing,
    commissions,
    costs,
    invoice_money,
    invoices,
    kiln_months,
    letters,
    losses,
    money,
    news,
    options,
    payments,
    quotes,
    rates,
    reminders,
)

app_name = "commissions"

urlpatterns = [
    path("commissions/", commissions.commission_list, name="commission_list"),
    path("commissions/new/", commissions.commission_new, name="commission_new"),
    path("commissions/costs/", costs.cost_list, name="cost_list"),
    path("pieces/<int:pk>/cost/", costs.piece_cost, name="piece_cost"),
    path("commissions/<int:pk>/cost/", costs.commission_cost, name="commission_cost"),
    path("commissions/rates/", rates.rates_edit, name="rates_edit"),
    path("commissions/clients/", clients.client_list, name="client_list"),
    path("commissions/clients/<int:pk>/", clients.client_detail, name="client_detail"),
    path(
        "commissions/clients/<int:pk>/letter/",
        letters.client_letter,
        name="client_letter",
    ),
    path(
        "commissions/<int:pk>/letter/",
        letters.commission_letter,
        name="commission_letter",
    ),
    path(
        "quotes/<int:pk>/letter/",
        letters.quote_letter,
        name="quote_letter",
    ),
    path(
        "invoices/<int:pk>/letter/",
        letters.invoice_letter,
        name="invoice_letter",
    ),
    path("commissions/clients/<int:pk>/edit/", clients.client_edit, name="client_edit"),
    path(
        "commissions/<int:pk>/",
        commissions.commission_detail,
        name="commission_detail",
    ),
    path(
        "commissions/<int:pk>/edit/",
        commissions.commission_edit,
        name="commission_edit",
    ),
    path(
        "commissions/<int:pk>/close/",
        closing.commission_close,
        name="commission_close",
    ),
    path(
        "commissions/<int:pk>/reopen/",
        closing.commission_reopen,
        name="commission_reopen",
    ),
    path(
        "commissions/<int:pk>/close-again/",
        closing.commission_close_again,
        name="commission_close_again",
    ),
    path("commissions/kilns/", kiln_months.kiln_use, name="kiln_use"),
    path(
        "commissions/kilns/invoice/",
        kiln_months.kiln_use_invoice,
        name="kiln_use_invoice",
    ),
    path("commissions/kilns/rates/", kiln_months.kiln_rates, name="kiln_rates"),
    path(
        "commissions/kilns/users/new/",
        kiln_months.kiln_user_new,
        name="kiln_user_new",
    ),
    path(
        "commissions/kilns/users/<int:pk>/",
        kiln_months.kiln_user_edit,
        name="kiln_user_edit",
    ),
    path("commissions/money/", money.money_list, name="money_list"),
    path("commissions/money/list.csv", money.money_csv, name="money_csv"),
    path("commissions/business/", money.business_edit, name="business_edit"),
    path(
        "commissions/clients/<int:pk>/statement/",
        money.client_statement,
        name="client_statement",
    ),
    path(
        "commissions/clients/<int:pk>/statement/pdf/",
        money.client_statement_pdf,
        name="client_statement_pdf",
    ),
    path(
        "commissions/clients/<int:pk>/invoices/new/",
        invoices.client_invoice_new,
        name="client_invoice_new",
    ),
    path(
        "instalments/<int:pk>/invoice/",
        invoices.instalment_invoice,
        name="instalment_invoice",
    ),
    path("invoices/<int:pk>/", invoices.invoice_detail, name="invoice_detail"),
    path("invoices/<int:pk>/edit/", invoices.invoice_edit, name="invoice_edit"),
    path("invoices/<int:pk>/delete/", invoices.invoice_delete, name="invoice_delete"),
    path("invoices/<int:pk>/issue/", invoices.invoice_issue, name="invoice_issue"),
    path("invoices/<int:pk>/send/", invoices.invoice_send, name="invoice_send"),
    path("invoices/<int:pk>/unsend/", invoices.invoice_unsend, name="invoice_unsend"),
    path("invoices/<int:pk>/pdf/", invoices.invoice_pdf, name="invoice_pdf"),
    path("invoices/<int:pk>/pay/", invoice_money.invoice_pay, name="invoice_pay"),
    path(
        "invoices/<int:pk>/credit/",
        invoice_money.invoice_credit,
        name="invoice_credit",
    ),
    path(
        "invoices/<int:pk>/refund/",
        invoice_money.invoice_refund,
        name="invoice_refund",
    ),
    path(
        "invoices/<int:pk>/use-credit/",
        invoice_money.invoice_use_credit,
        name="invoice_use_credit",
    ),
    path("invoices/<int:pk>/remind/", reminders.invoice_remind, name="invoice_remind"),
    path(
        "reminders/<int:pk>/take-back/",
        reminders.reminder_take_back,
        name="reminder_take_back",
    ),
    path(
        "reminders/<int:pk>/put-back/",
        reminders.reminder_put_back,
        name="reminder_put_back",
    ),
    path(
        "commissions/<int:pk>/consignment/",
        invoices.consignment_pdf,
        name="consignment_pdf",
    ),
    path("receipts/<int:pk>/pdf/", invoices.receipt_pdf, name="receipt_pdf"),
    path("lost/<int:pk>/remake/", losses.lost_remake, name="lost_remake"),
    path(
        "lost/<int:pk>/remake/take-back/",
        losses.lost_remake_take_back,
        name="lost_remake_take_back",
    ),
    path("lost/<int:pk>/tell/", losses.lost_tell, name="lost_tell"),
    path(
        "lost/<int:pk>/tell/take-back/",
        losses.lost_tell_take_back,
        name="lost_tell_take_back",
    ),
    path(
        "commissions/<int:pk>/day/check/",
        commissions.commission_check_day,
        name="commission_check_day",
    ),
    path(
        "commissions/<int:pk>/day/agree/",
        commissions.commission_agree_day,
        name="commission_agree_day",
    ),
    path("commissions/<int:pk>/quotes/new/", quotes.quote_new, name="quote_new"),
    path("commissions/<int:pk>/addendum/", quotes.addendum_new, name="addendum_new"),
    path(
        "commissions/<int:pk>/as-agreed/",
        quotes.commission_as_agreed,
        name="commission_as_agreed",
    ),
    path(
        "commissions/<int:pk>/payments/new/", payments.payment_new, name="payment_new"
    ),
    path("commissions/<int:pk>/link/", news.share_new, name="share_new"),
    path("commissions/<int:pk>/news/new/", news.post_new, name="post_new"),
    path(
        "payments/<int:pk>/take-back/",
        payments.payment_take_back,
        name="payment_take_back",
    ),
    path(
        "commissions/<int:pk>/credit/<int:source>/",
        payments.commission_use_credit,
        name="commission_use_credit",
    ),
    path(
        "payments/<int:pk>/put-back/",
        payments.payment_put_back,
        name="payment_put_back",
    ),
    path("links/<int:pk>/restore/", news.share_restore, name="share_restore"),
    path("news/<int:pk>/restore/", news.post_restore, name="post_restore"),
    path("links/<int:pk>/close/", news.share_revoke, name="share_revoke"),
    path("news/<int:pk>/withdraw/", news.post_withdraw, name="post_withdraw"),
    path("quotes/<int:pk>/", quotes.quote_detail, name="quote_detail"),
    path("quotes/<int:pk>/option/", options.quote_option_new, name="quote_option_new"),
    path(
        "quotes/<int:pk>/remove/",
        options.quote_option_remove,
        name="quote_option_remove",
    ),
    path("quotes/<int:pk>/lines/", options.quote_lines, name="quote_lines"),
    path("quotes/<int:pk>/send/", quotes.quote_send, name="quote_send"),
    path("quotes/<int:pk>/pdf/", quotes.quote_pdf, name="quote_pdf"),
    path(
        "quotes/<int:pk>/acceptance/",
        acceptances.quote_acceptance_new,
        name="quote_acceptance_new",
    ),
    path(
        "quotes/<int:pk>/acceptance/take-back/",
        acceptances.quote_acceptance_take_back,
        name="quote_acceptance_take_back",
    ),
    path(
        "quotes/<int:pk>/accepted.pdf",
        quotes.quote_accepted_pdf,
        name="quote_accepted_pdf",
    ),
    path("quotes/<int:pk>/paper/", quotes.quote_paper_state, name="quote_paper_state"),
    path("c/<str:token>/", sharing.shared_page, name="shared_page"),
    path(
        "c/<str:token>/accept/",
        sharing.shared_quote_accept,
        name="shared_quote_accept",
    ),
    path(
        "c/<str:token>/decline/",
        sharing.shared_quote_decline,
        name="shared_quote_decline",
    ),
    path(
        "c/<str:token>/quotes/<int:pk>.pdf",
        sharing.shared_version_pdf,
        name="shared_version_pdf",
    ),
    path(
        "c/<str:token>/quotes/<int:pk>/accepted.pdf",
        sharing.shared_accepted_pdf,
        name="shared_accepted_pdf",
    ),
    path(
        "c/<str:token>/invoices/<int:pk>.pdf",
        sharing.shared_invoice_pdf,
        name="shared_invoice_pdf",
    ),
    path(
        "c/<str:token>/receipts/<int:pk>.pdf",
        sharing.shared_receipt_pdf,
        name="shared_receipt_pdf",
    ),
    path("c/<str:token>/quote.pdf", sharing.shared_quote_pdf, name="shared_quote_pdf"),
    path(
        "c/<str:token>/pictures/<int:pk>/<str:size>/",
        sharing.shared_picture,
        name="shared_picture",
    ),
]
