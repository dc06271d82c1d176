"""A proxy in front of several web processes: each request goes to the next one, as it comes.

What cannot be connected to is passed over. A GET that breaks off is asked of the next; a POST is not, since nobody
knows whether it was carried out: whoever sent it is told 502.
"""

import http.client
import itertools
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

PASSED_ON = ("content-type", "cookie", "x-csrftoken", "referer", "hx-request")


class Proxy:
    """Listens on a free `port`; `served` counts requests by the port that answered, `broken` those that broke off."""

    def __init__(self, ports: list[int]) -> None:
        turns, lock = itertools.cycle(ports), threading.Lock()
        self.served: dict[int, int] = dict.fromkeys(ports, 0)
        self.broken = 0
        proxy = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.0"

            def do_GET(self) -> None:
                self._pass_on(b"")

            def do_POST(self) -> None:
                self._pass_on(self.rfile.read(int(self.headers["Content-Length"])))

            def _pass_on(self, body: bytes) -> None:
                for _ in ports:
                    with lock:
                        port = next(turns)
                    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
                    try:
                        connection.connect()
                    except OSError:
                        continue
                    try:
                        self._ask(connection, body)
                        proxy.served[port] += 1
                        return
                    except (OSError, http.client.HTTPException):
                        proxy.broken += 1
                        if self.command == "POST":
                            break
                    finally:
                        connection.close()
                self._answer(502, [], b"")

            def _ask(self, connection: http.client.HTTPConnection, body: bytes) -> None:
                kept = {name: value for name, value in self.headers.items() if name.lower() in PASSED_ON}
                kept |= {"Host": self.headers["Host"], "X-Forwarded-For": self.client_address[0]}
                connection.request(self.command, self.path, body or None, kept)
                answer = connection.getresponse()
                data = answer.read()
                passed = ("content-type", "location", "set-cookie", "hx-redirect")
                self._answer(
                    answer.status, [pair for pair in answer.getheaders() if pair[0].lower() in passed], data
                )

            def _answer(self, status: int, headers: list[tuple[str, str]], data: bytes) -> None:
                try:
                    self.send_response(status)
                    for name, value in headers:
                        self.send_header(name, value)
                    self.send_header("Content-Length", str(len(data)))
                    self.end_headers()
                    self.wfile.write(data)
                except BrokenPipeError:
                    pass  # Whoever asked has gone.

            def log_message(self, *_: Any) -> None: ...

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()
