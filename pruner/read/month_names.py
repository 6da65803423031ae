"""Names of months -> their numbers.

Names and abbreviations in 33 languages of Europe and beyond, folded as `table.fold` does: Unicode CLDR, by way of the package
Babel 2.19.0. What names two months (listopad is October in Croatian, November in Polish and Czech) is left out.
"""

from __future__ import annotations

from typing import Final

_MONTHS: Final = (
    (
        "ene enero gen gener gennaio ian ianuarie janner jaan jaanuar jan janeiro januar januara januari january janv janvaris "
        "janvier led leden ledna oca ocak saus sausio sausis sij sijecanj sijecnja sty styczen stycznia tammi tammikuu "
        "tammikuuta ιαν ιανουαριοσ ιανουαριου січ січень січня янв январь января яну януари јан јануар ינו ינואר يناير"
    ),
    (
        "feb febbraio feber febr febrer febrero februar februara februari februarie februaris february fev fevereiro fevr "
        "fevrier helmi helmikuu helmikuuta lut lutego luty sub subat uno unor unora vas vasario vasaris veebr veebruar "
        "velj veljaca veljace φεβ φεβρουαριοσ φεβρουαριου лют лютии лютого феб фебруар фев февр февраль февраля февруари "
        "פבר פברואר فبراير"
    ),
    (
        "bre brezen brezna kov kovas kovo maalis maaliskuu maaliskuuta maart mar marc marca march marcius marco marec "
        "maret mars mart martie marts marz marzec marzo mrt mrz ozu ozujak ozujka μαρ μαρτιοσ μαρτιου бер березень "
        "березня мар март марта מרץ مارس"
    ),
    (
        "abr abril apr april aprila aprile aprilie aprilis aprill avr avril bal balandis balandzio dub duben dubna huhti "
        "huhtikuu huhtikuuta kwi kwiecien kwietnia nis nisan tra travanj travnja απρ απριλιοσ απριλιου апр апрель апреля "
        "април квіт квітень квітня אפר אפריל أبريل"
    ),
    (
        "geg geguze geguzes kve kveten kvetna mag maggio mai maig maijs maio maj maja majus may mayis mayo mei svi "
        "svibanj svibnja touko toukokuu toukokuuta μαι μαιοσ μαιου маи мая мај трав травень травня מאי مايو"
    ),
    (
        "birz birzelio birzelis cerven cervna cvn cze czerwca czerwiec giu giugno haz haziran iun iunie juin jun juna "
        "june junho juni junij junijs junio junius juny juuni kesa kesakuu kesakuuta lipanj lipnja ιουν ιουνιοσ ιουνιου "
        "июн июнь июня черв червень червня юни јун יוני يونيو"
    ),
    (
        "cervence cervenec cvc heina heinakuu heinakuuta iul iulie juil juillet jul jula julho juli julij julijs julio "
        "juliol julius july juuli liep liepa liepos lipca lipiec lug luglio srpanj srpnja tem temmuz ιουλ ιουλιοσ ιουλιου "
        "июл июль июля лип липень липня юли јул יולי يوليو"
    ),
    (
        "ag ago agost agosto agu agustos agustus aout aug august augusta augusti augusts augustus augusztus avg avgust "
        "elo elokuu elokuuta kol kolovoz kolovoza rugp rugpjucio rugpjutis sie sierpien sierpnia srpen srpna αυγ "
        "αυγουστοσ αυγουστου авг август августа серп серпень серпня אוג אוגוסט أغسطس"
    ),
    (
        "eyl eylul rugs rugsejis rugsejo ruj rujan rujna sep sept septembar september septembra septembre septembrie "
        "septembris septiembre set setembre setembro settembre syys syyskuu syyskuuta szept szeptember wrz wrzesien "
        "wrzesnia zar zari σεπ σεπτεμβριοσ σεπτεμβριου вер вересень вересня сент сентябрь сентября сеп септембар "
        "септември ספט ספטמבר سبتمبر"
    ),
    (
        "eki ekim loka lokakuu lokakuuta oct october octobre octombrie octubre okt oktobar oktober oktobra oktobris "
        "oktoober ott ottobre out outubro paz pazdziernik pazdziernika rij rijen rijna spal spalio spalis οκτ οκτωβριοσ "
        "οκτωβριου жовт жовтень жовтня окт октобар октомври октябрь октября אוק אוקטובר أكتوبر"
    ),
    (
        "kas kasim lapkr lapkricio lapkritis listopadu marras marraskuu marraskuuta noiembrie nov novembar november "
        "novembra novembre novembris novembro noviembre stu studeni studenoga νοε νοεμβριοσ νοεμβριου лист листопад "
        "листопада нов новембар ное ноември нояб ноябрь ноября נוב נובמבר نوفمبر"
    ),
    (
        "ara aralik dec decembar december decembra decembre decembrie decembris des desember desembre dets detsember dez "
        "dezember dezembro dic dicembre diciembre gru grudnia grudzien gruod gruodis gruodzio joulu joulukuu joulukuuta "
        "pro prosinac prosinca prosince prosinec δεκ δεκεμβριοσ δεκεμβριου груд грудень грудня дек декабрь декабря "
        "декември дец децембар דצמ דצמבר ديسمبر"
    ),
)
#: The number of a month per folded name.
MONTH_OF: Final = {name: number for number, names in enumerate(_MONTHS, start=1) for name in names.split()}
