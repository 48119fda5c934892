"""``flows`` and ``locales``: for those who write the conversations and those who translate them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from guide_service.settings import EXAMPLE_COUNTY, FLOWS_DIR, LOCALES_DIR

locales = typer.Typer(no_args_is_help=True, help="The catalogues of translations: extract, update, check.")
console = typer.Typer(no_args_is_help=True, help="The same for the words of the agents' pages.")
locales.add_typer(console, name="console")
Languages = Annotated[
    list[str] | None, typer.Argument(help="Language codes, such as es; without any: all that have a catalogue.")
]


def flows(
    draw: Annotated[str | None, typer.Option(metavar="FLOW", help="Print one flow as a Graphviz diagram.")] = None,
) -> None:
    """Check the flow files of conversation_flows; each problem with its file and line."""
    from guide_service.dialogue.drawing import NoSuchFlow, as_dot
    from guide_service.dialogue.flow_loader import load_flows
    from guide_service.dialogue.strict_yaml import FlowFileError

    try:
        found = load_flows(FLOWS_DIR)
        if draw:
            print(as_dot(found, draw))
        else:
            print(f"{len(found.states)} states and {len(found.messages)} messages in order.")
    except (FlowFileError, NoSuchFlow) as problem:
        _stop(str(problem))


@locales.command(epilog="Example: python -m guide_service locales extract")
def extract() -> None:
    """Write the template of all texts from the flow files."""
    from guide_service.wording import maintenance

    print(f"written: {maintenance.extract(FLOWS_DIR, LOCALES_DIR).name}")


@locales.command(epilog="Example: python -m guide_service locales update es")
def update(languages: Languages = None) -> None:
    """Bring new and changed texts into the catalogues; translations are kept."""
    from guide_service.wording import maintenance

    for path in maintenance.update(FLOWS_DIR, LOCALES_DIR, _translated(languages)):
        print(f"written: {path.relative_to(LOCALES_DIR)}")


@locales.command(epilog="Example: python -m guide_service locales check")
def check(languages: Languages = None) -> None:
    """Find what is wrong in texts and catalogues: placeholders, length, reading grade, missing translations."""
    from guide_service.wording import maintenance

    report = maintenance.check(FLOWS_DIR, LOCALES_DIR, ["en", *_translated(languages)])
    for problem in report.problems:
        print(problem)
    for language, kinds in report.lacking.items():
        lacking = ", ".join(f"{count} {why}" for why, count in sorted(kinds.items()))
        print(f"{language}: said in English: {lacking or 'none'}")
    if report.problems:
        raise typer.Exit(1)
    print("All texts and catalogues are in order.")


@locales.command(epilog="Example: python -m guide_service locales unsigned es --safety")
def unsigned(
    language: str,
    safety: Annotated[bool, typer.Option("--safety", help="Safety texts only.")] = False,
) -> None:
    """List the texts that no speaker has signed, safety texts first."""
    from guide_service.wording import signing

    found = signing.standings(FLOWS_DIR, LOCALES_DIR, language)
    for one in found:
        if one.state != signing.SIGNED and (one.safety or not safety):
            print(f"{one.state:9} {'SAFETY ' if one.safety else '       '}{one.entry.context}")
    signed = sum(one.state == signing.SIGNED for one in found)
    print(f"{signed} of {len(found)} texts are signed.")


@locales.command(epilog='Example: python -m guide_service locales sign es danger. --role "community translator"')
def sign(
    language: str,
    ids: Annotated[list[str], typer.Argument(help="Ids of texts; one that ends in a full stop: all that begin so.")],
    role: Annotated[str, typer.Option(help="Role of the speaker who has read them, never a name.")],
) -> None:
    """Write down that a speaker vouches for these translations as they stand today."""
    import datetime as dt

    from guide_service.wording import signing

    try:
        done = signing.sign(FLOWS_DIR, LOCALES_DIR, language, ids, role, dt.datetime.now(dt.UTC).date())
    except signing.NotSigned as problem:
        _stop(str(problem))
    print(f"signed: {len(done)}")


@locales.command("export", epilog="Example: python -m guide_service locales export es spanish.po")
def export_(language: str, file: Path) -> None:
    """Write a language's catalogue, brought up to date, as a PO file for a translation program."""
    from guide_service.wording import maintenance

    (path,) = maintenance.update(FLOWS_DIR, LOCALES_DIR, [language])
    file.write_bytes(path.read_bytes())
    print(f"written: {file.name}")


