"""Settings, read once from ``GUIDE_*`` environment variables. A wrong one stops the start with one clear line."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import SecretStr, ValidationError, field_validator, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

ROOT = Path(__file__).resolve().parent.parent
FLOWS_DIR = ROOT / "conversation_flows"
LOCALES_DIR = ROOT / "locales"
EXAMPLE_COUNTY = ROOT / "guide_service" / "larkwater.toml"

DEMO_SECRET = "only-for-the-demo-0123456789abcdef0123456789"
DEMO_NUMBER = "+12025550100"
DEMO_ACCOUNT = "AC" + "0" * 32
DEMO_TOKEN = "demo-token-for-the-practice-phone"


class SettingsError(Exception):
    """A setting is missing or wrong: the message is the one line that is shown."""


class Settings(BaseSettings):
    """Each setting: docs/deployment.md. With ``GUIDE_DEMO`` everything has a default and no account is needed."""

    model_config = SettingsConfigDict(env_prefix="GUIDE_", frozen=True, extra="ignore")

    demo: bool = False
    database_url: SecretStr | None = None
    public_url: str | None = None
    carrier_account_sid: str | None = None
    carrier_auth_token: SecretStr | None = None
    carrier_number: str | None = None
    secret_key: SecretStr | None = None
    previous_secret_keys: SecretStr = SecretStr("")
    """Old keys, comma separated: numbers sealed with them can still be opened."""
    county_file: Path | None = None
    weather_file: Path | None = None
    """Optional: observed outdoor air, see ``guide_service/weather.py``."""

    @field_validator("public_url")
    @classmethod
    def _web_address(cls, value: str | None) -> str | None:
        if value is not None and urlsplit(value).scheme not in {"http", "https"}:
            raise ValueError("must start with http:// or https://")
        return value.rstrip("/") if value else value

    @field_validator("carrier_number")
    @classmethod
    def _e164(cls, value: str | None) -> str | None:
        if value is not None and not re.fullmatch(r"\+[1-9]\d{6,14}", value):
            raise ValueError("must be a number such as +12025550100")
        return value

    @field_validator("secret_key")
    @classmethod
    def _long(cls, value: SecretStr | None) -> SecretStr | None:
        if value is not None and len(value.get_secret_value()) < 32:
            raise ValueError("must have at least 32 characters")
        return value

    @field_validator("database_url")
    @classmethod
    def _known_database(cls, value: SecretStr | None) -> SecretStr | None:
        if value is not None and not value.get_secret_value().startswith(("sqlite:///", "postgresql")):
            raise ValueError("must start with sqlite:/// or postgresql://")
        return value

    @model_validator(mode="after")
    def _complete(self) -> Settings:
        if self.demo:
            return self
        needed = ("database_url", "public_url", "carrier_account_sid", "carrier_auth_token", "carrier_number",
                  "secret_key", "county_file")  # fmt: skip
        missing = [f"GUIDE_{name.upper()}" for name in needed if getattr(self, name) is None]
        if missing:
            raise ValueError(f"missing: {', '.join(missing)} (or set GUIDE_DEMO=1 to try it without an account)")
        if self.secret_key and self.secret_key.get_secret_value() == DEMO_SECRET:
            raise ValueError("GUIDE_SECRET_KEY is the demo's: make one of your own")
        return self

    # the values in use: the demo's where nothing was set
    @property
    def database(self) -> str:
        return self.database_url.get_secret_value() if self.database_url else f"sqlite:///{ROOT}/demo-data/larkwater.db"

    @property
    def address(self) -> str:
        return self.public_url or "http://127.0.0.1:8000"

    @property
    def account_sid(self) -> str:
        return self.carrier_account_sid or DEMO_ACCOUNT

    @property
    def auth_token(self) -> str:
        return self.carrier_auth_token.get_secret_value() if self.carrier_auth_token else DEMO_TOKEN

    @property
    def number(self) -> str:
        return self.carrier_number or DEMO_NUMBER

    @property
    def keys(self) -> tuple[str, ...]:
        """The secret key in use first, then the old ones."""
        current = self.secret_key.get_secret_value() if self.secret_key else DEMO_SECRET
        old = [key.strip() for key in self.previous_secret_keys.get_secret_value().split(",") if key.strip()]
        return (current, *old)

    @property
    def county_path(self) -> Path:
        return self.county_file or EXAMPLE_COUNTY


def read_settings(**overrides: object) -> Settings:
    """Settings of the environment; ``SettingsError`` with one clear line when one is missing or wrong."""
    try:
        return Settings(**overrides)  # type: ignore[arg-type]
    except ValidationError as problem:
        lines = []
        for error in problem.errors():
            name = f"GUIDE_{str(error['loc'][0]).upper()} " if error["loc"] else ""
            lines.append(f"{name}{error['msg'].removeprefix('Value error, ')}")
        raise SettingsError("; ".join(lines)) from None


@lru_cache(maxsize=1)
def get_settings() -> Settings:
    return read_settings()
