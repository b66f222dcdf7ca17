"""The floor as a map in millimetres, with how far each answer may be off.

What isn't known exactly (the camera, the height of the cloth, the place clicked) is carried as a
covariance and turned into the plus-minus of whatever is asked: the half-width of a 95 % interval, to
first order, for normally distributed errors.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from salvage.scale.solving.camera import CENTRE_X, CENTRE_Y, LN_FOCAL, NAMES, Camera, project, unproject
from salvage.scale.solving.leftover import NONE, Leftover

Floats = NDArray[np.float64]

COVERAGE_FACTOR = 1.96  # normal distribution: 95 % lie within this many standard deviations
POINT_HEIGHT_SD = (
    2.8  # mm: folds, seams and edges of lying cloth about its height; measured on ten rendered garments
)
CLICK_SD_PX = 0.2  # how surely an eye, or a program, points at a place
_ROUNDED_SD_PX = 0.29  # and what rounding to whole pixels adds (uniform: 1 / sqrt(12))
_OUTLINE_SD_PX = 0.35  # of an outline's or a shape's points, which nobody points at
_TYPICAL_LENGTH = 300.0


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """The level of the cloth, parallel to the floor.

    camera: over the floor. size_px: (width, height) of the picture. height: of the cloth over the floor, mm.
    origin: floor point (camera frame) that is (0, 0) of this plane, mm.
    covariance: (9, 9) of the camera's vector (order of `camera.NAMES`) followed by `height`.
    leftover: of the lens, beyond the camera's numbers. drawn: (k, 9) vectors that are each as likely, where a
    covariance can't say it (a camera whose tilt is not known); the plus-minus is then theirs about this plane's.
    """

    camera: Camera
    size_px: tuple[int, int]
    height: float
    origin: tuple[float, float]
    covariance: Floats
    point_height_sd: float = POINT_HEIGHT_SD
    click_sd_px: float = CLICK_SD_PX
    leftover: Leftover = NONE
    drawn: Floats | None = None

    @classmethod
    def over(
        cls,
        camera: Camera,
        size_px: tuple[int, int],
        height: float,
        covariance: Floats,
        leftover: Leftover = NONE,
    ) -> Plane:
        """A plane whose origin makes the whole picture's coordinates positive, in whole mm."""
        width, tall = size_px
        frame = _frame_px(width, tall)
        seen = camera.unproject(frame, height)
        near = 10.0 * camera.height  # a horizon in the picture must not send the origin to infinity
        seen = np.clip(np.nan_to_num(seen, nan=0.0), -near, near)
        low = np.floor(seen.min(axis=0))
        return cls(camera, size_px, height, (float(low[0]), float(low[1])), covariance, leftover=leftover)

    def scaled(self, by: float) -> Plane:
        """The same plane in a picture of `by` times as many pixels a side."""
        if by == 1.0:
            return self
        camera = replace(
            self.camera,
            focal_px=self.camera.focal_px * by,
            centre_x_px=(self.camera.centre_x_px + 0.5) * by - 0.5,
            centre_y_px=(self.camera.centre_y_px + 0.5) * by - 0.5,
        )
        width, tall = self.size_px
        stretch = np.ones(len(NAMES) + 1)
        stretch[CENTRE_X : CENTRE_Y + 1] = by
        drawn = self.drawn
        if drawn is not None:
            drawn = drawn * stretch
            drawn[:, LN_FOCAL] += math.log(by)
            drawn[:, CENTRE_X : CENTRE_Y + 1] += 0.5 * by - 0.5
        return replace(
            self,
            camera=camera,
            size_px=(round(width * by), round(tall * by)),
            covariance=self.covariance * np.outer(stretch, stretch),
            click_sd_px=self.click_sd_px
            * max(by, 1.0),  # what a program finds it finds in the coarser picture
            leftover=Leftover(self.leftover.sd_px * by, self.leftover.reach_px * by),
            drawn=drawn,
        )

    def to_mm(self, points_px: ArrayLike) -> Floats:
        """(n, 2) pixels -> (n, 2) mm on the cloth's level."""
        return self.camera.unproject(_pairs(points_px), self.height) - np.array(self.origin)

    def to_px(self, points_mm: ArrayLike) -> Floats:
        """(n, 2) mm on the cloth's level -> (n, 2) pixels."""
        return self._project(points_mm, self.height)

    @property
    def mm_per_px(self) -> float:
        """At the picture's centre: square root of the mm^2 that a pixel covers."""
        x, y = (self.size_px[0] - 1) / 2, (self.size_px[1] - 1) / 2
        a, b, c = self.to_mm([[x, y], [x + 1, y], [x, y + 1]])
        return math.sqrt(abs(float(np.linalg.det(np.array([b - a, c - a])))))

    @property
    def tilt(self) -> float:
        """Degrees between the line of sight and straight down."""
        return self.camera.tilt

    @property
    def plus_minus_percent(self) -> float:
        """Of a typical length (300 mm, or as much of it as fits) in view: the median over the picture, both ways."""
        percents = self.typical_percents()
        return float(np.median(percents)) if percents else math.inf

    def typical_percents(self) -> list[float]:
        """Plus-minus in percent of lengths across and along nine places spread over the picture."""
        width, tall = self.size_px
        middles = [(width * u, tall * v) for u in (0.25, 0.5, 0.75) for v in (0.25, 0.5, 0.75)]
        longest_px = 0.5 * min(width, tall)
        half_px = 0.5 * min(_TYPICAL_LENGTH / self.mm_per_px, longest_px)
        a = [(x - half_px, y) for x, y in middles] + [(x, y - half_px) for x, y in middles]
        b = [(x + half_px, y) for x, y in middles] + [(x, y + half_px) for x, y in middles]
        lengths, reaches = self.lengths(a, b)
        known = np.isfinite(lengths)
        return [float(x) for x in 100.0 * reaches[known] / lengths[known]]

    def length(self, a_px: ArrayLike, b_px: ArrayLike) -> tuple[float, float]:
        """Distance between two points of the picture lying on the cloth, and its plus-minus, mm.

        Coordinates that are whole numbers are taken as rounded, others as they are.
        """
        lengths, reaches = self.lengths(a_px, b_px)
        return float(lengths[0]), float(reaches[0])

    def lengths(self, a_px: ArrayLike, b_px: ArrayLike) -> tuple[Floats, Floats]:
        """Like `length` for (n, 2) pixels each: (n,) distances and (n,) plus-minus, mm. NaN above the horizon."""
        begin_px, end_px = _pairs(a_px), _pairs(b_px)
        n = len(begin_px)
        both_px = np.concatenate([begin_px, end_px])

        def measured(vector: Floats, z: Floats) -> Floats:
            p = unproject(vector, both_px, z)
            return np.asarray(np.hypot(*(p[n:] - p[:n]).T))

        places = unproject(self.camera.vector, both_px, self.height)
        apart = places[n:] - places[:n]
        length = np.hypot(*apart.T)
        variance = self._variance(measured, 2 * n)
        rounded = np.where(both_px == np.round(both_px), _ROUNDED_SD_PX, 0.0)
        scatter = self._scatter(both_px, np.hypot(self.click_sd_px, rounded))
        scatter = scatter[:n] + scatter[n:]
        same = length < 1e-9  # no direction: the worst one counts
        along = apart / np.where(same, 1.0, length)[:, None]
        own = np.einsum("ni,nij,nj->n", along, scatter, along)
        own += self._stretched(begin_px, end_px, along)
        own[same] = np.nan_to_num(np.trace(scatter[same], axis1=1, axis2=2))
        variance[same] = 0.0
        return length, COVERAGE_FACTOR * np.sqrt(variance + own)

    def told(self, a_px: ArrayLike, b_px: ArrayLike, length: float, sd: float) -> Plane:
        """The plane that knows, too, how long this length on the cloth is, mm, with its standard deviation.

        One step of a Kalman filter; to first order, for planes with a covariance.
        """
        seen, reach = self.length(a_px, b_px)
        ends = np.concatenate([_pairs(a_px), _pairs(b_px)])

        def measured(vector: Floats, z: Floats) -> Floats:
            a, b = unproject(vector, ends, z)
            return np.array([np.hypot(*(b - a))])

        gradient = self._gradient(measured, 2)[0]
        shared = self.covariance @ gradient
        gain = shared / ((reach / COVERAGE_FACTOR) ** 2 + sd**2)
        vector = np.append(self.camera.vector, self.height) + gain * (length - seen)
        covariance = self.covariance - np.outer(gain, shared)
        camera = Camera.from_vector(vector[:-1])
        return replace(
            Plane.over(camera, self.size_px, float(vector[-1]), covariance, self.leftover),
            point_height_sd=self.point_height_sd,
            click_sd_px=self.click_sd_px,
        )

    def edge_plus_minus(self, points_mm: ArrayLike) -> Floats:
        """(n, 2) points of an outline, mm -> (n,): how far each may be off in its worst direction, mm.

        Relative to the middle of the points given, for a shift of the whole outline changes no panel.
        """
        points = _pairs(points_mm)
        points_px = self.to_px(points)

        def places(vector: Floats, z: Floats) -> Floats:
            p = unproject(vector, points_px, z)
            return np.asarray((p - p.mean(axis=0)).ravel())

        moves = self._moves(places, len(points)).reshape(len(points), 2, -1)
        shared = np.einsum("nik,njk->nij", moves, moves)
        turned = self._mm_of_px(points_px)
        shifted = self.leftover.sd_px**2 * np.einsum("nij,nkj->nik", turned, turned)
        worst = np.linalg.eigvalsh(shared + shifted + self._scatter(points_px, _OUTLINE_SD_PX))[:, -1]
        return np.asarray(COVERAGE_FACTOR * np.sqrt(worst))

    def to_record(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """JSON-safe (camera, mm_to_pixel): enough to map millimetres to pixels and to give plus-minus again."""
        camera = {
            **self.camera.to_record(),
            "size_px": list(self.size_px),
            "parameters": [*NAMES, "cloth_height"],
            "covariance": [[float(x) for x in row] for row in self.covariance],
            "point_height_sd": self.point_height_sd,
            "click_sd_px": self.click_sd_px,
            "leftover": {"sd_px": self.leftover.sd_px, "reach_px": self.leftover.reach_px},
        }
        if self.drawn is not None:
            camera["drawn"] = [[float(f"{x:.7g}") for x in row] for row in self.drawn]
        shift = np.array([[1.0, 0.0, self.origin[0]], [0.0, 1.0, self.origin[1]], [0.0, 0.0, 1.0]])
        homography = self.camera.homography(self.height) @ shift
        mm_to_pixel = {
            "cloth_height": self.height,
            "origin": list(self.origin),
            "homography": [[float(x) for x in row] for row in homography / homography[2, 2]],
            "then": "radial distortion k1, k2 of `camera` about its principal point",
        }
        return camera, mm_to_pixel

    @classmethod
    def from_record(cls, camera: dict[str, Any], mm_to_pixel: dict[str, Any]) -> Plane:
        """The plane that `to_record` wrote. Raises ValueError if the record doesn't describe one."""
        try:
            width, tall = (int(x) for x in camera["size_px"])
            covariance = np.array(camera["covariance"], dtype=float)
            x, y = (float(v) for v in mm_to_pixel["origin"])
            left = camera.get("leftover", {"sd_px": NONE.sd_px, "reach_px": NONE.reach_px})
            leftover = Leftover(float(left["sd_px"]), float(left["reach_px"]))
            drawn = np.array(camera["drawn"], dtype=float) if camera.get("drawn") else None
            plane = cls(
                Camera.from_record(camera),
                (width, tall),
                float(mm_to_pixel["cloth_height"]),
                (x, y),
                covariance,
                float(camera.get("point_height_sd", POINT_HEIGHT_SD)),
                float(camera.get("click_sd_px", CLICK_SD_PX)),
                leftover,
                drawn,
            )
        except (KeyError, TypeError, ValueError) as error:
            raise ValueError(f"no camera in this record: {error}") from error
        if covariance.shape != (len(NAMES) + 1,) * 2 or not np.all(np.isfinite(covariance)):
            raise ValueError(f"the camera's covariance has shape {covariance.shape}, not (9, 9) of numbers")
        if drawn is not None and (drawn.ndim != 2 or drawn.shape[1] != 9 or not np.all(np.isfinite(drawn))):
            raise ValueError(f"the cameras drawn have shape {drawn.shape}, not (any, 9) of numbers")
        return plane

    def _project(self, points_mm: ArrayLike, z: float) -> Floats:
        points = _pairs(points_mm) + np.array(self.origin)
        return project(self.camera.vector, np.column_stack([points, np.full(len(points), z)]))

    def _scatter(self, points_px: Floats, sd_px: Floats | float) -> Floats:
        """(n, 2, 2) covariance, mm^2, of each point's own error: where it was marked, how high it lies.

        sd_px: of each point across and down, (n, 2) or a number.
        """
        vector = self.camera.vector
        up = unproject(vector, points_px, self.height + 1.0) - unproject(vector, points_px, self.height)
        sd = np.broadcast_to(np.asarray(sd_px, dtype=float), points_px.shape)
        marked = self._mm_of_px(points_px) * sd[:, None, :]
        raised = self.point_height_sd * up
        return np.asarray(np.einsum("nij,nkj->nik", marked, marked) + np.einsum("ni,nj->nij", raised, raised))

    def _mm_of_px(self, points_px: Floats) -> Floats:
        """(n, 2, 2): how a place of the cloth moves, mm, when its pixel moves to the right and down by one."""
        vector = self.camera.vector
        here = unproject(vector, points_px, self.height)
        right = unproject(vector, points_px + np.array([1.0, 0.0]), self.height) - here
        down = unproject(vector, points_px + np.array([0.0, 1.0]), self.height) - here
        return np.stack([right, down], axis=2)

    def _stretched(self, begin_px: Floats, end_px: Floats, along: Floats) -> Floats:
        """(n,) variance, mm^2, of lengths by what the lens does at one end otherwise than at the other.

        along: (n, 2) their unit directions on the cloth. Near ends move together, which is a wrong local scale.
        """
        begin = np.einsum("nij,ni->nj", self._mm_of_px(begin_px), along)
        end = np.einsum("nij,ni->nj", self._mm_of_px(end_px), along)
        alike = self.leftover.likeness(begin_px, end_px)
        squares = np.sum(begin**2, axis=1) + np.sum(end**2, axis=1)
        return np.asarray(self.leftover.sd_px**2 * (squares - 2.0 * alike * np.sum(begin * end, axis=1)))

    def _moves(self, function: Callable[[Floats, Floats], Floats], points: int) -> Floats:
        """(m, k): by how much answers are off in k independent ways, each of one standard deviation.

        function: of the camera's vector and of (points,) heights, (m,).
        """
        if self.drawn is None:
            values, vectors = np.linalg.eigh(self.covariance)
            return self._gradient(function, points) @ (vectors * np.sqrt(np.maximum(values, 0.0)))
        here = function(self.camera.vector, np.full(points, self.height))
        seen = [function(one[:-1], np.full(points, one[-1])) - here for one in self.drawn]
        return np.asarray(np.column_stack(seen) / math.sqrt(len(seen)))

    def _variance(self, function: Callable[[Floats, Floats], Floats], points: int) -> Floats:
        """(m,) of answers by what isn't known of the camera; where they stray with long tails, as much as makes
        the plus-minus hold 95 of 100 of the cameras drawn.
        """
        moves = self._moves(function, points)
        variance = np.sum(moves**2, axis=1)
        if self.drawn is None:
            return np.asarray(variance)
        count = moves.shape[1]
        strays = np.sort(np.abs(moves), axis=1)[:, min(math.ceil(0.95 * (count + 1)), count) - 1]
        return np.asarray(np.maximum(variance, count * (strays / COVERAGE_FACTOR) ** 2))

    def _gradient(self, function: Callable[[Floats, Floats], Floats], points: int) -> Floats:
        """(m, 9): of a function of the camera's vector and of the (points,) heights, by central differences."""
        vector = self.camera.vector
        z = np.full(points, self.height)
        columns = []
        for k, step in enumerate(DIFFERENCE_STEPS):
            move = np.zeros(len(vector))
            move[k] = step
            columns.append((function(vector + move, z) - function(vector - move, z)) / (2.0 * step))
        columns.append((function(vector, z + 0.5) - function(vector, z - 0.5)) / 1.0)
        return np.column_stack(columns)


# small against every parameter's uncertainty, large against rounding
DIFFERENCE_STEPS = (1e-5, 1e-5, 1e-5, 1e-5, 1e-2, 1e-2, 1e-5, 1e-5)


def _pairs(points: ArrayLike) -> Floats:
    return np.asarray(points, dtype=float).reshape(-1, 2)


def _frame_px(width: int, height: int) -> Floats:
    """Points round the picture's frame: with a bent lens the corners alone don't bound it."""
    t = np.linspace(0.0, 1.0, 17)
    right, low = width - 1.0, height - 1.0
    return np.concatenate(
        [
            np.column_stack([t * right, np.zeros_like(t)]),
            np.column_stack([t * right, np.full_like(t, low)]),
            np.column_stack([np.zeros_like(t), t * low]),
            np.column_stack([np.full_like(t, right), t * low]),
        ]
    )
