"""The one place where everything is put together: what every edge receives, built once from the settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from guide_service.carrier.sender import Sender
from guide_service.clock import Clock, DatabaseClock, SystemClock
from guide_service.county import County, read_county
from guide_service.database import make_engine
from guide_service.dialogue.answers import Lexicon, load_lexicons
from guide_service.dialogue.facts import CountyFacts
from guide_service.dialogue.flow import FlowSet
from guide_service.dialogue.flow_loader import load_flows
from guide_service.drying.policy import Policy
from guide_service.in_force import InForce
from guide_service.offering import offered, spoken_at_all
from guide_service.recalls.standing import RecalledMeters
from guide_service.sealing import Sealer
from guide_service.settings import FLOWS_DIR, LOCALES_DIR, Settings
from guide_service.weather import Weather
from guide_service.wording.catalogue import Catalogues


@dataclass(frozen=True, repr=False)
class Service:
    """Without a ``repr``: its lexicons are graphs, and written out they fill the memory of whoever reports a fault."""

    settings: Settings
    engine: Engine
    clock: Clock
    flows: FlowSet
    catalogues: Catalogues
    lexicons: Mapping[str, Lexicon]
    sealer: Sealer
    sender: Sender
    in_force: InForce
    weather: Weather
    recalls: RecalledMeters = field(init=False)
    locales: Path = LOCALES_DIR

    def __post_init__(self) -> None:
        object.__setattr__(self, "recalls", RecalledMeters(self.engine))

    @property
    def county(self) -> County:
        """With hours, help lines and places as the newest version of the policy has them."""
        return self.in_force.county

    @property
    def county_facts(self) -> CountyFacts:
        return self.in_force.county_facts

    def policy(self) -> Policy:
        return self.in_force.policy

    def with_county(self, county: County) -> Service:
        """The same for a county whose file says something else."""
        return self.on(self.engine, county)

    def on(self, engine: Engine, county: County | None = None, **changes: Any) -> Service:
        """The same on another database, with a policy of its own."""
        own = InForce(engine, county or self.in_force.file, self.in_force.spoken)
        return replace(self, engine=engine, in_force=own, **changes)


def build_service(settings: Settings, *, clock: Clock | None = None, sender: Sender | None = None) -> Service:
    """Raises ``SettingsError`` for a wrong county file, ``FlowFileError`` for a wrong flow file."""
    county = read_county(settings.county_path)
    county = county.model_copy(update={"languages": offered(county, FLOWS_DIR, LOCALES_DIR, demo=settings.demo)})
    engine = make_engine(settings.database)
    flows = load_flows(FLOWS_DIR)
    clock = clock or (DatabaseClock(engine) if settings.demo else SystemClock())
    return Service(
        settings=settings,
        engine=engine,
        clock=clock,
        flows=flows,
        catalogues=Catalogues.load(LOCALES_DIR, flows.messages, _spoken(county)),
        lexicons=load_lexicons(LOCALES_DIR, _understood(county)),
        sealer=Sealer(settings.keys),
        sender=sender or _sender(settings, engine, clock),
        in_force=InForce(engine, county, spoken_at_all(LOCALES_DIR)),
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
