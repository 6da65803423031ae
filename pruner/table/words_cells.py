"""Words in cells: what closes a table, and what stands for nothing.

Lower case; entries separated by blanks; `_` is a blank inside an entry.
"""

from __future__ import annotations

from typing import Final

#: Language -> what begins a row of totals or an end mark; such a row is no station.
TOTALS: Final[dict[str, str]] = {
    "en": (
        "total totals grand_total subtotal sum end end_of_file eof end_of_list end_of_data rows records record_count "
        "row_count count number_of_records number_of_rows entries rows_affected rows_selected entries_total lines"
    ),
    "de": (
        "summe gesamt insgesamt gesamtsumme zwischensumme anzahl ende dateiende ende_der_datei ende_der_liste zeilen "
        "datensätze datensaetze einträge eintraege"
    ),
    "fr": "total totaux somme sous-total fin fin_de_fichier fin_du_fichier fin_de_liste lignes enregistrements nombre",
    "es": "total totales suma subtotal fin fin_de_archivo fin_del_archivo fin_de_lista filas registros líneas",
    "it": "totale totali somma subtotale fine fine_file fine_del_file fine_elenco righe record_totali",
    "pt": "total totais soma subtotal fim fim_do_ficheiro fim_do_arquivo fim_da_lista linhas registos registros",
    "nl": "totaal totalen som subtotaal einde einde_bestand einde_van_het_bestand rijen regels aantal",
    "pl": "razem suma ogółem łącznie koniec koniec_pliku wiersze rekordy rekordów wierszy liczba",
    "cs": "celkem součet mezisoučet konec konec_souboru řádků záznamů počet",
    "sk": "celkom spolu súčet medzisúčet koniec koniec_súboru riadkov záznamov počet",
    "hu": "összesen összeg részösszeg vége fájl_vége sorok rekordok",
    "ro": "total totaluri sumă subtotal sfârșit sfârșitul_fișierului rânduri înregistrări",
    "bg": "общо сума междинна_сума край край_на_файла редове записи",
    "ru": "итого всего сумма общее общий_итог промежуточный_итог конец конец_файла строк записей",
    "uk": "разом усього всього сума підсумок кінець кінець_файлу рядків записів",
    "sr": "укупно збир сума међузбир крај крај_датотеке редова записа ukupno zbir suma kraj kraj_datoteke redova zapisa",
    "hr": "ukupno zbroj suma međuzbroj kraj kraj_datoteke redaka zapisa",
    "sl": "skupaj vsota vmesna_vsota konec konec_datoteke vrstic zapisov",
    "el": "σύνολο συνολικά άθροισμα μερικό_σύνολο τέλος τέλος_αρχείου γραμμές εγγραφές",
    "tr": "toplam genel_toplam ara_toplam son dosya_sonu satır kayıt",
    "sv": "summa totalt totalsumma delsumma slut filslut slut_på_fil rader poster",
    "da": "sum i_alt total subtotal slut filslut slut_på_fil rækker poster",
    "nb": "sum totalt totalsum delsum slutt filslutt slutt_på_fil rader poster",
    "fi": "yhteensä summa välisumma loppu tiedoston_loppu rivejä tietueita",
    "et": "kokku summa vahesumma lõpp faili_lõpp ridu kirjeid",
    "lv": "kopā summa starpsumma beigas faila_beigas rindas ieraksti",
    "lt": "iš_viso viso suma tarpinė_suma pabaiga failo_pabaiga eilučių įrašų",
    "ja": "合計 総計 小計 計 総数 件数 終わり 以上 ファイル終端 終了",
    "zh": "合计 合計 总计 總計 小计 小計 总数 總數 结束 結束 文件结束 檔案結束 共计 共計",
    "ko": "합계 총계 소계 총합 총 끝 파일_끝 이상",
    "ca": "total totals suma subtotal fi fi_del_fitxer files registres",
    "th": "รวม รวมทั้งหมด ยอดรวม ผลรวม จบ สิ้นสุด",
    "vi": "tổng tổng_cộng tổng_số cộng kết_thúc hết",
    "id": "total jumlah jumlah_total subtotal selesai akhir akhir_berkas baris",
    "ar": "المجموع مجموع الإجمالي الاجمالي إجمالي النهاية نهاية نهاية_الملف",
    "he": 'סך_הכל סה״כ סה"כ סהכ סכום סוף סוף_הקובץ',
}

