"""Whole files with headings in many languages. The words are the ordinary ones of each language, from memory; the stations
are invented (country codes: ITU-T E.212; call sign series: ITU Radio Regulations, Appendix 42)."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from pruner.read.directory import read_directory
from pruner.table.understanding import Understanding

#: Language (ISO 639-1) -> country code of ids, beginning of call signs, country, and the headings of: a counter, the id, the
#: call sign, first name, last name, town, country, a remark.
FILES = {
    "ar": (420, "HZ1", "السعودية", "الرقم المسلسل|رقم التعريف|إشارة النداء|الاسم الأول|اسم العائلة|المدينة|الدولة|ملاحظات"),
    "bg": (284, "LZ1", "България", "№ по ред|Идентификатор|Повиквателна|Име|Фамилия|Град|Държава|Забележка"),
    "ca": (213, "C31", "Andorra", "Núm. d'ordre|Identificador|Indicatiu|Nom|Cognom|Població|País|Observacions"),
    "cs": (230, "OK1", "Česko", "Poř. č.|ID stanice|Volací značka|Jméno|Příjmení|Město|Země|Poznámka"),
    "da": (238, "OZ1", "Danmark", "Løbenr.|Radio-id|Kaldesignal|Fornavn|Efternavn|By|Land|Bemærkning"),
    "de": (232, "OE1", "Österreich", "Lfd. Nr.|Kennung|Rufzeichen|Vorname|Nachname|Ort|Land|Bemerkung"),
    "el": (202, "SV1", "Ελλάδα", "Α/Α|Αναγνωριστικό|Διακριτικό κλήσης|Όνομα|Επώνυμο|Πόλη|Χώρα|Παρατηρήσεις"),
    "en": (235, "G4A", "United Kingdom", "Row|Radio ID|Call sign|First name|Surname|Town|Country|Notes"),
    "es": (214, "EA1", "España", "N.º|Identificador|Indicativo|Nombre|Apellidos|Localidad|País|Observaciones"),
    "et": (248, "ES1", "Eesti", "Jrk nr|Jaama number|Kutsung|Eesnimi|Perekonnanimi|Linn|Riik|Märkused"),
    "fi": (244, "OH1", "Suomi", "Rivi|Aseman numero|Kutsumerkki|Etunimi|Sukunimi|Paikkakunta|Maa|Huomautus"),
    "fr": (208, "F4A", "France", "N° de ligne|Identifiant|Indicatif|Prénom|Nom|Ville|Pays|Remarques"),
    "he": (425, "4X1", "ישראל", "מספר סידורי|מזהה|אות קריאה|שם פרטי|שם משפחה|עיר|מדינה|הערות"),
    "hr": (219, "9A1", "Hrvatska", "R. br.|Broj postaje|Pozivna oznaka|Ime|Prezime|Grad|Država|Napomena"),
    "hu": (216, "HA1", "Magyarország", "Sorszám|Azonosító|Hívójel|Keresztnév|Vezetéknév|Város|Ország|Megjegyzés"),
    "id": (510, "YB1", "Indonesia", "No. urut|Nomor stasiun|Tanda panggilan|Nama depan|Nama belakang|Kota|Negara|Keterangan"),
    "it": (222, "IK1", "Italia", "N. riga|Identificativo|Nominativo|Nome|Cognome|Città|Paese|Note"),
    "ja": (440, "JA1", "日本", "行番号|局番号|呼出符号|名|姓|市区町村|国|備考"),
    "ko": (450, "HL1", "대한민국", "순번|단말기 번호|호출부호|이름|성|도시|국가|비고"),
    "lt": (246, "LY1", "Lietuva", "Eil. nr.|Stoties numeris|Šaukinys|Vardas|Pavardė|Miestas|Šalis|Pastabos"),
    "lv": (247, "YL1", "Latvija", "Nr. p. k.|Stacijas numurs|Izsaukuma signāls|Vārds|Uzvārds|Pilsēta|Valsts|Piezīmes"),
    "nb": (242, "LA1", "Norge", "Løpenr.|Radio-ID|Kallesignal|Fornavn|Etternavn|Sted|Land|Merknad"),
    "nl": (204, "PA1", "Nederland", "Volgnummer|Radionummer|Roepletters|Voornaam|Achternaam|Woonplaats|Land|Opmerking"),
    "pl": (260, "SP1", "Polska", "Lp.|Numer stacji|Znak wywoławczy|Imię|Nazwisko|Miejscowość|Kraj|Uwagi"),
    "pt": (268, "CT1", "Portugal", "N.º de linha|Identificador|Indicativo|Nome próprio|Apelido|Localidade|País|Observações"),
    "ro": (226, "YO1", "România", "Nr. crt.|Identificator|Indicativ|Prenume|Nume|Oraș|Țara|Observații"),
    "ru": (250, "RA1", "Россия", "№ п/п|Номер станции|Позывной|Имя|Фамилия|Город|Страна|Примечание"),
    "sk": (231, "OM1", "Slovensko", "Por. č.|Číslo stanice|Volací znak|Meno|Priezvisko|Mesto|Krajina|Poznámka"),
    "sl": (293, "S51", "Slovenija", "Zap. št.|Številka postaje|Klicni znak|Ime|Priimek|Kraj|Država|Opomba"),
    "sr": (220, "YU1", "Србија", "Р. бр.|Број станице|Позивни знак|Име|Презиме|Град|Држава|Напомена"),
    "sv": (240, "SM1", "Sverige", "Löpnr|Radio-id|Anropssignal|Förnamn|Efternamn|Ort|Land|Anmärkning"),
    "th": (520, "HS1", "ไทย", "ลำดับ|หมายเลขสถานี|สัญญาณเรียกขาน|ชื่อ|นามสกุล|เมือง|ประเทศ|หมายเหตุ"),
    "tr": (286, "TA1", "Türkiye", "Sıra no|Telsiz numarası|Çağrı işareti|Adı|Soyadı|Şehir|Ülke|Açıklama"),
    "uk": (255, "UR1", "Україна", "№ з/п|Номер станції|Позивний|Ім'я|Прізвище|Місто|Країна|Примітка"),
    "vi": (452, "XV1", "Việt Nam", "STT|Mã số đài|Hô hiệu|Tên|Họ|Thành phố|Quốc gia|Ghi chú"),
    "zh": (460, "BA1", "中国", "序号|电台编号|呼号|名|姓|城市|国家|备注"),
}
MEANINGS = ("", "id", "callsign", "first_name", "last_name", "town", "country", "")
ORDERS = ((0, 1, 2, 3, 4, 5, 6, 7), (2, 4, 3, 1, 0, 6, 5, 7), (7, 6, 5, 4, 3, 2, 1))


def text_of(language: str, order: tuple[int, ...]) -> str:
    code, series, country, headings = FILES[language]
    lines = [headings.split("|")]
    for at in range(14):
        last, first = f"Zu{chr(97 + at)}mar", f"Ke{chr(97 + at)}o"
        call = f"{series}{chr(65 + at)}{chr(90 - at)}"
        lines.append([str(at + 1), f"{code}{1117 + at * at * 37}", call, first, last, f"Ol{chr(97 + at)}burg", country, "x y"])
    return "".join(";".join(line[place] for place in order) + "\n" for line in lines)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("language", FILES)
def test_a_file_with_headings_of_a_language(tmp_path: Path, language: str, order: tuple[int, ...]) -> None:
    path = tmp_path / "stations.csv"
    path.write_text(text_of(language, order), encoding="utf-8")
    said: list[Understanding] = []
    with ThreadPoolExecutor(1) as pool:
        counts = [count for _, count in read_directory(path, lambda records: records.count, pool, understood=said.append)]
    assert sum(counts) == 14
    expected = {MEANINGS[place]: at for at, place in enumerate(order, start=1) if MEANINGS[place]}
    assert {use.meaning: use.number for use in said[0].columns} == expected
