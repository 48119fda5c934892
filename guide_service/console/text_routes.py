"""The translators' desk: languages, their texts by choice, one text at a time, and the files that go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session
from starlette.datastructures import FormData

from guide_service.console import texts
from guide_service.console.access import FormDep, ServiceDep, TranslatingDep, TranslatorDep, field
from guide_service.console.audit import note
from guide_service.console.pages import page
from guide_service.console.sign_in import SignedIn
from guide_service.console.text_choice import PAGE, SHOWN, STATES, Choice, choice_of
from guide_service.console.text_page import ROLES, Trouble, shown_text, with_places
from guide_service.database import reading, writing
from guide_service.wiring import Service
from guide_service.wording.book import SIGNED, Piece, tidy
from guide_service.wording.catalogue import Forms
from guide_service.wording.formats import direction

router = APIRouter(include_in_schema=False)
TEXTS = "/console/texts"
OF = f"{TEXTS}/{{language}}"


def chosen(
    show: Annotated[str, Query(max_length=12)] = "open",
    safety: Annotated[str, Query(max_length=1)] = "",
    words: Annotated[str, Query(max_length=200)] = "",
    page: Annotated[str, Query(max_length=6)] = "1",
) -> Choice:
    return choice_of(show, safety, words, page)


ChoiceDep = Annotated[Choice, Depends(chosen)]


def known_language(language: str) -> str:
    if language not in texts.languages():
        raise HTTPException(404)
    return language


LanguageDep = Annotated[str, Depends(known_language)]


@router.get(TEXTS)
def all_languages(request: Request, service: ServiceDep, who: TranslatorDep) -> Response:
    with reading(service.engine) as session:
        rows = [_counts(each, texts.desk(session, service, each).pieces) for each in texts.languages()]
    return page(request, service, "texts.html", who, here="texts", rows=rows)


def _counts(language: str, pieces: tuple[Piece, ...]) -> dict[str, object]:
    safety = [piece for piece in pieces if piece.safety]
    return {
        "language": language,
        "all": len(pieces),
        "signed": sum(piece.state == SIGNED for piece in pieces),
        "safety": len(safety),
        "safety_signed": sum(piece.state == SIGNED for piece in safety),
        "waiting": sum(piece.waiting for piece in pieces),
    }


@router.get(OF)
def one_language(
    request: Request, service: ServiceDep, who: TranslatorDep, language: LanguageDep, choice: ChoiceDep
) -> Response:
    with reading(service.engine) as session:
        at = texts.desk(session, service, language)
    found = [piece for piece in at.pieces if choice.matches(piece)]
    first = (choice.page - 1) * PAGE
    return page(
        request,
        service,
        "texts_of.html",
        who,
        here="texts",
        language=language,
        dir=direction(language),
        choice=choice,
        shown=SHOWN,
        states=STATES,
        found=found[first : first + PAGE],
        count=len(found),
        more=len(found) > first + PAGE,
        counts=_counts(language, at.pieces),
        with_places=with_places,
    )


@router.get(f"{OF}/text")
def one_text(
    request: Request,
    service: ServiceDep,
    who: TranslatorDep,
    language: LanguageDep,
    choice: ChoiceDep,
    context: Annotated[str, Query(alias="id", max_length=120)] = "",
) -> Response:
    if not context:
        return RedirectResponse(f"{TEXTS}/{quote(language)}?{choice.address()}", status_code=303)
    return _text_page(request, service, who, language, choice, context)


@dataclass(frozen=True, slots=True)
class Sent:
    """What each form of one text comes with."""

    request: Request
    service: Service
    who: SignedIn
    form: FormData
    language: str
    choice: Choice


def sent(
    request: Request, service: ServiceDep, who: TranslatingDep, form: FormDep, language: LanguageDep, choice: ChoiceDep
) -> Sent:
    return Sent(request, service, who, form, language, choice)


SentDep = Annotated[Sent, Depends(sent)]


@router.post(f"{OF}/save")
def save(one: SentDep) -> Response:
    typed = _typed(one.form)

    def act(session: Session, at: texts.Desk) -> None:
        texts.save(session, one.service, one.who, at, _id(one.form), _version(one.form), typed)

    return _acted(one, act, "text_saved", typed)


@router.post(f"{OF}/review")
def review(one: SentDep) -> Response:
    role = field(one.form, "role")
    if role not in ROLES:
        raise HTTPException(404)
    seen = texts.Seen(_version(one.form), _forms(one.form, "source"), _forms(one.form, "target"))

    def act(session: Session, at: texts.Desk) -> None:
        texts.review(session, one.service, one.who, at, _id(one.form), seen, role)

    return _acted(one, act, "text_reviewed")


@router.post(f"{OF}/take-back")
def take_back(one: SentDep) -> Response:
    def act(session: Session, at: texts.Desk) -> None:
        texts.take_back(session, one.service, one.who, at, _id(one.form), _version(one.form))

    return _acted(one, act, "text_taken_back")


@router.get(f"{OF}/catalogue.po")
def catalogue_file(service: ServiceDep, _who: TranslatorDep, language: LanguageDep) -> Response:
    with reading(service.engine) as session:
        body = texts.catalogue_file(texts.desk(session, service, language))
    return _file(body, "text/x-gettext-translation", f"{language}.po")


@router.get(f"{OF}/marks.toml")
def marks_file(service: ServiceDep, _who: TranslatorDep, language: LanguageDep) -> Response:
    with reading(service.engine) as session:
        body = texts.marks_file(texts.desk(session, service, language))
    return _file(body.encode(), "application/toml", f"{language}-marks.toml")


def _file(body: bytes, kind: str, name: str) -> Response:
    return PlainTextResponse(body, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _acted(one: Sent, act: texts.Act, done: str, typed: Forms | None = None) -> Response:
    """Do it in one transaction, and lead back to the text; or show it again with what stands against it."""
    context, trouble = _id(one.form), Trouble(typed=typed)
    try:
        with writing(one.service.engine) as session:
            at = texts.desk(session, one.service, one.language)
            if context not in at.book.entries:
                raise HTTPException(404)
            act(session, at)
            note(session, one.service, one.who, done, None, language=one.language, text=context)
    except (texts.Meanwhile, IntegrityError):
        trouble.meanwhile = True
    except texts.NotInOrder as wrong:
        trouble.problems = wrong.problems
    else:
        query = one.choice.address(id=context, done=done)
        return RedirectResponse(f"{TEXTS}/{quote(one.language)}/text?{query}", status_code=303)
    return _text_page(one.request, one.service, one.who, one.language, one.choice, context, trouble)


def _text_page(
    request: Request,
    service: Service,
    who: SignedIn,
    language: str,
    choice: Choice,
    context: str,
    trouble: Trouble | None = None,
) -> Response:
    with reading(service.engine) as session:
        at = texts.desk(session, service, language)
        piece = at.piece(context)
        if piece is None:
            raise HTTPException(404)
        shown = shown_text(session, service, at, piece, choice, trouble or Trouble())
    return page(request, service, "text.html", who, 422 if trouble else 200, here="texts", choice=choice, **shown)


def _id(form: FormData) -> str:
    return field(form, "id")


def _version(form: FormData) -> int:
    text = field(form, "version")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else -1


def _typed(form: FormData) -> Forms:
    return tuple(tidy(text[: texts.LONGEST]) for text in _forms(form, "form"))


def _forms(form: FormData, name: str) -> Forms:
    """The fields ``form_0``, ``form_1`` ... as they were sent."""
    found: list[str] = []
    while (value := form.get(f"{name}_{len(found)}")) is not None and len(found) < 6:
        found.append(str(value).replace("\r\n", "\n"))
    return tuple(found)
