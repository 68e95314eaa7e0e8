"""A store of objects for tests: moto's server, which speaks S3, in this process, on loopback.

moto is another's program, so what is asked of it here is asked as of any store.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from itertools import count
from unittest.mock import patch
from urllib.request import Request, urlopen

import pytest

from free_ports import free_port

_NUMBERS = count(1)


class ObjectStore:
    """A store that answers.

    Parameters
    ----------
    url : str
    """

    def __init__(self, url: str) -> None:
        self._url = url

    def new_bucket(self) -> str:
        """The name of a new bucket, with nothing in it."""
        name = f"school-{next(_NUMBERS)}"
        with urlopen(Request(f"{self._url}/{name}", method="PUT")):
            return name

    def objects(self, bucket: str) -> dict[str, bytes]:
        """All that is in a bucket, by its whole name."""
        import obstore
        from obstore.store import S3Store

        store = S3Store(bucket)
        paths = [meta["path"] for chunk in obstore.list(store) for meta in chunk]
        return {path: bytes(obstore.get(store, path).bytes()) for path in paths}


@contextmanager
def object_store() -> Iterator[ObjectStore]:
    """One that is started, with what the environment says of it; skips where moto is not there."""
    if not find_spec("moto") or not find_spec("obstore"):
        pytest.skip("moto or obstore is not installed (pip install 'halfstep[district,test]')")
    from moto.server import ThreadedMotoServer

    server = ThreadedMotoServer("127.0.0.1", port := free_port(), verbose=False)
    server.start()
    url = f"http://127.0.0.1:{port}"
    said = {
        "AWS_ENDPOINT_URL": url,
        "AWS_ALLOW_HTTP": "true",
        "AWS_REGION": "us-east-1",
        "AWS_ACCESS_KEY_ID": "test",
        "AWS_SECRET_ACCESS_KEY": "test-secret",
        "AWS_VIRTUAL_HOSTED_STYLE_REQUEST": "false",
    }
    try:
        with patch.dict(os.environ, said):
            yield ObjectStore(url)
    finally:
        server.stop()
