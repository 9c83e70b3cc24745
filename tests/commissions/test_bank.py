"""Bank details, and the QR code of a transfer in euro."""

from decimal import Decimal

import pytest
import segno

from commissions.bank import (
    is_bic,
    is_iban,
    may_have_code,
    spaced,
    tidy,
    transfer_code,
)

D = Decimal

# The examples of the IBAN registry (ISO 13616, published by its registration authority),
# from memory.
EXAMPLES = [
    "DE89 3704 0044 0532 0130 00",
    "GB29 NWBK 6016 1331 9268 19",
    "PT50 0002 0123 1234 5678 9015 4",
    "NO93 8601 1117 947",
]


@pytest.mark.parametrize("iban", EXAMPLES)
def test_the_registrys_examples_are_right(iban):
    assert is_iban(iban)
    assert spaced(tidy(iban)) == iban


@pytest.mark.parametrize("iban", EXAMPLES)
def test_one_wrong_digit_or_two_that_changed_places_are_found(iban):
    stored = tidy(iban)
    last = str((int(stored[-1]) + 1) % 10)
    assert not is_iban(stored[:-1] + last)
    swapped = stored[:-3] + stored[-2] + stored[-3] + stored[-1]
    assert swapped == stored or not is_iban(swapped)


@pytest.mark.parametrize("iban", ["", "DE", "not an iban", "DE8937040044053201300"])
def test_what_is_no_iban_is_told(iban):
    assert not is_iban(iban)


def test_a_bic_has_eight_or_eleven_places():  # ISO 9362
    assert is_bic("abcdptpl")
    assert is_bic("ABCDPTPLXXX")
    assert not is_bic("ABCDPTPLX")
    assert not is_bic("1234567")


def test_the_code_holds_the_fields_of_epc069_12_in_their_order():
    """EPC069-12 version 2.1, section 3.2, table of the QR code's data elements: service
    tag, version, character set (1 is UTF-8), identification, BIC, name, IBAN, amount,
    purpose, structured and unstructured remittance information; lines end with LF, and
    error correction is at level M. From memory.
    """
    code = transfer_code(
        holder="Saltpan Glass (demo)",
        iban="PT50 0002 0123 1234 5678 9015 4",
        bic="ABCDPTPL",
        amount=D("1234.50"),
        text="Invoice 2026-0007",
    )
    payload = "\n".join(
        [
            "BCD",
            "002",
            "1",
            "SCT",
            "ABCDPTPL",
            "Saltpan Glass (demo)",
            "PT50000201231234567890154",
            "EUR1234.5",
            "",
            "",
            "Invoice 2026-0007",
        ]
    )
    # The same picture, made from the text alone: what a camera reads is this text.
    expected = segno.make_qr(payload.encode(), error="m", boost_error=False)
    assert code.matrix == expected.matrix
    assert code.error == "M"
    assert code.version <= 13


def test_only_a_transfer_in_euro_has_a_code():
    iban = tidy(EXAMPLES[2])
    assert may_have_code(currency="EUR", iban=iban, amount=D("0.01"))
    assert not may_have_code(currency="USD", iban=iban, amount=D(1))
    assert not may_have_code(currency="EUR", iban="", amount=D(1))
    assert not may_have_code(currency="EUR", iban=iban, amount=D(0))
    assert not may_have_code(currency="EUR", iban=iban, amount=D(10) ** 9)


def test_a_long_name_and_text_are_cut_to_what_the_code_takes():
    code = transfer_code(
        holder="N" * 90, iban=EXAMPLES[0], bic="", amount=D(1), text="T" * 200
    )
    assert code.version <= 13
