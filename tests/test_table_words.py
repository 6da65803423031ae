"""The words that head columns: complete, well formed, and two-sided only where a list says why. The words are from memory.

The names of seconds, minutes and milliseconds were compared with CLDR (unit names, all 36 languages).
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import combinations

import pytest

from pruner.table.headings import sense_of
from pruner.table.lexicon import FILE
from pruner.table.lexicon_build import lexicon
from pruner.table.never_taken import NEVER_TAKEN
from pruner.table.words import WORDS
from pruner.table.words_cells import EMPTY_CELLS
from pruner.table.words_compound import FULL_STOP_ABBREVIATIONS, LINKS, QUALIFIERS
from pruner.table.words_endings import JOINING_LETTERS, PREFIXES, SUFFIXES

#: ISO 639-1.
LANGUAGES = set(
    "ar bg ca cs da de el en es et fi fr he hr hu id it ja ko lt lv nb nl pl pt ro ru sk sl sr sv th tr uk vi zh".split()
)

#: Further ones, in which the chief words for the columns of stations are known.
FURTHER_LANGUAGES = set("af az be bn cy eo eu fa fo ga gl hi hy is ka kk lb mk mn ms mt rm sq sw ta tl ur uz".split())

#: (meaning, meaning) -> why words stand under both, and which: folded.
BOTH: dict[tuple[str, str], tuple[str, str]] = {
    ("callsign", "first_name"): ("the name one is called by: a given name, or a name on the air", "rufname roepnaam"),
    ("callsign", "name"): ("Italian for a name on a list and for a call sign", "nominativo"),
    ("callsign", "nickname"): ("the name one is called by", "rufname"),
    ("callsign", "signal"): ("Swedish for a call sign, elsewhere the strength of a signal", "signal"),
    ("caller", "time"): ("a station that was heard, or when it was", "heard"),
    ("country", "end"): ("a country in Polish, an end in Croatian and Serbian", "kraj"),
    ("country", "status"): ("Italian for a state, of the world or of an entry", "stato"),
    ("date", "count"): ("Russian for a day of the month and for a number of things", "число"),
    ("date", "member_number"): ("a day in German, a member in Hungarian", "tag"),
    ("description", "person_other"): (
        "the title of a group, or of a person",
        "title titel titre titulo titolo tytul titlu titol",
    ),
    ("event", "licence"): ("a kind: of event, or of licence", "種別 ประเภท סוג"),
    ("first_name", "count"): ("a name in Spanish, a number of things in French", "nombre"),
    ("first_name", "last_name"): ("the first name in one language, the surname in another", "nom 名字"),
    ("first_name", "nickname"): ("the name one is called by", "rufname kutsumanimi"),
    ("id", "callsign"): ("Finnish and Estonian for any sign of identity", "tunnus"),
    ("last_name", "nickname"): (
        "Portuguese: a surname in Portugal, a nickname in Brazil; Arabic: by country",
        "apelido اللقب",
    ),
    ("last_name", "person_other"): ("a surname in Serbian, a father's name in Bulgarian", "презиме"),
    ("name", "caller"): ("a person on a list, or who was heard", "who"),
    ("name", "count"): ("a name in Spanish, a number of things in French", "nombre"),
    ("name", "description"): ("what something is called, in a word or in a sentence", "bezeichnung megnevezes benamning 名称"),
    ("number", "state"): ("Slovene for a number, English for a state", "st"),
    ("surname_first", "name"): ("whole names that begin with the surname", "фио піб"),
    ("name", "first_name"): (
        "a name; beside a column of surnames the first name",
        "nom nombre nombres nome nomi jmeno meno име имена имя імя ime ονομα isim adi vards vardas 名字 이름 ชื่อ ten",
    ),
    ("name", "last_name"): (
        "a name; beside a column of first names the surname",
        "name nom noms naam nume numele 名字 ชื่อสกุล",
    ),
    ("station", "name"): ("German for who takes part: a subscriber's station, or a person", "teilnehmer"),
    ("number", "phone"): ("German: a number to call, by radio or by telephone", "rufnummer"),
    ("postal_code", "licence"): ("a postal code in Italian, a class in Vietnamese", "cap"),
    ("postal_code", "phone"): ("a postal code in Brazil, a mobile telephone in Turkish", "cep"),
    ("postal_code", "street"): ("a postal code in French and Spanish, a house number in Czech", "cp"),
    ("record_date", "person_other"): ("date of birth, or age in Croatian", "dob"),
    ("remark", "description"): ("Indonesian for any note that explains", "keterangan"),
    ("row_number", "licence"): ("a row and a class in Vietnamese, without marks", "hang"),
    ("row_number", "other_station"): ("a row in Croatian and Serbian, a network in Spanish", "red"),
    ("seconds", "row_number"): ("seconds in Turkish, a serial number in English", "sn"),
    ("state", "country"): ("a state, of the world or of a federation; a country or a region", "kraj land staat stato מדינה"),
    ("state", "end"): ("a region in one Slavic language, an end in another", "kraj край"),
    ("state", "frequency"): ("Finnish for a region, of the land or of frequencies", "alue"),
    ("state", "status"): ("a state: of a federation, or of an entry", "etat stato stan estat"),
    ("street", "description"): ("Hungarian for an address and for a title", "cim"),
    ("street", "other_station"): ("a street in Italian, what a call went through in English", "via"),
    ("street", "signal"): ("Korean for a street and for a distance", "거리"),
    ("time", "clock"): (
        "an instant, or a time of day beside a date",
        "uhrzeit heure hora ora orario horario tijd godzina cas hodina idopont време час время vreme vrijeme sat ura ωρα saat "
        "saati klockslag klokkeslaet klokkeslett kellonaika kellaaeg laiks laikas 時刻 時間 时间 时刻 시간 시각 เวลา gio jam "
        "الساعة שעה",
    ),
    ("town", "country"): ("a village or a country in Italian; a place in Slovene, a country in Polish", "paese kraj"),
    ("town", "end"): ("a place in Slovene, an end in Croatian and Serbian", "kraj"),
    ("town", "locator"): ("location, or locator", "loc"),
    ("town", "state"): (
        "a place in Slovene, a region in Czech; Korean for either; a Turkish province bears the name of its town",
        "kraj 지역 il ili",
    ),
}


def fold(entry: str) -> str:
    """Letters and digits; marks are dropped from Latin and Greek letters only, where they are no letters of their own."""
    letters = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe", "ı": "i"})
    kept, bare = [], False
    for character in unicodedata.normalize("NFD", unicodedata.normalize("NFKC", entry).casefold().translate(letters)):
        if unicodedata.category(character) == "Mn":
            kept += [] if bare else [character]
            continue
        bare = unicodedata.name(character, "").startswith(("LATIN", "GREEK"))
        kept += [character] if character.isalnum() or unicodedata.category(character) == "Mc" else []
    return unicodedata.normalize("NFC", "".join(kept))


def every_entry() -> Iterator[tuple[str, str, str]]:
    """Table and meaning, language, entries: of all the dictionaries by language."""
    tables: dict[str, Mapping[str, Mapping[str, str]]] = {"words": WORDS, "suffixes": SUFFIXES, "prefixes": PREFIXES}
    for table, meanings in tables.items():
        for meaning, languages in meanings.items():
            for language, entries in languages.items():
                yield f"{table} {meaning}", language, entries
    flat = {"empty cells": EMPTY_CELLS, "links": LINKS, "joining letters": JOINING_LETTERS}
    for table, by_language in flat.items():
        for language, entries in by_language.items():
            yield table, language, entries


@pytest.mark.parametrize(
    "meaning", ["id", "callsign", "first_name", "last_name", "name", "town", "country", "time", "talkgroup"]
)
def test_the_meanings_of_directories_and_logs_have_words_in_many_languages(meaning: str) -> None:
    assert len(set(WORDS[meaning]) - {"mul"}) >= 25


def test_empty_cells_are_known_in_every_language() -> None:
    assert set(EMPTY_CELLS) == LANGUAGES | {"mul"}


def test_entries_are_lower_case_not_empty_and_stand_once() -> None:
    for where, language, entries in every_entry():
        words = entries.split()
        assert words, (where, language)
        assert language in LANGUAGES | FURTHER_LANGUAGES | {"mul"}, (where, language)
        assert entries == " ".join(words).lower(), (where, language)
        assert len(words) == len(set(words)), (where, language)
        assert all(word.strip("_") == word for word in words), (where, language)


def test_every_word_keeps_a_letter_when_folded() -> None:
    signs = {"#"}
    for where, language, entries in every_entry():
        if where != "empty cells":
            assert all(fold(word) for word in set(entries.split()) - signs), (where, language)


def test_a_word_has_two_meanings_only_where_the_list_says_why() -> None:
    meanings: dict[str, set[str]] = defaultdict(set)
    for meaning, languages in WORDS.items():
        for entries in languages.values():
            for word in entries.split():
                meanings[fold(word)].add(meaning)
    order = list(WORDS)
    found: dict[tuple[str, str], set[str]] = defaultdict(set)
    for word, several in meanings.items():
        for first, second in combinations(sorted(several, key=order.index), 2):
            found[first, second].add(word)
    assert dict(found) == {pair: set(words.split()) for pair, (_, words) in BOTH.items()}


def test_notes_on_meanings_speak_of_meanings() -> None:
    used = {*NEVER_TAKEN, *SUFFIXES, *PREFIXES, *FULL_STOP_ABBREVIATIONS}
    assert used <= set(WORDS)


def test_the_finished_file_is_made_of_the_lists() -> None:
    assert FILE.read_text(encoding="utf-8") == lexicon(), "run: python -m pruner.table.lexicon_build"


@pytest.mark.parametrize(("heading", "meaning"), [("รหัสสถานี", "id"), ("ชื่อผู้ใช้", "name"), ("หมายเลขวิทยุ", "number")])
def test_a_thai_compound_has_its_head_first(heading: str, meaning: str) -> None:
    assert meaning in sense_of(heading).classes


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        ("address.country", "country"),
        ("place.Town", "town"),
        ("location.address.city", "town"),
        ("name.first", "first_name"),
        ("country.name", "country"),
        ("station.id", "id"),
    ],
)
def test_a_value_inside_another_is_what_its_own_name_says(heading: str, meaning: str) -> None:
    assert set(sense_of(heading).classes) == {meaning}


def test_words_are_of_known_languages() -> None:
    assert set().union(*WORDS.values()) - {"mul"} <= LANGUAGES | FURTHER_LANGUAGES


def test_a_qualifier_is_of_one_kind() -> None:
    kinds: dict[str, set[str]] = defaultdict(set)
    for kind, words in QUALIFIERS.items():
        for word in words.split():
            kinds[fold(word)].add(kind)
    assert {word for word, several in kinds.items() if len(several) > 1} == set()
