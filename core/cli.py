"""The command line: every call makes one document; it is printed as JSON or told in words.

Exit status: 0 all is well, 1 a job failed, 2 the call or a config file is wrong, 130 interrupted.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Annotated, Any, Final

import typer

from clothpath.findings import Finding, Refusal, error

__all__ = ["Answer", "run"]

OK: Final = 0
FAILED: Final = 1
WRONG_CALL: Final = 2
INTERRUPTED: Final = 130
CORES: Final = os.cpu_count() or 1

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
    help="Turns appliqué drawings into cut files for each machine: at the right size, the right way round, proved.",
)


@dataclass(frozen=True)
class Answer:
    """What a call found: its document, the same in words, and the exit status."""

    document: Mapping[str, Any]
    text: str
    status: int = OK


Files = Annotated[list[FilePath], typer.Argument(metavar="FILE…", help="drawings, or folders of drawings: SVG or DXF")]
Out = Annotated[FilePath, typer.Option("--out", metavar="DIR", help="the folder that the results go to")]
Machines = Annotated[
    list[str] | None, typer.Option("--machine", "-m", metavar="M", help="a machine's name, or the path of its profile")
]
Sets = Annotated[
    list[str] | None, typer.Option("--set", metavar="STEP.SETTING=VALUE", help="overrule a setting of a step")
]
Workers = Annotated[int, typer.Option("--jobs", min=1, metavar="N", help="how many jobs are done at once")]
TimeLimit = Annotated[float, typer.Option("--time-limit", min=1, metavar="S", help="seconds that one job may take")]
PluginFiles = Annotated[
    list[FilePath] | None,
    typer.Option("--plugin-file", metavar="FILE.py", help="load plugins from this file; it runs with your rights"),
]
Anew = Annotated[bool, typer.Option("--anew", help="do every job again, also those whose files are still right")]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="no progress, no summary")]


@app.command(help="Build the sample catalog into a folder and say what to open.")
def demo(out: Out = FilePath("tidepool"), jobs: Workers = CORES, json_: Json = False, quiet: Quiet = False) -> Answer:
    from importlib.resources import as_file, files

    with as_file(files("clothpath.samples") / "tidepool") as folder:
        return _build(folder / "catalog.toml", out, (), (), (), jobs, 120.0, False, json_ or quiet)


@app.command(help="Tell what is in a drawing, and what is wrong with it.")
def inspect(
    files: Files, set_: Sets = None, plugin_file: PluginFiles = None, json_: Json = False, quiet: Quiet = False
) -> Answer:
    from clothpath.jobs.inspection import inspected
    from clothpath.recipe import settings_from_arguments
    from clothpath.registry import named_files, with_files
    from clothpath.report import inspect_text

    document = inspected(files, with_files(named_files(plugin_file or ())), settings_from_arguments(set_ or ()))
    bad = any(finding["severity"] == "error" for file in document["files"] for finding in file["findings"])
    return Answer(document, inspect_text(document), FAILED if bad else OK)


@app.command(help="Convert drawings for one or more machines.")
def convert(
    files: Files,
    out: Out,
    machine: Machines = None,
    format_: Annotated[
        list[str] | None, typer.Option("--format", metavar="F", help="write this format instead of the machine's own")
    ] = None,
    recipe: Annotated[
        str | None,
        typer.Option("--recipe", metavar="R", help="a recipe's file, or the name of one that ships; default: fused"),
    ] = None,
    set_: Sets = None,
    copies: Annotated[int, typer.Option("--copies", min=1, max=10_000, metavar="N", help="of every design")] = 1,
    stock: Annotated[
        list[str] | None,
        typer.Option(
            "--stock", metavar="FABRIC=CLOTH", help='what cloth there is: coral="2 fat quarters", red="9 x 12 in"'
        ),
    ] = None,
    jobs: Workers = CORES,
    time_limit: TimeLimit = 120.0,
    plugin_file: PluginFiles = None,
    anew: Anew = False,
    json_: Json = False,
    quiet: Quiet = False,
) -> Answer:
    from clothpath.files.jobfile import finding_document
    from clothpath.jobs.build import done
    from clothpath.jobs.machines import recipe_path
    from clothpath.jobs.oneoff import conversions, stock_from_arguments
    from clothpath.registry import named_files
    from clothpath.report import jobs_text

    asked = conversions(
        files,
        machine or [],
        format_ or [],
        recipe_path(recipe or "fused", FilePath(), "--recipe"),
        set_ or [],
        copies,
        stock_from_arguments(stock or ()),
        named_files(plugin_file or ()),
    )
    _writable(out)
    made = done(asked.value, out, jobs, time_limit, anew)
    documents = _with_progress(made, len(asked.value), json_ or quiet)
    told = [finding_document(finding) for finding in asked.findings]
    document = {"schema": "clothpath/result@1", "jobs": documents, "findings": told}
    failed = any(job["status"] != "ok" for job in documents)
    return Answer(document, jobs_text(document, str(out)), FAILED if failed else OK)


@app.command(help="Convert a whole catalog for all its machines.")
def build(
    catalog: Annotated[FilePath, typer.Argument(metavar="CATALOG", help="the catalog's TOML file")],
    out: Out,
    machine: Machines = None,
    set_: Sets = None,
    jobs: Workers = CORES,
    time_limit: TimeLimit = 120.0,
    plugin_file: PluginFiles = None,
    anew: Anew = False,
    json_: Json = False,
    quiet: Quiet = False,
) -> Answer:
    from clothpath.registry import named_files

    files = named_files(plugin_file or ())
    return _build(catalog, out, machine or (), set_ or (), files, jobs, time_limit, anew, json_ or quiet)


def _build(
    catalog: FilePath,
    out: FilePath,
    machines: Sequence[str],
    sets: Sequence[str],
    plugin_files: tuple[FilePath, ...],
    workers: int,
    time_limit: float,
    anew: bool,
    silent: bool,
) -> Answer:
    from clothpath.catalog import jobs_of, title_of
    from clothpath.jobs.build import build_document, done, write_index
    from clothpath.jobs.front import FRONT_PAGE, front_page, left_over
    from clothpath.jobs.summary import WHOLE, summarized, write_summaries
    from clothpath.recipe import settings_from_arguments
    from clothpath.report import build_text

    asked = jobs_of(catalog, machines, settings_from_arguments(sets), plugin_files)
    _writable(out)
    documents = _with_progress(done(asked, out, workers, time_limit, anew), len(asked), silent)
    summaries = summarized(WHOLE, asked, documents)
    leftovers = left_over(asked, out) if not machines else ()
    front = front_page(title_of(catalog), asked, documents, summaries.files, leftovers, out)
    write_summaries((front, *summaries.files), out)
    document = build_document(asked, documents, summaries, leftovers, front)
    write_index(document, out)
    failures = [job for job in documents if job["status"] != "ok"]
    text = f"{build_text(document, documents, str(out))}\nOpen {out / FRONT_PAGE}: it leads to every page and file."
    return Answer(document, text, FAILED if failures else OK)


def _writable(out: FilePath) -> None:
    """Make the output folder.

    Raises:
        Refusal: it cannot be made or written, which is found out before any work is done.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        if not os.access(out, os.W_OK | os.X_OK):
            raise PermissionError(13, "you may not write there")
    except OSError as fault:
        message = f"The output folder cannot be written: {fault.strerror}."
        raise Refusal(error("unwritable", message, str(out), "Choose a folder that you may write to.")) from None


