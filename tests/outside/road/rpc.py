"""JSON-RPC over WebSocket, by the websockets package."""

import json
import time

from websockets.sync.client import connect


class Refused(Exception):
    """A request that was not carried out."""

    def __init__(self, error):
        self.code = error["code"]
        self.reasons = (error.get("data") or {}).get("reasons", [])
        super().__init__("; ".join([error["message"], *self.reasons]))


class Rpc:
    def __init__(self, address, token=None, name=None):
        headers = {"Authorization": f"Bearer {token}"} if token else {}
        url = f"ws://{address}/rpc" + (f"?name={name}" if name else "")
        self.opened = connect(url, open_timeout=5, close_timeout=1, max_size=None, additional_headers=headers)
        self.socket = self.opened.__enter__()
        self.heard = []
        self.last = 0

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.opened.__exit__(None, None, None)

    def send(self, method, **params):
        """Sends a request without waiting for its answer; gives its id."""
        self.last += 1
        request = {"jsonrpc": "2.0", "id": self.last, "method": method, "params": params}
        self.socket.send(json.dumps(request))
        return self.last

    def receive(self, seconds=5.0):
        return json.loads(self.socket.recv(timeout=seconds))

    def answer(self, identity, seconds=5.0):
        """The answer to a request; keeps the notifications before it in `heard`."""
        end = time.monotonic() + seconds
        while True:
            message = self.receive(end - time.monotonic())
            if message.get("id") == identity:
                return message
            self.heard.append(message)

    def call(self, method, **params):
        answer = self.answer(self.send(method, **params))
        if "error" in answer:
            raise Refused(answer["error"])
        return answer["result"]

    def until(self, method, check=lambda params: True, seconds=8.0):
        """The first notification of a method that passes a check, among those heard and those to come."""
        end = time.monotonic() + seconds
        while True:
            while self.heard:
                message = self.heard.pop(0)
                if message.get("method") == method and check(message["params"]):
                    return message["params"]
            self.heard.append(self.receive(end - time.monotonic()))
