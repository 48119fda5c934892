"""A catalogue that comes back: taken whole or not at all, every problem with its line, marks only under their texts."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from guide_service.wording import importing, signing
from guide_service.wording.catalogue import catalogue_path
from guide_service.wording.reviews import Signed, as_toml, read_reviews
from tests.wording.test_reviews import DAY, FLOW, folders, said, write  # noqa: F401  (a fixture)

Folders = tuple[Path, Path]
GAS, HELLO = ("Get out now.",), ("Hello, %(name)s.",)


def came_back(folders: Folders, tmp_path: Path, *changes: tuple[str, str], language: str = "es") -> Path:  # noqa: F811
    text = catalogue_path(folders[1], "es").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / f"{language}.po"
    path.write_text(text, encoding="utf-8")
    return path


def marked(tmp_path: Path, *signed: Signed, back: tuple[Signed, ...] = ()) -> Path:
    path = tmp_path / "es-marks.toml"
    path.write_text(as_toml(signed, back), encoding="utf-8")
    return path


def mark(target: str, source: tuple[str, ...] = GAS, id_: str = "gas", role: str = "interpreter") -> Signed:
    return Signed(id_, source, (target,), role, DAY)


def test_what_is_in_order_is_taken(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ("Salga ya.", 'Salga "ahora".'.replace('"', '\\"')))
    taken = importing.take(*folders, "es", file)
    assert (taken.changed, taken.left_out) == (("gas",), ())
    assert said(folders, "gas") == 'Salga "ahora".'
    assert importing.take(*folders, "es", file).changed == ()


def test_one_broken_text_and_nothing_is_taken(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    before = catalogue_path(folders[1], "es").read_bytes()
    file = came_back(folders, tmp_path, ("Salga ya.", "Salga ahora."), ("Hola, %(name)s.", "Hola {name}."))
    line = 1 + file.read_text(encoding="utf-8").splitlines().index('msgid "Hello, %(name)s."')
    with pytest.raises(importing.Refused) as refused:
        importing.take(*folders, "es", file)
    (where, *_), kinds = refused.value.problems, [problem.split(": ")[2] for problem in refused.value.problems]
    assert kinds == ["placeholders", "form"]
    assert abs(int(where.split(":")[1]) - line) <= 1
    assert where.startswith("es.po:")
    assert catalogue_path(folders[1], "es").read_bytes() == before


def test_a_damaged_file_is_refused_with_its_line(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ('msgid "Get out now."', "Get out now."))
    with pytest.raises(importing.Refused, match=r"es\.po:\d+: "):
        importing.take(*folders, "es", file)


def test_what_is_not_for_us_is_left_out_and_named(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ("Salga ya.", "Salga ahora."), ('msgctxt "gas"', '#, fuzzy\nmsgctxt "gas"'))
    file.write_text(
        file.read_text(encoding="utf-8")
        .replace('msgctxt "hello"', 'msgctxt "unknown"')
        .replace("Hola", "Buenas"),
        encoding="utf-8",
    )  # fmt: skip
    taken = importing.take(*folders, "es", file)
    assert taken.changed == ()
    assert [line.split(": ")[1] for line in taken.left_out] == ["gas", "unknown"]
    assert said(folders, "gas") == "Salga ya."


def test_a_translation_of_an_earlier_english_text_is_left_out(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ("Salga ya.", "Salga ahora."))
    write(folders[0], FLOW.replace('"Get out now."', '"Get out and call."'))
    taken = importing.take(*folders, "es", file)
    assert taken.changed == ()
    assert "another English text" in taken.left_out[0]


def test_a_file_in_another_language_is_refused(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ("Language: es", "Language: fr"))
    with pytest.raises(importing.Refused, match="says that it is in fr"):
        importing.take(*folders, "es", file)


def test_a_mark_comes_with_its_text(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    file = came_back(folders, tmp_path, ("Salga ya.", "Salga ahora."))
    taken = importing.take(*folders, "es", file, marked(tmp_path, mark("Salga ahora.")))
    assert (taken.changed, taken.signed) == (("gas",), ("gas",))
    assert signing.unsigned_safety(*folders, "es") == ()
    assert "# reviewed by interpreter, 2027-03-15" in catalogue_path(folders[1], "es").read_text(encoding="utf-8")


def test_a_mark_under_a_text_that_was_changed_again_keeps_that_text_in_use(
    folders: Folders,  # noqa: F811
    tmp_path: Path,
) -> None:
    file = came_back(folders, tmp_path, ("Salga ya.", "Salga de la casa."))
    importing.take(*folders, "es", file, marked(tmp_path, mark("Salga ahora.")))
    assert said(folders, "gas") == "Salga ahora."
    assert signing.unsigned_safety(*folders, "es") == ("gas",)


def test_a_mark_that_is_taken_back_is_gone(folders: Folders, tmp_path: Path) -> None:  # noqa: F811
    signing.sign(*folders, "es", ["gas"], "interpreter", DAY)
    taken = importing.take(*folders, "es", came_back(folders, tmp_path), marked(tmp_path, back=(mark("Salga ya."),)))
    assert taken.taken_back == ("gas",)
    assert signing.unsigned_safety(*folders, "es") == ("gas",)


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        (mark("Salga %(now)s."), "placeholders"),
        (mark("Salga.", role="Ana, interpreter"), "role"),
        (mark("Hola %(x)s", source=("Earlier %(name)s",), id_="hello"), "placeholders"),
        (mark("Salga\u200f ya."), "character"),
    ],
)
def test_a_mark_that_vouches_for_a_broken_text_is_refused(
    folders: Folders,  # noqa: F811
    tmp_path: Path,
    wrong: Signed,
    named: str,
) -> None:
    with pytest.raises(importing.Refused, match=rf"es-marks\.toml:3: .*{named}"):
        importing.take(*folders, "es", came_back(folders, tmp_path), marked(tmp_path, wrong))
    assert read_reviews(folders[1], "es").signed == ()


def test_what_is_signed_anew_is_the_last(folders: Folders) -> None:  # noqa: F811
    one, two = mark("Salga ya."), mark("Salga ahora.")
    later = mark("Salga ya.", role="nurse")
    reviews = read_reviews(folders[1], "es").with_signed([one]).with_signed([two]).with_signed([later])
    assert reviews.last("gas", GAS) == later
    assert later.on == dt.date(2027, 3, 15)