def _with_progress(done: Any, count: int, silent: bool) -> list[dict[str, Any]]:
    """The documents of all jobs in the order of the jobs, with a bar on standard error while they are being done."""
    from rich.console import Console
    from rich.progress import track

    documents: dict[int, dict[str, Any]] = {}
    console = Console(stderr=True, quiet=silent)
    for number, document in track(done, "Converting", total=count, console=console, disable=silent, transient=True):
        documents[number] = document
    return [documents[number] for number in range(count)]


@app.command(help="Measure released files again and tell what was altered.")
def proof(
    paths: Annotated[list[FilePath], typer.Argument(metavar="PATH…", help="folders or files")],
    json_: Json = False,
    quiet: Quiet = False,
) -> Answer:
    from clothpath.proving.remeasure import remeasured
    from clothpath.registry import installed
    from clothpath.report import proof_text

    document = remeasured(paths, installed())
    bad = any(file["ok"] is False for file in document["files"])
    return Answer(document, proof_text(document, {str(path) for path in paths}), FAILED if bad else OK)


@app.command(help="List the machine profiles that ship.")
def machines(json_: Json = False, quiet: Quiet = False) -> Answer:
    from clothpath.jobs.listing import machines_document
    from clothpath.report import machines_text

    document = machines_document()
    return Answer(document, machines_text(document))


