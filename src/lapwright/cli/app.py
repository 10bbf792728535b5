"""Commands. Exit status: 0 no stop; 1 readable, but a stop; 2 malformed job; 3 wrong command line; 70 our fault."""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.progress import Stages
from lapwright.cli.work import COMPARED, fan_tests, read_plan, tried
from lapwright.findings import BadJob, Finding, Where

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="From one taped description of an old house to pieces, laps, cuts, order, drawings and a job packet.",
    epilog="JOB is a job folder or its house.yaml. Exit status: 0 fine, 1 a stop (do not build), 2 the job cannot be read, "
    "3 wrong command line, 70 a fault of the program.",
)

JobArg = Annotated[Path, typer.Argument(help="Job folder or its house.yaml.", metavar="JOB")]
JsonOpt = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]
OwnOpt = Annotated[
    bool, typer.Option("--own-details", help="Let the job's own detail files (program code) run. Read them first.")
]

# typer does not export the base of its usage errors, and which library it comes from changed between releases.
USAGE_ERROR: Any = typer.BadParameter.__bases__[0]

# Which plan.json keys each command computes.
SHOWN = {
    "check": ("job", "figures", "laps", "edges", "ties", "findings"),
    "cuts": ("job", "surfaces", "pieces", "cuts", "stock", "laps", "bounds", "lines", "products", "findings"),
    "order": ("job", "order", "bid", "bounds", "products", "findings"),
    "continuity": ("job", "edges", "ties", "pencil", "changes", "findings"),
}


def _fail(findings: Sequence[Finding], as_json: bool) -> int:
    from lapwright.cli import show

    rows = [f.to_json() for f in findings]
    if as_json:
        print(json.dumps({"findings": rows}, ensure_ascii=False, indent=1))
    else:
        show.findings(rows, sys.stderr)
    return 2


def _answer(doc: dict[str, Any], found: Sequence[Finding], as_json: bool, text: Callable[[dict[str, Any]], None]) -> int:
    """Print a document with its findings; return the exit status."""
    doc = {**doc, "findings": [f.to_json() for f in found]}
    if as_json:
        print(json.dumps(doc, ensure_ascii=False, indent=1))
    else:
        text(doc)
    return 1 if any(f.level == "stop" for f in found) else 0


def _open(path: Path, own: bool, stages: Stages) -> Any:
    from lapwright.plan.load import open_plan

    if not path.exists():
        raise BadJob(
            [
                Finding(
                    "job.missing",
                    "stop",
                    f"There is no {path}.",
                    "A job is a folder with a house.yaml in it.",
                    "Check the path.",
                    Where(file=str(path)),
                )
            ]
        )
    return open_plan(path, own, stages, kept=True)


def _run(command: str, path: Path, as_json: bool, own: bool, text: Callable[[dict[str, Any]], None]) -> int:
    """Open a job, compute the keys of a command, print them; return the exit status."""
    from lapwright.plan.ahead import document_ahead
    from lapwright.plan.document import survey_document

    try:
        with Stages() as stages:
            plan = _open(path, own, stages)
            doc = survey_document(plan) if command == "survey" else document_ahead(plan, SHOWN[command])
    except BadJob as bad:
        return _fail(bad.findings, as_json)
    if as_json:
        print(json.dumps(doc, ensure_ascii=False, indent=1))
    else:
        text(doc)
    plan.keep()
    return 1 if any(f["level"] == "stop" for f in doc["findings"]) else 0


@app.command()
def survey(job: JobArg, as_json: JsonOpt = False, own_details: OwnOpt = False) -> None:
    """Read the tape: faces, openings, areas, and whether the walls close."""
    from lapwright.cli import show

    raise typer.Exit(_run("survey", job, as_json, own_details, show.survey))


@app.command()
def check(job: JobArg, as_json: JsonOpt = False, own_details: OwnOpt = False) -> None:
    """Check everything: survey, laps, ties, cuts, order. Prints the findings, the fix first."""
    from lapwright.cli import show

    raise typer.Exit(_run("check", job, as_json, own_details, show.check))


@app.command()
def cuts(job: JobArg, as_json: JsonOpt = False, own_details: OwnOpt = False) -> None:
    """Where to snap each line, and what to cut from which roll, in working order."""
    from lapwright.cli import show

    raise typer.Exit(_run("cuts", job, as_json, own_details, show.cuts))


@app.command()
def order(job: JobArg, as_json: JsonOpt = False, own_details: OwnOpt = False) -> None:
    """What to buy, and the bid as a range."""
    from lapwright.cli import show

    raise typer.Exit(_run("order", job, as_json, own_details, show.order))


