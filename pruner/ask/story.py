"""The story of one row of a finished run, as a frozen model."""

from __future__ import annotations

from pruner.account.parts import Part


class Story(Part):
    """What became of a row, why, and what would change it.

    From the ledger: `source` to `rank`, and with heard logs `calls` to `expected_from`. From the summary: `radio`, the days of
    the period and the window, `order` and `order_note` of a contact that has a rank. `kept_of_rule`: how many contacts of the
    same rule are in; `expected_at_border`: the calls to expect from the last of them. `name` and `town` where the directory was
    read again.
    """

    radio: str
    source: str
    row: int
    system: str
    id: int | None
    callsign: str | None
    country: str | None
    country_from: str | None
    outcome: str
    reason: str | None
    rule: str | None
    rank: int | None
    calls: int | None = None
    calls_on_mine: int | None = None
    expected: float | None = None
    expected_from: str | None = None
    period_days: int | None
    window_days: int | None
    order: str | None
    order_note: str | None
    sentence: str
    to_change: str
    kept_of_rule: int | None = None
    expected_at_border: float | None = None
    name: str | None = None
    town: str | None = None

    def document(self) -> dict[str, object]:
        """The story as a table of JSON; what the run did not know is no key of it."""
        return self.model_dump(mode="json", exclude_unset=True)
