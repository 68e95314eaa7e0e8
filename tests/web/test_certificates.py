"""Is a certificate of our own what it should be, and a given one that is of no use one line?

What a certificate must hold is RFC 5280 and RFC 9525 (names of a server); OpenSSL, through the
standard library, reads it independently of the library that wrote it.
"""

from __future__ import annotations

import ssl
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

pytest.importorskip("cryptography", reason="the optional group that serves pages is not installed")

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import rsa

from halfstep.app.web import certificates
from halfstep.app.web.certificates import OWN_FILE, TlsFiles, given_certificate, own_certificate
from halfstep.app.web.phone_door import page_server
from halfstep.app.web.site import desk_site
from halfstep.errors import BriefError, StoreError

NAMES = ("localhost", "desk.local", "127.0.0.1", "::1", "192.0.2.7")


def leaf_of(files: TlsFiles) -> x509.Certificate:
    return x509.load_pem_x509_certificate(files.certificate.read_bytes())


def names_in(files: TlsFiles) -> set[str]:
    names = leaf_of(files).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in names}


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_it_takes_every_name(tmp_path: Path, name: str) -> None:
    files = own_certificate(tmp_path, NAMES)
    client = ssl.create_default_context(cafile=files.certificate)
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(files.certificate, files.key)
    _shake_hands(client, server, name)


def _shake_hands(client: ssl.SSLContext, server: ssl.SSLContext, name: str) -> None:
    """Both sides of a connection in memory; the client looks at the certificate and its name."""
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    visitor = client.wrap_bio(down, up, server_hostname=name)
    host = server.wrap_bio(up, down, server_side=True)
    waiting = [visitor, host]
    for _ in range(10):
        for side in tuple(waiting):
            try:
                side.do_handshake()
                waiting.remove(side)
            except ssl.SSLWantReadError:
                pass
    assert waiting == []
    visitor.write(b"a bar")
    assert host.read(5) == b"a bar"


def test_a_client_refuses_it_for_a_name_that_is_not_of_this_machine(tmp_path: Path) -> None:
    files = own_certificate(tmp_path, NAMES)
    client = ssl.create_default_context(cafile=files.certificate)
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(files.certificate, files.key)
    with pytest.raises(ssl.SSLCertVerificationError, match=r"elsewhere\.example"):
        _shake_hands(client, server, "elsewhere.example")


def test_it_lasts_a_year_at_most_and_signs_nothing_else(tmp_path: Path) -> None:
    leaf = leaf_of(own_certificate(tmp_path, NAMES))
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= timedelta(days=366)
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert not leaf.extensions.get_extension_for_class(x509.KeyUsage).value.key_cert_sign


@pytest.mark.skipif(sys.platform == "win32", reason="it keeps no modes")
@pytest.mark.parametrize("mode", [None, 0o644])
def test_its_owner_alone_reads_it(tmp_path: Path, mode: int | None) -> None:
    files = own_certificate(tmp_path, NAMES)
    if mode is not None:
        files.key.chmod(mode)
        own_certificate(tmp_path, NAMES)
    assert files.key.stat().st_mode & 0o777 == 0o600


def test_it_stays_the_same_as_long_as_it_stands_for_this_machine(tmp_path: Path) -> None:
    first = own_certificate(tmp_path, NAMES).fingerprint
    assert own_certificate(tmp_path, NAMES[:2]).fingerprint == first
    assert own_certificate(tmp_path, (*NAMES, "192.0.2.8")).fingerprint != first


def test_in_another_network_it_keeps_the_names_of_the_one_before(tmp_path: Path) -> None:
    own_certificate(tmp_path, NAMES)
    assert names_in(own_certificate(tmp_path, ("192.0.2.8",))) == {*NAMES, "192.0.2.8"}


def test_it_is_renewed_before_it_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(certificates, "LASTS", timedelta(days=29))
    first = own_certificate(tmp_path, NAMES).fingerprint
    monkeypatch.undo()
    renewed = own_certificate(tmp_path, ("localhost",))
    assert renewed.fingerprint != first
    assert names_in(renewed) == {"localhost"}, "names of a year ago are forgotten"


@pytest.mark.parametrize("left", [b"", b"no certificate", b"-----BEGIN CERTIFICATE-----\nAA"])
def test_a_damaged_one_is_made_anew(tmp_path: Path, left: bytes) -> None:
    tmp_path.joinpath(OWN_FILE).write_bytes(left)
    assert names_in(own_certificate(tmp_path, NAMES)) == set(NAMES)


def test_one_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    tmp_path.joinpath(OWN_FILE).mkdir()
    with pytest.raises(StoreError, match=r"cannot read or make .*tls\.pem: Is a directory"):
        own_certificate(tmp_path, NAMES)