@app.command()
def packet(
    job: JobArg,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder to write to; default JOB/packet.", metavar="DIR")
    ] = None,
    as_json: JsonOpt = False,
    own_details: OwnOpt = False,
) -> None:
    """Write the whole packet: PDF, plan.json, order, drawings of every face and roll."""
    from lapwright.aside import Aside, can_copy
    from lapwright.cli import show
    from lapwright.plan.ahead import document_ahead

    folder = job if job.is_dir() else job.parent
    target = out or folder / "packet"
    try:
        with Stages() as stages:
            plan = _open(job, own_details, stages)
            doc, tests = document_ahead(plan), fan_tests(folder, plan)
            keeping = Aside(plan.keep) if can_copy() else plan.keep()
            del plan  # the pages need its room
            from lapwright.packet import write

            try:
                write(doc, target, stages, tests)
            except OSError as exc:
                raise BadJob(
                    [
                        Finding(
                            "packet.write",
                            "stop",
                            f"The packet could not be written to {target}: {exc.strerror}.",
                            "An old packet there is untouched.",
                            "Choose another folder with --out.",
                            Where(file=str(target)),
                        )
                    ]
                ) from exc
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    if as_json:
        print(json.dumps(doc, ensure_ascii=False, indent=1))
    else:
        show.packet(doc, target)
    if keeping is not None:
        keeping.result()
    raise typer.Exit(1 if any(f["level"] == "stop" for f in doc["findings"]) else 0)


@app.command()
def continuity(
    job: Annotated[Path | None, typer.Argument(help="Job folder or its house.yaml.", metavar="[JOB]")] = None,
    pieces: Annotated[
        Path | None,
        typer.Option(
            "--pieces",
            help="Test this arrangement of sheets (surfaces, pieces, laps as in plan.json) instead of a job.",
            metavar="FILE",
        ),
    ] = None,
    try_fix: Annotated[
        str | None,
        typer.Option(
            "--try", help="Plan the job with this fix and say what it changes; nothing is written.", metavar="FIX"
        ),
    ] = None,
    accept_fix: Annotated[
        str | None,
        typer.Option("--accept", help="As --try, and write the fix to house.yaml; your remarks stay.", metavar="FIX"),
    ] = None,
    as_json: JsonOpt = False,
    own_details: OwnOpt = False,
) -> None:
    """Drop test: does water get down and out? Pencil test: do water, air, vapor and heat close all round?"""
    from lapwright.cli import show
    from lapwright.plan.ahead import document_ahead
    from lapwright.plan.document import edges_document
    from lapwright.plan.trials import changes

    if (job is None) == (pieces is None):
        raise typer.BadParameter("give a JOB or --pieces FILE, one of the two")
    fix = try_fix or accept_fix
    if fix and (pieces is not None or (try_fix and accept_fix)):
        raise typer.BadParameter("give --try FIX or --accept FIX with a JOB, one of the two")
    try:
        with Stages() as stages:
            if pieces is not None:
                doc = edges_document(pieces)
            else:
                assert job is not None
                plan = _open(job, own_details, stages)
                doc = tried(plan, fix, accept_fix is not None) if fix else document_ahead(plan, SHOWN["continuity"])
                if not fix:
                    found = doc.pop("findings")
                    doc |= {"changes": changes(plan), "findings": found}
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    if as_json:
        print(json.dumps(doc, ensure_ascii=False, indent=1))
    elif fix:
        show.tried(doc)
    else:
        show.continuity(doc)
    if pieces is None:
        plan.keep()
    raise typer.Exit(1 if any(f["level"] == "stop" for f in doc["findings"]) else 0)


@app.command()
def air(
    job: JobArg,
    readings: Annotated[Path, typer.Argument(help="Fan readings, CSV (see docs/air.md).", metavar="READINGS")],
    before: Annotated[
        Path | None, typer.Option("--before", help="Readings from before the work, to compare with.", metavar="FILE")
    ] = None,
    as_json: JsonOpt = False,
    own_details: OwnOpt = False,
) -> None:
    """Fan test: leakage, its uncertainty, before against after, against what the ties predict."""
    from lapwright.cli import show
    from lapwright.plan.document import ties

    try:
        with Stages() as stages:
            plan = _open(job, own_details, stages)
            from lapwright.tightness import report  # the fit needs scipy, which no other command does

            rows = ties(plan) if plan.job.survey.faces else None
            doc, found = report(readings, plan.job.survey, before, rows)
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    raise typer.Exit(_answer(doc, found, as_json, lambda d: show.air(d, plan.job.survey.units)))


