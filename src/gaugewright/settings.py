"""Where a setting came from: command line, environment, laboratory, user, or what we ship."""

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from gaugewright.errors import FileError, InputError

__all__ = ["SETTINGS", "Setting", "Settings", "SettingsChoice", "load"]

PREFIX = "GAUGEWRIGHT_"


@dataclass(frozen=True, slots=True)
class SettingsChoice:
    """A setting that exists: its shipped value, what it means and what is allowed."""

    name: str
    shipped: str
    meaning: str
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Setting:
    """A setting in force and where its value came from."""

    name: str
    value: str
    origin: str


SETTINGS: dict[str, SettingsChoice] = {
    choice.name: choice
    for choice in (
        SettingsChoice("units", "si", "units shown and printed", ("si", "us")),
        SettingsChoice("zone", "UTC", "IANA time zone of a new campaign, such as Europe/Rome"),
        SettingsChoice("laboratory", "", "folder with the laboratory's own packs, people, limits"),
        SettingsChoice("paper", "a4", "paper of printed sheets", ("a4", "letter")),
        SettingsChoice("coverage", "0.95", "coverage probability of stated intervals"),
        SettingsChoice("jobs", "0", "processes used by long work; 0 means one a core"),
        SettingsChoice("person", "", "label of the person at work, for the journal"),
        SettingsChoice("upload_limit_mb", "4000", "largest file a browser may hand in [MB]"),
    )
}


class Settings:
    """Every setting in force. Earlier origins win: command line, environment, laboratory, user."""

    def __init__(self, chosen: Mapping[str, Setting]) -> None:
        self._chosen = dict(chosen)

    def __getitem__(self, name: str) -> str:
        """Value of one setting.

        Raises
        ------
        InputError
            If no setting has that name.
        """
        return self.setting(name).value

    def setting(self, name: str) -> Setting:
        """Value and origin of one setting.

        Raises
        ------
        InputError
            If no setting has that name.
        """
        if name not in self._chosen:
            raise InputError("setting", name, "one of " + ", ".join(sorted(SETTINGS)))
        return self._chosen[name]

    def all(self) -> tuple[Setting, ...]:
        """Every setting in the order of ``SETTINGS``."""
        return tuple(self._chosen[name] for name in SETTINGS)


def load(
    command_line: Mapping[str, str] | None = None,
    *,
    environment: Mapping[str, str] | None = None,
    user_folder: Path | None = None,
) -> Settings:
    """Settings in force, each with its origin.

    Parameters
    ----------
    command_line : mapping of name to text, optional
        What the person typed with this command.
    environment : mapping, optional
        Looked up for ``GAUGEWRIGHT_<NAME>``; the process's own when left out.
    user_folder : path, optional
        Folder with the user's ``settings.toml``; the platform's usual place when left out.

    Raises
    ------
    InputError
        If a name is unknown or a value isn't allowed.
    FileError
        If a settings file isn't TOML.
    """
    env = os.environ if environment is None else environment
    folder = user_folder or Path(platformdirs.user_config_dir("gaugewright"))
    layers: list[tuple[str, Mapping[str, str]]] = [
        ("command line", dict(command_line or {})),
        ("environment", _from_environment(env)),
    ]
    user = _from_file(folder / "settings.toml")
    laboratory = next(
        (layer["laboratory"] for _, layer in [*layers, ("user", user)] if layer.get("laboratory")),
        "",
    )
    if laboratory:
        layers.append(("laboratory", _from_file(Path(laboratory) / "settings.toml")))
    layers.append(("user", user))
    layers.append(("shipped", {name: choice.shipped for name, choice in SETTINGS.items()}))
    chosen: dict[str, Setting] = {}
    for origin, values in reversed(layers):
        for name, value in values.items():
            _refuse_unknown(name, value, origin)
            chosen[name] = Setting(name, value, origin)
    return Settings(chosen)


def _from_environment(environment: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name in SETTINGS:
        value = environment.get(PREFIX + name.upper())
        if value is not None:
            found[name] = value
    return found


def _from_file(path: Path) -> dict[str, str]:
    if not path.is_file():
        return {}
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileError(
            path, f"isn't readable as TOML ({error})", do="mend or remove it"
        ) from error
    return {name: str(value) for name, value in table.items()}


def _refuse_unknown(name: str, value: str, origin: str) -> None:
    choice = SETTINGS.get(name)
    if choice is None:
        raise InputError(
            "setting", name, "one of " + ", ".join(sorted(SETTINGS)), f"it came from: {origin}"
        )
    if choice.allowed and value not in choice.allowed:
        raise InputError(
            name, value, "one of " + ", ".join(choice.allowed), f"it came from: {origin}"
        )
    if name == "coverage":
        try:
            share = float(value)
        except ValueError:
            share = float("nan")
        if not 0.5 <= share < 1:
            raise InputError(name, value, "a share from 0.5 to below 1, such as 0.95")
    if name == "jobs" and not value.isdecimal():
        raise InputError(name, value, "a whole number, 0 or more")
    if name == "upload_limit_mb" and not (value.isdecimal() and 0 < int(value) <= 1_000_000):
        raise InputError(name, value, "a whole number of MB, from 1 to 1000000")
