"""How the page is served: a port of this machine alone, and answers that leave at once."""

from __future__ import annotations

import asyncio
import socket

import pytest

from barfem.model.errors import InputError
from barfem.page.serve import HOST, listen
from tests.page.conftest import in_a_loop


def test_the_body_of_an_answer_does_not_wait_for_its_head_to_be_acknowledged():
    """Head and body are two writes: with Nagle's algorithm the second waited 40 ms, a fifth of slider to table."""
    told: list[int] = []

    async def answered() -> None:
        def connected(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            told.append(writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        listening = listen(0)
        server = await asyncio.start_server(connected, sock=listening)
        reader, writer = await asyncio.open_connection(*listening.getsockname())
        assert await reader.read() == b""
        writer.close()
        server.close()

    in_a_loop(answered)
    assert told and told[0] != 0


def test_a_port_that_is_taken_is_refused_by_name_and_only_this_machine_is_served():
    with listen(0) as taken:
        host, port = taken.getsockname()
        assert host == HOST == "127.0.0.1"
        with pytest.raises(InputError, match=f"port {port} cannot be used") as refused:
            listen(port)
    assert refused.value.where == "--port"
