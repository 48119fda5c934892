"""The contact of a phone number that we write to first; one that writes to us is stored by its own turn."""

from __future__ import annotations

from sqlmodel import Session, col, select

from guide_service.carrier.phone_numbers import SenderKind
from guide_service.records import Contact
from guide_service.wiring import Service


def contact_of(session: Session, service: Service, number: str, language: str, kind: str = SenderKind.PHONE) -> Contact:
    """The one we know, found under every secret, or a new one of that language and kind."""
    keys = service.sealer.phone_keys(number)
    found = session.exec(select(Contact).where(col(Contact.phone_key).in_(keys))).first()
    sealed, key_id = service.sealer.seal(number)
    if found is not None:
        if not found.phone_sealed:  # its file was deleted, and only the hash stood
            found.phone_sealed, found.key_id, found.last_digits = sealed, key_id, number[-4:]
            session.add(found)
        return found
    contact = Contact(
        phone_key=keys[0],
        phone_sealed=sealed,
        key_id=key_id,
        last_digits=number[-4:],
        kind=kind,
        language=language,
        created_at=service.clock.now(),
    )
    session.add(contact)
    session.flush()
    return contact