@locales.command("import", epilog="Example: python -m guide_service locales import es es.po --marks es-marks.toml")
def import_(
    language: str,
    file: Path,
    marks: Annotated[Path | None, typer.Option(help="Marks of reviewers that the desk gave with the file.")] = None,
) -> None:
    """Take the translations of a PO file that came back. All of it is in order, or nothing is taken."""
    from guide_service.wording import importing

    try:
        taken = importing.take(FLOWS_DIR, LOCALES_DIR, language, file, marks)
    except (importing.Refused, FileNotFoundError) as problem:
        _stop(f"{problem}\nNothing was taken.")
    for line in taken.left_out:
        print(f"left out: {line}")
    for what, ids in (("changed", taken.changed), ("signed", taken.signed), ("mark taken back", taken.taken_back)):
        print("\n".join((*(f"{what}: {each}" for each in ids), f"{what}: {len(ids)}")))
    print("The service says it after its next start.")


@locales.command("segments", epilog="Example: python -m guide_service locales segments > docs/segments.md")
def segment_table() -> None:
    """Print how many segments each text takes in each language, with the longest values."""
    from guide_service.wording import maintenance

    print(maintenance.segment_table(FLOWS_DIR, LOCALES_DIR, ["en", *_translated(None)]), end="")


@locales.command(epilog="Example: python -m guide_service locales recordings ht > ht-recordings.csv")
def recordings(
    language: str,
    check: Annotated[bool, typer.Option("--check", help="Listen to the files that are there instead.")] = False,
    county: Annotated[Path, typer.Option(help="County file whose names are spoken.")] = EXAMPLE_COUNTY,
) -> None:
    """List what a person must record for calls in a language, or what is wrong with what was recorded."""
    from guide_service.cli_recordings import check_recordings, print_list

    if not check:
        print_list(language, county)
    elif not check_recordings(language, county):
        raise typer.Exit(1)


@console.command("extract", epilog="Example: python -m guide_service locales console extract")
def console_extract() -> None:
    """Write the template of all words from the pages and their code."""
    from guide_service.console import catalogue_keeping

    print(f"written: {catalogue_keeping.extract(LOCALES_DIR).name}")


@console.command("update", epilog="Example: python -m guide_service locales console update es")
def console_update(languages: Languages = None) -> None:
    """Bring new words into the catalogues, making those that are missing; translations are kept."""
    from guide_service.console import catalogue_keeping

    for path in catalogue_keeping.update(LOCALES_DIR, languages or catalogue_keeping.translated(LOCALES_DIR)):
        print(f"written: {path.relative_to(LOCALES_DIR)}")


@console.command("check", epilog="Example: python -m guide_service locales console check")
def console_check(languages: Languages = None) -> None:
    """Find what is wrong: a stale template, missing translations, lost places or markup."""
    from guide_service.console import catalogue_keeping

    report = catalogue_keeping.check(LOCALES_DIR, languages or catalogue_keeping.translated(LOCALES_DIR))
    for problem in report.problems:
        print(problem)
    for language, kinds in report.lacking.items():
        lacking = ", ".join(f"{count} {why}" for why, count in sorted(kinds.items()))
        print(f"{language}: shown in English: {lacking or 'none'}")
    if report.problems or any(report.lacking.values()):
        raise typer.Exit(1)
    print("All words of the pages are in order.")


def _translated(languages: list[str] | None) -> list[str]:
    if languages:
        return languages
    found = {path.parent.parent.name for path in LOCALES_DIR.glob("*/LC_MESSAGES/guide.po")}
    return sorted(found - {"en"})


def _stop(line: str) -> None:
    print(line, file=sys.stderr)
    raise typer.Exit(1)
