"""OSC by the python-osc package: over UDP by its client, over TCP with framing of our own."""

import socket
import time
from types import SimpleNamespace

from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import build_msg
from pythonosc.udp_client import SimpleUDPClient

END, ESC = b"\xc0", b"\xdb"


def slip(packet):
    """RFC 1055, with an END at both ends as OSC 1.1 has it."""
    return END + packet.replace(ESC, b"\xdb\xdd").replace(END, b"\xdb\xdc") + END


def unslip(frame):
    return frame.replace(b"\xdb\xdc", END).replace(b"\xdb\xdd", ESC)


class Road:
    """What is the same over UDP and TCP: ask() sends a message, next() gives one that came, or None."""

    def until(self, address, check=lambda *params: True, seconds=8.0):
        """The parameters of the first message to an address that pass a check."""
        end = time.monotonic() + seconds
        while True:
            message = self.next(max(0.0, end - time.monotonic()))
            assert message is not None, f"waited {seconds} s in vain for {address}"
            if message.address == address and check(*message.params):
                return message.params

    def request(self, verb, *args):
        """Asks, and gives what was answered: "accepted" or the reasons."""
        self.ask(f"/bellwire/{verb}", *args)
        return self.until("/bellwire/answer", lambda told, *_: told == verb)[2]


class Udp(Road):
    """`source` is the address to send from; all of 127.0.0.0/8 is this machine's."""

    def __init__(self, port, source=None, at="127.0.0.1"):
        self.client = SimpleUDPClient(at, port)
        if source:
            self.client._sock.bind((source, 0))

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.client.close()

    def ask(self, address, *args):
        self.client.send_message(address, list(args))

    def raw(self, datagram):
        self.client.send(SimpleNamespace(dgram=datagram))

    def next(self, seconds):
        # The client takes 0 for "do not wait at all".
        datagram = self.client.receive(max(seconds, 0.001))
        return OscMessage(datagram) if datagram else None


class Tcp(Road):
    def __init__(self, port, source=None, at="127.0.0.1"):
        self.socket = socket.create_connection((at, port), timeout=5, source_address=(source, 0) if source else None)
        self.buffer = b""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.socket.close()

    def ask(self, address, *args):
        self.raw(slip(build_msg(address, list(args)).dgram))

    def raw(self, octets):
        self.socket.sendall(octets)

    def next(self, seconds):
        end = time.monotonic() + seconds
        while True:
            frame, found, rest = self.buffer.partition(END)
            if found:
                self.buffer = rest
                if frame:
                    return OscMessage(unslip(frame))
                continue
            self.socket.settimeout(max(end - time.monotonic(), 0.001))
            try:
                octets = self.socket.recv(4096)
            except TimeoutError:
                return None
            if not octets:
                return None
            self.buffer += octets
