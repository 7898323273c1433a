"""The documents of the calls, told in words for a person at a terminal."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from typing import Any, Final

from clothpath.files.jobfile import causes
from clothpath.findings import counted, listed
from clothpath.units import as_typed, as_typed_mm, both

__all__ = ["build_text", "findings_text", "inspect_text", "jobs_text", "machines_text", "plugins_text", "proof_text"]

Doc = Mapping[str, Any]

AS_DRAWN: Final = (
    "All this is as drawn. Converting first tidies a drawing (lines drawn twice and specks go, small gaps close), "
    "so there may be fewer pieces then, and sizes may change by a hair."
)
LAYERING: Final = {
    "stacked": "The drawing is stacked: lower pieces run on beneath upper ones.",
    "butted": "The drawing is butted: pieces meet edge to edge.",
    "mixed": "Some pieces run on beneath others, some meet them edge to edge.",
    "apart": "No piece meets or overlaps another.",
}
SET_BY: Final = {
    "readers": ", set by --set read.NAME.SETTING=VALUE",
    "steps": ", set by --set NAME.SETTING=VALUE",
    "writers": ", set by --set write.NAME.SETTING=VALUE",
    "measurers": "",
}
"""The kinds of plugins, and how a setting of one is given on the command line."""
HEADINGS = {"error": "Stop:", "warning": "Look:", "note": "Note:"}


def findings_text(findings: Iterable[Mapping[str, str]], indent: str = "") -> str:
    """Findings, the gravest first."""
    lines: list[str] = []
    listed = list(findings)
    for severity, heading in HEADINGS.items():
        for finding in listed:
            if finding["severity"] == severity:
                where = f" [{finding['where']}]" if finding["where"] else ""
                lines.append(f"{indent}{heading} {finding['message']}{where}")
                if finding["hint"]:
                    lines.append(f"{indent}      {finding['hint']}")
    return "\n".join(lines)


def _size(size_mm: list[float] | None) -> str:
    return f"{both(size_mm[0])} wide, {both(size_mm[1])} high" if size_mm else "no size"


def inspect_text(document: Doc) -> str:
    """What is in each drawing."""
    told = [_inspected(file) for file in document["files"]]
    told += [AS_DRAWN] if any(file["reader"] for file in document["files"]) else []
    about = findings_text(document["findings"])
    return "\n\n".join([*told, about] if about else told)


def _inspected(file: Doc) -> str:
    lines = [file["path"]]
    if file["reader"]:
        unit = f"the file states {file['stated_unit']}" if file["stated_unit"] else "the file states no unit"
        lines.append(f"  The picture is {_size(file['size_mm'])} ({unit}).")
        cut = [piece for piece in file["pieces"] if piece["role"] == "cut"]
        marks = [piece for piece in file["pieces"] if piece["role"] == "mark"]
        lines.append(f"  {counted(len(cut), 'closed shape')}; lines that only mark: {len(marks)}.")
        for fabric in file["fabrics"]:
            lines.append(f"  {fabric['key']} ({fabric['color']}): {counted(fabric['pieces'], 'piece')}")
            for piece in cut:
                if piece["fabric"] == fabric["key"]:
                    holes = f", {counted(piece['holes'], 'hole')}" if piece["holes"] else ""
                    same = ", the same in a mirror" if piece["achiral"] else ""
                    lines.append(f"    {_called(piece)}: {_size(piece['size_mm'])}{holes}{same}")
        if len(cut) > 1:
            lines.append(f"  {LAYERING[file['layering']]}")
        called = {piece["id"]: _called(piece) for piece in file["pieces"]}
        lines += [f"  {_alike_pieces(each, called)}" for each in file["alike"]]
    told = findings_text(file["findings"], "  ")
    return "\n".join([*lines, told] if told else lines)


def _called(piece: Doc) -> str:
    """A piece by its label, and by its id where that is another."""
    return piece["id"] if piece["label"] in ("", piece["id"]) else f"{piece['label']} ({piece['id']})"


def _alike_pieces(each: Doc, called: Mapping[str, str]) -> str:
    """The pieces of one shape, and those that are its mirror image."""
    mirrored = (
        f"; their mirror image: {listed(called[piece] for piece in each['mirrored'])}" if each["mirrored"] else ""
    )
    return f"Of one shape: {listed(called[piece] for piece in each['pieces'])}{mirrored}."


def jobs_text(document: Doc, out: str) -> str:
    """What became of each job of a conversion."""
    lines: list[str] = []
    for job in document["jobs"]:
        lines.append(f"{_title(job)}: {'done' if job['status'] == 'ok' else 'FAILED, nothing was handed over'}")
        lines += [f"  {_file(file, out)}" for file in job["files"]]
        told = findings_text(job["findings"], "  ")
        lines += [told] if told else []
    if document["findings"]:
        lines.append(findings_text(document["findings"]))
    if len(document["jobs"]) > 1:
        lines.append(_done_count(document["jobs"], out))
    return "\n".join(lines)


def _done_count(jobs: Sequence[Doc], out: str) -> str:
    """How many jobs are done, where; and those that are not, by name."""
    failed = [_title(job) for job in jobs if job["status"] != "ok"]
    told = f"{len(jobs) - len(failed)} of {counted(len(jobs), 'job')} done, in {out}"
    return f"{told}. FAILED: {listed(failed)}" if failed else told


def _title(job: Doc) -> str:
    return " ".join(part for part in (job["design"], job["size"], "for", job["machine"]) if part)


def _file(file: Doc, out: str) -> str:
    if file["proof"] is None:
        return f"{out}/{file['path']}"
    proof = file["proof"]
    turned = {
        True: "every piece the right way round",
        False: "A PIECE THE WRONG WAY ROUND",
        None: "every piece the same in a mirror",
    }
    return (
        f"{out}/{file['path']}: {counted(file['pieces'], 'piece')}, all within "
        f"{max(proof['size_error_mm'], 0.0001):.4f} mm, {turned[proof['reversed_ok']]}"
    )


def build_text(document: Doc, done: Sequence[Doc], out: str) -> str:
    """How a build went: a line a design, what to look at before cutting, then what failed and why."""
    jobs = document["jobs"]
    lines = [f"{sum(job['status'] == 'ok' for job in jobs)} of {counted(len(jobs), 'job')} done, in {out}"]
    designs = dict.fromkeys(job["design"] for job in jobs)
    for design in designs:
        own = [job for job in jobs if job["design"] == design]
        fine = [job["status"] == "ok" for job in own]
        state = "" if all(fine) else "  NOT ALL DONE" if any(fine) else "  FAILED"
        lines.append(f"  {_of_design(own)}{state}")
    lines += _warnings(done)
    for errors, numbers in causes(done):
        failed = [done[n] for n in numbers]
        for name in dict.fromkeys(job["design"] for job in failed):
            lines.append(f"FAILED: {_of_design([job for job in failed if job['design'] == name])}")
        lines.append(findings_text(errors, "  "))
    told = findings_text(document["findings"])
    return "\n".join([*lines, told] if told else lines)


def _of_design(jobs: Sequence[Doc]) -> str:
    """The jobs of one design: "crab (small, large) for mat-12x12, roll-24"."""
    sizes = ", ".join(dict.fromkeys(job["size"] for job in jobs if job["size"]))
    machines = ", ".join(dict.fromkeys(job["machine"] for job in jobs))
    return f"{jobs[0]['design']}{f' ({sizes})' if sizes else ''} for {machines}"


def _warnings(done: Iterable[Doc]) -> list[str]:
    """Each kind of warning once, with how many jobs have it and one of them."""
    kinds: dict[str, tuple[Doc, Doc, set[int]]] = {}
    for n, job in enumerate(done):
        for finding in job["findings"]:
            if finding["severity"] == "warning":
                kinds.setdefault(finding["code"], (job, finding, set()))[2].add(n)
    if not kinds:
        return []
    return [
        "Look at the job sheets before you cut. What they say, each kind with one of the jobs:",
        *(
            f"  {finding['message']} ({_title(job)}{f', and {len(jobs) - 1} more' if len(jobs) > 1 else ''})"
            for job, finding, jobs in kinds.values()
        ),
    ]


def proof_text(document: Doc, named: Container[str]) -> str:
    """What measuring files again found: of each file whose path a person named, and of all that are not as released;
    then how many are, and how many are not."""
    lines: list[str] = []
    for file in document["files"]:
        if file["ok"] and file["path"] not in named:
            continue
        lines.append(f"{file['path']}: {_as_released(file)}")
        if file["size_mm"]:
            words = {"": "not stated", None: "not stated", "plu": "plotter units of 0.025 mm"}
            unit = words.get(file["unit"], file["unit"])
            wide, high = (f"{as_typed(mm)} ({as_typed_mm(mm)})" for mm in file["size_mm"])
            lines.append(f"  {counted(file['lines'], 'line')}, together {wide} wide, {high} high, unit {unit}")
        told = findings_text(file["findings"], "  ")
        lines += [told] if told else []
    closing = _released_count(document["files"])
    return "\n".join([*lines, closing] if closing else lines)


def _as_released(file: Doc) -> str:
    if file["format"] == "job":
        return "no file was released"
    if not file["released"]:
        return "never released by a job"
    return "as released" if file["ok"] else "NOT AS RELEASED"


def _released_count(files: Iterable[Doc]) -> str:
    """How many files are as released, and the names of those that are not; empty where none was ever released."""
    released = [file for file in files if file["released"]]
    altered = [file["path"] for file in released if not file["ok"]]
    number = counted(len(released), "file")
    if altered:
        return f"{len(altered)} of {number} {_are(len(altered))} NOT as released: {listed(altered)}"
    return f"{number} {_are(len(released))} as released" if released else ""


def _are(number: int) -> str:
    return "is" if number == 1 else "are"


def _as_written(value: str | float | bool) -> str:
    """A value as it stands in a recipe, without quotes."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def machines_text(document: Doc) -> str:
    """The machine profiles that ship."""
    width = max(len(machine["name"]) for machine in document["machines"])
    return "\n".join(f"{machine['name']:<{width}}  {machine['summary']}" for machine in document["machines"])


def plugins_text(document: Doc) -> str:
    """The plugins by kind, with their settings and how these are set."""
    lines: list[str] = []
    for kind, said in SET_BY.items():
        lines += [f"{kind.capitalize()}{said}"] if document[kind] else []
        for plugin in document[kind]:
            stage = f" ({plugin['stage']} step)" if plugin.get("stage") else ""
            lines.append(f"  {plugin['name']}{stage}: {plugin['summary']}")
            for key, setting in plugin["settings"].get("properties", {}).items():
                default = setting.get("default")
                told = f" [{_as_written(default)}]" if isinstance(default, str | int | float | bool) else ""
                words = f" ({', '.join(map(str, setting['enum']))})" if "enum" in setting else ""
                lines.append(f"      {key}{told}: {setting.get('description', '')}{words}")
    told = findings_text(document["findings"])
    return "\n".join([*lines, told] if told else lines)
