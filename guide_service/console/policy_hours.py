"""When the service may text, when it reminds, nudges and alarms: shown, filled in, read."""

from __future__ import annotations

import datetime as dt
import itertools
import re
from dataclasses import replace

from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form
from guide_service.console.policy_lines import Line, Strictness, minutes
from guide_service.county import County
from guide_service.county_decided import Rules, TextingHours

EARLIEST, LATEST = dt.time(8), dt.time(21)
"""US rule on calls to residences, 47 CFR 64.1200(c)(1); that county texts keep to it too is common practice."""
URGENCIES = {
    "1": N_("An unclaimed danger is alarmed again after, in minutes"),
    "2": N_("Something urgent, in minutes"),
    "3": N_("Something less urgent, in minutes"),
}
QUIET = N_("What we start goes out from")
UNTIL = N_("... and until")
REMIND = N_("A household that named no time is reminded at")
NUDGES = N_("Who did not answer is asked again, days after the check fell due")
HANDED_BACK = N_("Hours without activity after which a taken-over conversation goes back to the guide")
WITHIN = N_("Not before 08:00 and not after 21:00: the hours of the US rule on calls (47 CFR 64.1200).")
ORDER = N_("The end comes after the beginning, by two hours at least.")
INSIDE = N_("Reminders fall between the two times above.")
RISING = N_("One to four numbers of days, rising, at most %(most)s, such as: 2, 4")
URGENT_FIRST = N_("What is more urgent does not wait longer.")
SHORTEST_DAY = 120
MOST_NUDGES = 4
LONGEST_NUDGE, LONGEST_ALARM, LONGEST_TAKE_OVER = 30, 1440, 72
SOURCED = ("quiet", "reminder_at", "nudge_after_days", "re_alarm_minutes", "take_over_hours")


def lines(rules: Rules, _county: County) -> list[Line]:
    hours, source = rules.decided.hours, rules.decided.hours.sources.get
    nudges = ", ".join(str(days) for days in hours.nudge_after_days)
    return [
        Line("quiet_before", gettext(QUIET), f"{hours.quiet_before:%H:%M}", source("quiet", "")),
        Line("quiet_after", gettext(UNTIL), f"{hours.quiet_after:%H:%M}", source("quiet", "")),
        Line("reminder_at", gettext(REMIND), f"{hours.reminder_at:%H:%M}", source("reminder_at", "")),
        Line("nudge_after_days", gettext(NUDGES), nudges, source("nudge_after_days", "")),
        *(
            Line(f"re_alarm_{urgency}", gettext(label), str(_alarm(hours, urgency)), source("re_alarm_minutes", ""))
            for urgency, label in URGENCIES.items()
        ),
        Line("take_over_hours", gettext(HANDED_BACK), f"{hours.take_over_hours:g}", source("take_over_hours", "")),
    ]


def fields(rules: Rules, county: County) -> dict[str, str]:
    values = {line.name: line.value for line in lines(rules, county)}
    return values | {f"source_{name}": rules.decided.hours.sources.get(name, "") for name in SOURCED}


def read(form: Form, before: Rules, _county: County) -> Rules:
    begins, ends, remind = (form.time(name) for name in ("quiet_before", "quiet_after", "reminder_at"))
    _check_day(form, begins, ends, remind)
    alarms = {urgency: form.whole(f"re_alarm_{urgency}", 1, LONGEST_ALARM) for urgency in URGENCIES}
    for sooner, later in (("1", "2"), ("2", "3")):
        if alarms[sooner] > alarms[later]:
            form.refuse(f"re_alarm_{later}", URGENT_FIRST)
    hours = TextingHours(
        quiet_before=begins,
        quiet_after=ends,
        reminder_at=remind,
        take_over_hours=form.number("take_over_hours", 0.5, LONGEST_TAKE_OVER),
        nudge_after_days=_nudges(form),
        re_alarm_minutes={**before.decided.hours.re_alarm_minutes, **alarms},
        sources={name: text for name in SOURCED if (text := form.source(f"source_{name}"))},
    )
    return replace(before, decided=before.decided.model_copy(update={"hours": hours}))


def _check_day(form: Form, begins: dt.time, ends: dt.time, remind: dt.time) -> None:
    if begins < EARLIEST:
        form.refuse("quiet_before", WITHIN)
    if ends > LATEST:
        form.refuse("quiet_after", WITHIN)
    if minutes(ends) - minutes(begins) < SHORTEST_DAY:
        form.refuse("quiet_after", ORDER)
    if not begins <= remind < ends:
        form.refuse("reminder_at", INSIDE)


def _nudges(form: Form) -> tuple[int, ...]:
    words = re.split(r"[,;\s]+", form.words("nudge_after_days", 40))
    days = tuple(int(word) for word in words if re.fullmatch(r"[0-9]{1,3}", word))
    rising = all(a < b for a, b in itertools.pairwise(days))
    if not (1 <= len(days) == len(words) <= MOST_NUDGES and days[0] >= 1 and days[-1] <= LONGEST_NUDGE and rising):
        form.refuse("nudge_after_days", RISING, most=LONGEST_NUDGE)
    return days


def _alarm(hours: TextingHours, urgency: str) -> int:
    return hours.re_alarm_minutes.get(urgency, max(hours.re_alarm_minutes.values(), default=480))


def _alarm_measure(urgency: str) -> Strictness:
    return Strictness(lambda rules: (float(_alarm(rules.decided.hours, urgency)),), 1)


STRICTNESS = {
    "quiet_before": Strictness(lambda rules: (minutes(rules.decided.hours.quiet_before),), -1),
    "quiet_after": Strictness(lambda rules: (minutes(rules.decided.hours.quiet_after),), 1),
    "nudge_after_days": Strictness(lambda rules: tuple(map(float, rules.decided.hours.nudge_after_days)), 1),
    "take_over_hours": Strictness(lambda rules: (rules.decided.hours.take_over_hours,), 1),
} | {f"re_alarm_{urgency}": _alarm_measure(urgency) for urgency in URGENCIES}
