import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.drawings.edge_view import (
    LARGE_TALLEST,
    SMALL_TALLEST,
    BandState,
    EdgeLayer,
    build_edge_view,
    shorten,
)

THICKNESSES = st.lists(
    st.floats(min_value=0.5, max_value=25, allow_nan=False), min_size=1, max_size=40
)


def layers(thicknesses, state=BandState.BURNT):
    return [
        EdgeLayer(number=number, thickness_mm=thickness, state=state)
        for number, thickness in enumerate(thicknesses, start=1)
    ]


@given(THICKNESSES, st.booleans())
def test_bands_fill_the_block_without_gaps(thicknesses, large):
    view = build_edge_view(layers(thicknesses), key="k", large=large)
    assert sum(b.height for b in view.bands) == pytest.approx(
        view.block_height, abs=0.05
    )
    for above, below in zip(view.bands, view.bands[1:], strict=False):
        assert above.y + above.height == pytest.approx(below.y, abs=0.005)


@given(THICKNESSES, st.booleans())
def test_bands_are_as_thick_as_their_layers(thicknesses, large):
    view = build_edge_view(layers(thicknesses), key="k", large=large)
    scale = view.block_height / sum(thicknesses)
    for band in view.bands:
        assert band.height == pytest.approx(
            thicknesses[band.number - 1] * scale, abs=0.002
        )
        assert band.ink_height > 0


@given(THICKNESSES, st.booleans())
def test_the_block_stays_inside_the_drawing(thicknesses, large):
    view = build_edge_view(layers(thicknesses), key="k", large=large)
    assert view.block_height <= (LARGE_TALLEST if large else SMALL_TALLEST) + 0.001
    assert view.block_y + view.block_height <= view.height + 0.001
    assert view.block_x + view.block_width <= view.width


def test_the_back_is_at_the_bottom_whatever_the_order_given():
    given_layers = layers([3, 3, 4])
    shuffled = [given_layers[2], given_layers[0], given_layers[1]]
    view = build_edge_view(shuffled, key="k")
    by_height = sorted(view.bands, key=lambda band: band.y)
    assert [band.number for band in by_height] == [3, 2, 1]


def test_a_sheet_of_3_mm_is_a_target_of_24_units_when_large():
    view = build_edge_view(layers([3.0] * 20), key="k", large=True)
    assert {band.height for band in view.bands} == {24.0}


def test_two_layers_with_one_number_are_refused():
    twice = [*layers([3, 3]), *layers([3])]
    with pytest.raises(ValueError, match="same number"):
        build_edge_view(twice, key="k")


@pytest.mark.parametrize("thickness", [0.0, -3.0, float("nan")])
def test_a_layer_without_thickness_is_refused(thickness):
    with pytest.raises(ValueError, match="above 0 mm"):
        build_edge_view(layers([3.0, thickness]), key="k")


def test_no_layers_is_an_empty_drawing():
    view = build_edge_view([], key="k", large=True)
    assert view.bands == ()
    assert view.title == "No layers yet"
    assert view.height > 0


def test_the_title_counts_the_states():
    mixed = [*layers([3, 3])[:1], *layers([3, 3], BandState.PAINTED)[1:]]
    view = build_edge_view(mixed, key="k")
    assert view.title == (
        "From the edge: 2 layers, 1 painted, not burnt on yet, 1 burnt on"
    )


def test_fused_layers_leave_a_seam_between_each_two():
    view = build_edge_view(layers([3.0] * 5), key="k", fused=True)
    assert len(view.seams) == 4
    assert all(view.block_y < y < view.block_y + view.block_height for y in view.seams)


def test_long_labels_are_cut_and_kept_whole_in_words():
    label = "Reeds in the wind on the left bank of the channel"
    layer = EdgeLayer(number=1, thickness_mm=3, state=BandState.PLANNED, label=label)
    (band,) = build_edge_view([layer], key="k", large=True).bands
    assert band.label == label
    assert len(band.short_label) <= 21
    assert band.short_label.endswith("…")


@given(st.text(max_size=50), st.integers(min_value=1, max_value=60))
def test_shorten_keeps_to_the_length(text, letters):
    cut = shorten(text, letters)
    assert len(cut) <= letters
    assert cut == text or cut.endswith("…")
