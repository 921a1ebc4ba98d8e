"""Files by their digest, in the data folder or in a store elsewhere: the same to whoever asks."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import boto3
import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.test import override_settings
from moto import mock_aws

from workshop import environment
from workshop.kept_files import (
    LOCAL,
    digest_of_kept,
    forget_bytes,
    has_kept,
    keep_bytes,
    open_kept,
    read_kept,
)

NAME = "COLDBUS_STORAGE_URL"
CONTENT = b"what a meter showed"
DIGEST = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture(params=["folder", "store"])
def place(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[str]:
    if request.param == "folder":
        with override_settings(MEDIA_ROOT=tmp_path):
            yield "folder"
        return
    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.setenv(name, "only-for-this-test")
    monkeypatch.setenv(NAME, "s3://quay-street/shop?region=eu-central-1")
    with mock_aws():
        there = {"LocationConstraint": "eu-central-1"}
        boto3.client("s3", "eu-central-1").create_bucket(
            Bucket="quay-street", CreateBucketConfiguration=there
        )
        kept = {**settings.STORAGES, "default": environment.read_storage(NAME)}
        with override_settings(STORAGES=kept):
            yield "store"


@pytest.mark.usefixtures("place")
def test_what_is_kept_is_read_again_byte_by_byte_until_it_is_forgotten() -> None:
    assert not has_kept(DIGEST)
    with pytest.raises(OSError, match=r"."):
        open_kept(DIGEST)
    keep_bytes(CONTENT, DIGEST)
    keep_bytes(CONTENT, DIGEST)
    assert has_kept(DIGEST)
    assert read_kept(DIGEST) == CONTENT
    assert digest_of_kept(DIGEST) == DIGEST
    forget_bytes(DIGEST)
    forget_bytes(DIGEST)
    assert not has_kept(DIGEST)


def test_without_an_address_files_stay_in_the_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(NAME, raising=False)
    assert environment.read_storage(NAME) is None
    assert str(dict(settings.STORAGES)["default"]).count(LOCAL) == 1


@pytest.mark.parametrize(
    "address", ["https://store.local/x", "s3:///folder", "s3://key:word@bucket", "s3://b?acl=open"]
)
def test_an_address_that_is_none_or_holds_keys_stops_the_start(
    monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setenv(NAME, address)
    with pytest.raises(ImproperlyConfigured, match="without keys") as stopped:
        environment.read_storage(NAME)
    assert "word" not in str(stopped.value)
