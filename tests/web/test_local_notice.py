"""What is told to whoever lives there: in both languages, with the contact."""

import re

from groundstation.web.local_notice import notices


def test_it_is_said_in_every_language_what_it_is_and_what_to_mind() -> None:
    told = notices("+36 00 000 0000")
    assert list(told) == ["en", "hu"]
    for text, words in zip(
        told.values(), (("power lines", "batteries"), ("villanyvezeték", "Elem")), strict=True
    ):
        assert all(word in text for word in words)
        assert "+36 00 000 0000" in text
        assert set(re.findall(r"\{(\w+)\}", text)) == {"when", "place", "station"}
    assert "Please call: …" in notices("")["en"]