# A certificate that was given


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """A certificate and its key, as others make them: apart."""
    pem = own_certificate(tmp_path, NAMES).certificate.read_text()
    key, _, certificate = pem.partition("-----BEGIN CERTIFICATE")
    paths = tmp_path / "certificate.pem", tmp_path / "key.pem"
    paths[0].write_text("-----BEGIN CERTIFICATE" + certificate)
    paths[1].write_text(key)
    return paths


def test_a_given_one_is_taken_as_it_is(files: tuple[Path, Path]) -> None:
    assert given_certificate(*files) == TlsFiles(*files, is_own=False)


def test_others_come_by_the_first_name_of_a_given_one(files: tuple[Path, Path]) -> None:
    assert given_certificate(*files).name == sorted(NAMES)[0]
    assert set(given_certificate(*files).names) == set(NAMES)


def test_others_come_to_one_of_our_own_by_this_machine_s_address(tmp_path: Path) -> None:
    assert own_certificate(tmp_path, NAMES).name == ""


def test_files_that_cannot_be_read_are_one_line(files: tuple[Path, Path], tmp_path: Path) -> None:
    certificate, key = files
    none = tmp_path / "none.pem"
    with pytest.raises(BriefError, match=r"cannot read .*none\.pem: No such file"):
        given_certificate(none, key)
    with pytest.raises(BriefError, match=r"cannot read .*: Is a directory"):
        given_certificate(certificate, tmp_path)


def test_files_of_something_else_are_one_line(files: tuple[Path, Path]) -> None:
    certificate, key = files
    with pytest.raises(BriefError, match="no certificate is in it; give a file in PEM"):
        given_certificate(key, certificate)
    with pytest.raises(BriefError, match="no key is in it; give a file in PEM"):
        given_certificate(certificate, certificate)


def test_a_key_of_another_certificate_is_one_line(files: tuple[Path, Path], tmp_path: Path) -> None:
    certificate, _ = files
    tmp_path.joinpath("other").mkdir()
    other = own_certificate(tmp_path / "other", NAMES)
    with pytest.raises(BriefError, match=r"is of another certificate than .*certificate\.pem"):
        given_certificate(certificate, other.key)


def test_a_locked_key_is_one_line(files: tuple[Path, Path]) -> None:
    certificate, key = files
    private = serialization.load_pem_private_key(key.read_bytes(), None)
    key.write_bytes(
        private.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(b"secret"),
        )
    )
    with pytest.raises(BriefError, match="the key is locked; give one without a password"):
        given_certificate(certificate, key)


@pytest.mark.parametrize(
    ("moved", "fault"), [(-500, "it ended on 20.*; renew it"), (30, "it begins on 20")]
)
def test_one_at_the_wrong_time_is_one_line(
    files: tuple[Path, Path], moved: int, fault: str
) -> None:
    certificate, key = files
    begins_at = datetime.now(UTC) + timedelta(days=moved)
    _sign_again(certificate, key, begins_at)
    with pytest.raises(BriefError, match=fault):
        given_certificate(certificate, key)


def _sign_again(certificate: Path, key: Path, begins_at: datetime) -> None:
    """The same certificate, for another time."""
    private = serialization.load_pem_private_key(key.read_bytes(), None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(certificates, "EARLIER", datetime.now(UTC) - begins_at)
        made = certificates._self_signed(private, NAMES)  # type: ignore[arg-type]
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))


def test_a_key_too_weak_to_be_served_with_is_one_line(files: tuple[Path, Path]) -> None:
    certificate, key = files
    weak = rsa.generate_private_key(65537, 1024)
    key.write_bytes(
        weak.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    _sign_again(certificate, key, datetime.now(UTC) - timedelta(days=1))
    with pytest.raises(BriefError, match=r"it cannot be served with \(ee key too small\)"):
        given_certificate(certificate, key)


def test_nothing_older_than_tls_1_2_and_no_weak_cipher_is_spoken(tmp_path: Path) -> None:
    """RFC 9325, 3.1 and 4.2: forward secrecy, and ciphers that seal what they hide."""
    config = page_server(desk_site, own_certificate(tmp_path, NAMES)).config
    config.load()
    assert config.ssl is not None
    assert config.ssl.minimum_version is ssl.TLSVersion.TLSv1_2
    ciphers = config.ssl.get_ciphers()
    assert len(ciphers) > 3
    for cipher in ciphers:
        assert cipher["aead"]
        assert cipher["protocol"] == "TLSv1.3" or cipher["kea"] == "kx-ecdhe"
