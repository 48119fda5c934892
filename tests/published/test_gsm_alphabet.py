"""The alphabet against the tables of 3GPP TS 23.038 (6.2.1 and 6.2.1.1), laid out here as the standard prints them.

The rows below are the sixteen positions b4..b1 of the default table, each with its eight columns b7..b5, written as
Unicode code points (from memory, apart from the string under test); 001B is the escape.
"""

from guide_service.wording.gsm import BASIC, BASIC_SET, EXTENSION, EXTENSION_SET, GSM_SET, gsm_safe, without_controls

DEFAULT_TABLE = """
0040 0394 0020 0030 00A1 0050 00BF 0070
00A3 005F 0021 0031 0041 0051 0061 0071
0024 03A6 0022 0032 0042 0052 0062 0072
00A5 0393 0023 0033 0043 0053 0063 0073
00E8 039B 00A4 0034 0044 0054 0064 0074
00E9 03A9 0025 0035 0045 0055 0065 0075
00F9 03A0 0026 0036 0046 0056 0066 0076
00EC 03A8 0027 0037 0047 0057 0067 0077
00F2 03A3 0028 0038 0048 0058 0068 0078
00C7 0398 0029 0039 0049 0059 0069 0079
000A 039E 002A 003A 004A 005A 006A 007A
00D8 001B 002B 003B 004B 00C4 006B 00E4
00F8 00C6 002C 003C 004C 00D6 006C 00F6
000D 00E6 002D 003D 004D 00D1 006D 00F1
00C5 00DF 002E 003E 004E 00DC 006E 00FC
00E5 00C9 002F 003F 004F 00A7 006F 00E0
"""
EXTENSION_TABLE = {
    0x0A: 0x000C,
    0x14: 0x005E,
    0x28: 0x007B,
    0x29: 0x007D,
    0x2F: 0x005C,
    0x3C: 0x005B,
    0x3D: 0x007E,
    0x3E: 0x005D,
    0x40: 0x007C,
    0x65: 0x20AC,
}


def test_every_position_of_the_default_table() -> None:
    rows = [line.split() for line in DEFAULT_TABLE.split("\n") if line]
    printed = "".join(chr(int(rows[low][high], 16)) for high in range(8) for low in range(16))
    assert printed == BASIC
    assert len(set(BASIC)) == 128


def test_the_extension_table() -> None:
    assert [ord(c) for c in EXTENSION] == list(EXTENSION_TABLE.values())
    assert not EXTENSION_SET & BASIC_SET


def test_characters_that_are_often_thought_to_fit_and_do_not() -> None:
    assert not GSM_SET & set("ç`°½\u00a0\u202f\u2018\u2019\u201c\u201d–—…áíóúâêôõ")
    assert set("Çéèàùñü¿¡@£§€{}[]~|\\^") <= GSM_SET


def test_typography_is_written_plainly_and_letters_are_left_alone() -> None:
    fancy = "\u201cDon\u2019t\u201d \u2013 wait\u2026 5:30\u202fPM, 1\u00a0000, \u00bd cup\u200b\u2014\u00abnow\u00bb"
    assert gsm_safe(fancy) == '"Don\'t" - wait... 5:30 PM, 1 000, 1/2 cup-"now"'
    assert gsm_safe("más água über ça Київ") == "más água über ça Київ"
    assert set(gsm_safe(fancy)) <= GSM_SET


def test_a_persons_own_words_keep_every_character_but_controls() -> None:
    assert without_controls("Omar\u2019s café \U0001f44d غرفة") == "Omar\u2019s café \U0001f44d غرفة"
    assert without_controls("front\nroom\x00\u202e!") == "front room!"
    assert without_controls("new \U0001fae9 own \ue000 bad \ud800\uffff.") == "new \U0001fae9 own \ue000 bad ."
