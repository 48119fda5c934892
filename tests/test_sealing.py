"""Numbers are sealed, found by keyed hash, and survive a change of the secret."""

import hashlib

import pytest

from guide_service.sealing import Sealer, SealingError

OLD = "old-secret-0123456789abcdef0123456789abcdef"
NEW = "new-secret-0123456789abcdef0123456789abcdef"
NUMBER = "+12025550123"


def test_a_sealed_number_opens_again_and_never_looks_the_same_twice():
    sealer = Sealer([NEW])
    first, key_id = sealer.seal(NUMBER)
    second, _ = sealer.seal(NUMBER)
    assert first != second
    assert NUMBER.encode() not in first
    assert sealer.open(first, key_id) == sealer.open(second, key_id) == NUMBER


def test_keys_are_stable_differ_by_purpose_and_are_no_plain_hash():
    sealer, again = Sealer([NEW]), Sealer([NEW])
    keys = {sealer.phone_key(NUMBER), sealer.sid_key(NUMBER), sealer.token_key(NUMBER)}
    assert len(keys) == 3
    assert {len(key) for key in keys} == {64}
    assert sealer.phone_key(NUMBER) == again.phone_key(NUMBER)
    assert hashlib.sha256(NUMBER.encode()).hexdigest() not in keys
    assert Sealer([OLD]).phone_key(NUMBER) != sealer.phone_key(NUMBER)


def test_after_a_change_of_the_secret_old_numbers_open_and_are_found():
    before = Sealer([OLD])
    sealed, key_id = before.seal(NUMBER)
    after = Sealer([NEW, OLD])
    assert after.open(sealed, key_id) == NUMBER
    assert after.key_id != before.key_id
    assert after.seal(NUMBER)[1] == after.key_id
    assert after.phone_keys(NUMBER) == (after.phone_key(NUMBER), before.phone_key(NUMBER))
    assert after.sid_keys("SM1") == (after.sid_key("SM1"), before.sid_key("SM1"))


def test_a_forgotten_key_and_a_changed_number_are_refused_without_naming_it():
    sealed, key_id = Sealer([OLD]).seal(NUMBER)
    with pytest.raises(SealingError, match="no key") as unknown:
        Sealer([NEW]).open(sealed, key_id)
    changed = sealed[:-1] + bytes([sealed[-1] ^ 1])
    with pytest.raises(SealingError, match="changed") as broken:
        Sealer([OLD]).open(changed, key_id)
    assert "555" not in f"{unknown.value}{broken.value}"


def test_a_sealed_number_does_not_open_under_another_key_id():
    sealer = Sealer([NEW, OLD])
    sealed, _ = sealer.seal(NUMBER)
    with pytest.raises(SealingError):
        sealer.open(sealed, Sealer([OLD]).key_id)


def test_there_must_be_a_key():
    with pytest.raises(ValueError, match="at least one"):
        Sealer([])
