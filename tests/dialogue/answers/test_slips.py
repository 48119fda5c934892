"""Slips of the thumb: which words they lead to, and the words that must stay what they are."""

from __future__ import annotations

from itertools import pairwise

import pytest

from guide_service.dialogue.answers import Lexicon, understand
from guide_service.dialogue.answers.hearing import hear
from guide_service.dialogue.answers.spelling import fold
from guide_service.dialogue.events import EventName
from tests.dialogue.answers.situations import lexicons, situations

COMMON = {
    "en": """killed listen stand chance playing happen worked piece though meeting handle party sitting suppose country
        count difficult changed walking present simple helped raise locked bother question believed office received
        saving caused strike singing second closer bottle scare plans states noticed deliver waited animal chicken
        managed stars matters commands pleased hundreds riding staring spending wasting loving wanting spring pants
        letters beating precious streets missed messed hunting believes threat warning cases warned learning senior
        reminds stepping results idiot reasons terribly escaped square charge placed beside messing chair moments
        answers firing arrive cooking boring systems charged curse sacred wasted shared sports slipped feeding packed
        stranger winter creating police grants explains prints closest workers raising advanced scream bride remote
        freeze advise announce passes handled properly lawyers mistakes alert attacks wished located understands fixing
        depend machines reminded pointed pound partners butter praying tricks documents cooked expose seeking fooling
        recover safely sealing feeling dealing healing peeling stealing generation generous general operator shocks
        shacked smocks spares parking sparing barking sharing starting staying tiling sanding batter matter mutter
        shaker shaken breather leather feather brother mother bather father gather rather weather whether water waiter
        cater later latter ladder leader loader larder reader render gender sender tender vendor fender bender
        plastic plaster master faster caster roaster poster foster luster buster duster cluster mustard custard
        sewing sowing rowing towing mowing knowing blowing glowing growing flowing slowing following hollowing
        headline heading leading reading beading bedding wedding welding melding holding folding molding moulding
        dozy cozy lazy hazy crazy daisy busy fussy pussy hussy dusty rusty gusty lusty musky crusty trusty
        collage college collapse colleague colony company compass compose comply couple cradle cereal circus
        gasket casket basket bucket racket jacket packet pocket rocket socket ticket market blanket
        flooring flowing fleeting floating flirting flashing flushing fishing dishing wishing washing cashing lashing
        vomit omit limit summit permit submit commit climate ceiling sailing failing mailing nailing tailing
        fainted painted tainted pointed printed planted granted chanted slanted haunted hunted mounted counted
        molds moles models modest modern mowed moved mopped mapped napped tapped wrapped trapped strapped
        cleanser cleaner clearer cleaned learned earned yearned burned turned churned
        stud study sturdy stung stunt stump stupid student
        """,
    "es": """conmigo contigo cuenta primera primero trabajar cuidado idiota tenga perdido maldito cambio vuelto personal
        querida suelo escuchar pensado entender invierno planeta prision llega cliente parecer vuelo molesta bolsa
        cuestion busca contar quedar escapar marcha pelear banda interior traido camion visita casado vender necesitar
        familiar cabello defensa perfecta alguno fuente resultado funcionar sabido entero explicar correo cuento
        olvidar enviado antiguo lastima contado tumba completa responder costa helado bebida pieza quieto firma
        correcta cierta tercer escucho parado molesto comido casada despierto plata espejo ventaja alegria trabajado
        muera pescado casar apuesta contenta privado compra entrega pecado reaccion hombro importar medica""",
    "fr": """devrais pourrais chaque voulait partir droit femmes meilleure certains perdre seras reviens venez attendre
        pourra aurais servez fasse decide problemes arriver connait prenez prison questions reussi certaines grands
        espece vendre assis contact voudrait longue propres couche tourner oublier revenu disparu proche debout
        idiots compter serons planete vivant bougez faits ordres partez conduit trouvez chanter raisons gosse disant
        danser monstre attendu servi frapper courir passera realise remercier premiers personnel secrets""",
}
NEVER_BY_A_SLIP = ("stop", "cancel", "revoke", "optout", "start", "unstop", "restart", "subscribe")


def spoken(text: str, language: str) -> list[str]:
    return hear(text, lexicons()[language]).spoken


@pytest.mark.parametrize("language", COMMON)
def test_a_word_that_the_language_has_stays_what_it_is(language: str) -> None:
    words = COMMON[language].split()
    assert [spoken(word, language) for word in words] == [[word] for word in words]


@pytest.mark.parametrize(
    ("language", "typed", "meant"),
    [
        ("en", "genrator", "generator"),  # a letter left out
        ("en", "generattor", "generator"),  # one too many
        ("en", "generater", "generator"),  # a wrong one
        ("en", "ehadaches", "ehadaches"),  # the first letter stays
        ("en", "headahces", "headaches"),  # two swapped
        ("en", "chekc", "check"),  # two swapped in five letters
        ("en", "chec", "chec"),  # too short
        ("en", "breakr", "breaker"),  # left out rather than "break" with one too many
        ("en", "electrican", "electrician"),  # left out rather than "electrical" with a wrong one
        ("en", "generador", "generador"),  # a word of another language
        ("en", "unsubscrib", "unsubscribe"),  # listed: whoever types this asks for nothing else
        ("en", "unsubscribed", "unsubscribed"),  # tells of it
        ("es", "deshumidificdor", "deshumidificador"),
        ("es", "hablra", "hablar"),
        ("es", "generator", "generator"),
        ("fr", "ventilateru", "ventilateur"),
        ("ht", "elektrisite", "elektrisite"),  # no list of the real words of the language: only what its file lists
    ],
)
def test_which_word_a_slip_leads_to(language: str, typed: str, meant: str) -> None:
    assert spoken(typed, language) == [meant]


def slipped(word: str) -> set[str]:
    """What is typed for ``word`` with a letter left out, a wrong one, or two neighbours swapped: not what is spelled
    by ear, where a doubled letter is as good as one."""
    out = {word[:i] + word[i + 1 :] for i in range(len(word))}
    wrong = {word[:i] + "w" + word[i + 1 :] for i in range(len(word))}
    swapped = {word[:i] + b + a + word[i + 2 :] for i, (a, b) in enumerate(pairwise(word))}
    return out | wrong | swapped - {word}


def numbers_of(lexicon: Lexicon) -> set[str]:
    return {word for word in lexicon.mending.never if word.isalpha() and word in lexicon.terms}


@pytest.mark.parametrize("language", sorted(lexicons()))
def test_no_slip_makes_a_number_or_takes_one_away(language: str) -> None:
    lexicon = lexicons()[language]
    numbers = numbers_of(lexicon)
    assert numbers
    for word in numbers:
        for typed in slipped(word) - {word}:
            if typed.isalpha() and typed not in lexicon.same:
                heard = spoken(typed, language)
                assert heard == [fold(typed)] or not numbers & set(heard), (word, typed, heard)


@pytest.mark.parametrize("word", NEVER_BY_A_SLIP)
def test_no_slip_of_one_word_ends_or_begins_the_messages(word: str) -> None:
    for typed in slipped(word) - {word, "unstop", "restart"}:
        names = {event.name for event in understand(typed, situations("en")["idle"], lexicons())}
        assert not names & {EventName.STOP, EventName.START}, typed


@pytest.mark.parametrize("text", ["K1 genrator 22", "482 917", "4829 17", "14 Rivr St", "555-0142", "k1 22,5"])
def test_digits_stay_as_they_were_typed(text: str) -> None:
    digits = [character for character in text if character.isdigit()]
    assert [character for character in "".join(spoken(text, "en")) if character.isdigit()] == digits
