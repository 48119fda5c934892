"""Understanding what a person texts: from words to events.

``load_lexicons`` reads the word tables once; ``understand`` turns one text into events, pure and fast. Everything that
belongs to a language stands in ``locales/<lang>/words.toml``.
"""

from guide_service.dialogue.answers.lexicon import Lexicon, load_lexicons
from guide_service.dialogue.answers.schema import TOPICS, WrongWords
from guide_service.dialogue.answers.understanding import understand
from guide_service.dialogue.answers.written_language import with_language

__all__ = ["TOPICS", "Lexicon", "WrongWords", "load_lexicons", "understand", "with_language"]
