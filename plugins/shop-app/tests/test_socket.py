"""The program as it is started, over a real socket on loopback."""

from __future__ import annotations

import re
import socket
import subprocess
import sys

import httpx
import pytest
from gearrec_shop_app.__main__ import HOST, main


@pytest.fixture(scope="module")
def address():
    """Address of the running program."""
    command = [sys.executable, "-m", "gearrec_shop_app", "--port", "0"]
    program = subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, env={"GEARREC_PLUGINS": "", "HOME": "/nowhere"}
    )
    try:
        for line in program.stderr:
            found = re.search(r"running on (http://[0-9.]+:[0-9]+)", line)
            if found:
                break
        else:
            raise AssertionError("the program ended before it listened")
        yield found[1]
    finally:
        program.terminate()
        program.communicate(timeout=20)


def test_it_listens_on_loopback_only(address):
    assert HOST == "127.0.0.1"
    assert address.startswith("http://127.0.0.1:")


def test_it_answers_as_in_process(address, client, example):
    answer = httpx.post(f"{address}/advice", json=example, timeout=30)
    assert answer.status_code == 200
    assert answer.text == client.advise(example).text
    assert "server" not in answer.headers


def test_errors_come_over_the_socket(address):
    with httpx.Client(base_url=address, timeout=30) as web:
        assert web.post("/advice", content=b" " * 70_000).status_code == 415
        large = web.post(
            "/advice", content=b" " * 70_000, headers={"content-type": "application/json"}
        )
        assert large.status_code == 413
        assert large.headers["content-type"] == "application/problem+json"
        assert web.get("/platforms").status_code == 200


def test_a_client_that_hangs_up_harms_nobody(address):
    port = int(address.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port)) as raw:
        raw.sendall(
            b"POST /advice HTTP/1.1\r\nHost: shop\r\nContent-Type: application/json\r\n"
            b"Content-Length: 1000\r\n\r\n{"
        )
    assert httpx.get(f"{address}/schema", timeout=30).status_code == 200


def test_a_catalog_or_plugin_that_cannot_be_used_is_told_on_the_way_up(monkeypatch, capsys):
    from gearrec.errors import CatalogError, Place, Problem

    def broken():
        raise CatalogError([Problem(Place("shop/catalog.yaml", 3, 1), "unknown key 'x'")])

    monkeypatch.setattr("gearrec_shop_app.__main__.create_app", broken)
    assert main(["--port", "0"]) == 1
    assert "shop/catalog.yaml:3:1: unknown key 'x'" in capsys.readouterr().err
