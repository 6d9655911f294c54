"""nginx as an ordinary process, with the configuration that is shipped, before a service."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from urllib3.util import Retry

from alloyref.catalogue.files import data_folder
from alloyref.cli.demo import free_port

SHIPPED = data_folder() / "deploy" / "nginx.conf"
HOST = "alloyref.example"
# What is of a machine and not of the service.
AROUND = """
{user}
daemon off;
worker_processes 1;
pid {folder}/nginx.pid;
error_log {folder}/error.log notice;
events {{ worker_connections 1024; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/alloyref.conf;
}}
"""


@dataclass(frozen=True, slots=True)
class Front:
    """A running nginx: its ports, the certificate it shows, and the folder of its cache and log."""

    plain: int
    tls: int
    certificate: Path
    folder: Path

    def errors(self) -> list[str]:
        """The lines of its log that tell of trouble of its own, not of clients or of a service that is away."""
        lines = (self.folder / "error.log").read_text(encoding="utf-8", errors="replace").splitlines()
        return [line for line in lines if "[emerg]" in line or "[alert]" in line or "[crit]" in line]


def nginx() -> str:
    """The program; without it, or without openssl, a test is skipped, or fails where nginx is required."""
    found = shutil.which("nginx", path=f"{os.environ.get('PATH', os.defpath)}:/usr/sbin")
    if found is None or shutil.which("openssl") is None:
        reason = "nginx and openssl are not both installed"
        if os.environ.get("CI_REQUIRES_NGINX") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def certificate(folder: Path) -> Path:
    """A certificate of our own for the name in the shipped configuration, where that configuration looks for it."""
    files = ["-keyout", str(folder / "tls.key"), "-out", str(folder / "tls.crt")]
    names = ["-subj", f"/CN={HOST}", "-addext", f"subjectAltName=DNS:{HOST},DNS:127.0.0.1,IP:127.0.0.1"]
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", *files, *names]
    subprocess.run(command, check=True, capture_output=True)
    return folder / "tls.crt"


def configured(folder: Path, upstream: int, **changes: str) -> Front:
    """The shipped configuration in a folder, with nothing changed but places, ports and what `changes` names."""
    plain = tls = free_port()
    while tls in (plain, upstream):
        # The system may name a free port twice.
        tls = free_port()
    here = {
        "/etc/alloyref/": f"{folder}/",
        "/var/cache/nginx/alloyref": f"{folder}/cache",
        "/var/log/nginx/alloyref.log": f"{folder}/access.log",
        "127.0.0.1:8087": f"127.0.0.1:{upstream}",
        "listen 80": f"listen 127.0.0.1:{plain}",
        "listen 443 ssl": f"listen 127.0.0.1:{tls} ssl",
        **changes,
    }
    text = SHIPPED.read_text(encoding="utf-8")
    for old, new in here.items():
        assert old in text, old
        text = text.replace(old, new)
    (folder / "alloyref.conf").write_text(text, encoding="utf-8")
    # Started by root, nginx would give its workers to a user that may not write here.
    user = "user root;" if hasattr(os, "geteuid") and os.geteuid() == 0 else ""
    (folder / "nginx.conf").write_text(AROUND.format(user=user, folder=folder), encoding="utf-8")
    return Front(plain, tls, certificate(folder), folder)


@contextmanager
def serving(folder: Path, upstream: int, **changes: str) -> Iterator[Front]:
    """nginx before the service at a port, stopped at the end; it must have met no trouble of its own."""
    program = nginx()
    front = configured(folder, upstream, **changes)
    command = [program, "-e", str(folder / "error.log"), "-p", str(folder), "-c", str(folder / "nginx.conf")]
    with subprocess.Popen(command, stderr=subprocess.DEVNULL) as process:
        try:
            _wait(front, process)
            yield front
        finally:
            process.terminate()
            process.wait(20)
    assert front.errors() == []


def _wait(front: Front, process: subprocess.Popen[bytes]) -> None:
    """Until nginx accepts connections."""
    retry = Retry(total=200, connect=200, backoff_factor=0.05, backoff_max=0.05)
    while True:
        try:
            socket.create_connection(("127.0.0.1", front.tls), timeout=5).close()
            return
        except OSError as error:
            assert process.poll() is None, (front.folder / "error.log").read_text(encoding="utf-8")
            retry = retry.increment(error=error)
            retry.sleep()
