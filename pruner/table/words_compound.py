"""How headings of several words are put together: heads, qualifiers, links and abbreviations.

A compound heading means what its head means ("number" in "station number", "numéro" in "numéro de station"); a qualifier says
whose. `words_endings` has the heads of fused compounds.
"""

from __future__ import annotations

from typing import Final

#: Words between a head and its qualifier. They carry no meaning; by language.
LINKS: Final[dict[str, str]] = {
    "en": "of the for",
    "de": "der des von vom",
    "fr": "de du des d la le les l de_la",
    "es": "de del la el los las",
    "it": "di del della dell dello dei delle la il",
    "pt": "de do da dos das",
    "nl": "van de het",
    "ca": "de del d la el l dels",
    "ro": "de al a ale",
    "sv": "för av på",
    "da": "for af på",
    "nb": "for av på",
    "vi": "của",
    "he": "של",
}

#: Qualifier kind -> words of all languages, in the forms met beside a head (nominative, genitive, stems of fused
#: compounds). `system`, `station` and `person` leave a head as it is: the id of the radio, of the user and of the station are
#: one id. `group` makes it the group's, `home` the station's address, `call` the heard log's, `record` the table's own,
#: `previous` one that is no longer held; `ordinal` tells several of a row apart.
QUALIFIERS: Final[dict[str, str]] = {
    "system": "dmr nxdn p25 digital digitale digitaler digitales dv ham amateur amateurfunk",
    "station": (
        "station stations radio radios unit units device terminal subscriber mobile handheld individual private funk "
        "funkstelle funkstellen funkgerät funkgeräte funkgeraet funkgeraete gerät geräte geraet geraete teilnehmer einzel "
        "poste abonné l'abonné estación estaciones equipo abonado stazione stazioni apparato estação estações rádio "
        "equipamento assinante toestel zender abonnee stacji stacja radiostacji radia abonenta stanice rádia radiostanice "
        "účastníka stanica vysielačky rádiostanice állomás rádió készülék stației radio-ului станция станции станцията радио "
        "радиостанции радиостанция рации радиосредства абонента станції радіостанції станице postaje radijske σταθμού "
        "σταθμός πομποδέκτη ασυρμάτου istasyon telsiz cihaz stationens radions stationen radioen asema aseman radion jaama "
        "jaam raadio stacijas stoties radijo 局 無線局 無線機 端末 电台 電台 终端 終端 台站 무선국 단말 무전기 국 estació "
        "estacions ràdio สถานี วิทยุ đài trạm thiết_bị máy_bộ_đàm stasiun perangkat المحطة محطة الجهاز جهاز اللاسلكي התחנה "
        "תחנה מכשיר"
    ),
    "person": (
        "licensee licensees intestatario "
        "operator operators operator's op user users user's owner owners owner's holder holders holder's person contact your "
        "account inhaber inhabers nutzer benutzer besitzer halter opérateur opératrice utilisateur titulaire propriétaire "
        "operador usuario titular propietario operatore utente titolare proprietario utilizador usuário proprietário "
        "gebruiker eigenaar houder operatora użytkownika właściciela operátora operátor uživatele uživatel vlastníka "
        "majitele používateľa držiteľa držitele majiteľa kezelő felhasználó tulajdonos operatorului utilizator "
        "utilizatorului titularului proprietarului оператор оператора потребител потребителя собственик собственика "
        "пользователь пользователя владелец владельца користувач користувача власник власника корисника корисник operatera "
        "korisnika vlasnika uporabnika lastnika χειριστή χρήστη κατόχου ιδιοκτήτη kullanıcı operatör sahip sahibi användare "
        "användarens ägare innehavare operatörens bruger brugerens brugers ejer ejerens indehaver bruker brukerens brukers "
        "eier eierens innehaver käyttäjä käyttäjän omistaja omistajan haltijan operaattorin kasutaja omaniku operaatori "
        "lietotāja īpašnieka vartotojo savininko operatoriaus ユーザー ユーザ 利用者 所有者 運用者 免許人 用户 用戶 使用者 "
        "操作员 操作員 持有人 사용자 소유자 운용자 usuari propietari ผู้ใช้ เจ้าของ ผู้ปฏิบัติ người_dùng chủ_sở_hữu "
        "pengguna pemilik المستخدم المشغل المالك صاحب המשתמש המפעיל הבעלים"
    ),
    "group": (
        "talkgroup talkgroups talk_group tg tgs group groups group's gruppe gruppen sprechgruppe sprechgruppen rufgruppen "
        "gesprächsgruppen gespraechsgruppen groupe grupo gruppo groep groeps gespreksgroep gespreksgroeps grupy skupiny "
        "csoport beszédcsoport grupului групата группы групи групе grupe ομάδας grup grubu grupp talgrupp talgrupps "
        "talegruppe gruppens ryhmä ryhmän puheryhmä puheryhmän grupi kõnegrupi grupas grupės トークグループ 通話グループ "
        "グループ 通话组 通話組 群组 群組 组 組 그룹 토크그룹 통화그룹 กลุ่ม nhóm kelompok المجموعة הקבוצה קבוצת_הדיבור"
    ),
    "home": (
        "home residence postal mailing heimat wohn stand haupt domicile résidence d'origine residencia origen residenza "
        "residência origem woon thuis vestigings zamieszkania bydliště bydliska lak lakó domiciliu reședință местожительства "
        "проживания живеене проживання пребивалишта prebivališta bivališta κατοικίας ikamet hem bostads hjem hjemme bopæls "
        "bosteds koti asuin elukoha dzīvesvietas gyvenamoji 居住 自宅 거주 residència ที่อยู่ cư_trú domisili"
    ),
    "call": (
        "call calls calling caller's transmission tx rx heard ptt voice over ruf rufes anruf sende gesprächs gespraechs "
        "appel d'appel l'appel émission llamada transmisión chiamata trasmissione chamada transmissão oproep uitzending "
        "wywołania połączenia rozmowy hovoru volání volania hívás adás apelului apel transmisie на_повикването повикване "
        "вызова передачи сеанса виклику передачі позива poziva klica κλήσης εκπομπής çağrı görüşme samtals anrops sändnings "
        "opkalds samtale kald puhelun lähetyksen kõne saate zvana izsaukuma skambučio 通話 送信 受信 呼出 通话 呼叫 发射 "
        "통화 호출 송신 trucada การเรียก cuộc_gọi panggilan المكالمة النداء שיחה השיחה שידור"
    ),
    "record": (
        "row line record list table database db file entry item sequence serial running internal zeilen lauf laufende "
        "laufender datensatz datenbank listen ligne ordre fila registro riga linha rij regel volg wiersza rekordu řádku "
        "záznamu riadku sor rekord rândului реда строки записи рядка запису reda zapisa vrstice γραμμής εγγραφής sıra kayıt "
        "satır rad löp række løbe løpe rivi rivin rea kirje rindas ieraksta eilutės įrašo 行 通し 连 顺序 順序 記錄 记录 행 "
        "일련 แถว ลำดับ dòng urut baris التسلسلي السطر שורה סידורי"
    ),
    "previous": (
        "old former previous prior past retired alte altes alter frühere früheres früherer fruehere frueheres "
        "ehemalige ehemaliges vorherige vorheriges vorige voriges bisherige bisheriges ancien ancienne "
        "précédent précédente anterior antiguo antigua vecchio vecchia precedente antigo antiga oude vorige "
        "stary stare stara poprzedni poprzednie poprzednia starý staré předchozí bývalá bývalé predchádzajúca "
        "predchádzajúce régi korábbi vechi vechiul стар стара старо предишен предишна старый старая прежний "
        "прежняя бывший предыдущий старий попередній stari staro prethodni prethodna prejšnji παλιό παλαιό "
        "προηγούμενο eski önceki gammal gammalt tidigare föregående gammel gammelt tidligere forrige vanha "
        "entinen edellinen vana endine eelmine vecais iepriekšējais senas ankstesnis 旧 舊 以前の 前 原 曾用 이전 구 "
        "antic เดิม cũ lama السابق הקודם"
    ),
    "ordinal": (
        "first second third fourth primary secondary tertiary main additional alternate alternative extra "
        "further erste erster erstes zweite zweiter zweites dritte drittes weitere weiteres zusätzliche "
        "premier première deuxième seconde troisième principal principale secondaire primero primera segundo "
        "segunda tercero tercera secundario secundaria primo secondo terzo secondario primeiro primeira "
        "terceiro secundário eerste tweede derde pierwszy pierwsze drugi drugie trzeci první druhé druhý "
        "třetí prvé druhá első második harmadik primul secundar първи втори второ первый второй второе третий "
        "перший другий друге prvi drugi треći πρώτο δεύτερο birinci ikinci üçüncü första andra tredje første "
        "andet anden andre ensimmäinen toinen kolmas esimene teine pirmais otrais pirmas antras 第一 第二 第三 제1 "
        "제2 primer segon"
    ),
}

