"""Bank details: whether they can be right, and the QR code for a transfer in euro.

Pure. The code is that of EPC069-12 ("Quick Response code: guidelines to enable data
capture for the initiation of a SEPA credit transfer"), which banks' apps read.
"""

import re
from decimal import Decimal

import segno
from segno import helpers

EURO = "EUR"
IBAN = re.compile(r"[A-Z]{2}\d{2}[A-Z0-9]{11,30}")
# ISO 9362: bank, country, place, perhaps a branch.
BIC = re.compile(r"[A-Z0-9]{4}[A-Z]{2}[A-Z0-9]{2}([A-Z0-9]{3})?")
LONGEST_NAME, LONGEST_TEXT = 70, 140
ZERO = Decimal(0)
LARGEST = Decimal("999999999.99")


def tidy(typed: str) -> str:
    """Return an IBAN or BIC as it is stored: capitals without spaces."""
    return "".join(typed.split()).upper()


def is_iban(typed: str) -> bool:
    """Return whether its two check digits are right (ISO 13616, ISO 7064 MOD 97-10)."""
    iban = tidy(typed)
    if IBAN.fullmatch(iban) is None:
        return False
    digits = "".join(str(int(letter, 36)) for letter in iban[4:] + iban[:4])
    return int(digits) % 97 == 1


def is_bic(typed: str) -> bool:
    """Return whether it has the form of a bank's code."""
    return BIC.fullmatch(tidy(typed)) is not None


def spaced(iban: str) -> str:
    """Return an IBAN as it is printed: in fours."""
    return " ".join(iban[at : at + 4] for at in range(0, len(iban), 4))


def may_have_code(*, currency: str, iban: str, amount: Decimal) -> bool:
    """Return whether a transfer can be told by such a code: in euro, and an amount."""
    return currency == EURO and is_iban(iban) and ZERO < amount <= LARGEST


def transfer_code(
    *, holder: str, iban: str, bic: str, amount: Decimal, text: str
) -> segno.QRCode:
    """Return the QR code of a transfer in euro: version 002, UTF-8, level M."""
    return helpers.make_epc_qr(
        name=holder[:LONGEST_NAME].strip(),
        iban=tidy(iban),
        bic=tidy(bic) or None,
        amount=amount,
        text=text[:LONGEST_TEXT],
        encoding="utf-8",
    )


def code_svg(code: segno.QRCode) -> str:
    """Return the code as a drawing: black on white in either theme, as cameras want."""
    return code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True)
