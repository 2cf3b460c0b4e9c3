"""The real server: people who send slowly, too much or nonsense do not keep others waiting."""

from __future__ import annotations

import http.client
import socket
import time
from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from tests.workbench_clinic import Clinic, copy_of, running

SLOW = 40  # more than the server has threads


@pytest.fixture(scope="module")
def server(
    tmp_path_factory: pytest.TempPathFactory, ready_clinics: Callable[[str], tuple[Clinic, str]]
):  # type: ignore[no-untyped-def]
    clinic = copy_of(ready_clinics("sqlite")[0], tmp_path_factory.mktemp("slow") / "home")
    with running(clinic) as opened:
        yield urlsplit(opened.url)


def seconds_of_a_page(server: object) -> float:
    start = time.perf_counter()
    line = http.client.HTTPConnection(server.hostname, server.port, timeout=10)  # type: ignore[attr-defined]
    line.request("GET", "/sign-in/")
    assert line.getresponse().status == 200
    line.close()
    return time.perf_counter() - start


@pytest.mark.parametrize(
    "begun",
    [
        b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\nX-A: ",
        b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n\r\nuser",
        b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nab",
    ],
    ids=["head", "body", "chunks"],
)
def test_forty_slow_senders_keep_nobody_waiting(server, begun: bytes) -> None:  # type: ignore[no-untyped-def]
    lines = [socket.create_connection((server.hostname, server.port)) for _ in range(SLOW)]
    try:
        for line in lines:
            line.sendall(begun)
        assert seconds_of_a_page(server) < 3
    finally:
        for line in lines:
            line.close()


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        # Chunks carry no length: the server's own limit stops them.
        (
            b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n",
            b"413",
        ),
        (b"GET /" + b"a" * 300_000, b"431"),
        (b"GET /sign-in/ HTTP/1.1\r\nHost: evil.example\r\n\r\n", b"400"),
        (b"GET /static/../../../../etc/passwd HTTP/1.1\r\nHost: localhost\r\n\r\n", b"404"),
        (b"GET /static/..%2f..%2fkeys.json HTTP/1.1\r\nHost: localhost\r\n\r\n", b"404"),
        (b"\x16\x03\x01 nonsense\r\n\r\n", b"400"),
    ],
    ids=["endless", "long head", "host", "path", "coded path", "nonsense"],
)
def test_nonsense_is_refused_and_tells_nothing(server, sent: bytes, status: bytes) -> None:  # type: ignore[no-untyped-def]
    line = socket.create_connection((server.hostname, server.port), timeout=20)
    try:
        line.sendall(sent)
        if status == b"413":
            block = b"100000\r\n" + b"x" * 0x100000 + b"\r\n"
            try:
                for _ in range(14):
                    line.sendall(block)
                line.sendall(b"0\r\n\r\n")
            except OSError:
                pass  # refused meanwhile, as it should be
        try:
            answer = line.recv(65536)
        except ConnectionResetError:
            answer = b"HTTP/1.1 413 (closed)" if status == b"413" else b""
    finally:
        line.close()
    assert answer.split(b" ", 2)[1].startswith(status), answer[:200]
    for word in (b"Traceback", b"site-packages", b"root:", b"secret"):
        assert word not in answer
    assert seconds_of_a_page(server) < 3
