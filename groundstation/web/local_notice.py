"""What to tell whoever lives or works where it may lie, in each language that there is."""

from groundstation.language.catalogue import _, languages, speaking


def notices(contact: str) -> dict[str, str]:
    """The text by language, with {station}, {place} and {when} to be filled in where it is read."""
    texts = {}
    for language in languages():
        with speaking(language):
            texts[language] = "\n".join(_lines(contact))
    return texts


def _lines(contact: str) -> tuple[str, ...]:
    return (
        _(
            "Hello! A measuring payload of a balloon has come down near here by parachute, at about"
            " {when}."
        ),
        _(
            "It is probably near {place}. Look for a small box, a parachute and string; it may hang"
            " in a tree."
        ),
        _(
            "If you see it: please keep away from power lines, roads and water, don't climb for it,"
            " and don't open it. There may be batteries inside."
        ),
        _("It belongs to {station}."),
        _("Please call {contact}.", contact=contact) if contact else _("Please call: …"),
        _("May we come onto your land to fetch it? Thank you!"),
    )
