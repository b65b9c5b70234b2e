"""The command ``trivet``. Heavy modules are loaded by the command that needs them: ``--help`` has to feel instant."""

import os
import sys
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from studies.specification import Candidate
    from studies.study import Study

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy loads: a process works on one candidate, on one core

DONE, UNMET, WRONG_INPUT, INTERRUPTED = 0, 1, 2, 130

CARRIED_ON = ("run", "pick", "yield")
"""Commands that store what they have finished, and carry on from there."""

STUDY = click.argument("study", type=click.Path(path_type=Path))
RUN = click.argument("run", type=click.Path(path_type=Path))
SET = click.option(
    "--set", "overrides", multiple=True, metavar="KEY=VALUE", help="Set a key of the study for this once."
)


class Trivet(click.Group):
    """The command group; whatever goes wrong ends as one paragraph on stderr and an exit status."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the chosen command."""
        try:
            return super().invoke(ctx)
        except (click.exceptions.Exit, click.ClickException, click.Abort):
            raise
        except BrokenPipeError:
            raise  # the reader of our output went away: click ends quietly
        except KeyboardInterrupt:
            stored = "What was finished is stored; the same command carries on from there."
            _say(f"Interrupted. {stored if ctx.invoked_subcommand in CARRIED_ON else 'Nothing was stored.'}")
            ctx.exit(INTERRUPTED)
        except Exception as fault:
            _say(*_explained(fault, running=ctx.invoked_subcommand in CARRIED_ON))
            ctx.exit(_status_of(fault))


