"""The command `icecone`: an example case, one case solved, a study, a field table, the ices, the validation pack.

Solvers and plotting are imported inside the commands, so that help and bad input answer at once.
"""

from __future__ import annotations

import logging
from importlib.metadata import version
from pathlib import Path
from textwrap import wrap
from typing import Any

import click

from ..case.file import CaseError, example_text, keys_table, read_case
from ..field.table import shipped_tables
from ..outcome.cautions import CAUTION, all_cautions
from ..outcome.models import MODELS
from ..sweep.study import is_design, is_many, shipped_studies
from .day import compare, days, example_day, pin, plan
from .design import study_design
from .errors import BadInput, OneLineGroup, Unsolved
from .folders import find, out_option, ready, report_unsolved, svg_option, written_to
from .many import gather, many_options, refuse_options, study_many, way_of
from .numbers import plural
from .report import report
from .screen import console, print_any_text, print_cautions, print_outcome, print_page, print_study
from .tables import tell

CAUTION_WIDTH = 100  # of a case file
LEVELS = click.Choice(("quick", "standard", "fine"))
CODES = "Exit codes: 0 done, 1 a case could not be solved, 2 bad input or a folder that cannot be written, 130 stopped."


def _version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    """Version, and what solves the large systems here."""
    if not wanted:
        return
    from ...fem.solid.solver import choose_method

    solvers = {
        "pardiso": "MKL's sparse Cholesky (pypardiso)",
        "cholmod": "CHOLMOD's sparse Cholesky (kvxopt)",
        "splu": "multigrid and SciPy's sparse LU, many times slower for cones: pip install kvxopt pymetis",
    }
    click.echo(f"icecone {version('icecone')}; solver: {solvers[choose_method(1)]}")
    ctx.exit()


@click.group(cls=OneLineGroup, invoke_without_command=True, epilog=CODES)
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Version and solver; exit."
)
@click.pass_context
def main(ctx: click.Context) -> None:
    """Where does a threaded steel tube screwed into ice break first when it is pulled, at what load, and why?

    Start with `icecone example > case.toml`, change a number in case.toml, then `icecone solve case.toml`.
    Loads are in kN, lengths in mm, stresses in MPa, angles in deg; every field carries its unit in its name.
    Onset is the load of first damage, not the peak load. Research and teaching only: never trust a life to a
    number from here.
    """
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # its notes on a home that cannot be written
    print_any_text()
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


@main.command()
@click.option("--table", is_flag=True, help="Print the keys as a Markdown table instead.")
@click.option("--rig", is_flag=True, help="Print a file of a hauling rig instead, for `icecone plan`.")
@click.option("--day", metavar="NAME", help="Print the table of a day of pulls instead, for `icecone plan`.")
@click.option("--protocol", is_flag=True, help="With --day: how it is done, in place of the table.")
def example(table: bool, rig: bool, day: str | None, protocol: bool) -> None:
    """Print a case file with every key, its meaning, unit and range.

    The case is invented. Save it with `icecone example > case.toml`; every key may be left out.
    """
    if rig or day is not None:
        click.echo(example_day(day, protocol), nl=False)
        return
    if table:
        click.echo(keys_table(), nl=False)
        return
    above = "".join(f"# {line}\n" for line in wrap(CAUTION, CAUTION_WIDTH))
    click.echo(f"{above}#\n{example_text()}", nl=False)


