"""Plain paper and chessboards once took minutes: what is slow on them must not even begin."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from salvage.cloth.outline.colour import split_by_colour
from salvage.scale.finders.printed import find_printed
from salvage.scale.seeing import regions


def chessboard(cell_px: int, size: tuple[int, int] = (1200, 1600)) -> np.ndarray:
    rows, columns = np.mgrid[: size[0], : size[1]]
    board = ((rows // cell_px + columns // cell_px) % 2 * 255).astype(np.uint8)
    return np.repeat(board[:, :, None], 3, axis=2)


@pytest.mark.parametrize("picture", [np.full((300, 400, 3), 255, np.uint8), chessboard(4, (300, 400))])
def test_no_graph_is_cut_where_colour_tells_nothing(
    picture: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cv2, "grabCut", lambda *_: pytest.fail("cut a graph"))
    told = split_by_colour(picture, (), [(200.0, 150.0)])
    assert 0 < told.mean() < 0.01  # only what the person pointed at


def test_among_thousands_of_shapes_only_large_markers_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    whole = cv2.aruco.ArucoDetector

    def detector(family: cv2.aruco.Dictionary, settings: cv2.aruco.DetectorParameters) -> object:
        asked.append(settings.minMarkerPerimeterRate)
        return whole(family, settings)

    monkeypatch.setattr(cv2.aruco, "ArucoDetector", detector)
    assert find_printed(chessboard(20)) == []
    assert (
        min(asked) * 1600 > 4 * 20
    )  # beyond the perimeter of a cell: none of them is compared with the others


def test_of_a_chessboard_the_largest_regions_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at = []
    monkeypatch.setattr(regions, "_whole", lambda contour, least: looked_at.append(len(contour)))
    monkeypatch.setattr(regions, "_partings", lambda small: iter([(small[..., 0] > 0).view(np.uint8)]))
    regions.find_regions(chessboard(20), least_side_px=9.0)
    assert 0 < len(looked_at) <= 400
