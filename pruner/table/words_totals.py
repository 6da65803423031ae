"""Words of a row that sums up a table: it names no station.

Lower case; entries separated by blanks; `_` is a blank inside an entry.
"""

from __future__ import annotations

from typing import Final

#: Language -> what such a row is called.
TOTALS: Final[dict[str, str]] = {
    "en": "total totals subtotal sum average mean count end eof grand_total number_of_entries end_of_file end_of_list",
    "de": "summe gesamt gesamtsumme gesamtzahl zwischensumme insgesamt anzahl durchschnitt mittelwert ende",
    "fr": "total totaux somme moyenne nombre sous_total fin",
    "es": "total totales suma promedio media recuento cantidad fin",
    "it": "totale totali somma media conteggio fine",
    "pt": "total totais soma média contagem fim",
    "nl": "totaal som gemiddelde aantal einde",
    "pl": "suma razem łącznie średnia liczba ogółem koniec",
    "cs": "celkem součet průměr počet konec",
    "sk": "spolu súčet priemer počet koniec",
    "hu": "összesen összeg átlag darabszám vége",
    "ro": "total sumă medie număr sfârșit",
    "bg": "общо сума средно брой край",
    "ru": "итого всего сумма среднее количество конец",
    "uk": "усього всього разом сума середнє кількість кінець",
    "sr": "укупно збир просек крај ukupno zbir prosek kraj",
    "hr": "ukupno zbroj prosjek broj kraj",
    "sl": "skupaj vsota povprečje število konec",
    "el": "σύνολο άθροισμα μέσος_όρος πλήθος τέλος",
    "tr": "toplam ortalama adet sayı son",
    "sv": "summa totalt genomsnitt medelvärde antal slut",
    "da": "sum total i_alt gennemsnit antal slut",
    "nb": "sum totalt gjennomsnitt antall slutt",
    "fi": "yhteensä summa keskiarvo lukumäärä loppu",
    "et": "kokku summa keskmine arv lõpp",
    "lv": "kopā summa vidēji skaits beigas",
    "lt": "iš_viso suma vidurkis skaičius pabaiga",
    "ja": "合計 総計 小計 平均 件数 終わり",
    "zh": "合计 合計 总计 總計 小计 小計 总数 總數 平均 结束 結束",
    "ko": "합계 총계 소계 평균 개수 끝",
    "ca": "total suma mitjana nombre fi",
    "th": "รวม ผลรวม ค่าเฉลี่ย จำนวน",
    "vi": "tổng tổng_cộng trung_bình số_lượng",
    "id": "jumlah total rata_rata akhir",
    "ar": "المجموع الإجمالي المتوسط العدد النهاية",
    "he": "סהכ סך_הכל ממוצע מספר סוף",
}

#: Words beside them that say what is counted.
COUNTED: Final = (
    "of the all entries ids id records rows stations contacts groups talkgroups der die aller einträge zeilen datensätze "
    "stationen grand number de des du la todos entradas registros enregistrements delle dei voci van alle"
)
