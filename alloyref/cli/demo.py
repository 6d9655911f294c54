"""`alloyref demo`: the main job for real: a server starts, an order is asked for over HTTP, a sheet is printed."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

import click
import requests
from urllib3.util import Retry

from alloyref.catalogue.files import data_folder
from alloyref.cli.sheet import order_sheet
from alloyref.client import Client

STORY = (
    "Saltmarsh Bench, an invented casting workshop, has proved a reed-pattern band in sterling silver. It wants two "
    "in 14 k yellow gold and a spare, and a heron pendant from a wax goes along in the same flask."
)

READY_SECONDS = 60
"""A machine that is busy with other things takes its time to start a program."""
BETWEEN_SECONDS = 0.05


@click.command(short_help="The main job, for real, over HTTP")
def demo() -> None:
    """Start the service, ask it for the demo workshop's order over HTTP, print the order sheet, stop.

    \b
    Example:
      alloyref demo
    """
    inputs = json.loads((data_folder() / "demo" / "order.json").read_text(encoding="utf-8"), parse_float=str)
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    command = [sys.executable, "-m", "alloyref", "serve", "--port", str(port)]
    with tempfile.TemporaryFile() as log, subprocess.Popen(command, stdout=log, stderr=log) as server:  # noqa: S603 - our own program
        try:
            wait_until_ready(address)
            with Client(address) as client:
                answer = client.calculate("order", inputs)
        except requests.RequestException as error:
            log.seek(0)
            raise click.ClickException(f"{error}\nThe service said:\n{log.read().decode()}") from None
        finally:
            server.terminate()
    click.echo(f"{STORY}\nAsked of {address}/v1/order:\n")
    click.echo(order_sheet(json.loads(answer.text)))
    click.echo(f"\nTo keep the service running: {Path(sys.argv[0])} serve   (then open http://127.0.0.1:8087/)")


def free_port() -> int:
    """A port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_until_ready(address: str, path: str = "/readyz", seconds: float = READY_SECONDS) -> None:
    """Ask until the service answers; `requests.ConnectionError` says what was waited for, and for how long."""
    tries = round(seconds / BETWEEN_SECONDS)
    with requests.Session() as session:
        retry = Retry(total=tries, connect=tries, backoff_factor=BETWEEN_SECONDS, backoff_max=BETWEEN_SECONDS)
        session.mount(address, requests.adapters.HTTPAdapter(max_retries=retry))
        try:
            session.get(f"{address}{path}", timeout=10).raise_for_status()
        except requests.ConnectionError as error:
            raise requests.ConnectionError(f"Waited {seconds:g} s for {address}{path}: {error}") from None
