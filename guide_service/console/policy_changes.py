"""One change of the policy: what stands against it, or the version that it becomes."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace

from sqlmodel import Session
from starlette.datastructures import FormData

from guide_service.console.access import field as field_of
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form
from guide_service.console.policy_lines import Change, differences
from guide_service.console.policy_sections import Section
from guide_service.console.sign_in import SignedIn
from guide_service.county_decided import Rules
from guide_service.followup.alarms import alarm_sooner
from guide_service.in_force import first_row, rules_of
from guide_service.records import PolicyRow
from guide_service.records.policies import add_version, row_in_force, row_of, seed_policy
from guide_service.wiring import Service

LONGEST_REASON = 500
NO_REASON = N_("Say why it changes: whoever looks at an old verdict reads it.")
NOTHING_NEW = N_("Nothing was changed.")
MEANWHILE = N_("Somebody changed this part meanwhile. What you wrote is still here: look at both, then save again.")
LOOK_AGAIN = N_("This lets more pass than the county file's own source. Look at it once more below.")
BESIDE = N_("Some fields need another look.")
MOVES_ALARMS = frozenset({"hours", "offices"})


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a sent form came to; with neither ``problem`` nor anything beside a field it is stored."""

    version: str
    """That the form is laid upon when it is shown again."""
    problem: str = ""
    beside: dict[str, str] = field(default_factory=dict)
    laxer: tuple[Change, ...] = ()
    meanwhile: tuple[Change, ...] = ()

    @property
    def stored(self) -> bool:
        return not self.problem


def change(session: Session, service: Service, who: SignedIn, section: Section, sent: FormData) -> Outcome:
    """Raises ``IntegrityError`` when somebody else stores the same version at this instant."""
    county, now = service.in_force.file, service.clock.now()
    seed_policy(session, first_row(county, now))
    session.flush()
    row = row_in_force(session)
    assert row is not None
    newest = str(row.version)
    current, file = rules_of(row, county), Rules.of(county)
    meanwhile = _meanwhile(session, service, section, sent, current)
    if meanwhile:
        return Outcome(newest, gettext(MEANWHILE), meanwhile=meanwhile)
    form = Form(sent)
    after = section.read(form, current, county)
    reason = form.words("reason", LONGEST_REASON)
    laxer = section.laxer(after, current, file)
    changes = differences(section.lines(current, county), section.lines(after, county), dict.fromkeys(laxer))
    if not form.problems and not changes:
        return Outcome(newest, gettext(NOTHING_NEW))
    if not reason:
        form.refuse("reason", NO_REASON)
    if form.problems:
        return Outcome(newest, gettext(BESIDE), form.problems)
    beyond = beyond_the_file(section, service, after, laxer)
    if beyond and field_of(sent, "looked_at") != looked_at(beyond):
        return Outcome(newest, gettext(LOOK_AGAIN), laxer=beyond)
    _store(session, service, who, after.next(current), changes, reason)
    if section.key in MOVES_ALARMS:
        alarm_sooner(session, after.decided.applied_to(county), now)
    return Outcome(newest)


def beyond_the_file(section: Section, service: Service, after: Rules, laxer: frozenset[str]) -> tuple[Change, ...]:
    """Lines that let more pass than the county file's, with the file's value and the source of it."""
    county = service.in_force.file
    theirs = {line.name: line for line in section.lines(Rules.of(county), county)}
    return tuple(
        Change(line.name, line.label, theirs[line.name].value, line.value, theirs[line.name].source, laxer=True)
        for line in section.lines(after, county)
        if line.name in laxer
    )


def looked_at(laxer: tuple[Change, ...]) -> str:
    """What the tick is worth: these values and no others."""
    return "; ".join(f"{each.name}={each.new}" for each in laxer)


def _meanwhile(
    session: Session, service: Service, section: Section, sent: FormData, current: Rules
) -> tuple[Change, ...]:
    """What others changed in this part since the form was made; other parts may have moved on."""
    seen = field_of(sent, "version")
    row = session.get(PolicyRow, int(seen)) if seen.isascii() and seen.isdigit() and len(seen) < 9 else None
    county = service.in_force.file
    then = rules_of(row, county) if row else Rules.of(county)
    return tuple(differences(section.lines(then, county), section.lines(current, county), {}))


def _store(session: Session, service: Service, who: SignedIn, after: Rules, changes: list[Change], reason: str) -> None:
    decided = after.decided.model_dump(mode="json")
    row = row_of(after.policy, decided, reason, service.clock.now(), made_by=who.agent.id)
    row.changes = [_as_stored(each) for each in changes]
    add_version(session, row)
    laxer = [each.name for each in changes if each.laxer]
    note(session, service, who, "policy_change", None, version=row.version, laxer=", ".join(laxer))


def _as_stored(each: Change) -> dict[str, object]:
    """Without its label: that is said in the language of whoever reads it."""
    return {name: value for name, value in asdict(each).items() if name != "label"}


def as_shown(row: PolicyRow, labels: dict[str, str]) -> list[Change]:
    """The changes of a stored version, with the labels of its own lines and of those before it."""
    found = [Change(label=labels.get(str(each["name"]), str(each["name"])), **each) for each in row.changes]
    return [replace(each, source=each.source or "") for each in found]
