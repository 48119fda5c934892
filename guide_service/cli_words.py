"""``flows`` and ``locales``: for those who write the conversations and those who translate them."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from guide_service.settings import FLOWS_DIR, LOCALES_DIR

locales = typer.Typer(no_args_is_help=True, help="The catalogues of translations: extract, update, check.")
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


def _translated(languages: list[str] | None) -> list[str]:
    if languages:
        return languages
    found = {path.parent.parent.name for path in LOCALES_DIR.glob("*/LC_MESSAGES/guide.po")}
    return sorted(found - {"en"})


def _stop(line: str) -> None:
    print(line, file=sys.stderr)
    raise typer.Exit(1)
