"""What quotes that wait would need cut is told to the cutting plan, and nothing else."""

from studio.selectors.cutting import cutting_board, quoted_parts
from tests.commissions import build


def told(cast):
    return [(one.title, one.count) for one in quoted_parts(cast.studio)]


def test_a_sent_quote_is_in_the_plan_with_quotes_only(cast):
    asked = build.commission(cast, title="Slack water", layer_count=6)
    build.sent(cast, of=asked)
    assert told(cast) == [("Slack water", 6)]
    assert cutting_board(cast.studio, cast.glass).wanted == ()
    board = cutting_board(cast.studio, cast.glass, with_quotes=True)
    assert [(one.title, one.count, one.is_quoted) for one in board.wanted] == [
        ("Slack water", 6, True)
    ]


def test_what_is_accepted_is_no_quote_any_more(cast):
    build.accepted(cast, of=build.commission(cast, title="Slack water"))
    assert told(cast) == []
    wanted = cutting_board(cast.studio, cast.glass, with_quotes=True).wanted
    assert [one.is_quoted for one in wanted] == [False]


def test_a_draft_is_not_in_the_plan(cast):
    build.quote(cast, of=build.commission(cast))
    assert told(cast) == []


def test_another_studios_quotes_are_theirs(cast, strangers):
    build.sent(cast, of=build.commission(cast))
    assert told(strangers) == []
