"""One way of asking on every road: ask(verb, cue...) gives "accepted" or the reasons."""

from road.osc import Tcp, Udp
from road.rpc import Refused, Rpc


class OverOsc:
    """By OSC, as a caller."""

    def __init__(self, road):
        self.road = road

    def __call__(self, verb, *cues):
        return self.road.request(verb, *cues)


class OverWebSocket:
    def __init__(self, rpc):
        self.rpc = rpc

    def __call__(self, verb, *cues):
        params = {"cues": list(cues)} if verb == "standby" else {"cue": cue for cue in cues}
        try:
            self.rpc.call(verb, **params)
        except Refused as refused:
            return "; ".join(refused.reasons)
        return "accepted"


class ByCommand:
    def __init__(self, daemon):
        self.daemon = daemon

    def __call__(self, verb, *cues):
        code, _, complaint = self.daemon.command(verb, *cues)
        assert code in (0, 1), f"exit code {code}: {complaint}"
        return "accepted" if code == 0 else complaint


def on_road(name, daemon):
    match name:
        case "udp":
            return OverOsc(Udp(daemon.osc))
        case "tcp":
            return OverOsc(Tcp(daemon.osc))
        case "websocket":
            return OverWebSocket(Rpc(daemon.address))
        case "command":
            return ByCommand(daemon)
