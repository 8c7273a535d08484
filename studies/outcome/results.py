"""What each model finds of a case, as typed, frozen data; `data.Outcome` holds them under the names of the JSON."""

from __future__ import annotations

from dataclasses import dataclass

Numbers = tuple[float, ...]
Loads = tuple[float | None, ...]
Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class IceUsed:
    """The ice of a case as it entered; E, nu and G_c of the isotropic average. column_axis : None without columns.

    size_factor : by which the onset multiplies tensile_MPa; None where size does not count.
    """

    kind: str
    fabric: str
    porosity: float
    grain_size_mm: float
    E_GPa: float
    nu: float
    tensile_MPa: float
    K_IC_kPa_sqrt_m: float
    G_c_J_per_m2: float
    critical_distance_mm: float
    compressive_MPa: float
    shear_distance_mm: float
    criterion: str
    confinement_slope: float
    deviator_cap_MPa: float
    pressure_slope: float
    peak_pressure_MPa: float
    stiffness_GPa: dict[str, float]
    column_axis: Point | None
    size_factor: float | None


@dataclass(frozen=True, slots=True)
class MetalUsed:
    """The metal of the tube as it entered."""

    kind: str
    E_GPa: float
    nu: float


@dataclass(frozen=True, slots=True)
class OnsetResult:
    """The first damage: mode, place and crack in words; shares of the pull; and the checks of the solve.

    effective_volume_mm3 : of ice under tension, of the whole ice; None where size does not count.
    """

    mode: str
    where_mm: Point
    place: str
    crack: str
    length_mm: float
    compliance_mm_per_kN: float
    share_front: float
    share_threads: float
    share_back_or_toe: float
    mouth_tension_MPa_per_kN: float
    mouth_compression_MPa_per_kN: float
    effective_volume_mm3: float | None
    dofs: int
    wall_s: float
    residual: float
    balance_error: float
    contact_iterations: int
    solver: str
    mesh_quality: dict[str, float]


@dataclass(frozen=True, slots=True)
class StraightCone:
    """Of a crack that finds its path: its first crack, its growth, thread by thread."""

    onset_kN: float
    onset_start: str
    onset_direction_deg: float
    onset_length_mm: float
    stable_to_mm: float
    before_kN: dict[str, float]
    path_mm: tuple[Numbers, ...]
    length_mm: Numbers
    K_II_over_K_I: Numbers
    thread_shares: Numbers
    thread_shares_at_peak: Numbers
    thread_depths_mm: Numbers


@dataclass(frozen=True, slots=True)
class MouthCrack:
    """The first opening crack at the mouth by the coupled criterion."""

    onset_kN: float
    kind: str
    length_mm: float
    extent_mm: float


@dataclass(frozen=True, slots=True)
class ConeShape:
    """A tilted cone that was tried, and the load at each share of its way to the surface."""

    start_mm: float
    elevation_deg: float
    tilt_deg: float
    fan_deg: float
    peak_kN: float | None
    least_kN: float
    share: Numbers
    load_kN: Loads
    shut_at_peak: float


@dataclass(frozen=True, slots=True)
class TiltedCone:
    """Of a family of tilted cones: the weakest, and all that were tried."""

    tilt_deg: float
    fan_deg: float
    bound: str
    least_kN: float
    mouth: MouthCrack | None
    share: Numbers
    least_load_kN: Numbers
    shapes: tuple[ConeShape, ...]


@dataclass(frozen=True, slots=True)
class ConeResult:
    """The cone of ice: where it starts, depth, mean angle, breakout; its surface; and what its route adds."""

    start: str
    depth_mm: float
    angle_deg: float
    breakout_mm: float | None
    route: str
    load_kN: Loads
    shut: tuple[float | bool, ...]
    seconds: float
    surface_mm: tuple[tuple[Point, ...], ...]
    surface_load_kN: Loads
    caution: str
    straight: StraightCone | None = None
    tilted: TiltedCone | None = None


@dataclass(frozen=True, slots=True)
class Rival:
    """A mode that could give way but did not, and its load."""

    mode: str
    load_kN: float


@dataclass(frozen=True, slots=True)
class DrawnRange:
    """The answer with what nobody knows drawn at random.

    share : of the draws, below each of loads_kN, by load.  modes : what limits, with its chance.  drawn : keys;
    driven_by : those that clearly move the limit, first the one that does most.
    """

    draws: int
    seed: int
    unsolved: int
    drawn: tuple[str, ...]
    share: Numbers
    loads_kN: dict[str, Numbers]
    modes: dict[str, float]
    driven_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NearCase:
    """A case a little different: its loads and their modes, by the names of `data.LOADS`."""

    change: str
    loads_kN: dict[str, float]
    modes: dict[str, str]


@dataclass(frozen=True, slots=True)
class Happened:
    """An event of a pull, and the tube then, node by node from the head (moments and strains: element by element)."""

    name: str
    load_kN: float
    displacement_mm: float
    x_mm: Numbers
    z_mm: Numbers
    s_mm: Numbers
    bearing_N_per_mm: Numbers
    moment_Nm: Numbers
    plastic_strain: Numbers
    overshoot: float
    found: str
    held_node: int


@dataclass(frozen=True, slots=True)
class LawOrigin:
    """How a law of the ice is known; error : of its computation, None if it was not computed."""

    law: str
    how: str
    error: float | None


@dataclass(frozen=True, slots=True)
class LawsUsed:
    """What the ice bears along the tube."""

    depth_mm: Numbers
    front_limit_N_per_mm: Numbers
    back_limit_N_per_mm: Numbers
    wall_stiffness_GPa: float
    thread_limit_N_per_mm: float
    origins: tuple[LawOrigin, ...]


@dataclass(frozen=True, slots=True)
class Shapes:
    """The tube at f states of a pull, node by node from the head, in mm; for pictures that move.

    step : numbers of the states in `PeakResult.displacement_mm`.  s_mm : places along the tube, 0 at the mouth.
    yielded : sections with a plastic strain above 1e-4, as 0 and 1.  gone_mm : how deep the ice is gone, from the mouth
    down, at nodes that it no longer covers; on the side that the pull presses.  held_node : where the rope holds it.
    """

    step: tuple[int, ...]
    x_mm: tuple[Numbers, ...]
    z_mm: tuple[Numbers, ...]
    s_mm: Numbers
    bearing_N_per_mm: tuple[Numbers, ...]
    yielded: tuple[tuple[int, ...], ...]
    gone_mm: tuple[Numbers, ...]
    cone: tuple[bool, ...]
    held_node: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PeakResult:
    """The pull to its end: the curve, its events, what else could give way, hand formulas, the laws of the ice.

    stop : at which the peak still rises, in words; "" if it does not.  others_above : what all modes that are not
    named need more than, as far as that was found.
    band : loads [kN] by the names of `data.LOADS` if every chip comes out, "goes", and if none does, "stays".
    """

    rivals: tuple[Rival, ...]
    others_above_kN: float | None
    stop: str
    cone_kN: float | None
    hand_kN: dict[str, float]
    hand_warning: str
    energy_imbalance: float
    event_overshoot: float
    neighbours: tuple[NearCase, ...]
    edge: str
    band: dict[str, dict[str, float]]
    displacement_mm: Numbers
    load_kN: Numbers
    head_rotation_deg: Numbers
    energies_J: dict[str, float]
    events: tuple[Happened, ...]
    shapes: Shapes
    laws: LawsUsed
    caution: str
