import pytest

from guide_service.wording.plurals import agrees_with_cldr, plural_categories, plural_header, plural_index

FORMS = {
    "en": ("one", "other"),
    "es": ("one", "other"),
    "fr": ("one", "other"),
    "pt": ("one", "other"),
    "fil": ("one", "other"),
    "so": ("one", "other"),
    "vi": ("other",),
    "zh": ("other",),
    "uk": ("one", "few", "many"),
    "ar": ("zero", "one", "two", "few", "many", "other"),
}


@pytest.mark.parametrize(("language", "categories"), FORMS.items())
def test_forms_are_the_categories_that_everyday_numbers_reach(language: str, categories: tuple[str, ...]) -> None:
    assert plural_categories(language) == categories


@pytest.mark.parametrize("language", FORMS)
def test_the_header_of_a_new_catalogue_agrees_with_cldr(language: str) -> None:
    assert agrees_with_cldr(language, plural_header(language))


@pytest.mark.parametrize(
    ("language", "count", "category"),
    [
        ("uk", 1, "one"),
        ("uk", 3, "few"),
        ("uk", 11, "many"),
        ("uk", 21, "one"),
        ("ar", 0, "zero"),
        ("ar", 2, "two"),
        ("ar", 5, "few"),
        ("ar", 15, "many"),
        ("ar", 100, "other"),
        ("fr", 0, "one"),
        ("fil", 4, "other"),
        ("fil", 5, "one"),
    ],
)
def test_known_examples_of_cldr(language: str, count: int, category: str) -> None:
    assert plural_categories(language)[plural_index(language, count)] == category


def test_a_million_takes_the_general_form() -> None:
    assert plural_index("es", 1_000_000) == 1


def test_a_header_that_numbers_the_forms_otherwise_is_found() -> None:
    assert not agrees_with_cldr("ar", "nplurals=2; plural=(n != 1);")
    assert not agrees_with_cldr("fr", "nplurals=2; plural=(n != 1);")
    assert not agrees_with_cldr("en", "nplurals=2; plural=nonsense;")
    assert not agrees_with_cldr("en", "")
