"""The air outside: from a file that the operator keeps up to date, else what is normal for the month (county file).

The file (``GUIDE_WEATHER_FILE``) is JSON, an object by area id or ``county``:
``{"county": {"temp_c": 11.5, "rh": 82, "observed_on": "2026-05-20"}}``. It is looked at again when it changes; one that
is missing, broken or older than a week is as none.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from guide_service.county import County
from guide_service.drying.terms import Air

FRESH_DAYS = 7
"""Air that was texted or observed longer ago says nothing of now. Our choice: a week's weather."""
log = logging.getLogger(__name__)


@dataclass(slots=True)
class Weather:
    """``outdoor`` is what an operator's own source would have to offer."""

    county: County
    file: Path | None = None
    _seen: float = -1.0
    _observed: dict[str, Any] | None = None

    def outdoor(self, area: str | None, on: dt.date) -> Air:
        """Outdoor air of an area on a day, with its source; an empty ``Air`` where nothing is known."""
        observed = self._from_file(area, on)
        if observed is not None:
            return observed
        normal = next((row for row in self.county.air_normals if row.month == on.month), None)
        if normal is None:
            return Air()
        return Air(outdoor_temp_c=normal.temp_c, outdoor_rh=normal.rh, source="normals")

    def _from_file(self, area: str | None, on: dt.date) -> Air | None:
        rows = self._rows()
        row = rows.get(area or "") or rows.get("county")
        if row is None:
            return None
        try:
            day = dt.date.fromisoformat(row["observed_on"])
            if not 0 <= (on - day).days <= FRESH_DAYS:
                return None
            return Air(None, None, float(row["temp_c"]), float(row["rh"]), day, "weather")
        except (KeyError, TypeError, ValueError):
            log.warning("the weather file has a row that cannot be used")
            return None

    def _rows(self) -> dict[str, Any]:
        if self.file is None:
            return {}
        try:
            changed = self.file.stat().st_mtime
            if changed != self._seen or self._observed is None:
                read = json.loads(self.file.read_text(encoding="utf-8"))
                self._observed, self._seen = (read if isinstance(read, dict) else {}), changed
        except (OSError, ValueError):
            log.warning("the weather file cannot be read")
            return {}
        return self._observed


def air_of(told: object, outdoor: Air, today: dt.date) -> Air:
    """The household's own air where it was texted within the week, completed by what is known of the outside."""
    if not isinstance(told, dict):
        return outdoor
    try:
        day = dt.date.fromisoformat(str(told.get("on")))
    except ValueError:
        return outdoor
    if not 0 <= (today - day).days <= FRESH_DAYS:
        return outdoor
    own = {name: told[name] for name in ("indoor_temp_c", "indoor_rh", "outdoor_temp_c", "outdoor_rh") if name in told}
    return replace(outdoor, **own, observed_on=day, source="reported")
