"""What an exported file holds: each table with its columns, what they mean, and how a row fills them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from guide_service.records import (
    Agent,
    Audit,
    Call,
    Check,
    Contact,
    Escalation,
    Household,
    HouseholdNote,
    Loan,
    Membership,
    Message,
    MeterRecall,
    MouldReport,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    Verdict,
    WallRow,
)

Cell = Callable[["Explained", Any], object]


@dataclass(frozen=True)
class Explained:
    """What rows refer to by id."""

    phones: Mapping[int, str]
    """Of each contact: the last digits, or the number where that was chosen."""
    agents: Mapping[int, str]
    recalls: Mapping[int, str]
    walls: Mapping[int, str]

    def phone(self, key: int | None) -> str:
        return self.phones.get(key or 0, "")

    def agent(self, key: int | None) -> str:
        return self.agents.get(key or 0, "")

    def recall(self, key: int | None) -> str:
        return self.recalls.get(key or 0, "")


@dataclass(frozen=True, slots=True)
class Table:
    name: str
    model: Any
    what: str
    columns: tuple[tuple[str, str, str | Cell], ...]
    """Name, meaning, and the field or function that fills it; the household's id comes before them."""

    def rows(self, session: Session, households: Sequence[int]) -> list[Any]:
        key = self.model.id if self.model is Household else self.model.household_id
        query = select(self.model).where(col(key).in_(households)).order_by(col(key), col(self.model.id))
        return list(session.exec(query))

    def cells(self, explained: Explained, row: Any) -> list[object]:
        home = row.id if self.model is Household else row.household_id
        filled = (
            getattr(row, fill) if isinstance(fill, str) else fill(explained, row) for _name, _what, fill in self.columns
        )
        return [home, *map(_plain, filled)]


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="seconds")
    return json.dumps(value, ensure_ascii=False, sort_keys=True) if isinstance(value, dict | list) else value


_RECALL = ("recall", "why its meter was recalled; such a number can only make a verdict worse",
           lambda known, row: known.recall(row.recall_id))  # fmt: skip
_PHONE = ("phone", "last digits of the phone, or its number where that was asked for",
          lambda known, row: known.phone(row.contact_id))  # fmt: skip

