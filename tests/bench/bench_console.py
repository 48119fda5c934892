"""Server time of the agents' pages with 1,000, 10,000 and 100,000 households (a million texts), on both databases.

Three services as they run in service, one on each database, on loopback; requests go to them in turn, so that whatever
else the machine does meets all three. A page's time is from the request to the last byte, in one kept-alive connection.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import Any

import httpx
from sqlmodel import col, func, select

from guide_service.accounts import save_account
from guide_service.console.roles import Role
from guide_service.console.sign_in import open_session
from guide_service.database import reading, writing
from guide_service.followup import county_counts
from guide_service.records import Agent, Escalation, Household, Message
from guide_service.wiring import Service
from tests.bench import county_houses, houses
from tests.bench.serving import Place, own_service, places, service_at

TIMES = (1, 10, 100)
ROUNDS, WARM = 31, 3
PAGES = (
    ("waiting list", "/console", 2.0),
    ("household's page", "/console/households/{home}", 2.0),
    ("county in numbers", "/console/county", 5.0),
    ("list by band, which is frequent", "/console/finding?band=caution", 2.0),
    ("list by band, of which there is none", "/console/finding?band=wet", 2.0),
    ("list by stage", "/console/finding?stage=measuring", 2.0),
    ("list by area", "/console/finding?area=millrace", 2.0),
    ("list by area and band", "/console/finding?area=upper_larkwater&band=caution", 2.0),
    ("list by language", "/console/finding?language=en", 2.0),
    ("list of what is overdue", "/console/finding?overdue=1", 2.0),
    ("list of what is stalled", "/console/finding?stalled=1", 2.0),
    ("list of mould reported", "/console/finding?mould=1", 2.0),
    ("list of the unreached", "/console/finding?unreached=1", 2.0),
    ("search by words", "/console/finding?q=weir", None),
)
"""(name, address, how many times the time at the fewest it may take at the most)."""
Row = dict[str, Any]


def run(kinds: Sequence[str] = ("SQLite", "PostgreSQL")) -> list[Row]:
    with places(kinds) as found:
        return [row for place in found for row in _on(place)]


def _on(place: Place) -> list[Row]:
    rows, seats = [], []
    for times in TIMES:
        with own_service(place.new(f"console_{times}")) as service:
            rows += _stored(service, times)
            seats.append((str(service.settings.database), *_signed_in(service)))
    return [row | {"name": f"{row['name']} on {place.kind}"} for row in rows + _measured(seats)]


def _stored(service: Service, times: int) -> list[Row]:
    """Fills the database, counts it as the worker does, and says what is in it."""
    county_houses.store_county(service)
    if times > 1:
        houses.multiply(service.engine, times)
    began = time.perf_counter()
    counted = county_counts.counted_now(service)
    took = time.perf_counter() - began
    with writing(service.engine) as session:
        county_counts.keep(session, counted)
    with reading(service.engine) as session:
        homes, texts, open_ones = (
            session.exec(select(func.count()).select_from(each)).one()
            for each in (Household, Message, select(Escalation).where(Escalation.state != "settled").subquery())
        )
    stored = f"{texts:,} texts, {open_ones:,} open escalations"
    return [
        _row(f"stored with {homes:,} households", stored, "-", None),
        _row(f"worker counts {homes:,} households [ms]", round(took * 1_000), "-", None),
    ]


def _signed_in(service: Service) -> tuple[str, int]:
    """A coordinator's cookie, and a household in the midst of the others."""
    offices = [office.id for office in service.county.offices]
    save_account(service.engine, offices, "bench", "Bench", "a river of nine letters", None, Role.COORDINATOR)
    with writing(service.engine) as session:
        agent = session.exec(select(Agent).where(Agent.login == "bench")).one()
        cookie = open_session(session, service, agent)
        many = session.exec(select(func.count()).select_from(Household)).one()
        home = session.exec(select(Household.id).order_by(col(Household.id)).offset(many // 2).limit(1)).one()
    return cookie, home


def _measured(places: list[tuple[str, str, int]]) -> list[Row]:
    with contextlib.ExitStack() as stack:
        seats = []
        for database, cookie, home in places:
            order = stack.enter_context(service_at(database))
            client = httpx.Client(base_url=f"http://127.0.0.1:{order.port}", cookies={"guide_agent": cookie})
            seats.append((stack.enter_context(client), home))
        return [row for name, address, most in PAGES for row in _page(seats, name, address, most)]


def _page(seats: list[tuple[httpx.Client, int]], name: str, address: str, most: float | None) -> list[Row]:
    took: list[list[float]] = [[] for _ in seats]
    for _ in range(WARM + ROUNDS):
        for (client, home), times in zip(seats, took, strict=True):
            times.append(_asked(client, address.format(home=home)))
    few, some, many = (median(times[WARM:]) for times in took)
    told = f"{name}, 1,000 / 10,000 / 100,000 households [ms]"
    growth = round(many / few, 2)
    return [
        _row(told, " / ".join(f"{seconds * 1_000:.1f}" for seconds in (few, some, many)), "-", None),
        _row(f"{name}, 100,000 against 1,000", growth, f"<= {most}" if most else "-", growth <= most if most else None),
    ]


def _asked(client: httpx.Client, address: str) -> float:
    began = time.perf_counter()
    answer = client.get(address)
    took = time.perf_counter() - began
    if answer.status_code != 200:
        raise RuntimeError(f"{Path(address)} answered {answer.status_code}")
    return took


def _row(name: str, value: object, target: str, holds: bool | None) -> Row:
    return {"name": name, "value": value, "target": target, "holds": holds}
