"""Layers' pictures for the depth view, and the piece looked through."""

import errno
import io
import itertools
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from commissions.demo import scenes
from commissions.demo.pictures import layer_picture
from studio.models import Job, Piece
from studio.selectors.pictures import looks_of_pieces
from studio.services import depth_pictures
from studio.services.pictures import add_picture, remove_picture
from tests import make
from tests.worker import run_waiting_jobs


def jpeg(colour, size=(300, 200)):
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", quality=95)
    return out.getvalue()


def opened(data):
    with Image.open(io.BytesIO(data)) as image:
        return image.convert("RGB")


def pixels(data):
    return np.asarray(opened(data)).astype(int)


def for_depth(data):
    return depth_pictures.for_depth(opened(data))


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Shoal")


def photograph(piece, number, data):
    return add_picture(
        studio=piece.studio,
        upload=io.BytesIO(data),
        name="a.jpg",
        layer=piece.layers.get(number=number),
        by=None,
        at=make.NOW,
    )


def test_the_tint_of_the_light_table_becomes_clear_glass():
    table = Image.new("RGB", (300, 200), (225, 238, 228))
    table.paste((90, 60, 40), (0, 0, 150, 30))
    out = io.BytesIO()
    table.save(out, "PNG")
    seen = pixels(for_depth(out.getvalue()))
    assert seen[150, 200].min() >= 253
    assert seen[10, 40].max() < 120, "paint stays"


def test_clear_glass_stays_clear_through_twenty_layers():
    """Of noise, of uneven light and of the encoding nothing adds up."""
    y, x = np.mgrid[-1:1:200j, -1:1:300j]
    noise = np.random.default_rng(1).normal(0, 2, (200, 300, 1))
    table = np.array([232, 240, 234]) * (1 - 0.01 * (x**2 + y**2))[..., None] + noise
    table[20:60, 20:80] = (90, 60, 40)
    out = io.BytesIO()
    Image.fromarray(table.astype(np.uint8)).save(out, "JPEG", quality=90)
    seen = pixels(for_depth(out.getvalue())) / 255
    assert (seen[100:, 150:].mean(axis=2) ** 20).mean() > 0.99
    assert (seen[-8:, -8:].mean() ** 20) > 0.98, "and in the corner"


@pytest.mark.parametrize("colour", [(60, 50, 40), (250, 190, 180)])
def test_what_is_dark_or_painted_all_over_is_left_as_it_is(colour):
    seen = pixels(for_depth(jpeg(colour)))
    assert abs(seen[100, 150] - colour).max() <= 5


