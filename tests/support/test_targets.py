"""The receivers that other tests rely on, each spoken to by an ordinary client."""

import asyncio
import smtplib
from email.message import EmailMessage

import aiohttp
import pytest

from tests.support.http_target import HttpTarget
from tests.support.keeper import until
from tests.support.smtp import SmtpTarget


async def test_http_target_keeps_and_fails_when_told() -> None:
    async with HttpTarget() as target, aiohttp.ClientSession() as client:

        async def post(body: object) -> int:
            async with client.post(f"{target.url}/phone", json=body) as answer:
                return answer.status

        assert await post({"title": "one"}) == 200
        target.status = 500
        assert await post({"title": "two"}) == 500
        target.status, target.delay_s = 200, 30.0
        hung_up = asyncio.create_task(post({"title": "three"}))
        await until(lambda: len(target.posts) == 3)
        hung_up.cancel()
        with pytest.raises(asyncio.CancelledError):
            await hung_up
        target.delay_s = 0.0
        port = target.port
        await target.stop()
        with pytest.raises(aiohttp.ClientConnectionError):
            await post({"title": "nobody"})
        await target.start()
        assert target.port == port
        assert await post({"title": "four"}) == 200
    assert [post.body["title"] for post in target.posts] == ["one", "two", "three", "four"]
    assert [body["title"] for body in target.accepted] == ["one", "three", "four"]
    assert {post.path for post in target.posts} == {"/phone"}


def test_smtp_target_keeps_and_refuses_when_told() -> None:
    mail = EmailMessage()
    mail["Subject"] = "Burst over the Great Plain · kanalas-1"
    mail["From"] = "base@station.example"
    mail["To"] = "chase@phone.example"
    mail.set_content("Szél: 12 m/s\n")
    with SmtpTarget() as target, smtplib.SMTP("127.0.0.1", target.port, timeout=60) as client:
        target.refusing = True
        with pytest.raises(smtplib.SMTPDataError):
            client.send_message(mail)
        target.refusing = False
        client.send_message(mail)
    (kept,) = target.mails
    assert target.refused == 1
    assert (kept.sender, kept.recipients) == ("base@station.example", ("chase@phone.example",))
    assert kept.subject == mail["Subject"]
    assert kept.text.strip() == "Szél: 12 m/s"
