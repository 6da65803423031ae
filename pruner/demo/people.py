"""Invented names and towns. Persons' names are put together from syllables, never taken from a directory.

Receives nothing; hands on pools of text and, per country, where in a pool its share lies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pruner.demo.world import COUNTRIES

# Per flavour: first names, family names, towns; each as beginnings / middles / endings (_ is nothing).
_SYLLABLES: Final[dict[str, tuple[str, str, str]]] = {
    "english": (
        "Al Bren Cor Dar El Har Jor Ken Lor Mor Ros Tam / _ la ri vo / den ley na son ton vin wyn",
        "Ash Brack Cald Dun Fern Garr Hart Kell Lang Mar Pem Rad Stan Thorn Wex / _ er ing o / by croft "
        "dale field ham more sey wick",
        "Ald Brook Cross Drift Elm Fox Glen Hazel Iron Lark Maple Oak Quarry Stone Wren / _ en er / "
        "bridge burgh field ford gate haven mouth stead ville",
    ),
    "german": (
        "Adal Bren Diet Eck Ger Hart Irm Lor Mein Ort Rein Wal / _ a i / bert dis fried gund hild lind mar rik wina",
        "Brünn Dachs Fel Gröb Hasl Krumm Löff Mitt Nuss Pirk Quell Röt Stroh Tann Wies / _ en er / auer "
        "bichler eder gruber hofer ler moser reiter",
        "Alt Birken Dürn Eber Föhren Groß Hirsch Königs Lerchen Mühl Neu Ober Roß Stein Unter / _ s / ach "
        "bach dorf furt hausen kirch tal",
    ),
    "romance": (
        "Al Bel Cor Dan Fio Gio Lu Mar Re Sil Val Vi / _ ba na ri / ana elle etto ina io ino one",
        "Bar Cas Del Fon Gal Lam Mon Pas Ric Sal Tor Ver / _ a e i / cetti dini landi nelli rano telli toni vieri",
        "Bel Castel Fonta Luma Monte Pietra Rocca Serra Torre Val Villa / _ la na / bruna chiara forte mara nova rosa verde",
    ),
    "iberian": (
        "Al Ber Car Do Es Fe Jo Lu Mar Ra Sa Vi / _ ma na ri / cia dor elo inha lio món nda sa",
        "Al Bar Cas Es Fi Gal Mon Nu Pal Que Sal Tor / _ de ma ra / cedo gues jano lez meda ñez queira rinho",
        "Agua Campo Flor Monte Palma Puerto Río San Santa Sierra Vila / _ ' / alta andía bela clara dorada nova rubia verde",
    ),
    "slavic": (
        "Bor Dal Dra Jar Kaz Lud Mir Rad Sta Vla Zden Zor / _ i o / dan ena ina ka mil mír slav",
        "Bar Čer Dvor Hol Jez Kov Lip Nov Pol Ryb Sokol Vrb / _ an e o / čák ek enko ić ova ský",
        "Bíl Čern Dub Hor Jablon Krásn Lip Nov Olš Star Vrch Zelen / _ o i / ec grad hrad ice ov polje vka",
    ),
    "nordic": (
        "As Bjar Dag Ei Frey Gun Hal In Jor Sig Tor Yng / _ a i / dis gard na mund run var vin",
        "Berg Dal Eke Fjell Gran Hag Lind Myr Näs Os Sol Ström / _ a en / bakke berg gren kvist lund moen ström",
        "Ask Birke Elv Fager Grön Horn Kalv Lille Myr Nord Sand Stor / _ a s / borg by eid fjord holm sund vik",
    ),
    "eastern": (
        "A Chi Da Ha Ji Ka Mi Na Ren Shi Tae Yu / _ mi no ru / chi ho ki ko lin rin to",
        "Aki Bao Chen Fu Hana Iwa Kuro Liang Mori Naga Shi Tana / _ ba ka / gawa hara kul mura ng sak zaki",
        "Aka Ban Chiang Fuji Hoshi Kita Lam Mina Nishi Suk Ta Yama / _ no ma / hama kawa buri long oka shan yao",
    ),
    "southern": (
        "A Dal Fa Ha Ja Ka La Na Ra Sa Ta Za / _ li mi ri / deep far han ir na sha yan",
        "Ab Bar Dha Far Gha Has Kha Mal Nar Qas Ram Sha / _ a i / dani harim iwal madi raj wani zai",
        "Al Bar Dar Ha Jal Kar Mal Na Ram Sul Tel Za / _ a i / abad dara giri kent nagar pur shahr",
    ),
}

# Well-known public names of places; a slash gives the state.
_TOWNS: Final[dict[str, str]] = {
    "AT": "Wien/Wien Graz/Steiermark Linz/Oberösterreich Salzburg/Salzburg Innsbruck/Tirol "
    "Klagenfurt/Kärnten "
    "Villach/Kärnten Wels/Oberösterreich Dornbirn/Vorarlberg Bregenz/Vorarlberg Eisenstadt/Burgenland "
    "Krems/Niederösterreich Mödling/Niederösterreich Kitzbühel/Tirol Wörgl/Tirol Zwettl/Niederösterreich "
    "Judenburg/Steiermark Vöcklabruck/Oberösterreich Bischofshofen/Salzburg Spittal/Kärnten "
    "Güssing/Burgenland",
    "DE": "München/Bayern Nürnberg/Bayern Köln/Nordrhein-Westfalen Düsseldorf/Nordrhein-Westfalen "
    "Lübeck/Schleswig-Holstein "
    "Göttingen/Niedersachsen Würzburg/Bayern Saarbrücken/Saarland Tübingen/Baden-Württemberg Görlitz/Sachsen "
    "Berlin/Berlin Hamburg/Hamburg Bremen/Bremen Leipzig/Sachsen Erfurt/Thüringen Mainz/Rheinland-Pfalz",
    "CH": "Zürich/ZH Genève/GE Bern/BE Neuchâtel/NE Chur/GR Luzern/LU Delémont/JU Bellinzona/TI Köniz/BE",
    "LI": "Vaduz Schaan Balzers Triesen Ruggell",
    "IT": "Bolzano Trento Merano Udine Verona Milano Torino Cefalù Forlì Bari Roma",
    "SI": "Ljubljana Maribor Celje Kranj Škofja_Loka Žalec Črnomelj Koper",
    "HU": "Budapest Győr Sopron Szombathely Pécs Kőszeg Székesfehérvár Szeged",
    "CZ": "Praha Brno Plzeň České_Budějovice Znojmo Třebíč Olomouc Český_Krumlov",
    "SK": "Bratislava Košice Žilina Trnava Nitra Banská_Bystrica Prešov",
}
_US_STATES: Final = "AL AZ CA CO FL GA IL IN KY MA MD MI MN MO NC NH NJ NM NV NY OH OK OR PA TN TX UT VA WA WI"


@dataclass(frozen=True, slots=True)
class Pool:
    """Texts of which country k may use `texts[start[k] : start[k] + size[k]]`; `start`, `size` are int64."""

    texts: list[str]
    start: NDArray[np.int64]
    size: NDArray[np.int64]


def _put_together(syllables: str) -> list[str]:
    parts = [part.split() for part in syllables.split("/")]
    texts = (a + b.strip("_'") + c for a in parts[0] for b in parts[1] for c in parts[2])
    return list(dict.fromkeys(texts))


def _pool(per_country: list[list[str]]) -> Pool:
    texts: list[str] = []
    begun: dict[int, int] = {}
    for share in per_country:
        if id(share) not in begun:
            begun[id(share)] = len(texts)
            texts += share
    start = np.array([begun[id(share)] for share in per_country], dtype=np.int64)
    return Pool(texts, start, np.array([len(share) for share in per_country], dtype=np.int64))


def _by_flavour(which: int) -> list[list[str]]:
    made = {flavour: _put_together(syllables[which]) for flavour, syllables in _SYLLABLES.items()}
    return [made[country.flavour] for country in COUNTRIES]


def first_names() -> Pool:
    """First names of each country's flavour."""
    return _pool(_by_flavour(0))


def family_names() -> Pool:
    """Family names of each country's flavour."""
    return _pool(_by_flavour(1))


def towns() -> Pool:
    """Towns as `town/state` (the state may be missing): public names near Austria, else invented."""
    invented = _by_flavour(2)
    states = _US_STATES.split()
    for position, country in enumerate(COUNTRIES):
        if country.code in _TOWNS:
            invented[position] = [town.replace("_", " ") for town in _TOWNS[country.code].split()]
        elif country.code == "US":
            invented[position] = [f"{town}/{states[number % len(states)]}" for number, town in enumerate(invented[position])]
    return _pool(invented)


def calls() -> Pool:
    """Beginnings of call signs, each ending in its digit."""
    return _pool([list(country.beginnings) for country in COUNTRIES])
