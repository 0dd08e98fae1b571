"""Who may ask the page, for what, and what a name can make it do: refused, or inert."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.page.conftest import PORT, TOKEN, in_a_loop

CHANGES = {"changes": {"section.diameter": 24.0}}
POSTS = ("/check", "/scene", "/advice", "/section", "/band", "/progress", "/bar", "/write")


@pytest.mark.parametrize("path", POSTS)
def test_nothing_is_answered_without_the_token(tube, path):
    assert tube.client.post(path, json=CHANGES).status_code == 403
    assert tube.client.post(path, json=CHANGES, headers={"x-token": TOKEN[:-1]}).status_code == 403
    # In the address it opens the page alone: a POST from a form that knows it is refused.
    assert tube.client.post(f"{path}?token={TOKEN}", json=CHANGES).status_code == 403


def test_the_page_and_its_files_need_it_too_but_health_does_not(tube):
    assert tube.client.get("/").status_code == 403
    assert tube.client.get(f"/?token={TOKEN}").status_code == 200
    assert tube.client.get("/static/other/page.css").status_code == 403
    assert tube.client.get("/explain?key=rate").status_code == 403
    assert tube.client.get("/health").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "example.org"}, {"host": "127.0.0.1:1"}, {"host": "127.0.0.1"},
        {"host": f"127.0.0.1.example.org:{PORT}"},
        {"origin": "http://example.org"}, {"origin": "null"}, {"origin": f"https://127.0.0.1:{PORT}"},
        {"sec_fetch_site": "cross-site"}, {"sec_fetch_site": "same-site"},
    ],
)  # fmt: skip
def test_a_foreign_host_or_origin_is_refused_even_with_the_token(tube, headers):
    assert tube.post("/check", CHANGES, **headers).status_code == 403
    assert tube.post("/check", CHANGES, origin=f"http://127.0.0.1:{PORT}").status_code == 200


def test_a_big_body_is_refused_announced_or_not(tube):
    big = b'{"changes": {}, "filler": "' + b"a" * 1_000_001 + b'"}'
    assert tube.client.post("/check", content=big, headers={"x-token": TOKEN}).status_code == 413

    async def pieces():
        for piece in (big[i : i + 50_000] for i in range(0, len(big), 50_000)):
            yield piece

    assert tube.client.post("/check", content=pieces(), headers={"x-token": TOKEN}).status_code == 413


@pytest.mark.parametrize(
    "name",
    [
        "../out.toml", "..\\out.toml", "/tmp/out.toml", "a/b.toml", "C:out.toml", "con.toml", ".hidden.toml",
        "a\x00.toml", "a\n.toml", "", "   ", "out", "out.txt", "x" * 300 + ".toml",
        "-force.toml", "..toml", "~/out.toml",
    ],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(tube, name, tmp_path):
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    answer = tube.post("/write", {**CHANGES, "name": name})
    assert answer.status_code == 422
    assert answer.json()["error"]["where"] == "name"
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_link_is_no_way_to_another_file(tube, tmp_path):
    outside = tmp_path.parent / "outside.toml"
    outside.write_text("as it was", encoding="utf-8")
    (tmp_path / "link.toml").symlink_to(outside)
    for replace in (False, True):
        assert tube.post("/write", {**CHANGES, "name": "link.toml", "replace": replace}).status_code == 422
    assert outside.read_text(encoding="utf-8") == "as it was"


def test_the_bar_file_itself_is_never_written_over(tube, tmp_path):
    before = (tmp_path / "tube.toml").read_bytes()
    for replace in (False, True):
        assert tube.post("/write", {**CHANGES, "name": "tube.toml", "replace": replace}).status_code == 422
    assert (tmp_path / "tube.toml").read_bytes() == before


@pytest.mark.parametrize(
    "changes",
    [
        {"material.grade": "/etc/passwd"}, {"material.grade": "../secret.toml"}, {"material.grade": "secret"},
        {"material": {"grade": "./secret.toml", "bent": "before-hardening"}}, {"material.grade": "secret.toml"},
    ],
)  # fmt: skip
def test_a_change_makes_it_read_no_other_file(tube, changes, tmp_path):
    (tmp_path / "secret.toml").write_text('conditions = "what nobody may read"\nsources = 1\n', encoding="utf-8")
    answer = tube.post("/check", {"changes": changes})
    assert answer.status_code == 422
    assert "nobody may read" not in answer.text and "no steel that the page may read" in answer.text


@pytest.mark.parametrize(
    "body",
    [
        b"", b"[]", b"{", b"nul", b'{"changes": 3}', b'{"changes": []}', b"[" * 5000, b"\xff\xfe",
        # Deeper than any bar file, yet not too deep for JSON; half a character, which no message can hold.
        b'{"changes": {"section.diameter": ' + b"[" * 900 + b"]" * 900 + b"}}",
        b'{"changes": {"material": ' + b'{"a":' * 800 + b"1" + b"}" * 800 + b"}}",
        b'{"changes": {"section.diameter": "\\ud800"}}', b'{"changes": {"\\ud800": 1}}',
    ],
)  # fmt: skip
def test_what_is_no_request_is_answered_by_an_error(tube, body):
    answer = tube.client.post("/check", content=body, headers={"x-token": TOKEN})
    assert answer.status_code == 422
    assert set(answer.json()["error"]) >= {"where", "message", "expected"}


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), 1e308, -1e308, True, None, [], {}, "<script>", "24 furlongs"]
)
def test_no_value_of_a_key_is_a_bug(tube, value):
    text = json.dumps({"changes": {"section.diameter": value}})
    answer = tube.client.post("/check", content=text, headers={"x-token": TOKEN})
    assert answer.status_code == 422
    assert answer.json()["error"]["key"] == "section.diameter"


def test_a_key_that_may_be_left_out_is_not_left_out_by_nothing(tube):
    """JSON's null is no value of a bar file, where the key is optional too: the file could not be written."""
    for changes in ({"duty.target_cycles": None}, {"duty": {"target_cycles": None}}):
        for path in ("/check", "/bar"):
            answer = tube.post(path, {"changes": changes})
            assert answer.status_code == 422
            assert answer.json()["error"]["message"] == "nothing stands where a value is needed."


