"""One recall as it stands: why, what it concerns, how far its work has come, whom it reached."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import HTTPException, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.console.pages import page, today_of
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading
from guide_service.records import Agent, Household, MeterRecall, RecallHouse
from guide_service.wiring import Service

RECALLS = "/console/records/recalls"
LISTED = 300
"""Households of one recall on its page: those whose walls were called ready first."""


@dataclass(frozen=True, slots=True)
class Listed:
    recall: MeterRecall
    done: int
    """Households that were weighed anew and told."""
    walls: int
    """... of which a wall had been called ready."""


def all_recalls(session: Session) -> list[Listed]:
    """Newest first."""
    recalls = session.exec(select(MeterRecall).order_by(col(MeterRecall.id).desc())).all()
    return [_listed(session, recall) for recall in recalls]


def _listed(session: Session, recall: MeterRecall) -> Listed:
    done = (RecallHouse.recall_id == recall.id, col(RecallHouse.done_at).is_not(None))
    count = session.exec(select(func.count()).select_from(RecallHouse).where(*done)).one()
    walls = session.exec(select(RecallHouse.walls).where(*done)).all()
    return Listed(recall, count, sum(bool(each) for each in walls))


def recall_page(
    request: Request, service: Service, who: SignedIn, recall_id: int, problem: str | None = None
) -> HTMLResponse:
    with reading(service.engine) as session:
        recall = session.get(MeterRecall, recall_id)
        if recall is None:
            raise HTTPException(404)
        listed = _listed(session, recall)
        rows = session.exec(select(RecallHouse).where(RecallHouse.recall_id == recall.id)).all()
        homes = _homes(session, [row.household_id for row in rows])
        names = {agent.id: agent.name for agent in session.exec(select(Agent))}
    order = sorted(rows, key=lambda row: (not row.walls, not row.closed, row.done_at is not None, row.id))
    return page(
        request, service, "recall.html", who, 422 if problem else 200, here="records", problem=problem,
        listed=listed, recall=recall, rows=order[:LISTED],
        more=max(len(order) - LISTED, 0), homes=homes, agent_name=lambda key: names.get(key, ""),
        today=today_of(service),
        unreached=sum(row.done_at is not None and not row.told for row in rows),
    )  # fmt: skip


def _homes(session: Session, ids: list[int]) -> dict[int, Household]:
    found: dict[int, Household] = {}
    for at in range(0, len(ids), 500):
        query = select(Household).where(col(Household.id).in_(ids[at : at + 500]))
        found |= {home.id: home for home in session.exec(query)}
    return found
