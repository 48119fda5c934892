from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType

import pytest

from guide_service.wording.messages import Message, load_messages

FLOW = """\
messages:
  hello: "Hello, %(name)s."
  next: "Read %(place)s on %(date)s at %(time)s."
  value: "%(place)s: %(value)s %%."
  days: {text: "%(count)s day left.", plural: "%(count)s days left."}
  list: "WET: %(list)s."
  item: {text: "%(place)s %(value)s", kind: line}
  fancy: "Don\\u2019t \\u2013 wait\\u2026"
  voiced: {text: "Text 1 for a person.", spoken: "Press 1 for a person."}
  voiced_date: {text: "Until %(date)s.", spoken: "Until %(date)s \\u2013 \\u201cor so\\u201d."}
"""

SPANISH = """\
msgid ""
msgstr ""
"Language: es\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

msgctxt "hello"
msgid "Hello, %(name)s."
msgstr "Hola, %(name)s."

msgctxt "next"
msgid "Read %(place)s on %(date)s at %(time)s."
msgstr "Mida %(place)s el %(date)s a las %(time)s."

msgctxt "value"
msgid "%(place)s: %(value)s %%."
msgstr "%(place)s: %(value)s %%."

msgctxt "days"
msgid "%(count)s day left."
msgid_plural "%(count)s days left."
msgstr[0] "Queda un día."
msgstr[1] "Quedan %(count)s días."

#, fuzzy
msgctxt "list"
msgid "WET: %(list)s."
msgstr "MOJADO: %(list)s."

msgctxt "item"
msgid "%(place)s read %(value)s"
msgstr "%(place)s mide %(value)s"

msgctxt "fancy"
msgid "Don\u2019t \u2013 wait\u2026"
msgstr ""

msgctxt "voiced"
msgid "Text 1 for a person."
msgstr "Escriba 1 para hablar con alguien."

msgctxt "voiced_date"
msgid "Until %(date)s."
msgstr "Hasta %(dia)s."
"""


@pytest.fixture
def messages(tmp_path: Path) -> MappingProxyType[str, Message]:
    flows = tmp_path / "flows"
    flows.mkdir()
    (flows / "sample.yaml").write_text(FLOW, encoding="utf-8")
    return load_messages(flows)


@pytest.fixture
def put_catalogue(tmp_path: Path) -> Callable[[str, str], Path]:
    def put(language: str, text: str) -> Path:
        folder = tmp_path / "locales" / language / "LC_MESSAGES"
        folder.mkdir(parents=True)
        (folder / "guide.po").write_text(text, encoding="utf-8")
        return tmp_path / "locales"

    return put


@pytest.fixture
def spanish(put_catalogue: Callable[[str, str], Path]) -> Path:
    return put_catalogue("es", SPANISH)
