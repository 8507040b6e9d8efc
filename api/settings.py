"""One frozen settings object, read once from the environment; an unknown or unsafe value stops the start."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

from pydantic import Field, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

PREFIX = "CREEKLEDGER_"
_OF_TEST_RUNS = {f"{PREFIX}SEASONS", f"{PREFIX}BROWSER"}
"""Names that the project's own test command reads."""

LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})


class Settings(BaseSettings):
    """Where the server keeps its data, where it listens, and what it lets in."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, frozen=True, extra="forbid")

    data: Path = Path("creekledger-data")
    """The folder of documents and photos, and of the database where ``database`` names none."""
    database: str = ""
    """A database address ("postgresql+psycopg://..."); "" keeps SQLite in the data folder."""
    host: str = "127.0.0.1"
    port: int = Field(default=8765, ge=1, le=65535)
    certificate: Path | None = None
    certificate_key: Path | None = None
    behind_proxy: bool = False
    """Whether a reverse proxy on this machine ends TLS and tells the caller's address."""
    demo: bool = False
    most_body_bytes: int = Field(default=8_000_000, ge=10_000)
    most_photo_bytes: int = Field(default=20_000_000, ge=10_000, le=2**31 - 1)
    most_part_bytes: int = Field(default=1_000_000, ge=1000)
    """The largest part in which a photo comes; on a bad line small parts get through."""
    requests_a_minute: int = Field(default=600, ge=1)
    log: Literal["json", "text"] = "json"

    @model_validator(mode="after")
    def _safe(self) -> Settings:
        if self.demo and self.host not in LOOPBACK:
            raise ValueError("the demo has passwords that everybody knows; it listens on 127.0.0.1 only")
        if (self.certificate is None) != (self.certificate_key is None):
            raise ValueError("a certificate needs its key; give both certificate and certificate_key")
        if self.host not in LOOPBACK and self.certificate is None and not self.behind_proxy:
            raise ValueError(
                "phones need TLS: give certificate and certificate_key, or set behind_proxy where a proxy ends TLS"
            )
        if self.database and not self.database.startswith(("sqlite:///", "postgresql+psycopg://")):
            raise ValueError("a database address begins with sqlite:/// or postgresql+psycopg://")
        return self

    @property
    def database_url(self) -> str:
        """The address of the database."""
        return self.database or f"sqlite:///{self.data / 'creekledger.db'}"

    @property
    def files(self) -> Path:
        """The folder of documents and photos."""
        return self.data / "files"

    @property
    def part_bytes(self) -> int:
        """The largest part of a photo that a request may bring."""
        return min(self.most_part_bytes, self.most_body_bytes)

    @property
    def secure(self) -> bool:
        """Whether browsers reach the server over TLS."""
        return self.certificate is not None or self.behind_proxy


class UnknownSettingError(ValueError):
    """The environment sets something that is no setting; carries the names."""

    def __init__(self, names: list[str]) -> None:
        self.names = names
        known = ", ".join(sorted(PREFIX + name.upper() for name in Settings.model_fields))
        super().__init__(f"{', '.join(names)}: no such setting; the settings are {known}")


def read_settings(environment: dict[str, str], **given: Any) -> Settings:
    """Read the settings; what is given goes before the environment.

    Raises UnknownSettingError for a misspelt name and ValueError (pydantic's) for an unsafe or impossible value.
    """
    own = {name for name in environment if name.startswith(PREFIX)} - _OF_TEST_RUNS
    unknown = sorted(name for name in own if name.removeprefix(PREFIX).lower() not in Settings.model_fields)
    if unknown:
        raise UnknownSettingError(unknown)
    values = {name.removeprefix(PREFIX).lower(): environment[name] for name in own}
    return Settings(**{**values, **given})
