"""A case in space: closed surfaces with the volume of what they show, a helix of the case's pitch, a bent tube."""

from __future__ import annotations

import ast
from dataclasses import replace
from itertools import pairwise
from math import cos, pi, radians, sin, tan
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from studystub import CONE, SHAPES, TILTED, made_up_record, settings_of

from icecone.fem.onset.solve import Solution
from icecone.studies import scene as room
from icecone.studies.figures.cuts import read_fields
from icecone.studies.outcome.data import Outcome
from icecone.studies.scene import Frame, Part, Scene, bend, broken_ice, scene_of
from icecone.studies.scene.cracks import ELEVATION, drawn_cone, straight_cone
from icecone.studies.scene.field import index_of, is_ice
from icecone.studies.scene.ice import Trench, block_for, carved, ice_parts
from icecone.studies.scene.parts import NAMES
from icecone.studies.scene.surfaces import joined, volume
from icecone.studies.scene.tube import Stand, helix, wall_of

CASES: dict[str, dict[str, Any]] = {
    "default": {},
    "leaning away": {"placement__angle_deg": -20},
    "tied off": {"placement__attachment": "tied_off", "placement__embedment_mm": 70, "placement__angle_deg": 10},
    "sling above": {
        "placement__attachment": "tied_off",
        "placement__embedment_mm": 70,
        "placement__sling_height_mm": 20,
    },
    "partly in": {"placement__embedment_mm": 80, "placement__angle_deg": 15},
    "straight out": {"pull__direction_deg": 90},
    "crust": {"ice__crust_mm": 20, "pull__direction_deg": 30, "placement__angle_deg": -30},
    "threads all along": {"tube__thread_length_mm": 140, "tube__thread_pitch_mm": 10},
}


def stand(**given: Any) -> Stand:
    return Stand.of(settings_of(given))


def pulled(gone: float = 0.0, cone: bool = False, **given: Any) -> Outcome:
    """An outcome whose shapes are the case's tube at rest, its head then moved; invented."""
    case = settings_of(given)
    at = Stand.of(case)
    along = np.linspace(at.load_along, at.length, 29)
    x, _, z = at.place(np.stack([along, 0 * along, 0 * along], axis=1)).T
    moved = np.clip(60.0 - along, 0.0, None) * 0.2
    s = along - at.standing
    shapes = {
        **SHAPES,
        "x_mm": [(x + share * moved).round(3).tolist() for share in (0.0, 0.5, 1.0)],
        "z_mm": [z.round(3).tolist()] * 3,
        "s_mm": s.tolist(),
        "bearing_N_per_mm": [[0.0] * 29] * 3,
        "yielded": [[0] * 28] * 3,
        "gone_mm": [[0.0] * 29, [0.0] * 29, np.where((s >= 0) & (s < gone), gone, 0.0).tolist()],
        "cone": [False, False, cone],
    }
    return made_up_record(case, peak={"shapes": shapes})


def turned_by(scene: Scene, angle: float, shift: tuple[float, float]) -> Frame:
    """The first frame turned about the mouth and moved."""
    frame = scene.frames[0]
    x, z = frame.x * cos(angle) + frame.z * sin(angle), frame.z * cos(angle) - frame.x * sin(angle)
    return replace(frame, x=x + shift[0], z=z + shift[1])


def closed(part: Part) -> float:
    """Its volume [mm3]; the same wherever it is moved to, as it is of a closed surface alone."""
    points = np.asarray(part.points, float)
    found = volume(points, part.triangles)
    for shift in np.eye(3) * 500.0:
        assert volume(points + shift, part.triangles) == pytest.approx(found, abs=0.5), part.name
    return found


