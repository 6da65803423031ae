"""Web servers for tests: a real nginx, and one that does whatever a test says, byte by byte."""

from __future__ import annotations

import contextlib
import http.client
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

Behaviour = Callable[[socket.socket, str], None]


class RawServer:
    """Answers each connection with `behaviour(connection, head of the request)`; keeps the heads in `heads`."""

    def __init__(self, behaviour: Behaviour, certificate: Path | None = None, host: str = "127.0.0.1") -> None:
        self.behaviour = behaviour
        self.certificate = certificate
        self.heads: list[str] = []
        self._listener = socket.create_server((host, 0))
        self.host = host
        self.port: int = self._listener.getsockname()[1]
        self.stopping = threading.Event()
        self._threads = [threading.Thread(target=self._accept, daemon=True)]

    def __enter__(self) -> RawServer:
        self._threads[0].start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopping.set()
        with contextlib.suppress(OSError):
            socket.create_connection((self.host, self.port), timeout=1).close()
        for thread in self._threads:
            thread.join(5)
        self._listener.close()

    def url(self, path: str = "/stations.csv") -> str:
        return f"{'https' if self.certificate else 'http'}://{self.host}:{self.port}{path}"

    def _accept(self) -> None:
        while not self.stopping.is_set():
            connection, _ = self._listener.accept()
            thread = threading.Thread(target=self._serve, args=(connection,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, connection: socket.socket) -> None:
        # A client that goes away is the point of many tests, so errors of the connection end it quietly.
        with contextlib.suppress(OSError), connection:
            connection.settimeout(10)
            if self.certificate is None:
                self._answer(connection)
                return
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(self.certificate)
            with context.wrap_socket(connection, server_side=True) as secure:
                self._answer(secure)

    def _answer(self, connection: socket.socket) -> None:
        head = b""
        while b"\r\n\r\n" not in head:
            piece = connection.recv(4096)
            if not piece:
                return
            head += piece
        self.heads.append(head.decode("latin-1"))
        self.behaviour(connection, self.heads[-1])


def sends(*pieces: bytes) -> Behaviour:
    """Sends the pieces and closes."""

    def behaviour(connection: socket.socket, _: str) -> None:
        for piece in pieces:
            connection.sendall(piece)

    return behaviour


def in_turn(*behaviours: Behaviour) -> Behaviour:
    """The first behaviour for the first request and so on; the last one for all later."""
    waiting = list(behaviours)

    def behaviour(connection: socket.socket, head: str) -> None:
        (waiting.pop(0) if len(waiting) > 1 else waiting[0])(connection, head)

    return behaviour


def answer(body: bytes = b"", *headers: str, status: str = "200 OK", length: int | None = -1) -> bytes:
    """An answer (RFC 9112, section 2.1); `length` -1: the right Content-Length, None: none."""
    lines = [f"HTTP/1.1 {status}", *headers]
    if length is not None:
        lines.append(f"Content-Length: {len(body) if length == -1 else length}")
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def chunks(*pieces: bytes, end: bytes = b"0\r\n\r\n") -> bytes:
    """Pieces in the chunked coding (RFC 9112, section 7.1)."""
    return b"".join(f"{len(piece):x}\r\n".encode() + piece + b"\r\n" for piece in pieces) + end


def header(head: str, name: str) -> str | None:
    """A field of a request's head."""
    for line in head.split("\r\n")[1:]:
        key, _, value = line.partition(":")
        if key.lower() == name.lower():
            return value.strip()
    return None


def certificate(folder: Path, name: str) -> Path:
    """A self-signed certificate for localhost with its key, in one file, made by openssl."""
    path = folder / f"{name}.pem"
    command = "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=localhost"
    names = ["-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"]
    parts = ["-keyout", str(folder / f"{name}.key"), "-out", str(path)]
    subprocess.run([*command.split(), *names, *parts], check=True, capture_output=True, timeout=30)
    path.write_bytes(path.read_bytes() + (folder / f"{name}.key").read_bytes())
    return path


_ONE_MORE = "/one-more"
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")


@contextlib.contextmanager
def nginx(folder: Path, directives: str, certificate: Path | None = None) -> Iterator[str]:
    """A real nginx that serves `<folder>/www` with further directives of its server block; gives its address."""
    assert NGINX is not None
    (folder / "www").mkdir(exist_ok=True)
    for _ in range(5):
        with socket.create_server(("127.0.0.1", 0)) as probe:
            port = probe.getsockname()[1]
        settings = folder / "nginx.conf"
        settings.write_text(_nginx_settings(folder, port, directives, certificate), encoding="utf-8")
        with (folder / "nginx.log").open("wb") as log:
            process = subprocess.Popen([NGINX, "-e", "stderr", "-p", str(folder), "-c", str(settings)], stderr=log)
        try:
            if _listens(process, port):
                yield f"{'https' if certificate else 'http'}://127.0.0.1:{port}"
                return
        finally:
            process.terminate()
            process.wait(10)
    raise AssertionError("nginx did not start: " + (folder / "nginx.log").read_text(encoding="utf-8"))


def requests_of(address: str, www: Path) -> list[str]:
    """The lines of nginx's log of requests. It writes one behind the answer, and before it takes the next request: so one more
    is sent, which is not among them."""
    connection = http.client.HTTPConnection(address.removeprefix("http://"), timeout=10)
    connection.request("GET", _ONE_MORE)
    connection.getresponse().read()
    connection.close()
    lines = (www.parent / "access.log").read_text(encoding="utf-8").splitlines()
    return [line for line in lines if f" {_ONE_MORE} " not in line]


def _nginx_settings(folder: Path, port: int, directives: str, certificate: Path | None) -> str:
    secure = f"ssl_certificate {certificate}; ssl_certificate_key {certificate};" if certificate else ""
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    temporary = " ".join(f"{kind}_temp_path {folder}/{kind};" for kind in kinds)
    # One process, as the user who runs the tests: root's temporary folders are closed to nginx's own user.
    return f"""
daemon off; master_process off; pid {folder}/nginx.pid; error_log stderr;
events {{ worker_connections 64; }}
http {{
  access_log {folder}/access.log; {temporary}
  types {{ text/csv csv; text/html html; application/gzip gz; }}
  server {{
    listen 127.0.0.1:{port}{" ssl" if certificate else ""}; root {folder}/www; {secure}
    {directives}
  }}
}}
"""


def _listens(process: subprocess.Popen[bytes], port: int) -> bool:
    for _ in range(200):
        if process.poll() is not None:
            return False
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return True
        time.sleep(0.02)
    return False