def _tell_version(ctx: click.Context, parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        from studies.versions import installed_version

        click.echo(f"trivet {installed_version('trivet')}")
        ctx.exit()


@click.group(cls=Trivet, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_tell_version, help="Show it.")
def main() -> None:
    """Find a base coil under a heated plate that reads a small tag above it.

    A calculation, not a safety or compliance approval: hot plates, mains parts, hundreds of volts on a tuned coil and
    magnetic fields near implants can hurt. Local codes and qualified practice decide.
    """


@main.command(short_help="Write a commented starter study.")
@click.argument("path", type=click.Path(path_type=Path), default=Path("study.toml"))
def new(path: Path) -> None:
    """Write a commented starter study to PATH (study.toml)."""
    from studies.starter import starter_text

    if path.exists():
        _stop(f"{path} exists already; nothing is overwritten. Give another name.")
    try:
        path.write_text(starter_text(), encoding="utf-8")
    except OSError as fault:
        _stop(f"{path} cannot be written: {fault.strerror}.")
    click.echo(f"Wrote {path}. Next: trivet check {path}")


@main.command(short_help="Validate a study, draw its section, count its designs.")
@STUDY
@SET
@click.option(
    "--drawing", type=click.Path(path_type=Path), help="Where to draw the section (SVG or PNG by its ending)."
)
def check(study: Path, overrides: tuple[str, ...], drawing: Path | None) -> None:
    """Validate STUDY, draw its section, and count and cost its designs; nothing is solved."""
    from studies.study import read_study

    checked = read_study(study, overrides)
    from studies.checking import check_lines, draw_study

    for line in check_lines(checked):
        click.echo(line)
    _tell_swept(overrides, checked)
    click.echo(f"Section drawn to {draw_study(checked, drawing)}.")


@main.command(short_help="Solve the base design of a study alone.")
@STUDY
@SET
@click.option("--json", "as_json", is_flag=True, help="One flat JSON object, named as the columns of designs.csv.")
@click.option("--whole-space", is_flag=True, help="Check the map's M by elements in three dimensions instead.")
@click.option(
    "--place",
    "places",
    multiple=True,
    metavar="PLACE",
    help='Where to check: height, offset, tilt as in "25 mm, 5 mm, 10 deg"; may be repeated.',
)
def solve(study: Path, overrides: tuple[str, ...], as_json: bool, whole_space: bool, places: tuple[str, ...]) -> None:
    """Solve the base design of STUDY alone: terminal quantities, errors, link, verdict."""
    import json

    from studies.study import read_study

    base = read_study(study, overrides).base
    if places and not whole_space:
        _stop("--place goes with --whole-space: the other outputs take their places from the study file.")
    if whole_space:
        _check_in_whole_space(base, places, as_json)
        return
    from studies.evaluation import evaluated
    from studies.texts import row_lines

    found = evaluated(base)
    row = {"design": base.design, **found.row, "status": "done", "message": ""}
    if as_json:
        click.echo(json.dumps({name: _json_value(value) for name, value in row.items()}, allow_nan=False))
        return
    for line in row_lines(row):
        click.echo(line)
    for text in (*found.warnings, *found.cautions):
        _say(text)


@main.command(short_help="Run every design of a study.")
@STUDY
@SET
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the run (results/<study>/<run> by default).")
@click.option("--workers", type=click.IntRange(1, 256), help="Worker processes (one a core by default).")
@click.option("--cluster", metavar="ADDRESS", help="Work on the dask.distributed scheduler at ADDRESS instead.")
@click.option("--fresh", is_flag=True, help="Discard what the folder holds of this study and start anew.")
@click.option("--strict", is_flag=True, help="Exit with status 1 where some design does not meet what is required.")
def run(
    study: Path,
    overrides: tuple[str, ...],
    out: Path | None,
    workers: int | None,
    cluster: str | None,
    fresh: bool,
    strict: bool,
) -> None:
    """Run every design of STUDY: maps, link, verdicts, report. Killed at any moment, it carries on when run again."""
    from studies.study import read_study

    if cluster is not None and workers is not None:
        _stop("--workers goes with worker processes on this machine: a cluster has the workers that it has.")

    checked = read_study(study, overrides)
    from studies.findings import findings, headlines
    from studies.hazards import candidate_cautions
    from studies.report_evidence import warnings_of
    from studies.running import run_study
    from studies.store import default_folder

    _tell_swept(overrides, checked)
    folder = out or default_folder(checked)
    if cluster is None:
        outcome = run_study(checked, folder, workers or os.cpu_count() or 1, fresh)
    else:
        from studies.cluster import connected

        with connected(cluster) as hands:
            outcome = run_study(checked, folder, hands, fresh)
    for text in outcome.todo.broken:
        _say(f"A stored piece was broken and has been computed again: {text}")
    for text in outcome.todo.outdated:
        _say(f"Computed again: {text}.")
    if outcome.taken_over:
        click.echo(f"{outcome.taken_over} designs were taken over from other runs of {checked.name}.")
    if outcome.todo.stored:
        click.echo(f"{outcome.todo.stored} of {checked.count} designs were stored already.")
    for line in headlines(findings(outcome.run)):
        click.echo(line)
    failed = [stored for stored in outcome.run.designs if stored.status == "failed"]
    for stored in failed:
        _say(f"{stored.design} failed: {stored.message}")
    for text in warnings_of(outcome.run.info):
        _say(f"Warning: {text}")
    for text in candidate_cautions(checked.base, [stored.row for stored in outcome.run.designs]):
        click.echo(f"Caution: {text}")
    click.echo(f"Report: {outcome.report}")
    unmet = strict and any(not stored.passed for stored in outcome.run.designs)
    sys.exit(UNMET if failed or unmet else DONE)


@main.command(short_help="Summarise a run on the terminal.")
@RUN
def show(run: Path) -> None:
    """Summarise a RUN folder on the terminal."""
    from studies.findings import findings, headlines
    from studies.store import read_run
    from studies.swept import swept_axes
    from studies.texts import candidate_lines

    found = read_run(run)
    click.echo(f"{found.study.name}: {len(found.designs)} of {found.study.count} designs stored, run {found.state}")
    if not found.designs:
        return
    for line in (*headlines(findings(found)), *candidate_lines(found.designs, swept_axes(found.study))):
        click.echo(line)


@main.command(short_help="Write tables and report of a run anew.")
@RUN
def report(run: Path) -> None:
    """Write tables and report of a RUN folder anew from what it stores."""
    from studies.report import write_report
    from studies.store import arrays_of, claimed, read_run
    from studies.tables import write_tables

    found = read_run(run)
    with claimed(run):
        write_tables(found)
        click.echo(f"Report: {write_report(found, lambda stored: arrays_of(found, stored))}")


@main.command(short_help="Write an index page over all runs in a folder.")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("results"))
def shelf(folder: Path) -> None:
    """Write an index page over all runs in FOLDER (results): verdicts, dates, pictures, and which to compare."""
    from studies.shelf import write_shelf

    page, found = write_shelf(folder)
    for one in found:
        if one.fault:
            _say(f"{one.folder} cannot be read: {one.fault}")
    click.echo(f"Shelf of {len(found)} run{'s' if len(found) != 1 else ''}: {page}")


