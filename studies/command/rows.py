"""What the screen shows of one case, a quantity a line: of its onset, and what a cone or a peak adds."""

from __future__ import annotations

from ...fem.tube.modes import is_stated
from ..outcome.data import Outcome
from ..words.peak import tell_idle
from .numbers import error, percent, short

LEVER = "the lever pushes with the pull; the front bears that too"
Row = tuple[str, object]


def onset_rows(outcome: Outcome) -> list[Row]:
    """The first damage, who carries the pull, and the checks of the solve."""
    onset = outcome.onset
    shares = (
        ("bearing in front", onset.share_front),
        ("threads", onset.share_threads),
        ("bearing behind", onset.share_back_or_toe),
    )
    return [
        ("onset, the first damage (kN)", outcome.onset_kN),
        ("first damage: what breaks", onset.mode),
        ("first damage: where", onset.place),
        ("first damage: how the crack runs", onset.crack),
        ("compliance at the pull (mm/kN)", onset.compliance_mm_per_kN),
        *((f"share of the pull: {name}", _share(share)) for name, share in shares),
        ("level of the mesh", outcome.case["numerics.level"]),
        ("check: residual of the solve", error(onset.residual)),
        ("check: error of the force balance", error(onset.balance_error)),
        ("check: contact iterations", onset.contact_iterations),
        ("check: mesh quality", {name.replace("_", " "): value for name, value in onset.mesh_quality.items()}),
        ("size of the solve", f"{onset.dofs} unknowns, {onset.wall_s:.1f} s, {onset.solver}"),
    ]


def _share(share: float) -> str:
    """In per cent, with why it is negative."""
    return f"{percent(share)}: {LEVER}" if share < 0 and not percent(share).startswith("0") else percent(share)


def _rival_words(mode: str) -> str:
    """A rival's name: by its stated strength, or what would come next."""
    return f"{mode} as stated (kN)" if is_stated(mode) else f"next in line: {mode} (kN)"


def peak_rows(outcome: Outcome) -> list[Row]:
    """Limit, peak, what else could give way, and hand formulas."""
    peak, hinge = outcome.the_peak, outcome.first_hinge_kN
    rows: list[Row] = [
        ("limit of the placement (kN)", outcome.limit_kN),
        ("what gives way first", outcome.limit_mode),
        ("peak of tube and ice alone (kN)", outcome.peak_kN),
        ("what gives way of tube and ice", outcome.peak_mode),
        ("movement of the load point up to the peak (mm)", outcome.peak_at_mm),
        ("first fall of the pull by 5 %, from (kN)", outcome.first_drop_kN),
        (f"largest pull up to {outcome.case['tube.od_mm']:g} mm of movement (kN)", outcome.early_kN),
        ("largest pull up to 45 deg of turn (kN)", outcome.turned_kN),
        ("largest pull that the model follows (kN)", outcome.largest_kN),
        ("why the pull ended", outcome.ended_by),
        ("first hinge of the tube (kN)", "none" if hinge is None else hinge),
        ("its wall wrinkles (kN)", "not up to the peak" if outcome.wrinkle_kN is None else outcome.wrinkle_kN),
        ("turn of the head up to the peak (deg)", abs(outcome.head_rotation_deg or 0.0)),
        *((_rival_words(each.mode), each.load_kN) for each in peak.rivals if each.mode != outcome.limit_mode),
        *([] if peak.others_above_kN is None else [("nothing else gives way up to (kN)", peak.others_above_kN)]),
        *((f"by hand: {name} (kN)", load) for name, load in peak.hand_kN.items()),
    ]
    return rows


def cone_rows(outcome: Outcome) -> list[Row]:
    """Limit, and the cone: its load, shape, route, and first crack."""
    cone = outcome.the_cone
    rows: list[Row] = [
        ("limit of the placement (kN)", outcome.limit_kN),
        ("what gives way first", outcome.limit_mode),
        ("peak of the ice's cone (kN)", "none opens" if outcome.peak_kN is None else outcome.peak_kN),
        ("the cone starts at", f"{cone.start}, {cone.depth_mm:.0f} mm deep"),
        ("mean angle of its side from the surface (deg)", cone.angle_deg),
        ("comes out of the surface (mm from the axis)", "not found" if cone.breakout_mm is None else cone.breakout_mm),
        ("how it was found", cone.route),
    ]
    if (tilted := cone.tilted) is not None:
        rows.append(("lower bound, if sliding helps the crack (kN)", tilted.least_kN))
        if (crack := tilted.mouth) is not None:
            words = f"{short(crack.onset_kN)}: {crack.kind}, {crack.length_mm:.1f} mm by {crack.extent_mm:.1f}"
            rows.append(("first opening crack at the mouth, coupled criterion (kN)", words))
    if (straight := cone.straight) is not None:
        words = f"{short(straight.onset_kN)}, at {straight.onset_start}"
        rows.append(("its first crack, threads resolved (kN)", words))
        rows.append(("stable until the crack is (mm long)", straight.stable_to_mm))
        for thread, load in straight.before_kN.items():
            rows.append((f"before that, a cone from thread {thread} alone (kN)", load))
    return rows


def remarks(outcome: Outcome) -> list[str]:
    """What is said below the table: a warning of the hand formulas, the outcome's notes, keys that cannot move it."""
    warning = outcome.peak.hand_warning if outcome.peak else ""
    idle = tell_idle([outcome], "") if outcome.peak else ""
    notes = [*outcome.notes, *([idle] if idle else [])]
    return [*([f"warning: {warning}"] if warning else []), *(f"note: {text}" for text in notes)]
