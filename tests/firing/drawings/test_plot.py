"""The place of a drawing on its page."""

from firing.drawings.plot import Plot


def test_the_drawing_area_lies_between_its_edges_to_a_hundredth_of_a_pixel():
    plot = Plot(
        key="x",
        title="Kiln",
        width=360.0,
        height=220.0,
        left=40.1,
        right=340.4,
        top=12.004,
        bottom=180.0,
        time_ticks=(),
        gaps=(),
        now_x=None,
        facts=(),
    )
    # 340.4 - 40.1 is 300.29999999999995 in binary, which no page needs.
    assert str(plot.plot_width) == "300.3"
    assert plot.plot_height == 168.0