@main.command(short_help="Write the page to keep open for a review.")
@RUN
def review(run: Path) -> None:
    """Write the page to keep open while reviewing a RUN: maps with hover and sliders, table, scatter; one file."""
    from studies.review_page import write_review
    from studies.store import arrays_of, claimed, read_run

    found = read_run(run)
    if not found.designs:
        _stop(f"{run} has no candidate stored yet; carry the run on with trivet run.")
    with claimed(run):
        click.echo(f"Review: {write_review(found, lambda stored: arrays_of(found, stored))}")


@main.command(short_help="Show what sets the reach over this stack.")
@STUDY
@SET
@click.option("--out", type=click.Path(path_type=Path), help="The page (results/<study>/guide.html by default).")
def guide(study: Path, overrides: tuple[str, ...], out: Path | None) -> None:
    """Show what ties reach, coil size, inductance and power together over STUDY's own stack, with its tag: one page."""
    from studies.study import read_study

    checked = read_study(study, overrides)
    from studies.files import RESULTS
    from studies.guide import DIAMETERS
    from studies.guide import guide as worked_out
    from studies.guide_page import guide_notes, hazards, headline, write_guide
    from studies.hazards import candidate_cautions
    from studies.outputs import check_target

    states = 1 + len(checked.base.states)
    page = out or RESULTS / checked.name / "guide.html"
    check_target(page, study)
    _say(f"{checked.name}: {DIAMETERS} coils to solve, in {states} state{'s' if states > 1 else ''} each.")
    found = worked_out(checked)
    write_guide(checked, found, page)
    for text in (f"{headline(found)}.", *guide_notes(found)):
        click.echo(text)
    for text in candidate_cautions(checked.base, hazards(found)):
        click.echo(f"Caution: {text}")
    click.echo(f"Guide: {page}")


@main.command(short_help="Rank stock inductors as the tag of a study.")
@STUDY
@click.argument("parts", type=click.Path(path_type=Path))
@SET
@click.option("--largest-diameter", metavar="LENGTH", help='Of the cylinder that holds a part, as in "9 mm".')
@click.option("--largest-height", metavar="LENGTH", help="Along the coil's axis.")
@click.option("--json", "as_json", is_flag=True, help="All parts as a list of JSON objects.")
@click.option("--out", type=click.Path(path_type=Path), help="Table to write (CSV), one row a part.")
def stock(
    study: Path,
    parts: Path,
    overrides: tuple[str, ...],
    largest_diameter: str | None,
    largest_height: str | None,
    as_json: bool,
    out: Path | None,
) -> None:
    """Rank the stock inductors of PARTS (CSV) as the tag of STUDY: margin and chip voltage at the worst place."""
    from studies.stock_command import rank_stock, room_of
    from studies.study import read_study

    room = room_of(largest_diameter, largest_height)
    sys.exit(UNMET if rank_stock(read_study(study, overrides), parts, room, as_json, out) else DONE)


