"""Tables and the queries on them. Importing this package registers every table."""

from guide_service.records.agent import Agent, AgentSession, Audit, RecoveryCode, RoundHouse
from guide_service.records.call import Call
from guide_service.records.contact import ConsentEvent, Contact
from guide_service.records.conversation import Conversation
from guide_service.records.county_count import CountyCount
from guide_service.records.county_rows import DemoClock, PolicyRow
from guide_service.records.decisions import DeletionDecision, MeterRecall, RecallHouse, RetentionStep
from guide_service.records.drying_log import DryingLog, LogTries, LogVisit
from guide_service.records.escalation import Escalation
from guide_service.records.handset import HandsetText
from guide_service.records.household import Household, HouseholdNote, Membership, MouldReport, PlaceRow, WallRow
from guide_service.records.job import Job, SendBucket, WorkerSeen
from guide_service.records.loan import Loan
from guide_service.records.message import Message, Tombstone
from guide_service.records.notice import Notice, NoticeRecipient
from guide_service.records.reading import Check, ReadingRow, ReadyAnswer, Verdict
from guide_service.records.text_draft import TextDraft

__all__ = [
    "Agent",
    "AgentSession",
    "Audit",
    "Call",
    "Check",
    "ConsentEvent",
    "Contact",
    "Conversation",
    "CountyCount",
    "DeletionDecision",
    "DemoClock",
    "DryingLog",
    "Escalation",
    "HandsetText",
    "Household",
    "HouseholdNote",
    "Job",
    "Loan",
    "LogTries",
    "LogVisit",
    "Membership",
    "Message",
    "MeterRecall",
    "MouldReport",
    "Notice",
    "NoticeRecipient",
    "PlaceRow",
    "PolicyRow",
    "ReadingRow",
    "ReadyAnswer",
    "RecallHouse",
    "RecoveryCode",
    "RetentionStep",
    "RoundHouse",
    "SendBucket",
    "TextDraft",
    "Tombstone",
    "Verdict",
    "WallRow",
    "WorkerSeen",
]
