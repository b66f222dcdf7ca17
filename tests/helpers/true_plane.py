"""The plane of a rendered photograph, from its truth file."""

from __future__ import annotations

import numpy as np


class TruePlane:
    """The cloth's plane from a truth file's camera (its README gives the equations)."""

    plus_minus_percent = 0.0

    def __init__(self, truth: dict) -> None:
        camera = truth["camera"]
        self.turn = np.array(camera["R_world_to_camera"])
        self.move = np.array(camera["t_mm"])
        self.k = np.array(camera["K"])
        self.k1, self.k2 = camera["distortion"]["k1"], camera["distortion"]["k2"]
        self.height = truth["floor_to_image"]["cloth_plane_height_mm"]

    def to_px(self, points: np.ndarray) -> np.ndarray:
        points = np.asarray(points, float)
        seen = np.column_stack([points, np.full(len(points), self.height)]) @ self.turn.T + self.move
        ideal = seen[:, :2] / seen[:, 2:]
        square = (ideal**2).sum(1, keepdims=True)
        bent = ideal * (1 + self.k1 * square + self.k2 * square**2)
        return bent * [self.k[0, 0], self.k[1, 1]] + [self.k[0, 2], self.k[1, 2]]

    def to_mm(self, points: np.ndarray) -> np.ndarray:
        bent = (np.asarray(points, float) - [self.k[0, 2], self.k[1, 2]]) / [self.k[0, 0], self.k[1, 1]]
        ideal = bent.copy()
        for _ in range(10):
            square = (ideal**2).sum(1, keepdims=True)
            ideal = bent / (1 + self.k1 * square + self.k2 * square**2)
        ray = np.column_stack([ideal, np.ones(len(ideal))]) @ self.turn
        eye = -self.turn.T @ self.move
        return eye[:2] + ray[:, :2] * ((self.height - eye[2]) / ray[:, 2])[:, None]