#: Language -> what is written into a cell that is meant to be empty; `mul` also holds the signs.
EMPTY_CELLS: Final[dict[str, str]] = {
    "mul": (
        "- -- --- ---- – — ― . .. ... … ? ?? ??? * / // \\ \\n # #n/a #n/d #na n/a n.a. n/a. na nan null nil none undef "
        "undefined <null> (null) [null] <none> (none) <na> nul void xxx x"
    ),
    "en": (
        "unknown not_known not_available not_applicable not_set not_given not_specified unspecified empty blank missing "
        "no_data no_value no_name unnamed tbd tba withheld n/k"
    ),
    "de": (
        "unbekannt k.a. k._a. k.a keine_angabe keine_angaben nicht_bekannt nicht_verfügbar nicht_verfuegbar keine keiner "
        "leer ohne entfällt ohne_angabe o.a. fehlt"
    ),
    "fr": "inconnu inconnue aucun aucune non_renseigné non_disponible n.d. nd néant vide sans non_communiqué s/o",
    "es": "desconocido desconocida ninguno ninguna no_disponible sin_datos sin_dato n/d nd vacío s/d no_aplica",
    "it": "sconosciuto sconosciuta nessuno nessuna non_disponibile n/d n.d. nd vuoto assente ignoto",
    "pt": "desconhecido desconhecida nenhum nenhuma não_disponível não_informado n/d nd vazio sem_dados s/d",
    "nl": "onbekend geen niet_bekend niet_beschikbaar n.v.t. nvt leeg n.b. nb",
    "pl": "nieznany nieznana nieznane brak brak_danych b/d b.d. bd nie_dotyczy nd. pusty puste",
    "cs": "neznámý neznámá neznámo žádný žádné není není_k_dispozici nezadáno neuvedeno prázdné",
    "sk": "neznámy neznáma neznáme žiadny žiadne nie_je nezadané neuvedené nedostupné prázdne",
    "hu": "ismeretlen nincs nincs_adat nem_ismert n.a. üres",
    "ro": "necunoscut necunoscută niciunul indisponibil fără_date lipsă gol",
    "bg": "неизвестен неизвестно няма няма_данни липсва празно н/д",
    "ru": "неизвестно неизвестный нет нет_данных не_указано не_указан отсутствует пусто н/д н.д.",
    "uk": "невідомо невідомий немає немає_даних не_вказано відсутній порожньо н/д",
    "sr": "непознато непознат нема нема_података празно nepoznato nepoznat nema nema_podataka prazno",
    "hr": "nepoznato nepoznat nema nema_podataka nije_poznato prazno n/p",
    "sl": "neznano neznan ni ni_podatka ni_podatkov brez prazno",
    "el": "άγνωστο άγνωστος άγνωστη κανένα κανένας δ/υ μη_διαθέσιμο κενό",
    "tr": "bilinmiyor bilinmeyen yok veri_yok belirtilmemiş boş",
    "sv": "okänd okänt ingen inget saknas uppgift_saknas ej_angivet ej_tillgänglig tom tomt",
    "da": "ukendt ingen intet ikke_oplyst mangler ikke_tilgængelig tom",
    "nb": "ukjent ingen intet ikke_oppgitt mangler ikke_tilgjengelig tom",
    "fi": "tuntematon ei_tiedossa ei_tietoa ei_ilmoitettu puuttuu tyhjä ei_saatavilla",
    "et": "teadmata tundmatu puudub pole andmed_puuduvad tühi",
    "lv": "nezināms nezināma nav nav_datu nav_zināms tukšs",
    "lt": "nežinomas nežinoma nėra nėra_duomenų nenurodyta tuščia",
    "ja": "なし 無し 無 不明 未定 未設定 該当なし 未登録 空 空白 ー",
    "zh": "无 無 未知 不详 不詳 没有 沒有 空 空白 暂无 暫無 不明 未填写 未填寫",
    "ko": "없음 미상 알수없음 알_수_없음 불명 미정 해당없음 공백",
    "ca": "desconegut desconeguda cap no_disponible sense_dades buit n/d",
    "th": "ไม่มี ไม่ทราบ ไม่ระบุ ไม่มีข้อมูล ว่าง",
    "vi": "không không_có không_rõ không_biết chưa_rõ trống",
    "id": "tidak_diketahui tidak_ada kosong belum_ada nihil",
    "ar": "غير_معروف غير_متوفر لا_يوجد لا_شيء مجهول فارغ غير_محدد",
    "he": "לא_ידוע אין אין_נתונים ריק לא_זמין",
}
