"""Serving: to whom, where, what the health page says, and how it stops."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from dashboard.cli import main
from dashboard.gate.serving import Serving, settings

ROOT = Path(__file__).parents[3]
MILESLEFT = [sys.executable, "-m", "dashboard.cli"]


def ask(address):
    """Status and body of an address."""
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def test_nothing_is_reported_and_nobody_else_let_in_by_default():
    made = settings(Serving(Path("x.duckdb")))
    assert made["server.address"] == "127.0.0.1"
    assert made["browser.gatherUsageStats"] is False
    assert made["client.showErrorDetails"] == "none"
    assert made["server.enableXsrfProtection"] is True
    assert made["client.allowedOrigins"] == []


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--address", "0.0.0.0"], "--address 0.0.0.0 lets others in"),
        (["--address", "192.168.1.7"], "--everybody-may-do-all"),
        (["--address", "::"], "--roles FILE"),
        (["--host", "wear.example.org"], "--host wear.example.org lets others in"),
        (["--host", "wear.example.org", "--address", "127.0.0.1"], "--everybody-may-do-all"),
        (["--shown-in", "https://www.example.org/page"], "without a path"),
        (["--shown-in", "*"], "is no site"),
        (["--shown-in", "https://a.example; script-src *"], "is no site"),
    ],
)
def test_others_are_let_in_only_when_somebody_has_decided_what_they_may_do(tmp_path, options, says):
    done = CliRunner().invoke(main, ["serve", "--db", str(tmp_path / "x.duckdb"), *options])
    assert done.exit_code == 2
    assert says in done.stderr


def test_roles_and_everybody_exclude_each_other(tmp_path):
    (tmp_path / "roles.toml").touch()
    words = ["serve", "--roles", str(tmp_path / "roles.toml"), "--everybody-may-do-all"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 2
    assert "Give one of them" in done.stderr


def test_a_wrong_roles_file_stops_before_serving(tmp_path):
    roles = tmp_path / "roles.toml"
    roles.write_text("[sign_in\n")
    command = [*MILESLEFT, "serve", "--db", str(tmp_path / "x.duckdb"), "--roles", str(roles)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert "is not TOML" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_port_in_use_is_said_in_plain_words(tmp_path, serve, free_port):
    port = free_port()
    with serve(tmp_path / "a.duckdb", port=port):
        command = [*MILESLEFT, "serve", "--db", str(tmp_path / "a.duckdb"), "--port", str(port)]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 1
    assert f"port {port}" in done.stderr
    assert "--port" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_health_page_follows_the_store(tmp_path, serve):
    db = tmp_path / "railway.duckdb"
    with serve(db) as address:
        assert json.loads(ask(f"{address}/health")[1]) == {"ok": True, "data_version": 0}
        db.write_bytes(b"this is no store" * 300)
        status, body = ask(f"{address}/health")
        assert status == 503
        assert json.loads(body) == {"ok": False, "problem": "StoreProblem"}


def test_a_base_path_for_a_proxy(tmp_path, serve):
    with serve(tmp_path / "a.duckdb", "--base-path", "/milesleft", base="/milesleft") as address:
        assert ask(f"{address}/")[0] == 200
        assert ask(f"{address}/_stcore/health")[0] == 200


def test_a_site_that_was_told_may_show_it_in_a_frame(tmp_path, serve):
    site = "https://www.example.org"
    with (
        serve(tmp_path / "a.duckdb", "--shown-in", site) as address,
        urllib.request.urlopen(address, timeout=10) as answer,
    ):
        told = answer.headers
    assert "frame-ancestors https://www.example.org" in told["content-security-policy"]
    assert "x-frame-options" not in told


def test_another_host_name_is_refused_unless_told(tmp_path, serve):
    with serve(tmp_path / "a.duckdb", "--host", "engines.example.org", "--everybody-may-do-all") as address:
        for host, status in (("engines.example.org", 200), ("127.0.0.1", 200), ("evil.example", 400)):
            asked = urllib.request.Request(address, headers={"Host": host})
            assert ask(asked)[0] == status, host


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_it_stops_cleanly_when_asked(tmp_path, free_port, how):
    port = free_port()
    command = [*MILESLEFT, "serve", "--db", str(tmp_path / "a.duckdb"), "--port", str(port)]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        for _ in range(225):
            try:
                ask(f"http://127.0.0.1:{port}/health")
                break
            except OSError:
                time.sleep(0.2)
        server.send_signal(how)
        _, said = server.communicate(timeout=20)
    assert server.returncode == 0, said
    assert "Traceback" not in said
    assert [f for f in os.listdir(tmp_path) if f.endswith(".wal")] == []


def test_the_log_holds_no_data_of_the_railway(made_store, tmp_path, serve):
    db = tmp_path / "small.duckdb"
    shutil.copy(made_store, db)
    with serve(db) as address:
        ask(f"{address}/?vehicle=Nettle")
        log = next(tmp_path.glob("serve-*.log"))
    assert "Nettle" not in log.read_text()