@app.command()
def moisture(
    job: JobArg,
    members: Annotated[
        int, typer.Option("--members", min=4, max=400, help="Tries per wall and case; more give a surer chance.", metavar="N")
    ] = 8,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another number draws other weather.", metavar="N")] = 1,
    as_json: JsonOpt = False,
    own_details: OwnOpt = False,
) -> None:
    """Will it stay dry? Every wall through two years of hourly weather, with the faults that walls have."""
    from lapwright.cli import show

    try:
        with Stages() as stages:
            plan = _open(job, own_details, stages)
            stages("moisture")
            from lapwright.assemblies import report  # the solver needs scipy, which few commands do

            doc, found = report(plan.job, plan.catalog, members, seed, show.moisture_progress)
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    raise typer.Exit(_answer(doc, found, as_json, show.moisture))


@app.command()
def heat(
    job: JobArg,
    framing: Annotated[
        float, typer.Option("--framing", help="Percent of the walls that is framing.", metavar="PERCENT", min=0, max=60)
    ] = 25.0,
    as_json: JsonOpt = False,
) -> None:
    """What each assembly holds back, what it loses in a year here, and how cold the inside gets."""
    from lapwright.cli import show_heat

    try:
        with Stages() as stages:
            plan = _open(job, False, stages)
            from lapwright.assemblies.heat_report import report  # the climate needs scipy

            stages("adding up the layers")
            doc, found = report(plan.job, plan.catalog, framing / 100)
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    raise typer.Exit(_answer(doc, found, as_json, show_heat.heat))


@app.command()
def ifc(
    model: Annotated[Path, typer.Argument(help="Building model, IFC (STEP file, .ifc).", metavar="MODEL")],
    out: Annotated[Path, typer.Option("--out", help="Folder for the new house.yaml.", metavar="DIR")],
    replace: Annotated[bool, typer.Option("--replace", help="Write over a house.yaml that is there.")] = False,
    as_json: JsonOpt = False,
) -> None:
    """Start a job from a building model: outer walls, stories, openings; what was not read is listed."""
    from lapwright.cli import show
    from lapwright.ifc.write import start_job

    try:
        with Stages() as stages:
            stages("reading the model")
            found = start_job(model, out, replace)
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    except ModuleNotFoundError:
        print("Reading building models needs ifcopenshell: pip install 'lapwright[ifc]'.", file=sys.stderr)
        raise typer.Exit(3) from None
    rows = [f.to_json() for f in found.findings]
    doc = {"ifc": dict(found.counts), "written": str(found.file), "findings": rows}
    if as_json:
        print(json.dumps(doc, ensure_ascii=False, indent=1))
    else:
        print(f"{found.file}: {', '.join(f'{n} {word}' for word, n in found.counts.items())}.")
        show.findings(rows)


@app.command()
def compare(
    before: Annotated[Path, typer.Argument(help="Job folder, house.yaml or plan.json.", metavar="A")],
    after: Annotated[Path, typer.Argument(help="The same job after the change.", metavar="B")],
    as_json: JsonOpt = False,
    own_details: OwnOpt = False,
) -> None:
    """Say what changed between two plans: pieces, lines, order, bid, findings."""
    from lapwright.cli import show
    from lapwright.plan.ahead import document_ahead
    from lapwright.plan.compare import compare as difference

    docs = []
    try:
        for path in (before, after):
            if path.suffix == ".json":
                docs.append(read_plan(path))
                continue
            with Stages() as stages:
                plan = _open(path, own_details, stages)
                docs.append(document_ahead(plan, COMPARED))
                plan.keep()
    except BadJob as bad:
        raise typer.Exit(_fail(bad.findings, as_json)) from None
    out = {**difference(docs[0], docs[1]), "now": docs[1]["findings"]}
    if as_json:
        print(json.dumps({"compare": out, "findings": out.pop("now")}, ensure_ascii=False, indent=1))
    else:
        show.compare(out, docs[1])
    raise typer.Exit(1 if any(f["level"] == "stop" for f in docs[1]["findings"]) else 0)


@app.callback(invoke_without_command=True)
def _root(version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    if version:
        from lapwright import __version__

        print(__version__)
        raise typer.Exit(0)


def main(argv: Sequence[str] | None = None) -> None:
    """Run the command line and leave with the contract's exit status."""
    gc.set_threshold(100_000, 50, 50)  # a plan is many small records that stay: looking them over again and again is no use
    try:
        status = app(args=list(argv) if argv is not None else None, standalone_mode=False)
    except USAGE_ERROR as exc:
        exc.show()
        sys.exit(3)
    except typer.Abort:
        sys.exit(3)
    except BrokenPipeError:
        sys.exit(0)
    except Exception as exc:  # the last resort: nothing a job holds should come to this
        from lapwright.cli import fault

        sys.exit(fault.told(exc))
    sys.exit(status if isinstance(status, int) else 0)
