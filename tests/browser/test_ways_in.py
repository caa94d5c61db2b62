"""The two ways into a notebook, driven by a browser: who gets in, who does not, what is left behind."""

import http.client
import json
import math
import re
import signal
import subprocess
import time
import uuid
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from websockets.sync.client import connect

from .hands import expect
from .stand_in import button

STARTED_S = 60  # patience, not a bar
SHORT = """\
import sys
from formulate.serving import open_page, page_way
open_page(page_way(sys.argv[1], open_browser=False, idle_s=8, look_s=1))
"""
HANDSHAKE = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
}


@pytest.fixture(scope="module")
def served(stand_in, run_server):
    """Return the process and the address of the stand-in as a page."""
    words = ["-m", "formulate.cli", "page", str(stand_in), "--no-browser"]
    with run_server(words, stand_in.with_suffix(".log")) as (process, told):
        yield process, told


@pytest.fixture(scope="module")
def pair(served, stay):
    """Return the pages of two visitors: the kernel of the first was started with the server."""
    _, address = served
    one = stay(address)
    kernel_number(one)
    two = stay(address)
    kernel_number(two)
    return one, two


def kernels(process):
    """Return the process numbers of a server's kernels."""
    told = subprocess.run(
        ["ps", "--ppid", str(process.pid), "-o", "pid=,args="],
        capture_output=True,
        text=True,
        check=False,
    ).stdout
    return {int(x.split()[0]) for x in told.splitlines() if "ipykernel" in x}


def becomes(state, wanted):
    """Wait until a function returns what is wanted, and return what it returned last."""
    for _ in range(10 * STARTED_S):
        if state() == wanted:
            break
        time.sleep(0.1)
    return state()


def token_of(address):
    return parse_qs(urlsplit(address).query)["token"][0]


def ask(address, path, headers=(), method="GET"):
    """Return the status and the body of one request, redirections not followed."""
    parts = urlsplit(address)
    connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=60)
    connection.request(method, path, headers=dict(headers))
    answer = connection.getresponse()
    body = b"" if answer.status == 101 else answer.read()
    connection.close()
    return answer.status, body.decode("utf-8", "replace")


def kernel_number(page):
    """Return the process number that a visitor's widget tells."""
    expect(button(page)).to_contain_text("in ", timeout=1000 * STARTED_S)
    return int(button(page).text_content().split(" in ")[1].split(",")[0])


def presses(page):
    """Return how often the button of a visitor was pressed: it shows the square."""
    shown = re.search(r"pressed (\d+) ", button(page).text_content())[1]
    return math.isqrt(int(shown))


def ticket(page):
    """Return the kernel of a visitor's page, and the cookie it is asked with."""
    config = page.locator("#jupyter-config-data").text_content()
    cookies = "; ".join(f"{c['name']}={c['value']}" for c in page.context.cookies())
    return json.loads(config)["kernelId"], cookies


def message(kind, content):
    header = {
        "msg_id": uuid.uuid4().hex,
        "msg_type": kind,
        "session": "test",
        "username": "test",
        "version": "5.3",
        "date": "2026-01-01T00:00:00Z",
    }
    whole = {"header": header, "parent_header": {}, "metadata": {}, "buffers": []}
    return json.dumps(whole | {"content": content, "channel": "shell"})


def test_each_of_two_visitors_has_a_kernel_of_their_own(served, pair):
    process, _ = served
    one, two = pair
    numbers = {kernel_number(one), kernel_number(two)}
    assert len(numbers) == 2
    assert numbers <= kernels(process)
    before, other = presses(one), presses(two)
    for _ in range(3):
        button(one).click()
    expect(button(one)).to_contain_text(f"pressed {(before + 3) ** 2} ")
    expect(button(two)).to_contain_text(f"pressed {other**2} ")
    expect(button(two)).to_contain_text("page 1")
    assert one.title() == "stand_in"


def test_without_the_token_there_is_a_login_page_and_no_kernel(served, visit):
    process, address = served
    before = kernels(process)
    for path in ("/", "/?token=wrong", "/?token="):
        status, _ = ask(address, path)
        assert status == 302
    page = visit(address.split("?")[0])
    expect(page.get_by_label("Password or token")).to_be_visible()
    assert kernels(process) == before