TABLES = (
    Table("households.csv", Household, "One row for each household, as lists show it.", (
        ("area", "area of the county", "area"), ("address", "as it was told", "address"),
        ("stage", "where it stands in the recovery order", "stage"),
        ("band", "worst band at the last check: wet, caution, dry or unread", "band"),
        ("wet", "places that read wet", "wet"), ("caution", "places between the limits", "caution"),
        ("dry", "places that read dry", "dry"),
        ("ready walls", "walls whose readings met the county's limit at the last check", "ready_walls"),
        ("stalled", "whether drying has stalled", "stalled"), ("mold open", "a report not lifted", "mould_open"),
        ("language", "that one of its phones chose last", "language"), ("first heard", "UTC", "created_at"),
        ("last check", "day", "last_check_on"), ("next check", "day", "next_check_on"),
        ("expected dry", "likely day of its slowest place", "dry_on"), ("expected dry, late", "late end", "dry_by"),
        ("flooded again", "readings of before that day do not count", "flooded_again_on"),
        ("told", "what it told of itself, as JSON", "facts"),
        ("file deleted", "UTC; what stays of a deleted file holds nothing personal", "deleted_at"),
    )),
    Table("people.csv", Membership, "Phones that belong or belonged to it.", (
        _PHONE, ("name", "as told", "name"), ("role", "owner, renter, landlord, contractor, helper ...", "role"),
        ("joined", "UTC", "joined_at"), ("ended", "UTC", "ended_at"),
        ("by code", "joined with the household's code", "by_code"),
        ("added by", "agent who added it", lambda known, row: known.agent(row.added_by)),
    )),
    Table("walls.csv", WallRow, "Walls and floors that are closed as one.", (
        ("letter", "begins the labels of its places", "letter"), ("name", "as told", "name"),
        ("bays", "open stud bays in all", "bays"), ("made", "UTC", "created_at"), ("removed", "UTC", "removed_at"),
    )),
    Table("places.csv", PlaceRow, "Places that are measured.", (
        ("label", "such as K2", "label"), ("wall", "its letter", lambda known, row: known.walls.get(row.wall_id, "")),
        ("kind", "bay, subfloor, joist, sill or reference", "kind"),
        ("treated plate", "preservative-treated wood reads high", "treated_plate"),
        ("treated confirmed", "an agent accepted it as flat", "treated_confirmed"),
        ("followed", "no: read only in the sweep before closing", "followed"), ("removed", "UTC", "removed_at"),
    )),
    Table("checks.csv", Check, "One row for each day of readings, with what was asked about the meter.", (
        ("day", "on which the readings were taken", "taken_on"), ("setting", "how the meter was used", "mode"),
        ("meter's check", "passed, failed or not done", "self_check"),
        ("block", "what it showed on its check block, % of oven-dry mass", "block_value"),
        ("meter", "as the household names it", "meter"), ("wood temperature", "degrees C, where known", "temp_c"),
        _RECALL,
    )),
    Table("readings.csv", ReadingRow, "Every number as it was typed and as it was understood; none is overwritten.", (
        ("reading", "its id", "id"), ("day", "on which it was taken", "taken_on"), ("place", "label", "place"),
        ("point", "where the pins went", "point"), ("number", "% of oven-dry mass on wood", "value"),
        ("qualifier", "exact; above or below the meter's range", "qualifier"), ("material", "", "material"),
        ("setting", "only where it was not the check's", "mode"), ("colour", "where there was no number", "colour"),
        ("typed", "the words it was read from", "typed"), _PHONE,
        ("agent", "who entered it, if no phone did", lambda known, row: known.agent(row.agent_id)),
        ("arrived", "UTC", "arrived_at"), ("confirmed", "no: a third party's, not yet confirmed", "confirmed"),
        ("replaces", "reading that it corrects", "replaces"), ("replaced", "UTC; it counts no longer", "superseded_at"),
        _RECALL,
    )),
    Table("verdicts.csv", Verdict, "What was answered about a place, with everything behind it.", (
        ("at", "UTC", "at"), ("place", "label", "place"), ("band", "wet, caution, dry or unread", "band"),
        ("worst", "number that decided", "worst"), ("passes", "the place alone met the closing rule", "passes"),
        ("reasons", "codes with their values, as JSON", "reasons"), ("readings", "ids behind it", "readings"),
        ("policy", "version under which it was given", "policy_version"), _RECALL,
    )),
    Table("answers.csv", ReadyAnswer, "Walls whose readings were said to meet the county's limit. Never: safe.", (
        ("at", "UTC", "at"), ("wall", "its letter", lambda known, row: known.walls.get(row.wall_id, "")),
        ("covers", "places; none: an earlier answer was taken back", "covers"),
        ("policy", "version under which it was given", "policy_version"), ("lapses", "day", "lapses_on"), _RECALL,
    )),
    Table("mold.csv", MouldReport, "Mold that was reported, and what became of it.", (
        ("reported", "UTC", "reported_at"), ("sense", "seen or smelt", "sense"), ("words", "as told", "words"),
        ("lifted", "UTC", "lifted_at"), ("by", "agent", lambda known, row: known.agent(row.lifted_by)),
        ("why", "as the agent wrote it", "lifted_why"),
    )),
    Table("loans.csv", Loan, "Meters that the county lent to it.", (
        ("meter", "the number on it", "meter"), ("place", "that lent it", "place"), ("lent", "day", "lent_on"),
        ("by", "agent", lambda known, row: known.agent(row.lent_by)), ("due back", "day", "due_on"),
        ("reminders", "how often it was asked to bring it back", "reminders"), ("back", "day", "returned_on"),
        ("taken back by", "agent", lambda known, row: known.agent(row.returned_by)),
    )),
    Table("texts.csv", Message, "Texts in and out; bodies are blank after their retention time.", (
        ("at", "UTC", "at"), ("direction", "in or out", "direction"),
        ("origin", "person, reply, started by the guide, agent, many (a notice)", "origin"), _PHONE,
        ("language", "", "language"), ("text", "as it was sent", "body"),
        ("understood", "what a text in was understood to say, as JSON", "understood"),
        ("outcome", "of a text in: reply or silence", "outcome"), ("silence", "its reason", "outcome_reason"),
        ("delivery", "of a text out: the carrier's word", "status"),
        ("agent", "who wrote it", lambda known, row: known.agent(row.agent_id)),
    )),
    Table("calls.csv", Call, "Calls in and out; what was said in them stands with the texts.", (
        ("begun", "UTC", "started_at"), ("ended", "UTC", "ended_at"), ("direction", "in or out", "direction"), _PHONE,
        ("proved", "the caller showed that the house is theirs", "proved"),
        ("status", "the carrier's last word", "status"),
    )),
    Table("needs.csv", Escalation, "What needed a person.", (
        ("opened", "UTC", "opened_at"), ("reason", "", "reason"), ("urgency", "1 danger to 4 routine", "urgency"),
        ("words", "last words of the person", "words"), ("detail", "as JSON", "detail"), ("state", "", "state"),
        ("claimed by", "agent", lambda known, row: known.agent(row.claimed_by)), ("settled", "UTC", "settled_at"),
        ("settled by", "agent", lambda known, row: known.agent(row.settled_by)), ("outcome", "", "outcome"),
    )),
    Table("notes.csv", HouseholdNote, "What agents wrote down for each other.", (
        ("at", "UTC", "at"), ("agent", "", lambda known, row: known.agent(row.agent_id)), ("note", "", "body"),
    )),
    Table("audit.csv", Audit, "Who looked into the file and changed it.", (
        ("at", "UTC", "at"), ("agent", "", lambda known, row: known.agent(row.agent_id)), ("what", "", "action"),
        ("detail", "ids and counts, as JSON", "detail"),
    )),
)  # fmt: skip


def explained(session: Session, households: Sequence[int], number_of: Callable[[Contact], str]) -> Explained:
    """For some households: the people, agents and walls that their rows refer to."""
    members = select(Contact).join(Membership, col(Membership.contact_id) == col(Contact.id))
    contacts = session.exec(members.where(col(Membership.household_id).in_(households)))
    walls = session.exec(select(WallRow).where(col(WallRow.household_id).in_(households)))
    return Explained(
        phones={contact.id: number_of(contact) for contact in contacts},
        agents={agent.id: agent.name for agent in session.exec(select(Agent))},
        recalls={recall.id: recall.reason for recall in session.exec(select(MeterRecall))},
        walls={wall.id: wall.letter for wall in walls},
    )
