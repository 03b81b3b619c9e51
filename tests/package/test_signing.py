"""Signature fields, and signatures in them, with a key made for the test and thrown away."""

from __future__ import annotations

import builtins
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pikepdf
import pytest

from commission.errors import OutputError
from commission.package.signing import sign_package, signature_fields
from package.reading_pdf import tool

PASSPHRASE = "only for this test"


@pytest.fixture(scope="session")
def key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a PKCS#12 file of a certificate that signs itself."""
    pytest.importorskip("pyhanko")
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import pkcs12

    private = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Ada Quill")])
    now = datetime.now(UTC)
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(usage, critical=True)
        .sign(private, hashes.SHA256())
    )
    lock = serialization.BestAvailableEncryption(PASSPHRASE.encode())
    path = tmp_path_factory.mktemp("key") / "ada.p12"
    path.write_bytes(pkcs12.serialize_key_and_certificates(b"k", private, certificate, None, lock))
    return path


@pytest.fixture
def package(small_package: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(small_package, tmp_path / "package.pdf"))


def test_each_role_of_the_project_and_of_each_unit_has_a_field(small_package: Path) -> None:
    found = signature_fields(small_package)
    roles = ("recorded", "witnessed", "accepted")
    assert [field.name for field in found] == [
        f"{title} {role}" for title in ("Project", "RTU-1", "RTU-2") for role in roles
    ]
    assert not any(field.signer for field in found)
    assert found[3].told == "Signature: recorded by, RTU-1"


def test_fields_stand_on_their_pages_over_the_signature_line(small_package: Path) -> None:
    with pikepdf.open(small_package) as pdf:
        fields = list(pdf.Root.AcroForm.Fields)
        boxes = [[float(number) for number in field.Rect] for field in fields]
        for field in fields:
            page = next(page for page in pdf.pages if page.objgen == field.P.objgen)
            assert field.objgen in {item.objgen for item in page.obj.Annots}
    assert all(right - left > 60 and top - bottom > 15 for left, bottom, right, top in boxes)
    assert len({tuple(box) for box in boxes}) == len(boxes)


def test_a_signed_package_is_whole_and_the_signature_covers_it(package: Path, key: Path) -> None:
    """Checked by poppler's pdfsig, which did not make it, and by the library's own validator."""
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    before = package.read_bytes()
    assert sign_package(package, key, PASSPHRASE, "RTU-1 recorded", "As read") == "Ada Quill"
    assert package.read_bytes().startswith(before)
    with package.open("rb") as stream:
        signature = PdfFileReader(stream).embedded_signatures[0]
        context = ValidationContext(trust_roots=[signature.signer_cert], allow_fetching=False)
        status = validate_pdf_signature(signature, context)
    assert status.intact
    assert status.valid
    assert str(signature.sig_object["/SubFilter"]) == "/ETSI.CAdES.detached"
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", package)
    told = tool("pdfsig", "-nocert", package)
    assert "Signature is Valid." in told
    assert "Total document signed" in told


def test_a_second_person_signs_and_the_first_signature_holds(package: Path, key: Path) -> None:
    sign_package(package, key, PASSPHRASE, "RTU-1 recorded")
    sign_package(package, key, PASSPHRASE, "RTU-1 accepted")
    signed = [field.name for field in signature_fields(package) if field.signer == "Ada Quill"]
    assert signed == ["RTU-1 recorded", "RTU-1 accepted"]
    assert tool("pdfsig", "-nocert", package).count("Signature is Valid.") == 2


def test_one_changed_byte_breaks_the_signature(package: Path, key: Path) -> None:
    sign_package(package, key, PASSPHRASE, "RTU-1 recorded")
    data = bytearray(package.read_bytes())
    place = data.index(b"stream\n") + 20
    data[place] ^= 1
    package.write_bytes(data)
    assert "Signature is Valid." not in tool("pdfsig", "-nocert", package)


def test_a_field_signed_already_is_refused(package: Path, key: Path) -> None:
    sign_package(package, key, PASSPHRASE, "RTU-1 recorded")
    before = package.read_bytes()
    with pytest.raises(OutputError, match=r"'RTU-1 recorded' is signed already, by Ada Quill"):
        sign_package(package, key, PASSPHRASE, "RTU-1 recorded")
    assert package.read_bytes() == before


def test_an_unknown_field_is_refused_with_those_there_are(package: Path, key: Path) -> None:
    with pytest.raises(OutputError, match=r"'RTU-9 recorded' is not a field.*RTU-1 recorded"):
        sign_package(package, key, PASSPHRASE, "RTU-9 recorded")


@pytest.mark.parametrize("passphrase", ["wrong", ""])
def test_a_key_that_does_not_open_is_told(package: Path, key: Path, passphrase: str) -> None:
    with pytest.raises(OutputError, match=r"ada\.p12: the key does not open"):
        sign_package(package, key, passphrase, "RTU-1 recorded")


def test_a_key_that_is_none_is_told(package: Path, tmp_path: Path, key: Path) -> None:
    none = tmp_path / "none.p12"
    none.write_bytes(b"not a key")
    for path in (none, tmp_path / "not there.p12"):
        with pytest.raises(OutputError, match="the key does not open"):
            sign_package(package, path, PASSPHRASE, "RTU-1 recorded")


def test_without_the_library_one_sentence_says_the_cure(
    package: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name.startswith("pyhanko"):
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(OutputError) as told:
        sign_package(package, tmp_path / "a.p12", "", "RTU-1 recorded")
    assert str(told.value).count(".") == 1
    assert "pip install 'rooftop-commission[sign]'" in str(told.value)
