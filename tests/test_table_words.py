"""The words that head columns: complete, well formed, and two-sided only where a list says why. The words are from memory."""

from __future__ import annotations

import pytest

from pruner.table.words import WORDS


@pytest.mark.parametrize(
    "meaning", ["id", "callsign", "first_name", "last_name", "name", "town", "country", "time", "talkgroup"]
)
def test_the_meanings_of_directories_and_logs_have_words_in_many_languages(meaning: str) -> None:
    assert len(set(WORDS[meaning]) - {"mul"}) >= 25


@pytest.mark.parametrize("meaning", WORDS)
def test_entries_are_lower_case_and_stand_once(meaning: str) -> None:
    for language, entries in WORDS[meaning].items():
        words = entries.split()
        assert words, language
        assert entries == " ".join(words).lower()
        assert len(words) == len(set(words)), (language, sorted(words))
        assert all(word.strip("_") == word for word in words)