def test_a_foreign_host_is_refused_even_with_the_token(served):
    """A page elsewhere may point its own name at this machine; its name is then the Host."""
    process, address = served
    before = kernels(process)
    path = f"/?token={token_of(address)}"
    assert ask(address, path, {"Host": "elsewhere.example"})[0] == 403
    assert ask(address, "/", {"Host": "elsewhere.example"})[0] == 403
    assert kernels(process) == before


def test_a_socket_needs_the_token_and_the_right_origin(served, pair):
    _, address = served
    page, _ = pair
    number, cookie = ticket(page)
    path, home = f"/api/kernels/{number}/channels", address.split("/?")[0]
    known = HANDSHAKE | {"Cookie": cookie}
    assert ask(address, path, HANDSHAKE)[0] == 403
    assert ask(address, path, HANDSHAKE | {"Origin": home})[0] == 403
    assert ask(address, path, known | {"Origin": "http://elsewhere.example"})[0] == 403
    assert ask(address, path, known | {"Host": "elsewhere.example"})[0] == 403
    assert ask(address, path, known | {"Origin": home})[0] == 101
    assert ask(address, f"/voila/query/{number}", HANDSHAKE)[0] != 101
    stranger = {"Origin": home}
    assert ask(address, f"/api/kernels/{number}", stranger, "DELETE")[0] == 403
    assert ask(address, f"/voila/api/shutdown/{number}", stranger, "POST")[0] == 403
    before = presses(page)
    button(page).click()
    expect(button(page)).to_contain_text(f"pressed {(before + 1) ** 2} ")


def test_a_visitor_cannot_send_code(served, pair, tmp_path):
    _, address = served
    page, _ = pair
    number, cookie = ticket(page)
    written = tmp_path / "written"
    code = {"code": f"open({str(written)!r}, 'w').close()", "silent": False}
    socket = f"ws{address.split('/?')[0][4:]}/api/kernels/{number}/channels"
    with connect(socket, additional_headers={"Cookie": cookie}) as line:
        line.send(message("execute_request", code))
        line.send(message("kernel_info_request", {}))
        kinds = []
        while "kernel_info_reply" not in kinds:
            kinds.append(json.loads(line.recv(timeout=STARTED_S))["msg_type"])
    assert "execute_reply" not in kinds
    assert not written.exists()


def test_no_file_beside_the_notebook_is_served(served, stand_in):
    _, address = served
    (stand_in.parent / "photo.png").write_bytes(b"not for visitors")
    query = f"?token={token_of(address)}"
    for name in ("photo.png", "stand_in.ipynb", "../lab.log"):
        status, body = ask(address, f"/voila/files/{name}{query}")
        assert status in (403, 404)
        assert "not for visitors" not in body


def test_the_token_stands_in_no_list_of_processes_and_no_environment(served, pair):
    process, address = served
    assert {kernel_number(page) for page in pair} <= kernels(process)
    token = token_of(address)
    listed = subprocess.run(
        ["ps", "-eo", "args"], capture_output=True, text=True, check=True
    ).stdout
    assert "formulate.cli page" in listed
    assert token not in listed
    for number in (process.pid, *kernels(process)):
        environment = Path(f"/proc/{number}/environ").read_bytes()
        assert b"FORMULATE_WORK" in environment
        assert token.encode() not in environment


def test_a_message_page_asks_nothing_elsewhere(served, visit):
    _, address = served
    page = visit(address.replace("/?", "/no/such/page?"), allowed=("403",))
    expect(page.get_by_text("403: Forbidden")).to_be_visible()


def test_kernels_end_when_their_visitor_left_and_when_the_server_does(
    stand_in, run_server, visit
):
    words = ["-c", SHORT, str(stand_in)]
    with run_server(words, stand_in.parent / "short.log") as (process, told):
        gone, stays = visit(told), visit(told)
        left, kept = kernel_number(gone), kernel_number(stays)
        gone.close()
        assert becomes(lambda: left in kernels(process), False) is False
        button(stays).click()
        expect(button(stays)).to_contain_text("pressed 1")
        stays.context.close()
        gone.context.close()
        process.send_signal(signal.SIGINT)
        process.wait(STARTED_S)
        assert process.returncode == 0
        assert becomes(lambda: Path(f"/proc/{kept}").exists(), False) is False
