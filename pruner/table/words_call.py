"""Words that head the columns of a heard log that say who called whom and how, by meaning and language.

The form is that of `words_station`; when a call was is in `words_time`.
"""

from __future__ import annotations

from typing import Final

CALL: Final[dict[str, dict[str, str]]] = {
    "caller": {
        "mul": "src",
        "en": "source caller from calling sender originator origin talker speaker transmitter heard_station heard who",
        "de": "quelle anrufer absender sender rufer sprecher von gehört gehoert wer wer_rief",
        "fr": "source appelant émetteur expéditeur de origine qui",
        "es": "origen fuente llamante emisor de remitente quién",
        "it": "sorgente origine chiamante mittente da chi",
        "pt": "origem fonte chamador emissor de remetente quem",
        "nl": "bron beller afzender oproeper van zender wie",
        "pl": "źródło nadawca dzwoniący od wywołujący kto",
        "cs": "zdroj volající odesílatel od kdo",
        "sk": "zdroj volajúci odosielateľ od",
        "hu": "forrás hívó küldő feladó",
        "ro": "sursă sursa apelant apelantul emițător expeditor de_la",
        "bg": "източник викащ повикващ подател от",
        "ru": "источник вызывающий отправитель от кто",
        "uk": "джерело відправник від хто",
        "sr": "извор позивалац пошиљалац од izvor pozivalac pošiljalac od",
        "hr": "izvor pozivatelj pošiljatelj od",
        "sl": "vir klicatelj pošiljatelj od",
        "el": "πηγή καλών αποστολέας από",
        "tr": "kaynak arayan gönderen",
        "sv": "källa anropare avsändare uppringare från vem",
        "da": "kilde kalder afsender opkalder fra hvem",
        "nb": "kilde oppringer avsender anroper fra hvem",
        "fi": "lähde soittaja lähettäjä kutsuja kuka",
        "et": "allikas helistaja saatja kutsuja",
        "lv": "avots zvanītājs sūtītājs",
        "lt": "šaltinis siuntėjas kviečiantysis iš",
        "ja": "発信元 送信元 発信者 送信者 発呼者 発信局",
        "zh": "来源 來源 主叫 呼叫方 呼叫者 发送方 發送方 源 发起方",
        "ko": "발신자 발신 송신자 출처 소스 송신국",
        "ca": "origen font emissor remitent de",
        "th": "ต้นทาง ผู้เรียก ผู้ส่ง จาก แหล่งที่มา",
        "vi": "nguồn người_gọi người_gửi từ",
        "id": "sumber pemanggil pengirim dari asal",
        "ar": "المصدر مصدر المتصل المرسل من",
        "he": "מקור מתקשר שולח מאת",
    },
    "talkgroup": {
        "mul": "tg tgid tg_id talkgroup talkgroups talk_group dst dest target",
        "en": (
            "group groups group_id destination called_group called to target_id room tgs conversation_group "
            "chat_group voice_group group_call"
        ),
        "de": "sprechgruppe sprechgruppen gruppe gruppen rufgruppe gesprächsgruppe gespraechsgruppe ziel an raum zielgruppe",
        "fr": (
            "groupe groupes groupe_de_parole groupe_de_discussion groupe_de_conversation groupe_d'appel destination cible "
            "vers salon"
        ),
        "es": (
            "grupo grupos grupo_de_conversación grupo_de_habla grupo_de_llamada grupo_de_charla grupo_de_voz "
            "grupo_hablado destino sala"
        ),
        "it": (
            "gruppo gruppi gruppo_di_conversazione gruppo_di_chiamata gruppo_di_parola gruppo_di_discussione "
            "destinazione stanza"
        ),
        "pt": (
            "grupo grupos grupo_de_conversação grupo_de_conversa grupo_de_chamada grupo_de_fala grupo_de_voz "
            "grupo_de_discussão destino sala"
        ),
        "nl": "gespreksgroep gespreksgroepen spraakgroep praatgroep groep groepen oproepgroep bestemming doel naar",
        "pl": "grupa grupy grupa_rozmowna grupa_rozmówna grupa_wywoławcza grupa_dyskusyjna cel odbiorca do",
        "cs": "skupina skupiny hovorová_skupina volací_skupina diskusní_skupina cíl",
        "sk": "skupina skupiny hovorová_skupina volacia_skupina cieľ",
        "hu": "csoport csoportok beszédcsoport beszélgetőcsoport hívócsoport cél célcsoport célállomás",
        "ro": (
            "grup grupul grupuri grup_de_conversație grup_de_convorbire grup_de_apel grup_de_discuții "
            "grup_de_vorbire destinație destinația"
        ),
        "bg": "група групи разговорна_група група_за_разговори дестинация цел",
        "ru": "группа группы разговорная_группа группа_вызова назначение получатель цель адресат",
        "uk": "група групи розмовна_група група_виклику призначення отримувач",
        "sr": "група групе говорна_група разговорна_група одредиште grupa grupe govorna_grupa razgovorna_grupa odredište",
        "hr": "grupa grupe govorna_grupa razgovorna_grupa skupina odredište",
        "sl": "skupina skupine pogovorna_skupina govorna_skupina cilj",
        "el": "ομάδα ομάδες ομάδα_ομιλίας ομάδα_συνομιλίας ομάδα_κλήσης προορισμός",
        "tr": "grup grubu gruplar konuşma_grubu görüşme_grubu çağrı_grubu sohbet_grubu hedef",
        "sv": "grupp grupper talgrupp talgrupper pratgrupp samtalsgrupp destination mål",
        "da": "gruppe grupper talegruppe talegrupper samtalegruppe destination mål",
        "nb": "gruppe grupper talegruppe talegrupper samtalegruppe destinasjon mål",
        "fi": "ryhmä ryhmät puheryhmä puheryhmät keskusteluryhmä kohde määränpää kutsuryhmä",
        "et": "grupp grupid kõnegrupp kõnerühm rühm sihtkoht",
        "lv": "grupa grupas sarunu_grupa mērķis galamērķis",
        "lt": "grupė grupės pokalbių_grupė paskirtis tikslas",
        "ja": "トークグループ 通話グループ グループ 宛先 送信先 着信先",
        "zh": "通话组 通話組 通话群组 通話群組 群组 群組 组 組 目标 目標 目的地 被叫",
        "ko": "토크그룹 통화그룹 통화_그룹 그룹 수신자 목적지 대상",
        "ca": "grup grups grup_de_conversa grup_de_parla grup_de_xerrada grup_de_veu destinació destí",
        "th": "กลุ่ม กลุ่มสนทนา ปลายทาง ห้อง",
        "vi": "nhóm nhóm_thoại nhóm_đàm_thoại đích điểm_đến",
        "id": "grup kelompok grup_bicara grup_percakapan tujuan",
        "ar": "المجموعة مجموعة مجموعة_المحادثة مجموعة_التحدث الوجهة إلى",
        "he": "קבוצה קבוצת_דיבור קבוצת_שיחה יעד",
    },
    # Says of a row whether it is the start or the end of a call, or what else happened.
    "event": {
        "en": "event event_type type kind action call_type message_type msg_type",
        "de": "ereignis art typ aktion rufart vorgang",
        "fr": "événement évènement type action",
        "es": "evento tipo acción suceso",
        "it": "evento tipo azione",
        "pt": "evento tipo ação",
        "nl": "gebeurtenis soort type actie",
        "pl": "zdarzenie typ rodzaj akcja",
        "cs": "událost typ druh akce",
        "sk": "udalosť typ druh akcia",
        "hu": "esemény típus művelet",
        "ro": "eveniment tip acțiune",
        "bg": "събитие тип вид действие",
        "ru": "событие тип вид действие",
        "uk": "подія тип вид дія",
        "sr": "догађај тип врста događaj tip vrsta",
        "hr": "događaj tip vrsta radnja",
        "sl": "dogodek tip vrsta",
        "el": "συμβάν γεγονός τύπος ενέργεια",
        "tr": "olay tür tip",
        "sv": "händelse typ",
        "da": "hændelse type handling",
        "nb": "hendelse type handling",
        "fi": "tapahtuma tyyppi laji",
        "et": "sündmus tüüp liik",
        "lv": "notikums tips veids",
        "lt": "įvykis tipas rūšis",
        "ja": "イベント 種別 種類 動作",
        "zh": "事件 类型 類型 动作 動作",
        "ko": "이벤트 종류 유형 동작",
        "ca": "esdeveniment tipus acció",
        "th": "เหตุการณ์ ประเภท ชนิด",
        "vi": "sự_kiện loại kiểu",
        "id": "kejadian peristiwa jenis tipe",
        "ar": "الحدث حدث النوع نوع",
        "he": "אירוע סוג פעולה",
    },
}
