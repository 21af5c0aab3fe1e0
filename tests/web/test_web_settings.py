"""To whom the page may be opened."""

from pathlib import Path

import pytest

from groundstation.errors import ConfigurationError
from groundstation.web.settings import AccessSettings, WebSettings


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.1", "::1", "localhost", "LOCALHOST"])
def test_loopback_is_allowed(host: str) -> None:
    assert WebSettings(host=host).port == 8080


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "::", "", "192.0.2.7", "base.example", "localhost.example", "127.1", "*"]
)
def test_anything_else_is_refused_with_the_way_out(host: str) -> None:
    with pytest.raises(
        ConfigurationError, match=r"groundstation token.*ssh -L 8080:127\.0\.0\.1:9000"
    ):
        WebSettings(host=host, port=9000)


@pytest.mark.parametrize("port", [-1, 65_536])
def test_ports_that_are_none(port: int) -> None:
    with pytest.raises(ConfigurationError, match=r"web\.port"):
        WebSettings(port=port)


SOMEBODY = AccessSettings(name="phone", token_hash="0" * 64)


def test_beyond_this_machine_it_wants_tokens_and_tls() -> None:
    with pytest.raises(ConfigurationError, match="without TLS would show tokens"):
        WebSettings(host="0.0.0.0", access=(SOMEBODY,))
    assert WebSettings(host="0.0.0.0", access=(SOMEBODY,), plain_http=True).plain_http
    both = WebSettings(host="::", access=(SOMEBODY,), certificate=Path("a.pem"), key=Path("b.pem"))
    assert both.certificate == Path("a.pem")


def test_entries_that_cannot_work() -> None:
    with pytest.raises(ConfigurationError, match="groundstation token"):
        AccessSettings(name="phone", token_hash="secret")
    with pytest.raises(ConfigurationError, match="belong together"):
        WebSettings(certificate=Path("a.pem"))
    with pytest.raises(ConfigurationError, match="same name"):
        WebSettings(access=(SOMEBODY, SOMEBODY))
