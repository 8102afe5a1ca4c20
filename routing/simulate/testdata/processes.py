"""A message on a chain of stations, played with processes on a common clock.

Reads a scenario as JSON from standard input, plays it the asked number of times
and prints counts as JSON. It is written for tests, apart from the planner's own
code: each sender and each receiver is a process of its own, they meet through
what is on the air, and an event queue keeps the time. One unit of time is a slot.
"""

import json
import math
import random
import sys

import simpy

scenario = json.load(sys.stdin)
FRAMES, BLOCK = scenario["frames"], scenario["block"] or scenario["frames"]
ACK, TURN, ROUNDS = scenario["ack"], scenario["turnaround"], scenario["rounds"]
BUSY, SLOTS, HOPS = scenario["busy"], scenario["slots"], scenario["hops"]
POLL = object()
dice = random.Random(scenario["seed"])


def phi(z):
    return 0.5 * math.erfc(-z / math.sqrt(2))


def decode(direction, zeta, eta):
    """The chance of a frame, given the hop's and the net's deviate."""
    if len(direction) == 1:
        return direction[0]
    margin, sd, common, noise = direction
    own = math.sqrt(max(sd * sd - common * common, 0))
    return phi((margin + common * eta + own * zeta) / noise)


class Receiver:
    """Listens on one hop, collects frames and answers at the end of a round."""

    def __init__(self, run, hop, forward):
        self.run, self.hop, self.forward = run, hop, forward
        self.has = set()
        self.heard = False

    def listen(self, frame):
        if dice.random() < self.forward:
            self.heard = True
            if frame is not POLL:
                self.has.add(frame)


class Run:
    """One try to carry the message."""

    def __init__(self):
        self.env = simpy.Environment()
        self.keyed = 0
        self.arrived = self.confirmed = None
        self.eta = dice.gauss(0, 1)
        self.env.process(self.send(0))
        self.env.run()

    def usable(self, hop):
        """Waits for the beginning of the next usable slot, then through it."""
        while True:
            slot = int(self.env.now)
            opens = HOPS[hop]["open"]
            if slot >= len(opens):
                yield self.env.event()  # the clock has run out: nobody waits any longer
            if opens[slot] and dice.random() >= BUSY:
                yield self.env.timeout(1)
                return
            yield self.env.timeout(1)

    def send(self, hop):
        """The station that holds the message sends it over a hop."""
        zeta = dice.gauss(0, 1)
        receiver = Receiver(self, hop, decode(HOPS[hop]["forward"], zeta, self.eta))
        answer = decode(HOPS[hop]["reverse"], zeta, self.eta)
        last_hop = hop == len(HOPS) - 1
        for start in range(0, FRAMES, BLOCK):
            block = set(range(start, min(start + BLOCK, FRAMES)))
            last_block = start + BLOCK >= FRAMES
            outcome = yield from self.carry(hop, receiver, answer, block, last_block, last_hop)
            if outcome == "relay":
                self.env.process(self.send(hop + 1))
                return
            if outcome == "lost":
                return

    def carry(self, hop, receiver, answer, block, last_block, last_hop):
        """Rounds of one block, until the sender knows or gives up."""
        want = sorted(block)
        for _ in range(ROUNDS):
            receiver.heard = False
            for frame in want or [POLL]:
                yield from self.usable(hop)
                self.keyed += 1
                receiver.listen(frame)
                if last_block and last_hop and self.arrived is None and block <= receiver.has:
                    self.arrived = int(self.env.now) - 1
            for _ in range(TURN):
                yield from self.usable(hop)
            read = receiver.heard
            for _ in range(ACK):
                yield from self.usable(hop)
                if receiver.heard:
                    self.keyed += 1
                    read = dice.random() < answer and read
            missing = sorted(block - receiver.has)
            if read and not missing and last_block and last_hop:
                self.confirmed = int(self.env.now) - 1
            for _ in range(TURN):
                yield from self.usable(hop)
            if last_block and not last_hop and not missing:
                return "relay"
            if read and not missing:
                return "done"
            want = missing if read else []
        return "lost"


def main():
    arrivals = [0] * SLOTS
    delivered = confirmed = keyed = squared = 0
    for _ in range(scenario["runs"]):
        run = Run()
        if run.arrived is not None and run.arrived < SLOTS:
            arrivals[run.arrived] += 1
            delivered += 1
        confirmed += run.confirmed is not None and run.confirmed < SLOTS
        keyed += run.keyed
        squared += run.keyed * run.keyed
    json.dump(
        {"delivered": delivered, "confirmed": confirmed, "airtime": keyed, "squared": squared, "arrivals": arrivals},
        sys.stdout,
    )


main()