def test_a_load_case_that_is_none_is_refused_by_every_answer(tube, tmp_path):
    """The bar file's text has no case, yet a request whose case is misspelt is a wrong request there too."""
    for path in ("/check", "/bar", "/write"):
        answer = tube.post(path, {"changes": {}, "case": "sideways", "name": "new.toml"})
        assert answer.status_code == 422 and answer.json()["error"]["where"] == "case", path
    assert not (tmp_path / "new.toml").exists()


def test_an_entry_that_a_list_has_not_is_told_at_its_own_key(tube):
    """It was told at the bushing's stiffness, which nobody had changed."""
    for key in ("mounts.9.length", "ends.holes.99.from_tip"):
        assert tube.post("/check", {"changes": {key: 5.0}}).json()["error"]["key"] == key


def test_a_hole_setting_that_is_none_shows_the_governing_one(tube):
    for setting in (True, -1, 4, 1e99, "2"):
        assert tube.post("/scene", {"changes": {}, "setting": setting}).json()["setting"] == 3


def test_a_folder_that_has_gone_is_said_and_is_no_bug(tube, monkeypatch, capsys):
    def gone(*_):
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr("barfem.page.session.change", gone)
    answer = tube.post("/check", CHANGES)
    assert answer.status_code == 422 and "No such file or directory" in answer.json()["error"]["message"]
    assert "Traceback" not in capsys.readouterr().err


def test_a_page_that_is_closed_while_it_asks_leaves_no_traceback(tube, capsys):
    """A tab closed before its request has arrived whole."""
    headers = [(b"host", f"127.0.0.1:{PORT}".encode()), (b"x-token", TOKEN.encode()), (b"content-length", b"100")]
    scope = {"type": "http", "method": "POST", "path": "/check", "query_string": b"", "headers": headers}

    async def receive():
        return {"type": "http.disconnect"}

    async def send(message):
        pass

    in_a_loop(lambda: tube.client.app(scope, receive, send))
    assert "Traceback" not in capsys.readouterr().err


def test_what_cannot_be_a_key_is_refused(tube):
    for key in ("", ".", "section..diameter", "__class__.x", "ends.holes.99.from_tip", "section.diameter.x"):
        assert tube.post("/check", {"changes": {key: 1.0}}).status_code == 422, key


def test_the_headers_allow_its_own_files_and_no_inline_code(tube):
    for path in (f"/?token={TOKEN}", "/health"):
        headers = tube.client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff" and headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in headers


def test_static_files_are_those_of_the_page_alone(tube):
    for name in ("../app.py", "..%2fapp.py", "%2e%2e/app.py", "app.py", "nothing.js", "..\\app.py"):
        assert tube.client.get(f"/static/{TOKEN}/{name}").status_code in (403, 404), name
    assert Path("barfem").name not in tube.client.get(f"/static/{TOKEN}/nothing.js").headers.get("server", "")
