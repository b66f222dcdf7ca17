"""What is said of panels that keep something: which thing, how large, and how near to what can't be used."""

from __future__ import annotations

from typing import Any

from shapely.geometry import box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.keep.places import KeptAt
from salvage.fit.keep.things import Thing
from salvage.fit.keep.ways import Laid
from salvage.fit.question import Placed
from salvage.fit.say.kept import of_kept, of_no_room, of_no_thing, of_the_rest
from salvage.fit.say.layouts import of_choice, of_spare
from salvage.project.project import Around, Edge, Panel
from salvage.units import Unit

POCKET = Blocked(BlockedKind.POCKET, box(100, 100, 220, 230), 3.0, what="patch pocket")
STAIN = Blocked(BlockedKind.WORN, box(10, 10, 30, 30), 3.0, what="stain")
FRONT = Piece("front", box(0, 0, 400, 500), blocked=(POCKET, STAIN))
COAT, VEST = Garment("coat", (FRONT,)), Garment("vest", (Piece("back", box(0, 0, 200, 200)),))
THING = Thing(0, FRONT, POCKET, POCKET.shape, box(40, 50, 390, 490))


def panel(name: str, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0)), **more)


def laid(asked: Panel, copy: int = 1, room: float = 9.0) -> Laid:
    return Laid(asked, copy, KeptAt(THING, Placed(0, 0, 0.0, False, 0.0, 0.0), box(50, 60, 250, 360), room))


def test_what_each_keeps_and_of_which_piece() -> None:
    round_it = panel("bag", around=Around("pocket"))
    on_hem = panel("skirt", cut=2, edge=Edge("hem", "top"))
    told = of_kept([laid(round_it), laid(on_hem, 2)], [COAT], Unit.MM, close=False)
    assert told == (
        "bag is cut round the patch pocket (120 × 130 mm) of front.",
        "skirt 2 lies with its top on the patch pocket of front.",
    )
    several = of_kept([laid(round_it)], [COAT, VEST], Unit.MM, close=False)
    assert "of front of coat." in several[0]


def test_the_nearest_is_told_once_rounded_down() -> None:
    first, second = (
        laid(panel("bag", around=Around("pocket")), room=9.0),
        laid(panel("tab", around=Around("x")), room=3.47),
    )
    told = of_kept([first, second], [COAT], Unit.MM, close=True)
    assert [("3.4 mm" in each) for each in told] == [False, False, True]
    assert not any("spare" in each for each in of_kept([first, second], [COAT], Unit.MM, close=False))


def test_the_rest_is_told_after_it_with_the_spare_of_the_whole() -> None:
    own, choice = of_spare(12.0, 2.0, Unit.MM), of_choice((1,), 1, [COAT, VEST])
    assert choice is not None
    placement = Placement("a", 1, None, 1, "back", 1, 0.0, False, box(0, 0, 9, 9))
    rest = Answer(
        Verdict.YES,
        ("All 3 shapes fit.", own, choice),
        (placement,),
        spare=12.0,
        plus_minus=2.0,
        suffices=(1,),
    )
    told = of_the_rest(rest, (4.0, 2.0), [COAT, VEST], Unit.MM)
    # that the vest alone suffices isn't so: what is kept lies on the coat
    assert told == ("All else: all 3 shapes fit.", of_spare(4.0, 2.0, Unit.MM))
    assert of_the_rest(Answer(Verdict.YES, ()), (4.0, 2.0), [COAT], Unit.MM) == (of_spare(4.0, 2.0, Unit.MM),)


def test_what_is_not_known_there_is_told_with_what_is() -> None:
    told = of_no_thing(panel("bag", around=Around("zip"), fabric="wool"), [COAT, VEST])
    assert told.startswith(
        "bag is to keep a zip, and no zip is known that lies whole on one piece of wool of coat or vest."
    )
    assert "What is known there: patch pocket. " in told  # nobody keeps a stain
    assert "What is known" not in of_no_thing(panel("bag", around=Around("zip")), [VEST])


def test_where_it_found_no_room_the_largest_there_is_told() -> None:
    """The sound cloth round the pocket reaches from 40 to 390 and from 50 to 490."""
    small = Thing(0, FRONT, POCKET, POCKET.shape, box(90, 90, 230, 240))
    told = of_no_room(panel("bag", around=Around("pocket")), [small, THING], [COAT], Unit.MM)
    assert "reaches over 350 × 440 mm at most" in told
    assert "Allow a join in it (`joins = 1`)" in told
    assert "Allow a join" not in of_no_room(
        panel("bag", around=Around("pocket"), joins=1), [THING], [COAT], Unit.MM
    )
    on_hem = of_no_room(panel("bag", edge=Edge("hem", "left")), [THING], [COAT], Unit.MM)
    assert "with its left on the patch pocket of front" in on_hem
