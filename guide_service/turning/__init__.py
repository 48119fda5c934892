"""The parts of a turn: what is known, what is decided, what is stored. ``guide_service.turn`` puts them in order."""