@main.command(short_help="Write winding sheet and bench card of a design.")
@click.argument("source", metavar="RUN|STUDY", type=click.Path(path_type=Path))
@click.argument("design", required=False)
@SET
@click.option("--probe", metavar="CAPACITANCE", help='Of the probe that watches the resonance ("12 pF").')
@click.option("--wire-tolerance", metavar="SHARE", help='Of the bare wire\'s diameter ("2 %").')
@click.option("--out", type=click.Path(path_type=Path), help="Page to write (sheet-<design>.html).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout, no page.")
def sheet(
    source: Path,
    design: str | None,
    overrides: tuple[str, ...],
    probe: str | None,
    wire_tolerance: str | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Write the winding sheet and bench card of a DESIGN of a run, or of a STUDY's base design."""
    from studies.sheet_command import write_sheet

    target = None if as_json else out or Path(f"sheet-{design or 'base'}.html")
    write_sheet(source, design, overrides, (probe, wire_tolerance), target)


@main.command(short_help="Write a design for other programs.")
@RUN
@click.argument("design")
@click.argument("formats", metavar="FORMAT...", nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path), default=Path(), help="Folder for the files (the current one).")
@click.option("--place", metavar="PLACE", help='Of the tag: "25 mm, 5 mm, 10 deg" (the worst required one).')
@click.option("--state", metavar="STATE", help="Of circuits and fields (that with the least margin).")
@click.option("--frequency", "frequencies", multiple=True, metavar="FREQUENCY", help="Of a two-port; may be repeated.")
def export(
    run: Path,
    design: str,
    formats: tuple[str, ...],
    out: Path,
    place: str | None,
    state: str | None,
    frequencies: tuple[str, ...],
) -> None:
    """Write a DESIGN of a RUN for other programs; nothing is overwritten.

    FORMAT is one or more of: spice, svg, dxf, csv, netcdf, touchstone, vtu.
    """
    from studies.export_command import export_design

    export_design(run, design, formats, out, place, state, frequencies)


