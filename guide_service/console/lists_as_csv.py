"""A list in the agent's words as a file of comma-separated values (RFC 4180); no cell is run by a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from guide_service.console import words
from guide_service.console.catalogue import N_, gettext
from guide_service.console.finding import Found
from guide_service.county import County
from guide_service.exporting.csv_lines import BYTE_ORDER_MARK, csv_line

COLUMNS = (
    N_("household"), N_("address"), N_("name"), N_("phone ends"), N_("area"), N_("language"), N_("stage"),
    N_("worst band"), N_("wet"), N_("caution"), N_("reads dry"), N_("stalled"), N_("mold open"),
    N_("reminders unanswered"), N_("last check"), N_("next check"), N_("expected dry"), N_("expected dry, late"),
)  # fmt: skip


def as_csv(rows: Iterable[Found], county: County) -> Iterator[str]:
    yield BYTE_ORDER_MARK + csv_line(map(gettext, COLUMNS))
    areas = {area.id: area.name for area in county.areas}
    for found in rows:
        yield csv_line(_cells(found, areas))


def _cells(found: Found, areas: dict[str, str]) -> tuple[object, ...]:
    home = found.household
    return (
        home.id, home.address, found.name, found.digits, areas.get(home.area or "", home.area),
        words.word(words.LANGUAGES, home.language), words.word(words.STAGES, home.stage),
        words.word(words.BANDS, home.band), home.wet, home.caution, home.dry, _yes(home.stalled), _yes(home.mould_open),
        home.unanswered, home.last_check_on, home.next_check_on, home.dry_on, home.dry_by,
    )  # fmt: skip


def _yes(value: bool) -> str:
    return gettext("yes") if value else gettext("no")
