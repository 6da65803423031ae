"""Classes of words whose columns no directory, list or log has use for."""

from __future__ import annotations

from typing import Final

#: Meanings that no directory, list or log has use for -> why a column headed so is not taken.
NEVER_TAKEN: Final[dict[str, str]] = {
    "row_number": "it counts the rows",
    "database_key": "it is the key of the record in its database",
    "member_number": "it is a number of a club's or a customer's list",
    "business_number": "it is a number of goods, of an account or of a paper",
    "record_date": "it dates the record or the person, not a call",
    "count": "it counts something",
    "phone": "it is a telephone number",
    "email": "it is an e-mail address",
    "web": "it is an address or a picture",
    "postal_code": "it is a postal code",
    "street": "it is a street or a house number",
    "locator": "it is a locator of a place",
    "latitude": "it is a latitude",
    "longitude": "it is a longitude",
    "remark": "it is a remark",
    "status": "it is the state of the entry",
    "licence": "it is the class or the number of a licence",
    "previous_callsign": "it is a call sign that is no longer held",
    "other_station": "it is another station, a network or another person",
    "person_other": "it is something else about the person",
    "frequency": "it is a frequency, a channel or a colour code",
    "signal": "it is about the signal or the equipment",
}