def test_the_tubes_wall_has_its_volume() -> None:
    """pi (R^2 - r^2) L, at the rate of a circle's polygon: two."""
    exact, errors = pi * (8.5**2 - 7.0**2) * 140.0, []
    for around in (16, 32, 64):
        local, triangles = wall_of(8.5, 7.0, 140.0, around)
        points = local * np.array([-1.0, 1.0, 1.0])  # along runs against the axis
        errors.append(abs(volume(points, triangles) / exact - 1))
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert rates == pytest.approx(2.0, abs=0.05) and errors[-1] < 2e-3


@pytest.mark.parametrize("name", CASES)
def test_what_moves_with_the_tube_is_closed_and_seen_from_outside(name: str) -> None:
    """Tube, threads, hanger, sling: positive volume that no shift changes; the rope has one too."""
    scene = scene_of(pulled(**CASES[name]))
    for part in scene.parts:
        if part.name in ("tube", "threads", "hanger", "sling"):
            assert closed(part) > 100
    names = {part.name for part in scene.parts}
    assert names <= set(NAMES) and {"tube", "threads", "hanger", "rope", "ice", "hole"} <= names
    assert ("sling" in names) == ("tied_off" in CASES[name].values())


@pytest.mark.parametrize("name", CASES)
def test_parts_are_whole(name: str) -> None:
    """Indices in range, finite points, no triangle of two equal corners in the ice; at most 1.5 MB as text."""
    scene = scene_of(pulled(gone=9.0, cone=True, **CASES[name]))
    size = 0
    for part in scene.parts:
        arrays = [each for each in (part.values, part.along, part.offset) if each is not None]
        size += sum(each.nbytes for each in (part.points, part.triangles, *arrays))
        assert part.points.dtype == np.float32 and part.triangles.dtype == np.int32
        assert np.isfinite(part.points).all() and part.triangles.min() >= 0
        assert part.triangles.max() < len(part.points) and part.text.endswith(".")
        assert all(len(each) == len(part.points) for each in arrays)
    assert size * 4 / 3 < 1.5e6


