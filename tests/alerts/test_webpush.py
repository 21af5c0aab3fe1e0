"""Web push, held against the worked examples of its standards and a stand-in that decrypts."""

import json
import stat
from pathlib import Path

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec

from groundstation.alerts import phones as kept
from groundstation.alerts import webpush
from groundstation.alerts.phone_target import PhoneDesk, message_json
from groundstation.alerts.phones import Phone, Phones, PhonesSettings
from groundstation.errors import ConfigurationError
from groundstation.store.batch import Batch
from groundstation.store.writer import Store
from tests.support.alert_samples import Ear, message
from tests.support.keeper import until
from tests.support.outbox import delivering, figures
from tests.support.push_service import Handset, PushService, bytes_of, read, sender_of, text_of

# RFC 8291, appendix A.
TEXT = b"When I grow up, I want to be a watermelon"
SENDER = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
PHONE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
PHONE_PUBLIC = (
    "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
)
SECRET = "BTBZMqHH6r4Tts7J_aSIgg"
SALT = "DGv6ra1nlYgDCS1FRnbzlw"
SEALED = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS"
    "6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qu"
    "lcy4a-fN"
)
# RFC 8292, section 2.4.
TOKEN = (
    "vapid t=eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJl"
    "eHAiOjE0NTM1MjM3NjgsInN1YiI6Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_HL"
    "GkMlMuCGSK2rpiUfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSSHzvoD1oA, "
    "k=BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"
)
CONTACT = PhonesSettings(contact="mailto:kanalas@example.net")


def private(text: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(bytes_of(text), "big"), ec.SECP256R1())


def test_the_example_of_rfc_8291_comes_out_byte_by_byte() -> None:
    sealed = webpush.encrypted(
        TEXT,
        bytes_of(PHONE_PUBLIC),
        bytes_of(SECRET),
        sender=private(SENDER),
        salt=bytes_of(SALT),
    )
    assert text_of(sealed) == SEALED


def test_the_stand_in_reads_the_example_of_rfc_8291() -> None:
    """So that it may judge ours."""
    assert read(bytes_of(SEALED), private(PHONE), bytes_of(SECRET)) == TEXT


def test_the_stand_in_knows_the_sender_of_rfc_8292() -> None:
    claims, _ = sender_of(TOKEN)
    assert claims == {
        "aud": "https://push.example.net",
        "exp": 1_453_523_768,
        "sub": "mailto:push@example.com",
    }


def test_a_signature_of_another_key_is_refused() -> None:
    ours, other = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    signed = webpush.vapid(ours, "https://push.example.net", "mailto:a@example.net", 2e9)
    assert sender_of(signed)[0]["aud"] == "https://push.example.net"
    swapped = f"{signed.partition(', k=')[0]}, k={text_of(webpush.point(other.public_key()))}"
    with pytest.raises(InvalidSignature):
        sender_of(swapped)


def test_a_text_is_cut_until_it_fits_a_message() -> None:
    """RFC 8030 section 7.2: a push service may refuse more than 4096 octets."""
    shown = {"link": "https://example.net/", "tag": "x" * 60, "urgent": True}
    for letter in ("a", "ű", "🎈", '"', "\n"):
        cut = message_json("Burst", letter * 6_000, shown)
        assert len(cut) <= webpush.MOST_BYTES
        body = json.loads(cut)["body"]
        assert len(body.encode()) > 0.45 * webpush.MOST_BYTES
        assert body.endswith("…")
    whole = json.loads(message_json("Burst", "at 30.1 km", shown))
    assert whole == {"title": "Burst", "body": "at 30.1 km", **shown}


def test_what_is_kept_is_for_the_station_alone_and_outlives_a_restart(tmp_path: Path) -> None:
    handset = Handset("https://push.example.net/for/1")
    first = Phones(tmp_path)
    phone = first.add(" Anna  ", **handset.given)
    assert phone.name == "phone Anna"
    for name in (kept.KEY_NAME, kept.PHONES_NAME):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    again = Phones(tmp_path)
    assert again.all == (phone,)
    assert again.key.private_numbers() == first.key.private_numbers()
    assert again.remove(phone.endpoint) == phone
    assert Phones(tmp_path).all == ()


def test_each_phone_has_a_name_of_its_own_and_keeps_it(tmp_path: Path) -> None:
    phones = Phones(tmp_path, taken=["phone"])
    given = [Handset(f"https://push.example.net/for/{n}").given for n in range(3)]
    assert [phones.add("", **one).name for one in given] == ["phone 2", "phone 3", "phone 4"]
    assert phones.add("Anna", **given[1]).name == "phone 3"
    for n in range(3, kept.MOST):
        phones.add("", **Handset(f"https://push.example.net/for/{n}").given)
    with pytest.raises(ValueError, match="20 phones are told already"):
        phones.add("", **Handset("https://push.example.net/for/x").given)


