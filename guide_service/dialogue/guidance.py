"""Figures of advice that a county may hold differently. Defaults are the safe choice where sources disagree.

Each default names whose figure it is; ``docs/recovery-order.md`` prints the sources, the disagreements and the reasons.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Guidance:
    cut_inches: int = 12
    """Above the highest wet line, at least. CMHC, flood clean-up page: 30 cm."""
    board_feet: int = 4
    """Edge of a full sheet. Field practice of a volunteer rebuilder (JLC)."""
    pump_parts: int = 3
    """A basement is pumped out in so many parts, one a day. New York State DHSES; CMHC as reported."""
    pump_feet: int = 2
    """Most that the water falls in a day [ft]. FEMA P-234 gives 2 to 3; the lower."""
    bleach_cups: str = "1"
    bleach_gallons: str = "5"
    """Plain bleach to water, hard surfaces that flood water touched. CDC."""
    bleach_spoons: str = "1"
    """Tablespoons to the gallon for what food touches. CDC, its newer table."""
    mould_feet: int = 3
    """Side of the square up to which a household cleans [ft]: about 10 square feet. EPA."""
    old_house: int = 1980
    """Built before: presume lead and asbestos. OSHA 1980 (asbestos); HUD and EPA 1978. The later year."""
    dry_days: int = 7
    """Drying before a meter tells anything. County practice: one lent meter serves more houses."""
    look_back_days: int = 28
    """From closing a wall to the one look back. County practice: "a few weeks"."""
