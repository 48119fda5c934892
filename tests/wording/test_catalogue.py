import logging
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from babel.messages.pofile import PoFileError

from guide_service.wording.catalogue import Catalogues, Missing, UnknownMessage
from guide_service.wording.messages import Message

Messages = Mapping[str, Message]


@pytest.fixture
def catalogues(spanish: Path, messages: Messages) -> Catalogues:
    return Catalogues.load(spanish, messages, ("en", "es"))


def test_a_translation_is_said_and_english_comes_from_the_flows(catalogues: Catalogues) -> None:
    assert catalogues.text("es", "hello") == "Hola, %(name)s."
    assert catalogues.text("en", "hello") == "Hello, %(name)s."


def test_the_count_chooses_the_form(catalogues: Catalogues) -> None:
    assert catalogues.text("es", "days", count=1) == "Queda un día."
    assert catalogues.text("es", "days", count=3) == "Quedan %(count)s días."
    assert catalogues.text("en", "days", count=1) == "%(count)s day left."
    assert catalogues.text("en", "days", count=0) == "%(count)s days left."
    assert catalogues.text("en", "days") == "%(count)s days left."


def test_what_cannot_be_used_is_said_in_english_and_named_with_its_reason(catalogues: Catalogues) -> None:
    assert catalogues.missing == {
        Missing("es", "list", "fuzzy"),
        Missing("es", "item", "outdated"),
        Missing("es", "fancy", "untranslated"),
        Missing("es", "voiced#spoken", "untranslated"),
        Missing("es", "voiced_date", "placeholders"),
        Missing("es", "voiced_date#spoken", "untranslated"),
    }
    assert catalogues.text("es", "list") == "WET: %(list)s."
    assert catalogues.text("es", "item") == "%(place)s %(value)s"
    assert catalogues.text("es", "voiced_date") == "Until %(date)s."


def test_missing_texts_are_logged_once_for_a_language(
    spanish: Path, messages: Messages, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        Catalogues.load(spanish, messages, ("en", "es"))
    assert [record.getMessage() for record in caplog.records] == [
        "texts said in English to people who read es: 1 fuzzy, 1 outdated, 1 placeholders, 3 untranslated"
    ]


def test_a_missing_spoken_variant_is_read_from_the_text_of_its_language(catalogues: Catalogues) -> None:
    assert catalogues.text("en", "voiced", spoken=True) == "Press 1 for a person."
    assert catalogues.text("es", "voiced", spoken=True) == "Escriba 1 para hablar con alguien."
    assert catalogues.text("es", "hello", spoken=True) == "Hola, %(name)s."
    assert catalogues.text("es", "voiced_date", spoken=True).startswith("Until %(date)s \u2013")


def test_a_language_without_a_catalogue_is_english_and_reported(tmp_path: Path, messages: Messages) -> None:
    catalogues = Catalogues.load(tmp_path / "locales", messages, ("en", "vi"))
    assert catalogues.text("vi", "days", count=1) == "%(count)s day left."
    assert Missing("vi", "hello", "no catalogue") in catalogues.missing
    assert catalogues.text("so", "hello") == "Hello, %(name)s."


def test_english_alone_lacks_nothing(tmp_path: Path, messages: Messages) -> None:
    assert Catalogues.load(tmp_path, messages, ("en",)).missing == frozenset()


def test_an_id_that_no_flow_defines_is_an_error(catalogues: Catalogues) -> None:
    with pytest.raises(UnknownMessage, match="nothing"):
        catalogues.text("es", "nothing")


def test_a_damaged_catalogue_stops_the_start(put_catalogue: Callable[[str, str], Path], messages: Messages) -> None:
    locales = put_catalogue("es", 'msgid "a"\nnonsense\n')
    with pytest.raises(PoFileError):
        Catalogues.load(locales, messages, ("es",))


def test_retired_entries_of_other_tools_are_read_over(
    put_catalogue: Callable[[str, str], Path], messages: Messages
) -> None:
    retired = '\n#~| msgid "Hi"\n#~ msgctxt "old"\n#~ msgid "Hi there"\n#~ msgstr "Hola"\n'
    known = (
        'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n\nmsgctxt "hello"\nmsgid "Hello, %(name)s."\n'
    )
    locales = put_catalogue("es", f'{known}msgstr "¡Hola %(name)s!"\n{retired}')
    assert Catalogues.load(locales, messages, ("es",)).text("es", "hello") == "¡Hola %(name)s!"