@main.command(epilog=CODES, short_help="Solve one case: what limits it, at what load, and why.")
@click.argument("case_file", metavar="CASE.toml", type=click.Path(path_type=Path))
@out_option("the case file")
@click.option(
    "--set", "overrides", metavar="KEY=VALUE", multiple=True, help="Change a key of the case; may be given repeatedly."
)
@click.option("--model", type=click.Choice(tuple(MODELS)), help="How far the prediction goes, whatever the case says.")
@click.option(
    "--draws", type=click.IntRange(0, 100_000), default=100, show_default=True, help="For the range; 0: none."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of the draws.")
@click.option("--moving", is_flag=True, help="Draw the pull as it goes on, too: moving_pull.gif.")
@click.option("--no-pictures", is_flag=True, help="Draw nothing: numbers and fields alone, seconds sooner.")
@svg_option()
def solve(case_file: Path, out: str | None, overrides: tuple[str, ...], model: str | None, **how: Any) -> None:
    """Solve one case: the answer after a second or two, its range, then the rest within half a minute.

    Says what gives way first, at which load in kN, and the range of that. Then why: what tube and ice alone would hold,
    where the tube forms a hinge, what would give way next, where the ice is damaged first.

    Writes outcome.json (all numbers, settings, versions), fields.vtu (stress and displacement, for any viewer of VTK
    files), stress.png, load_displacement.png and tube.png into the folder, and cutaway.png, the case cut open in space,
    where VTK can draw.

    `--model onset` stops at first damage. `--model cone` follows the cone of ice to its peak instead, in minutes: the
    load, the angle, the depth, where it comes out; it writes cone.vtu (the crack's surface) and cone.png. Laws not
    known yet are computed (minutes) and kept in your cache, or where ICECONE_LAWS says.

    Example: icecone solve case.toml --set placement.angle_deg=-10 --set numerics.level=quick
    """
    settings = read_case(case_file, (*overrides, *((f"numerics.model={model}",) if model else ())))
    folder = ready(out, case_file.stem)
    from .solving import solve_into

    pictures = not how.pop("no_pictures")
    outcome = solve_into(folder, settings, case_file, **how, pictures=pictures)
    screen = console()
    print_outcome(screen, outcome)
    written_to(folder)
    print_cautions(screen, all_cautions([outcome]))


@main.command(epilog=CODES, short_help="Vary keys of a case and say why the outcomes differ.")
@click.argument("study_file", metavar="STUDY.toml")
@out_option("the study")
@click.option("--level", type=LEVELS, help="How fine the mesh is, whatever the study says.")
@svg_option()
@many_options
def study(study_file: str, out: str | None, level: str | None, **how: Any) -> None:
    """Vary keys of a case, one at a time or all together, compare the outcomes and say why they differ.

    STUDY.toml is a file, or the name of a study that comes with icecone: {shipped}.

    Prints what each value holds in kN, what gives way, and why; of a study of onsets the load of the first damage, and
    where it is. Writes table.csv, outcomes.json, why.txt, sweep.png and (if the study asks for it) a strip of some
    cases into the folder, each case into its subfolder cases. Stopped or killed, the same command goes on with the
    cases that are missing.

    A file with study.want, [axes] or [random] is one of many cases: solved on all cores, it tells the spread and writes
    results.nc and results.parquet too. One with [require] is a design search: the lightest tubes that meet a demand.
    """
    from ..sweep.run import run_study
    from ..sweep.study import read_study

    path = find(study_file, shipped_studies(), "study")
    for is_one, solve_it in ((is_design, study_design), (is_many, study_many)):
        if is_one(path):
            solve_it(path, level, ready(out, path.stem), way_of(**how))
            return
    refuse_options(how)
    found, folder = read_study(path, level), ready(out, path.stem)
    done = run_study(found, folder, console(stderr=True))
    print_study(console(), found, done)
    if any(case.outcome for case in done):
        tell(console(), (folder / "why.txt").read_text(encoding="utf-8"))
    written_to(folder)
    report_unsolved(sum(case.outcome is None for case in done), len(done))


for command in (gather, plan, compare, pin, report):
    main.add_command(command)
study.help = (study.help or "").format(shipped=", ".join(sorted(shipped_studies())))
plan.help = (plan.help or "").format(days=", ".join(sorted(days())))
compare.help = (compare.help or "").format(tables=", ".join(sorted(shipped_tables())))


@main.command(
    short_help="Hold icecone against closed forms and published numbers.",
    epilog="Exit codes: 0 all pass, 1 one fails or none could run, 2 bad input or a folder that cannot be written.",
)
@click.option("--only", "names", metavar="NAME", multiple=True, help="A check or a group; may be given repeatedly.")
@out_option("the command")
@click.option("--list", "listing", is_flag=True, help="List the checks instead of running them.")
@click.option("--routes", is_flag=True, help="Pull invented cases by two routes to the peak instead.")
@click.option("--turning", is_flag=True, help="Follow cracks that turn round the tube instead.")
def validate(names: tuple[str, ...], out: str | None, listing: bool, routes: bool, turning: bool) -> None:
    """Hold icecone against closed forms, published numbers and other codes.

    Writes validation.md (the table, with every source), table.csv, errors.png, convergence.png and profiles.png into
    the folder; with --only, beside what the folder holds already. The checks against other codes need
    `pip install 'icecone[reference]'` and are named if they are not run. Stopped or killed, the same command goes on
    where it was.

    With --routes: pulls invented cases by two routes, a beam on laws and sharp cracks opened in turn (minutes a case);
    writes table.csv, routes.png (the curves) and each case into the subfolder cases. --only then takes words of names:
    `icecone validate --routes --only "straight out"`. With --turning: the same for cracks in front of the tube that
    turn (minutes a case); the picture is turning.png.
    """
    if routes or turning:
        _validate_cases("routes" if routes else "turning", names, out)
        return
    from ...validation.pack import FAILED, chosen
    from .screen import print_checks, print_validation

    try:
        checks = chosen(names)
    except ValueError as error:
        raise BadInput(f"--{error}") from None
    if listing:
        print_checks(console(), checks)
        return
    folder = ready(out, "validate")
    from ..validating.run import run_pack

    results = run_pack(names, folder, console(stderr=True))
    print_validation(console(), results)
    written_to(folder)
    if failed := [result.check.name for result in results if result.verdict == FAILED]:
        raise Unsolved(f"{len(failed)} of {plural(len(results), 'check')} fail: {', '.join(failed)}")
    if all(result.absent for result in results):
        raise Unsolved(f"nothing was checked: {results[0].problem}")


@main.command(epilog=CODES, short_help="List ices and metals with their sources, or show one.")
@click.argument("name", metavar="[NAME]", required=False)
@click.option("--temperature-C", "temperature_C", type=float, default=-5.0, show_default=True, help="In deg C.")
@click.option("--load-time-s", "load_time", type=float, default=10.0, show_default=True, help="Time to failure in s.")
@click.option("--plot", metavar="FILE.png", help="Draw the material into this file.")
def materials(name: str | None, temperature_C: float, load_time: float, plot: str | None) -> None:
    """List ices and metals with their sources, or show one value by value.

    NAME is an ice, a metal, or `laws` (how strengths move and spread), `crystal` (the single crystal of ice) or
    `assumed` (what is assumed of crushing, chips, threads and where counting stops). Stated values hold at the laws'
    reference state; the options set the state in which the strengths are shown.

    Example: icecone materials dense_waterfall --temperature-C -10 --plot ice.png
    """
    from ..outcome.cautions import CAUTION, STARTING_POINTS
    from ..words import materials as pages

    if name is None and plot is not None:
        raise BadInput(f"--plot = {plot!r}: needs the NAME of one ice or metal")
    screen = console()
    try:
        found = pages.pages(name, temperature_C, load_time, screen.width)
    except ValueError as error:
        raise BadInput(str(error)) from None
    if name is not None and plot is not None:
        from ..figures.material import plot_material

        plot_material(name, temperature_C, load_time, plot)
    for page in found:
        print_page(screen, page)
    if plot:
        click.echo(f"written to {plot}\n")
    print_cautions(screen, (f"{STARTING_POINTS}; ice varies from place to place.", CAUTION))


def _validate_cases(kind: str, words: tuple[str, ...], out: str | None) -> None:
    """The cases with one of these words in their names, all if there are none; kind : one of `validating.kinds`."""
    from ...fem.errors import SolveError
    from ..sweep.runner import progress_bar
    from ..validating.kinds import KINDS
    from . import screen as screens

    cases, run, lost = KINDS[kind]
    names = [name for name in cases if not words or any(word in name for word in words)]
    if not names:
        raise CaseError(f"--only = {', '.join(words)!r}: must be in one of {', '.join(map(repr, cases))}")
    folder, screen = ready(out, kind), console(stderr=True)
    with progress_bar(screen) as progress:
        task = progress.add_task("", total=len(names))

        def advance(name: str) -> None:
            progress.advance(task)
            if not screen.is_terminal:
                screen.print(f"solved: {name}", markup=False)

        try:
            found = run(names, folder, lambda text: screen.print(text, markup=False), advance)
        except SolveError as error:
            raise Unsolved(f"{lost} does not come to its end: {error}") from None
    getattr(screens, f"print_{kind}")(console(), found)
    written_to(folder)