def test_twenty_noisy_photographs_stay_under_300_kb():
    noise = np.random.default_rng(1).integers(0, 255, (1200, 1800, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(noise).save(out, "JPEG", quality=90)
    assert len(for_depth(out.getvalue())) * 20 < 300_000


@pytest.mark.parametrize("name", ["SLUICE", "FLATS", "REEDS", "WINTER"])
def test_the_demos_layers_are_all_different_and_together_a_light_picture(name):
    scene = getattr(scenes, name)
    count = len(scene.parts)
    layers = [
        layer_picture(scene, seed=3, number=number, count=count)
        for number in range(1, count + 1)
    ]
    drawn = [pixels(layer) for layer in layers]
    for one, other in itertools.combinations(drawn, 2):
        assert abs(one - other).max() > 30
    assert all(layer.mean() > 150 for layer in drawn), "most of it is clear"
    small = [for_depth(layer) for layer in layers]
    assert sum(map(len, small)) * 20 / count < 300_000
    seen = depth_pictures.looked_through([opened(one) for one in small])
    assert 90 < np.asarray(seen).mean() < 220
    assert layers[0] == layer_picture(scene, seed=3, number=1, count=count)


def test_a_demos_layer_says_what_is_on_it():
    assert scenes.SLUICE.title(10, 19) == "Channel"
    assert scenes.SLUICE.title(1, 8) == "Sky, glow, high cloud"


def test_the_worker_makes_it_and_looks_through_the_piece(piece):
    first = photograph(piece, 1, jpeg((255, 128, 255)))
    second = photograph(piece, 2, jpeg((128, 255, 255)))
    run_waiting_jobs()
    run_waiting_jobs()
    for picture in (first, second):
        picture.refresh_from_db()
        assert picture.depth
    piece.refresh_from_db()
    with piece.face.open() as face:
        seen = pixels(face.read())
    assert abs(seen[50, 50] - [128, 128, 255]).max() <= 8
    assert looks_of_pieces(piece.studio, [piece.pk]) == {
        piece.pk: f"/pieces/{piece.pk}/face/"
    }
    remove_picture(picture=second, by=None, at=make.NOW)
    run_waiting_jobs()
    piece.refresh_from_db()
    with piece.face.open() as face:
        assert abs(pixels(face.read())[50, 50] - [255, 128, 255]).max() <= 8


def test_a_picture_of_the_whole_piece_stands_for_it(piece):
    photograph(piece, 1, jpeg("white"))
    whole = add_picture(
        studio=piece.studio,
        upload=io.BytesIO(jpeg("white")),
        name="a.jpg",
        piece=piece,
        by=None,
        at=make.NOW,
    )
    run_waiting_jobs()
    run_waiting_jobs()
    looks = looks_of_pieces(piece.studio, [piece.pk])
    assert looks == {piece.pk: f"/pictures/{whole.pk}/small/"}


def test_a_file_that_is_gone_leaves_the_layers_edge(piece):
    picture = photograph(piece, 1, jpeg("white"))
    picture.image.storage.delete(picture.image.name)
    assert [str(state) for state in run_waiting_jobs()] == ["done"]
    picture.refresh_from_db()
    assert not picture.depth


def spoil(file):
    """Leave half of a file on the disk."""
    path = Path(file.path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def lose(file):
    file.storage.delete(file.name)


@pytest.mark.parametrize("damage", [spoil, lose])
def test_a_damaged_layer_is_left_out_of_the_piece_looked_through(piece, damage, caplog):
    first = photograph(piece, 1, jpeg((255, 128, 255)))
    photograph(piece, 2, jpeg((128, 255, 255)))
    run_waiting_jobs()
    first.refresh_from_db()
    damage(first.depth)
    assert {str(state) for state in run_waiting_jobs()} == {"done"}
    piece.refresh_from_db()
    with piece.face.open() as face:
        assert abs(pixels(face.read())[50, 50] - [128, 255, 255]).max() <= 8
    assert first.depth.name in caplog.text


def test_a_damaged_picture_leaves_the_layers_edge_and_is_logged(piece, caplog):
    picture = photograph(piece, 1, jpeg("teal"))
    spoil(picture.image)
    assert [str(state) for state in run_waiting_jobs()] == ["done"]
    picture.refresh_from_db()
    assert not picture.depth
    assert picture.image.name in caplog.text


def test_a_full_disk_is_no_damage(piece, monkeypatch):
    photograph(piece, 1, jpeg("teal"))

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(depth_pictures.Image, "open", full)
    assert [str(state) for state in run_waiting_jobs()] == ["waiting"]


def test_pictures_that_cannot_be_read_do_not_hold_up_the_older_ones(piece, monkeypatch):
    older = photograph(piece, 1, jpeg("white"))
    newer = photograph(piece, 2, jpeg("white"))
    spoil(newer.image)
    Job.across_studios.all().delete()
    monkeypatch.setattr(depth_pictures, "MOST_AT_ONCE", 1)
    for _ in range(2):
        depth_pictures.order_those_missing(make.NOW)
        run_waiting_jobs()
    older.refresh_from_db()
    assert older.depth


def test_older_pictures_are_made_ready_by_the_hour(piece):
    picture = photograph(piece, 1, jpeg("white"))
    Job.across_studios.all().delete()
    depth_pictures.order_those_missing(make.NOW)
    run_waiting_jobs()
    picture.refresh_from_db()
    assert picture.depth


def test_a_piece_without_pictures_has_no_face(piece):
    depth_pictures.make_face(piece=piece)()
    assert Piece.across_studios.get(pk=piece.pk).face == ""
