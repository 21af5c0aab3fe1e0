"""The page is for this machine until it has a login."""

import pytest

from groundstation.errors import ConfigurationError
from groundstation.web.settings import WebSettings


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.1", "::1", "localhost", "LOCALHOST"])
def test_loopback_is_allowed(host: str) -> None:
    assert WebSettings(host=host).port == 8080


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "::", "", "192.0.2.7", "base.example", "localhost.example", "127.1", "*"]
)
def test_anything_else_is_refused_with_the_way_out(host: str) -> None:
    with pytest.raises(ConfigurationError, match=r"no login yet.*ssh -L 8080:127\.0\.0\.1:9000"):
        WebSettings(host=host, port=9000)


@pytest.mark.parametrize("port", [-1, 65_536])
def test_ports_that_are_none(port: int) -> None:
    with pytest.raises(ConfigurationError, match=r"web\.port"):
        WebSettings(port=port)
