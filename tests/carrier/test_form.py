from __future__ import annotations

import dataclasses
from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.carrier.form import (
    MAX_FORM_BYTES,
    MAX_FORM_FIELDS,
    FieldMissing,
    FormTooLarge,
    inbound_text,
    parse_form,
    row_id_of,
    status_address,
    status_report,
)

BASE = [
    ("MessageSid", "SM" + "a" * 32),
    ("AccountSid", "AC" + "0" * 32),
    ("From", "+12025550123"),
    ("To", "+12025550100"),
    ("Body", "K2 14.5"),
    ("NumMedia", "0"),
    ("NumSegments", "1"),
]


def with_fields(**fields: str) -> list[tuple[str, str]]:
    return list((dict(BASE) | fields).items())


texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)


@given(st.lists(st.tuples(texts, texts), max_size=20))
def test_pairs_come_back_as_they_were_sent(pairs: list[tuple[str, str]]) -> None:
    assert parse_form(urlencode(pairs).encode("ascii")) == pairs


def test_blanks_spaces_and_duplicates_are_kept() -> None:
    assert parse_form(b"Body=&a=+1+&a=%2B1&a=+1+") == [("Body", ""), ("a", " 1 "), ("a", "+1"), ("a", " 1 ")]


@given(st.binary(max_size=300))
def test_any_bytes_are_read_without_an_exception(body: bytes) -> None:
    assert all(isinstance(name + value, str) for name, value in parse_form(body))


def test_the_longest_text_of_four_byte_characters_fits() -> None:
    body = urlencode(with_fields(Body="\U0001f4a7" * 1600)).encode("ascii")
    assert dict(parse_form(body))["Body"] == "\U0001f4a7" * 1600


def test_a_form_of_too_many_bytes_is_refused_with_its_size() -> None:
    assert parse_form(b"a=" + b"x" * (MAX_FORM_BYTES - 2))
    with pytest.raises(FormTooLarge, match=str(MAX_FORM_BYTES)):
        parse_form(b"a=" + b"x" * (MAX_FORM_BYTES - 1))


def test_a_form_of_too_many_fields_is_refused() -> None:
    assert len(parse_form(b"&".join([b"a=1"] * MAX_FORM_FIELDS))) == MAX_FORM_FIELDS
    with pytest.raises(FormTooLarge, match=str(MAX_FORM_FIELDS)):
        parse_form(b"&".join([b"a=1"] * (MAX_FORM_FIELDS + 1)))


def test_an_inbound_text_is_read() -> None:
    text = inbound_text([*with_fields(NumSegments="3"), ("FromCity", "MILLRACE"), ("FromCountry", "US")])
    assert (text.sid, text.account_sid) == ("SM" + "a" * 32, "AC" + "0" * 32)
    assert (text.sender, text.recipient, text.body) == ("+12025550123", "+12025550100", "K2 14.5")
    assert (text.media, text.opt_out_type, text.segments) == ((), None, 3)
    assert text.kept == (("FromCountry", "US"),)


def test_an_inbound_text_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        inbound_text(BASE).body = "other"  # type: ignore[misc]


def test_an_empty_body_stays_an_empty_string() -> None:
    assert inbound_text(with_fields(Body="")).body == ""
    assert inbound_text([pair for pair in BASE if pair[0] != "Body"]).body == ""


def test_the_body_is_kept_to_the_space() -> None:
    body = "  K2 14,5\r\n\u202bجدار\u202c "
    assert inbound_text(with_fields(Body=body)).body == body


def test_a_nul_that_no_database_could_keep_is_shown_as_unreadable() -> None:
    assert inbound_text(with_fields(Body="a\x00b")).body == "a\ufffdb"


@pytest.mark.parametrize("sid", ["", "SM 1", "SM1;--", "S" * 65, "SM\x00"])
def test_a_message_without_a_usable_id_is_refused_without_quoting_it(sid: str) -> None:
    with pytest.raises(FieldMissing, match="MessageSid") as refusal:
        inbound_text(with_fields(MessageSid=sid))
    assert not sid or sid not in str(refusal.value)


@pytest.mark.parametrize("name", ["MessageSid", "From"])
def test_a_message_without_id_or_sender_is_refused(name: str) -> None:
    with pytest.raises(FieldMissing, match=name):
        inbound_text([pair for pair in BASE if pair[0] != name])


def test_a_withheld_number_is_let_in() -> None:
    assert inbound_text(with_fields(From="")).sender == ""


def test_opt_out_type_is_read() -> None:
    assert inbound_text(with_fields(OptOutType="stop")).opt_out_type == "STOP"


def media(count: str, *urls: str) -> list[tuple[str, str]]:
    links = [(f"MediaUrl{n}", url) for n, url in enumerate(urls)]
    return [*with_fields(NumMedia=count), *links, ("MediaContentType0", "image/jpeg")]


def test_pictures_are_read_with_their_types() -> None:
    text = inbound_text(media("2", "https://api.twilio.com/a", "https://api.twilio.com/b"))
    assert text.media == (("https://api.twilio.com/a", "image/jpeg"), ("https://api.twilio.com/b", ""))


@pytest.mark.parametrize(
    ("count", "kept"), [("1", 1), ("3", 2), ("-1", 0), ("many", 0), ("", 0), ("²", 0), ("9" * 30, 0)]
)
def test_a_wrong_count_of_pictures_does_no_harm(count: str, kept: int) -> None:
    assert len(inbound_text(media(count, "https://a.example/1", "https://a.example/2")).media) == kept


def test_no_more_than_ten_pictures_are_kept() -> None:
    assert len(inbound_text(media("999999999", *["https://a.example/x"] * 15)).media) == 10


def test_a_link_that_is_no_web_address_is_dropped() -> None:
    assert inbound_text(media("2", "javascript:alert(1)", "https://a.example/2")).media == (
        ("https://a.example/2", ""),
    )


REPORT = [("MessageSid", "SM1"), ("MessageStatus", "undelivered"), ("ErrorCode", "30003"), ("From", "+12025550100")]


def test_a_status_report_is_read_with_our_row() -> None:
    report = status_report(REPORT, b"row=0190-abc&x=1")
    assert (report.sid, report.status, report.error_code, report.row_id) == ("SM1", "undelivered", 30003, "0190-abc")


def test_a_report_under_the_older_name_is_read() -> None:
    report = status_report([("MessageSid", "SM1"), ("SmsStatus", "Delivered"), ("ErrorCode", "")])
    assert (report.status, report.error_code, report.row_id) == ("delivered", None, None)


@pytest.mark.parametrize("name", ["MessageSid", "MessageStatus"])
def test_a_report_without_id_or_status_is_refused(name: str) -> None:
    with pytest.raises(FieldMissing, match=name):
        status_report([pair for pair in REPORT if pair[0] != name])


@pytest.mark.parametrize("query", [b"", b"row=", b"row=a%27b", b"row=" + b"x" * 65, b"other=1"])
def test_a_row_that_cannot_be_ours_is_none(query: bytes) -> None:
    assert row_id_of(query) is None


def test_the_status_address_brings_our_row_back() -> None:
    address = status_address("https://guide.example/", "0190-abc")
    assert address == "https://guide.example/carrier/status?row=0190-abc"
    assert row_id_of(address.partition("?")[2]) == "0190-abc"