@app.command(help="List readers, steps, formats and their settings, or those of the named ones.")
def plugins(
    names: Annotated[
        list[str] | None, typer.Argument(metavar="NAME…", help="readers, steps or formats; all, where none is named")
    ] = None,
    plugin_file: PluginFiles = None,
    json_: Json = False,
    quiet: Quiet = False,
) -> Answer:
    from clothpath.jobs.listing import plugins_document
    from clothpath.registry import named_files, with_files
    from clothpath.report import plugins_text

    document = plugins_document(with_files(named_files(plugin_file or ())), names or ())
    return Answer(document, plugins_text(document))


@app.callback(invoke_without_command=True)
def _main(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="print the version")] = False,
) -> None:
    if version:
        from clothpath.version import VERSION

        print(f"clothpath {VERSION}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        print(context.get_help())
        raise typer.Exit


def run(arguments: Sequence[str]) -> int:
    """Do the call and print its answer; the result is the exit status."""
    as_json = "--json" in arguments
    quiet = "--quiet" in arguments or "-q" in arguments
    try:
        answer = _called(arguments)
    except Refusal as refusal:
        answer = _wrong(refusal.findings)
    except KeyboardInterrupt:
        print("Interrupted; what was not finished was not released.", file=sys.stderr)
        return INTERRUPTED
    except Exception as fault:  # the last line of defense: no traceback reaches a user
        message = f"The program made a mistake: {type(fault).__name__}: {fault}."
        answer = _wrong(
            [error("internal", message, "", "Please report it, with the call and the file if you may share it.")]
        )
    if answer is None:
        return OK
    try:
        _say(answer, as_json, quiet)
    except BrokenPipeError:  # whoever read the output has seen enough
        sys.stdout = open(os.devnull, "w")  # noqa: PTH123, SIM115 - so that the interpreter's last flush is quiet too
    return answer.status


def _say(answer: Answer, as_json: bool, quiet: bool) -> None:
    if as_json:
        sys.stdout.write(json.dumps(answer.document, ensure_ascii=False) + "\n")
    elif answer.status == WRONG_CALL or (quiet and answer.status != OK):
        print(answer.text, file=sys.stderr)
    elif not quiet:
        print(answer.text)
    sys.stdout.flush()


def _called(arguments: Sequence[str]) -> Answer | None:
    command: Callable[..., Any] = typer.main.get_command(app)
    try:
        result = command.main(list(arguments), prog_name="clothpath", standalone_mode=False)  # type: ignore[attr-defined]
    except Exception as fault:
        if type(fault).__name__ == "Abort":
            raise KeyboardInterrupt from None
        if not hasattr(fault, "format_message"):  # every mistake in a call has it, whichever release of the library
            raise
        return _wrong([error("wrong-call", _plainly(fault.format_message()), "", "Try clothpath --help.")])
    if result == INTERRUPTED:
        raise KeyboardInterrupt
    return result if isinstance(result, Answer) else None


def _plainly(message: str) -> str:
    """What the library says of a value, in the words of this program."""
    for said, plain in (
        (r"Invalid value for '(\S+)': Input should be a valid (integer|number).*", r"\1 needs a number."),
        (r"Invalid value for '(\S+)': Input should be (.*)", r"\1 must be \2."),
    ):
        message = re.sub(said, plain, message)
    return message


def _wrong(findings: Sequence[Finding]) -> Answer:
    from clothpath.files.jobfile import finding_document
    from clothpath.report import findings_text

    listed = [finding_document(finding) for finding in findings]
    document = {"schema": "clothpath/error@1", "findings": listed}
    return Answer(document, findings_text(listed), WRONG_CALL)
