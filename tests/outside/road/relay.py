"""A network that can stall: what is sent through it waits, in order, and then comes in one burst."""

import socket
import threading


class Relay:
    def __init__(self, port):
        self.port_behind = port
        self.flows = threading.Event()
        self.flows.set()
        self.door = socket.create_server(("127.0.0.1", 0))
        self.port = self.door.getsockname()[1]
        self.sockets = []
        threading.Thread(target=self._meet, daemon=True).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.flows.set()
        for one in [self.door, *self.sockets]:
            one.close()

    def stall(self):
        self.flows.clear()

    def flow(self):
        self.flows.set()

    def _meet(self):
        while True:
            try:
                near = self.door.accept()[0]
                far = socket.create_connection(("127.0.0.1", self.port_behind))
            except OSError:
                return
            for one in (near, far):
                one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.sockets += [near, far]
            threading.Thread(target=self._carry, args=(near, far, True), daemon=True).start()
            threading.Thread(target=self._carry, args=(far, near, False), daemon=True).start()

    def _carry(self, source, sink, stalls):
        try:
            while octets := source.recv(65536):
                if stalls:
                    self.flows.wait()
                sink.sendall(octets)
        except OSError:
            pass
