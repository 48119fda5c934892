"""Who may what: one row per route of the application, read by ``test_who_may_what``. A new route needs a row here.

    anybody        no sign-in (the carrier's routes check their signature, the practice phone exists in the demo only)
    everybody      whoever is signed in, and has set up a second factor where the office requires one
    unset          whoever is signed in, also before that
    agents         agents and coordinators
    translators    translators and coordinators
    translating    translators alone
    coordinators, volunteers

What takes an id also asks whose household it is: another office's is not there (404).
"""

from __future__ import annotations

from guide_service.console.roles import AGENTS, COORDINATORS, TRANSLATING, TRANSLATORS, VOLUNTEERS, Role

TABLE = """
GET   /                                                        anybody
GET   /healthz                                                 anybody
GET   /readyz                                                  anybody
POST  /carrier/sms                                             anybody
POST  /carrier/status                                          anybody
POST  /carrier/voice                                           anybody
POST  /carrier/voice/answer                                    anybody
POST  /carrier/voice/dialled                                   anybody
POST  /carrier/voice/word                                      anybody
POST  /carrier/voice/status                                    anybody
POST  /carrier/voice/accept                                    anybody
POST  /carrier/voice/accepted                                  anybody
GET   /carrier/voice/recordings/{language}/{name}              anybody
GET   /handset                                                 anybody
GET   /handset/numbers                                         anybody
GET   /handset/texts                                           anybody
POST  /handset/texts                                           anybody
POST  /handset/clock                                           anybody
POST  /handset/calls                                           anybody
POST  /handset/calls/{sid}                                     anybody
POST  /handset/calls/{sid}/take                                anybody
POST  /handset/calls/{sid}/end                                 anybody

GET   /log                                                     anybody
POST  /log                                                     anybody
GET   /log/sheet                                               anybody
GET   /log/sheet.pdf                                           anybody
POST  /log/leave                                               anybody

GET   /console/sign-in                                         anybody
POST  /console/sign-in                                         anybody
GET   /console/sign-in/code                                    anybody
POST  /console/sign-in/code                                    anybody
GET   /console/handbook                                        anybody
GET   /console/handbook/pictures/{picture}                     anybody
POST  /console/sign-out                                        unset
GET   /console/account/second-factor                           unset
POST  /console/account/second-factor/begin                     unset
POST  /console/account/second-factor/confirm                   unset
POST  /console/account/second-factor/recovery-codes            everybody
POST  /console/account/second-factor/remove                    everybody
GET   /console/account                                         everybody
POST  /console/account/password                                everybody
POST  /console/account/language                                everybody
POST  /console/account/sessions/end                            everybody
POST  /console/account/sessions/end-all                        everybody

GET   /console                                                 agents
GET   /console/finding                                         agents
POST  /console/finding                                         agents
GET   /console/finding.csv                                     agents
GET   /console/waiting                                         agents
GET   /console/county                                          agents
GET   /console/county/report                                   coordinators
GET   /console/county/report.txt                               coordinators
POST  /console/mould-reports/lift-many                         agents
GET   /console/waiting/stream                                  agents
GET   /console/households/{household}/stream                   agents
GET   /console/households/{household}/talk                     agents
GET   /console/places/{place}/plot                             agents
GET   /console/messages/{message}/kept/{number}                agents
POST  /console/households/{household}/notes                    agents
POST  /console/households/{household}/loans                    agents
GET   /console/meters                                          agents
POST  /console/loans/{loan}/longer                             agents
POST  /console/loans/{loan}/back                               agents
POST  /console/households/{household}/phrase                   agents
POST  /console/households/{household}/raise                    agents
POST  /console/households/{household}/phones                   agents
POST  /console/households/{household}/find-double              agents
POST  /console/households/{household}/merge                    agents
POST  /console/households/{household}/readings                 agents
POST  /console/households/{household}/correct                  agents
POST  /console/households/{household}/stage                    agents
POST  /console/households/{household}/next-check               agents
POST  /console/households/{household}/wall                     agents
POST  /console/households/{household}/call                     agents
GET   /console/records                                         coordinators
GET   /console/records/new-recall                              coordinators
POST  /console/records/new-recall/preview                      coordinators
POST  /console/records/recalls                                 coordinators
GET   /console/records/recalls/{recall}                        coordinators
POST  /console/records/recalls/{recall}/end                    coordinators
POST  /console/records/recalls/{recall}/undo                   coordinators
GET   /console/records/deletions/{household}                   coordinators
POST  /console/records/deletions/{household}                   coordinators
GET   /console/records/export                                  coordinators
POST  /console/records/export                                  coordinators
GET   /console/policy                                          agents
GET   /console/policy/versions/{policy_version}                agents
GET   /console/policy/{policy_part}                            coordinators
POST  /console/policy/{policy_part}                            coordinators
GET   /console/notices                                         agents
POST  /console/notices                                         agents
GET   /console/new-notice                                      agents
GET   /console/notices/{notice}                                agents
GET   /console/notices/{notice}/change                         agents
POST  /console/notices/{notice}/change                         agents
POST  /console/notices/{notice}/approve                        agents
POST  /console/notices/{notice}/start                          agents
POST  /console/notices/{notice}/stop                           agents
POST  /console/notices/{notice}/drop                           agents
GET   /console/notices/{notice}/progress                       agents
GET   /console/notices/{notice}/without-text                   agents
GET   /console/notices/{notice}/not-reached                    agents
GET   /console/households/{household}                          agents
GET   /console/households/{household}/log                      agents
GET   /console/households/{household}/log.pdf                  agents
POST  /console/households/{household}/log/pin                  agents
POST  /console/households/{household}/log/pin/end              agents
POST  /console/households/{household}/answer                   agents
POST  /console/households/{household}/confirm-readings         agents
POST  /console/households/{household}/end-membership           agents
POST  /console/households/{household}/hand-back                agents
POST  /console/households/{household}/number                   agents
POST  /console/households/{household}/revoke-code              agents
POST  /console/households/{household}/take-over                agents
POST  /console/escalations/{escalation}/claim                  agents
POST  /console/escalations/{escalation}/release                agents
POST  /console/escalations/{escalation}/settle                 agents
POST  /console/places/{place}/confirm-treated                  agents
POST  /console/mould-reports/{report}/lift                     agents
POST  /console/flooded-again                                   agents

GET   /console/texts                                           translators
GET   /console/texts/{language}                                translators
GET   /console/texts/{language}/text                           translators
POST  /console/texts/{language}/save                           translating
POST  /console/texts/{language}/review                         translating
POST  /console/texts/{language}/take-back                      translating
GET   /console/texts/{language}/catalogue.po                   translators
GET   /console/texts/{language}/marks.toml                     translators
GET   /console/texts/{language}/sheet                          translators
GET   /console/texts/{language}/key                            translators

GET   /console/households/{household}/round                    agents
POST  /console/households/{household}/round                    agents
POST  /console/round-houses/{assigned}/end                     agents
GET   /console/rounds                                          volunteers
GET   /console/rounds/{assigned}                               volunteers
POST  /console/rounds/{assigned}                               volunteers
"""

EVERYBODY = frozenset(Role)
WHO = {
    "anybody": EVERYBODY,
    "everybody": EVERYBODY,
    "unset": EVERYBODY,
    "agents": AGENTS,
    "coordinators": COORDINATORS,
    "volunteers": VOLUNTEERS,
    "translators": TRANSLATORS,
    "translating": TRANSLATING,
}


def rows() -> dict[tuple[str, str], str]:
    """(method, path) to the word of the table."""
    lines = [line.split() for line in TABLE.splitlines() if line.strip()]
    assert all(len(line) == 3 and line[2] in WHO for line in lines), "a row has method, path and who"
    found = {(method, path): who for method, path, who in lines}
    assert len(found) == len(lines), "a route stands twice in the table"
    return found
