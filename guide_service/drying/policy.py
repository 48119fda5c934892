"""The county's policy: every limit that a verdict hangs on, as one frozen value with its sources.

Moisture content is in % of oven-dry mass throughout. The county file seeds the first version; later versions are rows.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class CheckWindow:
    """Earliest and latest day for the next check after today, by band [days]."""

    earliest: int
    latest: int


@dataclass(frozen=True, slots=True)
class Policy:
    """Limits for wood and rules for closing. Sources stand beside each field or in ``sources``."""

    version: int = 1
    dry_below_mc: float = 15.0
    """A point reads dry below this [% MC]. Common practice; EPA flooded-home drying video (2021) gives 15 %."""
    wet_above_mc: float = 20.0
    """A point is wet above this [% MC]. US Navy MO-312: decay stops at or below 20 %."""
    harm_mc: float = 16.0
    """Mould limit of a closed cavity [% MC]: VTT critical humidity 80 % at 20 C as equilibrium moisture."""
    rounds: int = 2
    """Rounds of passing readings that *ready* needs. County policy, common practice."""
    days_between_rounds: int = 3
    """Days between those rounds. County policy."""
    reading_max_age_days: int = 14
    """A reading older than this carries no *ready*. County policy."""
    points_per_place: int = 3
    """Wood points read in a bay: plate, low stud, mid stud (a trade author's practice for wet framing)."""
    confidence: float = 0.95
    """Probability that the wettest point is below the limit, for *ready* (JCGM 106 guard band). Chosen in the
    simulated world (docs/drying-model.md), as the level that keeps wrong decisions rare with a bad meter too."""
    next_check_days: dict[str, CheckWindow] = field(
        default_factory=lambda: {
            "wet": CheckWindow(5, 7),
            "caution": CheckWindow(3, 7),
            "dry": CheckWindow(3, 7),
        }
    )
    """No federal text sets an interval (guidance: not found); county policy."""
    stall_checks: int = 4
    stall_days: int = 12
    """A stall: at least so many checks over so many days (science sheet 6.2: 3 points x 4 visits)."""
    repeatability_mc: float = 2.8
    """Two readings of one spot differ by more than this only 5 % of the time at s = 1 (ISO 5725, from memory)."""
    u_meter_mc: float = 1.0
    """Standard uncertainty that repeated readings do not shrink: meter and species [% MC]. Field accuracy is
    quoted as seldom worse than 2 % MC, that is two standard uncertainties (Wengert & Bois 1997, second hand)."""
    u_spot_mc: float = 0.5
    """Standard uncertainty of one spot, the same at each visit [% MC]. Assumed."""
    u_noise_mc: float = 0.7
    """Standard deviation of one push of the pins, new each time [% MC]. Assumed."""
    air_emc_mc: float = 11.0
    u_air_emc_mc: float = 1.5
    """Equilibrium moisture that the air of a drying house leads to, where nobody measured it, and its spread [% MC]:
    50 to 75 % humidity at 20 deg C (Wood Handbook eq. 4-5). The county's monthly normals replace it."""
    species_offset_mc: float = 0.0
    """Added to every pin reading [% MC]; a county sets it only with its own source: no species table is verified."""
    sources: dict[str, str] = field(default_factory=dict)