#: Meaning -> abbreviations that end in a full stop (or are a sign), so that the stop is no end of anything.
FULL_STOP_ABBREVIATIONS: Final[dict[str, str]] = {
    "number": "nr. no. n. num. núm. nro. nbr. n.º n.o č. čís. št. br. бр. ном. н. αρ. αριθ. sz. nº n° №",
    "row_number": (
        "lfd. lfd.nr. lfd._nr. l.p. lp. poř. por. zap. р.бр. r.br. r._br. nr.p.k. eil.nr. jrk. α/α п/п nr.crt. crt. s.no. sl."
    ),
    "name": "ф.и.о. п.і.б. op. inh. bez.",
    "last_name": "nachn. fam. apell. cogn.",
    "first_name": "vorn. prén. voorn.",
    "callsign": "rufz. indic. поз.",
    "talkgroup": "gr. grp. tg. dest. dst. гр. ομ.",
    "caller": "src. abs. exp.",
    "date": "dat. ημ. dt. д. tgl. kp.",
    "time": "ts. zeitp. h. kl. klo. godz. ώ.",
    "seconds": "sec. sek. seg. сек. δευτ. mp. dur. s.",
    "minutes": "min. мин. хв. λεπ.",
    "state": "prov. st. reg. dept. обл. ν. okr. woj. jud. bl.",
    "town": "г. гр. м. loc. mun. pow.",
    "postal_code": "c.p. psč. τ.κ. irsz.",
    "street": "str. ul. ул. вул. adr. c.p. č.p. av. hausnr. addr.",
    "phone": "tel. tlf. tél. тел. τηλ. puh. mob. telef.",
    "remark": "bem. anm. obs. rem. прим. zab. pozn. mgj.",
    "previous_callsign": "ex.",
    "member_number": "mitgl. mem. čl.",
}