@pytest.mark.parametrize(
    "wrong",
    [
        {"endpoint": "http://push.example.net/1"},
        {"endpoint": "https://you@push.example.net/1"},
        {"endpoint": f"https://push.example.net/{'1' * 2_000}"},
        {"key": "BAAA"},
        {"key": text_of(b"\x04" + bytes(64))},
        {"key": "no base64!"},
        {"secret": "AAAA"},
    ],
)
def test_what_is_no_phone_is_refused(wrong: dict[str, str]) -> None:
    given = {**Handset("https://push.example.net/1").given, **wrong}
    with pytest.raises(ValueError, match=r"[a-z]"):
        Phone(name="phone", **given)


def test_a_file_of_phones_that_is_damaged_forgets_them_and_says_so(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / kept.PHONES_NAME).write_text('[{"name": "phone"')
    assert Phones(tmp_path).all == ()
    assert "let them ask anew" in caplog.text


def test_a_key_that_is_damaged_is_named(tmp_path: Path) -> None:
    (tmp_path / kept.KEY_NAME).write_text("no key")
    with pytest.raises(ConfigurationError, match=r"push-key\.pem can't be used"):
        Phones(tmp_path)


@pytest.mark.parametrize("wrong", ["kanalas@example.net", "mailto:", "http://example.net", ""])
def test_a_contact_that_no_push_service_takes_is_refused(wrong: str) -> None:
    with pytest.raises(ConfigurationError, match=r"phones\.contact"):
        PhonesSettings(contact=wrong)


def desk_of(folder: Path, service: PushService) -> PhoneDesk:
    settings = PhonesSettings(contact="mailto:kanalas@example.net", ca_file=service.authority)
    return PhoneDesk(settings, Phones(folder), "UTC")


async def test_phones_join_are_told_and_leave_while_the_station_runs(tmp_path: Path) -> None:
    async with (
        PushService(tmp_path) as service,
        Store.open(tmp_path / "station.db", ("ear",)) as store,
    ):
        anna, bela, ear, desk = (
            service.handset(),
            service.handset(),
            Ear(),
            desk_of(tmp_path, service),
        )
        async with delivering(store, ear, joining=desk):
            assert await desk.add("Anna", **anna.given) == ("phone Anna", "")
            assert anna.titles == ["This phone will be told"]
            await store.commit(Batch(messages=(message("a"),)))
            await until(lambda: len(anna.shown) == 2)
            await desk.add("Béla", **bela.given)
            await store.commit(Batch(messages=(message("b", thread="landing"),)))
            await until(lambda: len(anna.shown) == 3 and len(bela.shown) == 2)
            # Béla's browser took the subscription back: it is forgotten, the others go on.
            bela.status = 410
            await store.commit(Batch(messages=(message("c"),)))
            await until(lambda: len(anna.shown) == 4 and len(desk.targets()) == 1)
            await store.commit(Batch(messages=(message("d"),)))
            await until(lambda: len(anna.shown) == 5)
            await until(lambda: figures(store.path, "phone Béla").pending == 0)
            assert figures(store.path, "phone Béla").failed >= 1
            assert await desk.remove(anna.endpoint) == "phone Anna"
            await until(lambda: len(ear.heard) == 4)
    burst = message("a")
    assert anna.shown[1]["title"] == burst.title
    assert anna.shown[1]["body"] == burst.body
    assert anna.headers[1]["Urgency"] == "normal"
    assert anna.headers[1]["TTL"] == "3600"
    assert "Topic" not in anna.headers[1]
    # RFC 8030 section 5.4: at most 32 letters of base64url.
    assert len(anna.headers[2]["Topic"]) == 32
    assert len(anna.senders) == 1
    assert len(bela.shown) == 2
    assert Phones(tmp_path).all == ()


async def test_a_phone_that_is_kept_is_told_after_a_restart(tmp_path: Path) -> None:
    async with PushService(tmp_path) as service:
        handset = service.handset()
        await desk_of(tmp_path, service).add("Anna", **handset.given)
        async with (
            Store.open(tmp_path / "station.db") as store,
            delivering(store, joining=desk_of(tmp_path, service)),
        ):
            await until(lambda: "phone Anna" in store.targets)
            await store.commit(Batch(messages=(message("a"),)))
            await until(lambda: len(handset.shown) == 2)


async def test_a_push_service_that_is_busy_is_tried_again(tmp_path: Path) -> None:
    async with (
        PushService(tmp_path) as service,
        Store.open(tmp_path / "station.db") as store,
    ):
        handset, desk = service.handset(), desk_of(tmp_path, service)
        handset.status = 503
        name, trouble = await desk.add("Anna", **handset.given)
        assert trouble == "the phone's push service answered 503"
        async with delivering(store, joining=desk):
            await until(lambda: name in store.targets)
            await store.commit(Batch(messages=(message("a"),)))
            await until(lambda: bool(figures(store.path, name).last_error))
            handset.status = 201
            await until(lambda: handset.titles == [message("a").title])


async def test_a_push_service_that_is_not_who_it_says_gets_nothing(tmp_path: Path) -> None:
    async with PushService(tmp_path) as service:
        handset = service.handset()
        desk = PhoneDesk(CONTACT, Phones(tmp_path), "UTC")
        _, trouble = await desk.add("Anna", **handset.given)
    assert trouble == "no connection to the phone's push service"
    assert handset.shown == []