@pytest.mark.parametrize(("pitch", "height"), [(5.0, 2.5), (3.0, 1.0)])
def test_the_thread_is_a_helix_of_the_cases_pitch_and_height(pitch: float, height: float) -> None:
    """Along its crest a turn lies `pitch` from the next; right-handed: seen from the head it turns left as it rises."""
    at = stand(tube__thread_pitch_mm=pitch, tube__thread_height_mm=height)
    local, _ = helix(at, 24)
    out = np.hypot(local[:, 1], local[:, 2])
    assert out.max() == pytest.approx(at.radius + height)
    crest = local[np.abs(out - out.max()) < 1e-9]
    azimuth, along = np.arctan2(crest[:, 2], crest[:, 1]), crest[:, 0]
    front = np.sort(along[np.abs(azimuth) < 1e-6])
    steps = np.diff(np.unique(front.round(6)))
    assert np.unique(steps.round(6)).sum() == pytest.approx(pitch)  # one width of the crest, and the rest of a turn
    edge = along[np.argsort(along)]
    assert edge[0] > at.length - at.threaded - 1e-9 and edge[-1] < at.length
    first = crest[: len(crest) // 4]
    turn = np.diff(np.unwrap(np.arctan2(first[:, 2], first[:, 1])))
    assert (turn > 0).all() and (np.diff(first[:, 0]) < 0).all()


def test_a_thread_shorter_than_a_turns_foot_is_none() -> None:
    assert len(helix(replace(stand(), threaded=1.0))[1]) == 0


@pytest.mark.parametrize("name", CASES)
def test_a_straight_axis_leaves_every_part_where_it_is(name: str) -> None:
    """To the thousandth of a millimetre that shapes are kept to; beyond the nodes to that of the axis gone on."""
    scene = scene_of(pulled(**CASES[name]))
    for part in scene.parts:
        off = np.abs(bend(part, scene.frames[0]) - part.points).max()
        assert off < (0.005 if part.along is None or part.along.min() >= scene.frames[0].s[0] - 3 else 0.05), part.name


def test_a_turned_axis_moves_the_tube_as_a_rigid_body() -> None:
    """Turned by 40 deg and moved: distances stay, the volume too; the rope comes along and keeps its direction."""
    scene = scene_of(pulled(placement__angle_deg=-20))
    frame = turned_by(scene, radians(40.0), (3.0, 7.0))
    for name in ("tube", "threads", "hanger"):
        part = scene.part(name)
        assert part is not None
        there = bend(part, frame)
        some = np.linspace(0, len(there) - 1, 40).astype(int)
        for a, b in pairwise(some):
            before = np.linalg.norm(np.asarray(part.points[a], float) - part.points[b])
            assert np.linalg.norm(there[a] - there[b]) == pytest.approx(before, abs=0.05)
        assert volume(there, part.triangles) == pytest.approx(volume(part.points, part.triangles), rel=1e-3)
    rope = scene.part("rope")
    assert rope is not None
    moved = bend(rope, frame)
    assert moved[0] == pytest.approx([frame.x[0], 0.0, frame.z[0]])
    assert moved - moved[0] == pytest.approx(rope.points - rope.points[0], abs=1e-5)


def test_a_sling_goes_with_the_node_that_it_holds() -> None:
    scene = scene_of(pulled(**CASES["tied off"]))
    frame, sling = scene.frames[0], scene.part("sling")
    assert sling is not None and sling.along is not None
    for held in (0, 5):
        place = bend(sling, replace(frame, held=held)).mean(axis=0)
        assert place == pytest.approx([frame.x[held], 0.0, frame.z[held]], abs=0.5)


def test_frames_are_those_of_the_pull() -> None:
    """Movement, load and turn at each step; the peak is named where it is; places run from the head."""
    outcome = pulled(gone=9.0, placement__angle_deg=-20)
    frames = scene_of(outcome).frames
    assert [frame.movement_mm for frame in frames] == [0.0, 3.0, 6.0]
    assert [frame.load_kN for frame in frames] == [0.0, 4.0, 2.0]
    assert [frame.event for frame in frames] == ["", "peak", ""]
    assert frames[0].s[0] == 0.0 and frames[0].s[-1] == 140.0
    assert frames[2].gone.max() == 9.0 and not frames[0].gone.any()
    (rest,) = scene_of(made_up_record(settings_of({}))).frames
    assert rest.load_kN == 0 and rest.z[-1] == pytest.approx(-130.0)


@pytest.mark.parametrize("name", ["default", "leaning away", "crust", "partly in"])
def test_ice_and_hole_close_the_half_block(name: str) -> None:
    """Volume: the block less half of an oblique cylinder, which ends square to its axis, R^2 pi h / 2."""
    at = stand(**CASES[name])
    block = block_for(at)
    ice, hole = ice_parts(at, block)
    points, triangles = joined([(np.asarray(each.points, float), each.triangles) for each in (ice, hole)])
    both = Part("ice", ".", points.astype(np.float32), triangles, "#000000")
    box = (block.left + block.right) * block.wide * block.deep
    assert closed(both) == pytest.approx(box - 0.5 * pi * at.radius**2 * at.embedment, rel=2e-4)


@pytest.mark.parametrize("side", [1, -1])
def test_a_trench_takes_out_of_the_block_what_is_gone(side: int) -> None:
    """Block before less block after is half of the body that is gone; the floor comes to the surface at its rise."""
    at, depth, rise = stand(placement__angle_deg=-20 * side), 12.0, radians(20.0)
    block, trench = block_for(at), Trench(12.0, radians(20.0), side)
    volumes = []
    for each in (None, trench):
        parts = ice_parts(at, block, each)
        volumes.append(volume(*joined([(np.asarray(part.points, float), part.triangles) for part in parts])))
    gone = carved(at, block, trench)
    assert 2 * (volumes[0] - volumes[1]) == pytest.approx(volume(gone.points, gone.triangles), rel=0.1)
    floor = gone.points[(np.abs(gone.points[:, 1]) < 1e-6) & (gone.points[:, 2] < -1e-3)]
    x, z = side * floor[:, 0], floor[:, 2]
    wall = z < -depth + 1e-3
    assert wall.any() and (x > 0).all()
    beyond = x[wall].max() + depth / tan(rise)
    assert x.max() < beyond and x.max() > beyond - 8.0
    slopes = (z[~wall] + depth) / (x[~wall] - x[wall].max())
    assert slopes[x[~wall] > x[wall].max() + 3.0] == pytest.approx(tan(rise), rel=1e-3)


@pytest.mark.parametrize(
    ("by_law", "words"), [(True, "as the law of chips has it"), (False, "as drawn, like its width")]
)
def test_the_rise_of_a_trench_says_whether_a_law_gave_it(by_law: bool, words: str) -> None:
    at = stand(placement__angle_deg=-20)
    assert words in carved(at, block_for(at), Trench(12.0, radians(20.0), 1, by_law)).text


def test_the_ice_of_a_frame_is_carved_by_what_has_gone() -> None:
    outcome = pulled(gone=9.0, placement__angle_deg=-20)
    frames = scene_of(outcome).frames
    whole, carved_ice = (broken_ice(outcome, frame)[0].points[:, 2] for frame in (frames[0], frames[-1]))
    edge = (whole == 0) & (carved_ice < 0)
    assert edge.any() and carved_ice[edge].min() == pytest.approx(-9.0 * cos(radians(20.0)), abs=1e-3)


def test_a_cone_that_a_pull_knows_is_drawn_straight_and_said_to_be() -> None:
    """Upright: from the wall near the tip to the surface at W = depth / tan(elevation) all round."""
    at = stand(pull__direction_deg=90)
    surface = drawn_cone(at)
    assert surface[-1, :, 2] == pytest.approx(0.0, abs=1e-9)
    wide = np.hypot(surface[-1, :, 0], surface[-1, :, 1]) - at.radius
    assert wide == pytest.approx(-surface[0, 0, 2] / tan(ELEVATION))
    scene = scene_of(pulled(cone=True, pull__direction_deg=90))
    cone, front = scene.part("cone"), scene.part("front")
    assert cone is not None and front is not None and "drawn" in cone.text
    assert scene_of(pulled(pull__direction_deg=90)).part("cone") is None


def test_a_family_of_cones_is_lines_beside_the_weakest() -> None:
    """In the plane of the pull a tilted cone rises by elevation + tilt in front, elevation - tilt behind, at any angle.

    Its lines come out of the surface; the part is beside cone and front, and says how many there are.
    """
    at, elevation, tilt = stand(placement__angle_deg=10), radians(35.0), radians(10.0)
    surface = straight_cone(at, 120.0, elevation, tilt)
    behind, front = surface[:, 0], surface[:, surface.shape[1] // 2]
    for line, rise in ((front, elevation + tilt), (behind, elevation - tilt)):
        run = line[-1] - line[0]
        assert np.arctan2(run[2], abs(run[0])) == pytest.approx(rise) and line[-1, 2] == pytest.approx(0.0, abs=1e-9)
    shape = {"start_mm": 120.0, "elevation_deg": 35.0, "tilt_deg": 15.0, "fan_deg": 180.0, "peak_kN": 9.0}
    shape |= {"least_kN": 5.0, "share": [0.5], "load_kN": [9.0], "shut_at_peak": 0.0}
    outcome = made_up_record(settings_of({}), cone={**CONE, **TILTED, "shapes": [shape] * 3})
    fronts = [part for part in scene_of(outcome).parts if part.name == "front"]
    assert len(fronts) == 2 and "3 cones that were tried" in fronts[1].text


def test_the_grid_knows_hole_and_surface() -> None:
    """Share of points in the hole against its volume; nothing over the surface is ice."""
    at = stand(placement__angle_deg=-20, placement__embedment_mm=60)
    errors = []
    for n in (40, 80, 160):
        low, high = np.array([-20.0, 0.0, -80.0]), np.array([60.0, 20.0, 5.0])
        step = (high - low) / n
        places = low + step * (0.5 + np.stack(np.indices((n, n, n)), axis=-1))
        solid = is_ice(at, places)
        assert not solid[places[..., 2] > 0].any()
        hole = (~solid & (places[..., 2] <= 0)).sum() * step.prod()
        errors.append(abs(hole / (0.5 * pi * at.radius**2 * at.embedment) - 1))
    assert errors[-1] < 0.01 and errors[-1] < errors[0]


def test_fields_colour_the_ice(solved: tuple[Outcome, Solution, Path]) -> None:
    """At nodes it is the mesh's own; it falls to nothing at the block's edges; the grid is small."""
    outcome, _, folder = solved
    scene = scene_of(outcome, folder / "fields.vtu")
    ice, grid = scene.part("ice"), scene.grid
    assert ice is not None and ice.values is not None and grid is not None
    assert ice.values.min() >= 0 and 0.5 < ice.values.max() <= 1
    fields, at = read_fields(folder / "fields.vtu"), Stand.of(outcome.case)
    nodes = np.unique(fields.hexahedra[fields.region == 0])
    near = nodes[np.linalg.norm(fields.points[nodes], axis=1) < 40.0]
    nodal = fields.data["criterion_index_per_kN"] * outcome.onset_kN
    found = index_of(folder / "fields.vtu", outcome.onset_kN, block_for(at))(fields.points[near])
    assert np.median(np.abs(found - nodal[near])) < 1e-3 and np.abs(found - nodal[near]).max() < 0.3
    edge = ice.points[:, 0] < ice.points[:, 0].min() + 1.0
    assert ice.values[edge].max() < 0.05
    assert grid.values.dtype == np.uint8 and grid.values.nbytes <= 300_000 and grid.values.shape == grid.solid.shape
    assert not grid.values[~grid.solid].any() and grid.values.max() > 128 and "first damage" in ice.text


@pytest.mark.parametrize("seed", range(12))
def test_any_tube_of_the_ranges_is_a_scene(seed: int) -> None:
    """Drawn at random: closed parts, whole ice, each frame bent and carved, at most 1.5 MB as text."""
    draw = np.random.default_rng(seed).uniform
    length = draw(60, 300)
    given: dict[str, Any] = {
        "tube__length_mm": length,
        "tube__od_mm": draw(10, 30),
        "tube__wall_mm": draw(0.5, 4),
        "tube__thread_length_mm": draw(10, length),
        "tube__thread_height_mm": draw(0.5, 5),
        "tube__thread_pitch_mm": draw(2, 10),
        "placement__angle_deg": draw(-45, 45),
        "placement__embedment_mm": draw(30, length),
        "pull__direction_deg": draw(0, 90),
    }
    if seed % 3 == 0:
        above = draw(0, length - given["placement__embedment_mm"])
        given |= {"placement__attachment": "tied_off", "placement__sling_height_mm": above}
    outcome = pulled(gone=8.0 * (seed % 2), cone=seed % 4 == 1, **given)
    scene = scene_of(outcome)
    arrays = [each for part in scene.parts for each in (part.points, part.triangles, part.along, part.offset)]
    assert sum(each.nbytes for each in arrays if each is not None) * 4 / 3 < 1.5e6
    for part in scene.parts:
        assert np.isfinite(part.points).all()
        if part.name in ("tube", "threads", "hanger", "sling"):
            assert volume(part.points, part.triangles) > 0, part.name
    for frame in scene.frames:
        assert all(np.isfinite(bend(part, frame)).all() for part in scene.parts)
        assert np.isfinite(broken_ice(outcome, frame)[0].points).all()


def test_the_room_draws_nothing() -> None:
    """No module of it imports what draws."""
    folder = Path(room.__file__).parent
    for path in folder.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            assert not any(name.split(".")[0] in ("pyvista", "vtkmodules", "matplotlib") for name in names), path.name
