"""What an agent may see: the areas of his or her office. Coordinators see the whole county.

A household that has not named its area yet (or names one that the county file no longer has) belongs to the first
office of the county file, as ``County.office_of`` says: somebody must see it.
"""

from __future__ import annotations

from sqlalchemy import ColumnElement, and_, false, or_, true
from sqlmodel import col

from guide_service.console.roles import AGENTS, Role
from guide_service.county import Area, County
from guide_service.records import Agent, CountyCount, Household


def sees_everything(agent: Agent) -> bool:
    return agent.role == Role.COORDINATOR or (agent.role == Role.AGENT and agent.office is None)


def areas_of(agent: Agent, county: County) -> tuple[Area, ...]:
    if agent.role not in AGENTS:
        return ()
    return tuple(area for area in county.areas if sees_everything(agent) or area.office == agent.office)


def in_scope(agent: Agent, county: County) -> ColumnElement[bool]:
    """The condition that every query on households carries; false for whoever is neither agent nor coordinator."""
    if agent.role not in AGENTS:
        return false()
    standing = and_(col(Household.merged_into).is_(None), col(Household.deleted_at).is_(None))
    return standing if sees_everything(agent) else and_(standing, _in_areas(agent, county, Household.area))


def counts_in_scope(agent: Agent, county: County) -> ColumnElement[bool]:
    """The same for the counts of the county, whose area is empty where a household has named none."""
    if agent.role not in AGENTS:
        return false()
    return true() if sees_everything(agent) else _in_areas(agent, county, CountyCount.area)


def _in_areas(agent: Agent, county: County, column: str | None) -> ColumnElement[bool]:
    area = col(column)
    own = area.in_([each.id for each in areas_of(agent, county)])
    if agent.office != county.offices[0].id:
        return own
    return or_(own, area.is_(None), area.not_in([each.id for each in county.areas]))
