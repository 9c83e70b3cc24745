"""The table of roles and abilities, said once more by hand."""

import pytest

from studio.roles import ABILITIES, Can, Role, allowed

MAY = {
    Can.SEE_WORK: "owner maker helper technician",
    Can.RECORD_WORK: "owner maker helper",
    Can.RUN_FIRINGS: "owner maker helper technician",
    Can.BOOK_KILNS: "owner maker technician",
    Can.PLAN_PIECES: "owner maker",
    Can.MANAGE_KILNS: "owner technician",
    Can.SEE_MONEY: "owner maker",
    Can.MANAGE_STUDIO: "owner",
}


@pytest.mark.parametrize("ability", Can)
@pytest.mark.parametrize("role", Role)
def test_who_may_do_what(role, ability):
    assert allowed(role, ability) == (role in MAY[ability].split())


def test_every_role_is_in_the_table_and_an_unknown_one_is_an_error():
    assert set(ABILITIES) == set(Role)
    with pytest.raises(ValueError, match="visitor"):
        allowed("visitor", Can.SEE_WORK)
