"""The one place where everything is put together: what every edge receives, built once from the settings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy import Engine

from guide_service.carrier.sender import Sender
from guide_service.clock import Clock, DatabaseClock, SystemClock
from guide_service.county import County, read_county
from guide_service.database import make_engine, reading
from guide_service.dialogue.answers import Lexicon, load_lexicons
from guide_service.dialogue.facts import CountyFacts, MeterPlaceFact
from guide_service.dialogue.flow import FlowSet
from guide_service.dialogue.flow_loader import load_flows
from guide_service.drying.policy import Policy
from guide_service.offering import offered, spoken_at_all
from guide_service.recalls.standing import RecalledMeters
from guide_service.records.policies import policy_in_force
from guide_service.sealing import Sealer
from guide_service.settings import FLOWS_DIR, LOCALES_DIR, Settings
from guide_service.weather import Weather
from guide_service.wording.catalogue import Catalogues


@dataclass(frozen=True)
class Service:
    settings: Settings
    county: County
    county_facts: CountyFacts
    engine: Engine
    clock: Clock
    flows: FlowSet
    catalogues: Catalogues
    lexicons: Mapping[str, Lexicon]
    sealer: Sealer
    sender: Sender
    policies: PolicyInForce
    weather: Weather
    recalls: RecalledMeters = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "recalls", RecalledMeters(self.engine))

    def policy(self) -> Policy:
        return self.policies.now()


class PolicyInForce:
    """The newest policy version, looked up again at most every few seconds: it changes a few times a year."""

    KEEP = dt.timedelta(seconds=5)

    def __init__(self, engine: Engine, first: Policy) -> None:
        self.engine, self.first = engine, first
        self._policy: Policy | None = None
        self._until = dt.datetime.min.replace(tzinfo=dt.UTC)

    def now(self) -> Policy:
        moment = dt.datetime.now(dt.UTC)
        if self._policy is None or moment > self._until:
            with reading(self.engine) as session:
                self._policy = policy_in_force(session) or self.first
            self._until = moment + self.KEEP
        return self._policy

    def look_again(self) -> None:
        """After a change made in this process; other processes see it within ``KEEP``."""
        self._policy = None


def build_service(settings: Settings, *, clock: Clock | None = None, sender: Sender | None = None) -> Service:
    """Raises ``SettingsError`` for a wrong county file, ``FlowFileError`` for a wrong flow file."""
    county = read_county(settings.county_path)
    county = county.model_copy(update={"languages": offered(county, FLOWS_DIR, LOCALES_DIR, demo=settings.demo)})
    engine = make_engine(settings.database)
    flows = load_flows(FLOWS_DIR)
    clock = clock or (DatabaseClock(engine) if settings.demo else SystemClock())
    return Service(
        settings=settings,
        county=county,
        county_facts=_county_facts(county),
        engine=engine,
        clock=clock,
        flows=flows,
        catalogues=Catalogues.load(LOCALES_DIR, flows.messages, _spoken(county)),
        lexicons=load_lexicons(LOCALES_DIR, _understood(county)),
        sealer=Sealer(settings.keys),
        sender=sender or _sender(settings, engine, clock),
        policies=PolicyInForce(engine, county.first_policy()),
        weather=Weather(county, settings.weather_file),
    )


def _understood(county: County) -> list[str]:
    """Languages that are offered first, then every other shipped one: stop and danger are understood in all."""
    shipped = sorted(path.parent.name for path in LOCALES_DIR.glob("*/words.toml"))
    return list(dict.fromkeys([*county.languages, *shipped]))


def _spoken(county: County) -> list[str]:
    """Languages of the county, then every other that has a catalogue: who asks for one is told so in it."""
    return list(dict.fromkeys([*county.languages, *spoken_at_all(LOCALES_DIR)]))


def _sender(settings: Settings, engine: Engine, clock: Clock) -> Sender:
    if settings.demo:
        from guide_service.handset.loopback import LoopbackSender

        return LoopbackSender(engine, clock, settings)
    from guide_service.carrier.sending import CarrierSender

    return CarrierSender(settings.account_sid, settings.auth_token, settings.number)


def _county_facts(county: County) -> CountyFacts:
    return CountyFacts(
        county=county.name,
        office_name=county.office_name,
        call_back=county.call_back,
        emergency_number=county.emergency_number,
        areas=tuple((area.id, area.name) for area in county.areas),
        languages=county.languages,
        withheld=frozenset(spoken_at_all(LOCALES_DIR)) - set(county.languages),
        help_lines={line.id: line.number for line in county.help_lines},
        guidance=county.guidance.figures(),
        lent_meters={meter.number: meter.block_value for meter in county.lent_meters},
        block_tolerance_mc=county.block_check.tolerance_mc,
        meter_places=tuple(MeterPlaceFact(p.area, p.name, p.address, p.hours) for p in county.meter_places),
    )