@main.command(short_help="Hold bench readings against a design.")
@click.argument("run", type=click.Path(path_type=Path))
@click.argument("measured", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--design", help="Of the run (its best by default).")
@click.option("--state", help="In which it was measured (as the study describes it by default).")
@click.option("--place", help='Where the tag stood for a two-port, as in "25 mm, 5 mm, 10 deg".')
@click.option("--hold", multiple=True, metavar="UNKNOWN[=VALUE]", help="core, wire or height, not to be found.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder (bench-<design> in the run's by default).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")
def bench(
    run: Path,
    measured: tuple[Path, ...],
    design: str | None,
    state: str | None,
    place: str | None,
    hold: tuple[str, ...],
    out: Path | None,
    as_json: bool,
) -> None:
    """Hold readings MEASURED on a bench against a design of a RUN.

    MEASURED are lists of readings (CSV: height, offset, tilt with k, M, chip voltage, read or not; L, R, Q of
    coils) and Touchstone files (.s1p of the base coil, .s2p of base coil and tag). The core's effective permeability,
    the wire's temperature and the tag's height are found from them.
    """
    from studies.bench_command import bench_and_tell

    bench_and_tell(run, measured, design, state, place, hold, out, as_json)


@main.command(short_help="Search what a study sweeps for the best coils.")
@STUDY
@SET
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of the search (results/<study>/pick-… by default)."
)
@click.option("--tries", type=click.IntRange(8, 20_000), default=200, show_default=True, help="Candidates to compute.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=0, help="Another one searches another way.")
@click.option("--picks", type=click.IntRange(1, 50), default=6, show_default=True, help="At most so many of the front.")
@click.option("--workers", type=click.IntRange(1, 256), help="Worker processes (one a core by default).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")
def pick(
    study: Path,
    overrides: tuple[str, ...],
    out: Path | None,
    tries: int,
    seed: int,
    picks: int,
    workers: int | None,
    as_json: bool,
) -> None:
    """Search what STUDY sweeps for the most margin and the least power that meet [require].

    A swept range is searched between its ends, a list as it is. Killed at any moment, it carries on when run again.
    """
    from studies.pick_command import search_and_tell
    from studies.study import read_study

    checked = read_study(study, overrides)
    _tell_swept(overrides, checked)
    met = search_and_tell(checked, out, workers, (tries, seed), picks, as_json)
    sys.exit(DONE if met else UNMET)


@main.command(name="yield", short_help="Draw units as built: how many will do.")
@STUDY
@click.argument("design", required=False)
@SET
@click.option("--units", type=click.IntRange(10, 100_000), default=200, show_default=True, help="To draw.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=0, help="Another one draws others.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder (results/<study>/yield-… by default).")
@click.option("--workers", type=click.IntRange(1, 256), help="Worker processes (one a core by default).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")
def yield_(
    study: Path,
    design: str | None,
    overrides: tuple[str, ...],
    units: int,
    seed: int,
    out: Path | None,
    workers: int | None,
    as_json: bool,
) -> None:
    """Build units of a DESIGN of STUDY (its base design by default) as its [spread] says: how many meet [require].

    Killed at any moment, it carries on when run again.
    """
    from studies.study import read_study
    from studies.yield_command import draw_and_tell

    draw_and_tell(read_study(study, overrides), design, out, workers, (units, seed), as_json)


@main.command(short_help="Compare runs: what differs, what it costs.")
@click.argument("runs", metavar="RUN[:DESIGN] RUN[:DESIGN]...", nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path), help="Folder (compare in the first run's by default).")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")
def compare(runs: tuple[str, ...], out: Path | None, as_json: bool) -> None:
    """Compare runs, each by its best design or by the one named: what differs, what it costs, whether to believe it.

    The first is the reference.
    """
    from studies.compare_command import compare_and_tell

    compare_and_tell(runs, out, as_json)


def _check_in_whole_space(base: "Candidate", places: tuple[str, ...], as_json: bool) -> None:
    import json

    from studies.space_places import chosen_places, read_place
    from studies.space_texts import check_lines, check_row
    from studies.whole_space import whole_space_check

    found = whole_space_check(base, tuple(map(read_place, places)) or chosen_places(base))
    if as_json:
        row = check_row(base.design, found)
        click.echo(json.dumps({name: _json_value(value) for name, value in row.items()}, allow_nan=False))
        return
    for line in check_lines(found):
        click.echo(line)


def _json_value(value: float | int | str | bool | None) -> float | int | str | bool | None:
    """JSON has no infinity: the margin of a tag that picks up nothing is null there."""
    return None if isinstance(value, float) and not isfinite(value) else value


def _explained(fault: Exception, running: bool) -> list[str]:
    """What went wrong, for people: every fault of a study file a line, anything else one paragraph."""
    from studies.faults import StudyFaults

    if isinstance(fault, StudyFaults):
        return [str(one) for one in fault.faults]
    text = " ".join(str(fault).split())
    if isinstance(fault, OSError) and fault.strerror:
        where = f" ({fault.filename})" if fault.filename else ""
        rest = " What was finished is stored; the same command carries on from there." if running else ""
        return [f"A file could not be read or written: {fault.strerror}{where}.{rest}"]
    if _known(fault):
        return [text]
    return [f"trivet met a fault of its own ({type(fault).__name__}: {text}); please report it with the study file."]


def _known(fault: Exception) -> bool:
    from fem.errors import FieldError
    from geometries.errors import GeometryError, MeshingError
    from links.errors import LinkError
    from studies.errors import RunError

    return isinstance(fault, RunError | GeometryError | MeshingError | FieldError | LinkError)


def _status_of(fault: Exception) -> int:
    from geometries.errors import GeometryError
    from studies.errors import RunError
    from studies.faults import StudyFaults

    return WRONG_INPUT if isinstance(fault, StudyFaults | RunError | GeometryError | OSError) else UNMET


def _tell_swept(overrides: tuple[str, ...], study: "Study") -> None:
    from studies.overrides import swept_over

    for text in swept_over(overrides, study.swept_axes):
        _say(f"Warning: {text}")


def _stop(text: str) -> None:
    _say(text)
    sys.exit(WRONG_INPUT)


def _say(*texts: str) -> None:
    for text in texts:
        click.echo(text, err=True)
