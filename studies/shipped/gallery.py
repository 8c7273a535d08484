"""Every picture of every command, made anew by one command and laid side by side.

    python -m icecone.studies.shipped.gallery OUT [--only WORD]... [--keep]

OUT/NAME/        the answer of a command            OUT/index.html    all pictures, 900 px wide, under their commands

--only: commands whose name or words hold WORD.  --keep: copies those that the rooms' pages show into
`studies/shipped/pictures`. A command that fails is named on the page and at the end, and the others go on. Studies
of many cases take long (`mode_map`: 112); the pack of checks (`icecone validate`) is not in it.
"""

from __future__ import annotations

import shutil
import sys
import traceback
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

import click
from jinja2 import Environment

from ..command.main import main as icecone
from ..files.store import write_text
from ..outcome.cautions import CAUTION
from ..sweep.study import shipped_studies

PICTURES = Path(__file__).parent / "pictures"
SEEN = (".png", ".svg", ".gif")
TILTED = {"away": -20, "upright": 0, "toward": 20}
KEPT = {
    "why_angle": {"chain.png": "why_angle_chain.png", "stress_strip.png": "why_angle_breaks.png"},
    "angle_peak": {
        "sweep.png": "angle_peak.png",
        "tube_strip.png": "tube_strip.png",
        "chip_paths.png": "chip_paths.png",
        "law.png": "law.png",
    },
    "angle_fine": {"band.png": "angle_fine.png"},
    "ice_kind": {"sweep.png": "ice_kind.png"},
    "partial_and_tied_off": {"sweep.png": "partial_and_tied_off.png"},
    "tube_length": {"sweep.png": "tube_length.png"},
    "pull_out": {"sweep.png": "pull_out.png"},
    "spread": {"spread.png": "spread.png", "drives.png": "drives.png"},
}  # pictures of a study, by their names on the rooms' pages
PAGE = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>icecone: every picture</title>
<style>body{font:16px/1.5 system-ui,sans-serif;max-width:940px;margin:2rem auto;padding:0 1rem}
img{width:900px;max-width:100%;border:1px solid #ddd}code{background:#f2f2f2;padding:.1em .3em}figure{margin:1rem 0}
.bad{color:#a00}</style>
<h1>Every picture of every command</h1>
<p>{{ caution }}</p>
{% for made in all %}<h2>{{ made.shown.name }}</h2>
<p><code>icecone {{ made.shown.words | join(" ") }}</code>, {{ "%.0f" | format(made.seconds) }} s</p>
{% if made.problem %}<pre class="bad">{{ made.problem }}</pre>{% endif %}
{% for picture in made.pictures %}<figure>
<img src="{{ picture }}" alt="{{ picture }}"><figcaption>{{ picture }}</figcaption>
</figure>{% endfor %}{% endfor %}
</html>
"""


@dataclass(frozen=True, slots=True)
class Shown:
    """A command whose answer lies in OUT/name. kept : files of it, by their names among the shipped pictures."""

    name: str
    words: Sequence[str]
    kept: Mapping[str, str] = field(default_factory=dict)

    def holds(self, some: Sequence[str]) -> bool:
        """Whether its name or words hold one of these."""
        return any(word in " ".join((self.name, *self.words)) for word in some)


@dataclass(frozen=True, slots=True)
class Made:
    """What came of it. pictures : their paths from OUT."""

    shown: Shown
    seconds: float
    problem: str
    pictures: Sequence[str]


def _solved(name: str, *settings: str, model: str = "peak", kept: Mapping[str, str] | None = None) -> Shown:
    keys = [word for setting in settings for word in ("--set", setting)]
    return Shown(f"solve_{name}", ("solve", "case.toml", "--model", model, *keys), kept or {})


def commands() -> Iterator[Shown]:
    """All of them; case.toml is the example."""
    for name, angle in TILTED.items():
        kept = {"cutaway.png": "cutaway.png", "stress.png": "one_case.png"} if name == "away" else {}
        yield _solved(name, f"placement.angle_deg={angle}", kept=kept)
    half = "placement.embedment_mm=70"
    yield _solved("half_at_the_eye", half)
    yield _solved("half_tied_off", half, "placement.attachment=tied_off")
    yield _solved("straight_out", "pull.direction_deg=90")
    yield _solved("slanting", "pull.direction_deg=45", "placement.angle_deg=-10")
    yield _solved("crusted", "ice.crust_mm=20")
    yield _solved("onset", "placement.angle_deg=-20", model="onset")
    yield _solved("cone", "pull.direction_deg=90", model="cone", kept={"cone.png": "cone.png"})
    yield _solved("tilted_cone", "placement.angle_deg=10", "pull.direction_deg=45", model="cone")
    for name in sorted(shipped_studies()):
        yield Shown(name, ("study", name), KEPT.get(name, {}))
    for name in ("angle_day", "depth_day", "tie_off_day"):
        kept = {"plan.png": "day_plan.png", "power.png": "day_power.png"} if name == "angle_day" else {}
        yield Shown(name, ("plan", name), kept)
    fit = ("--fit", "ice.K_IC_kPa_sqrt_m", "--fit", "assumed.crushing_share")
    kept = {"comparison.png": "day_compared.png", "fit.png": "day_fit.png"}
    yield Shown("invented_day", ("compare", "invented_day", *fit), kept)
    for name in ("published", "trade_facts"):
        yield Shown(name, ("compare", name))
    yield Shown("invented_pushes", ("pin", "invented_pushes"))
    for name in ("dense_waterfall", "sound_glacier"):
        yield Shown(f"materials_{name}", ("materials", name, "--plot", "PICTURE"))


def make(shown: Shown, out: Path) -> Made:
    """Run a command into its folder."""
    folder, begun, problem = out / shown.name, perf_counter(), ""
    words = [str(out / "case.toml") if word == "case.toml" else word for word in shown.words]
    if "PICTURE" in words:
        folder.mkdir(parents=True, exist_ok=True)
        words[words.index("PICTURE")] = str(folder / "material.png")
    else:
        words += ["--out", str(folder)]
    try:
        icecone(words, standalone_mode=False)
    except (click.ClickException, SystemExit) as error:
        problem = getattr(error, "message", "") or str(error)
    except Exception:
        problem = traceback.format_exc()
    found = sorted(path for path in folder.rglob("*") if path.suffix in SEEN) if folder.is_dir() else []
    return Made(shown, perf_counter() - begun, problem, [path.relative_to(out).as_posix() for path in found])


def keep(made: Made, out: Path) -> None:
    """Copy the pictures that the rooms' pages show."""
    for name, shipped in made.shown.kept.items():
        if (path := out / made.shown.name / name).is_file():
            shutil.copyfile(path, PICTURES / shipped)


@click.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--only", metavar="WORD", multiple=True, help="Commands whose name or words hold it.")
@click.option("--keep", "kept", is_flag=True, help="Copy what the rooms' pages show into studies/shipped/pictures.")
def gallery(out: Path, only: tuple[str, ...], kept: bool) -> None:
    """Make every picture of every command anew, into OUT, and lay them side by side in OUT/index.html."""
    from ..case.file import example_text

    out.mkdir(parents=True, exist_ok=True)
    write_text(out / "case.toml", example_text())
    wanted = [each for each in commands() if not only or each.holds(only)]
    page, all_made = Environment(autoescape=True).from_string(PAGE), []
    for number, shown in enumerate(wanted, 1):
        click.echo(f"{number} of {len(wanted)}: icecone {' '.join(shown.words)}")
        all_made.append(make(shown, out))
        if kept:
            keep(all_made[-1], out)
        write_text(out / "index.html", page.render(all=all_made, caution=CAUTION))
    failed = [made.shown.name for made in all_made if made.problem]
    click.echo(f"{sum(len(made.pictures) for made in all_made)} pictures of {len(all_made)} commands: {out}/index.html")
    if failed:
        click.echo(f"failed: {', '.join(failed)}")
        sys.exit(1)


if __name__ == "__main__":
    gallery()
