#!/usr/bin/env python3
"""A day of a kitchen at fifty times its pace, with random faults, and what that does to the process.

    python3 tests/soak.py BINARY [--hours 24] [--speed 50] [--seed 1]

Two pots are cooked from recordings that are made up here: the load of each comes from its recording,
with spells of empty cells, rails and spikes; the probe of each is a file of the kernel's 1-Wire, which
is unplugged, spoilt and stopped. A real broker comes and goes, readers come to the page, and the
process is told to stand still for a second now and then. Every ten seconds memory, file descriptors,
threads and the store's size are read from outside. In the end the store is asked whether a sample is
missing. Only Python's own library and Debian's mosquitto are needed.
"""

import argparse
import json
import os
import random
import shutil
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request

ROMS = ["28-0316a2795f01", "28-0316a2795f02"]


def crc8(data):
    crc = 0
    for byte in data:
        for _ in range(8):
            mix = (crc ^ byte) & 1
            crc = (crc >> 1) ^ (0x8C if mix else 0)
            byte >>= 1
    return crc


def w1_slave(celsius):
    low, high = int(round(celsius * 16)).to_bytes(2, "little", signed=True)
    data = [low, high, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10]
    crc = crc8(data)
    text = " ".join(f"{b:02x}" for b in data + [crc])
    return f"{text} : crc={crc:02x} YES\n{text} t={int(celsius * 1000)}\n"


def recording(path, hours, chance):
    """10 Hz of a pot that is boiled down and filled again every two hours; how many loads it has."""
    loads, kg, bad, until = 0, 24.0, None, 0.0
    with open(path, "w") as out:
        out.write("t_s,probe_c,load_kg\n")
        for tenth in range(int(hours * 36000)):
            t = tenth / 10
            kg = 24.0 if tenth % 72000 == 0 else kg - 3.0 / 36000
            if t >= until and chance.random() < 1 / 60000:
                bad, until = chance.choice(["empty", "rail", "spikes"]), t + chance.uniform(5, 600)
            load = f"{6.2 + kg + chance.gauss(0, 0.008):.3f}"
            if t < until:
                if bad == "empty":
                    load = ""
                elif bad == "rail":
                    load = "200.000"
                elif chance.random() < 0.05:
                    load = f"{chance.uniform(-60, 190):.3f}"
            loads += load != ""
            out.write(f"{t:.1f},,{load}\n")
    return loads


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Broker:
    def __init__(self, room, port):
        self.conf = os.path.join(room, "mosquitto.conf")
        with open(self.conf, "w") as out:
            out.write(f"user root\nlistener {port} 127.0.0.1\nallow_anonymous true\n")
        self.process = None

    def start(self):
        path = os.environ.get("PATH", "") + ":/usr/sbin"
        self.process = subprocess.Popen(["mosquitto", "-c", self.conf], env={"PATH": path},
                                        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def stop(self):
        if self.process:
            self.process.kill()
            self.process.wait()
            self.process = None


def status(pid):
    with open(f"/proc/{pid}/status") as lines:
        found = dict(line.split(":", 1) for line in lines)
    with open(f"/proc/{pid}/stat") as line:
        fields = line.read().rsplit(")", 1)[1].split()
    cpu_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return {"rss_kb": int(found["VmRSS"].split()[0]), "threads": int(found["Threads"]),
            "fds": len(os.listdir(f"/proc/{pid}/fd")), "cpu_s": cpu_s}


def kitchen(room, port, page):
    text = f"""[site]
altitude_m = 40.0
[board]
onewire_root = "{room}/w1"
calibrations = "{room}/none.toml"
[mqtt]
host = "127.0.0.1"
port = {port}
board = "quay"
[page]
listen = "127.0.0.1:{page}"
reading = "open"
"""
    for n, rom in enumerate(ROMS):
        os.makedirs(f"{room}/w1/{rom}", exist_ok=True)
        text += f"""[[pot]]
name = "pot{n}"
base_diameter_m = 0.40
tare_kg = 6.2
lid_kg = 1.35
[pot.sensors]
probe = "{rom}"
recording = "load{n}.csv"
"""
        with open(f"{room}/batch{n}.toml", "w") as out:
            out.write(f"""name = "Base {n}"
pot = "pot{n}"
[start]
contents_kg = 24.0
lid = "off"
composition = {{ water = 0.90, solids = 0.07, fat = 0.03 }}
""")
    with open(f"{room}/kitchen.toml", "w") as out:
        out.write(text)


def disturb(room, broker, process, page, chance, over, counts):
    """Random faults until it is over; times are real seconds."""
    broken = [0.0] * len(ROMS)
    away = 0.0
    while not over.wait(0.2):
        now = time.monotonic()
        for n, rom in enumerate(ROMS):
            slave = f"{room}/w1/{rom}/w1_slave"
            if now < broken[n]:
                continue
            fault = chance.random() < 0.01
            text = w1_slave(98.0 + 0.0625 * chance.randint(-1, 1))
            if fault:
                broken[n] = now + chance.uniform(0.2, 10)
                counts["probe faults"] += 1
                text = chance.choice([None, "", text[:20], text.replace("YES", "NO"), w1_slave(85.0)])
            if text is None:
                if os.path.exists(slave):
                    os.remove(slave)
            else:
                with open(slave + ".new", "w") as out:
                    out.write(text)
                os.rename(slave + ".new", slave)
        if broker.process and chance.random() < 0.004:
            broker.stop()
            away = now + chance.uniform(0.5, 60)
            counts["broker gone"] += 1
        elif not broker.process and now > away:
            broker.start()
        if chance.random() < 0.002:
            process.send_signal(signal.SIGSTOP)
            time.sleep(chance.uniform(0.1, 1.0))
            process.send_signal(signal.SIGCONT)
            counts["stood still"] += 1
        if chance.random() < 0.05:
            try:
                for path in ["/", "/pot/pot0", "/pot/pot0/curve.svg", "/metrics"]:
                    urllib.request.urlopen(f"http://127.0.0.1:{page}{path}", timeout=5).read()
                    counts["pages read"] += 1
            except OSError:
                counts["pages refused"] += 1


def samples(store):
    """Events kept of each batch, and the wall time that its blocks span, s."""
    db = sqlite3.connect(f"file:{store}?mode=ro", uri=True)
    sound = db.execute("PRAGMA integrity_check").fetchone()[0]
    rows = db.execute("""SELECT batch, sum(events), max(from_ms + for_ms) / 1000.0 FROM samples
                         JOIN legs ON legs.id = samples.leg GROUP BY batch""").fetchall()
    waiting = db.execute("SELECT count(*) FROM outbox").fetchone()[0]
    return sound, rows, waiting


def exported(binary, room, number, speed):
    """Loads of a batch as it is exported, and how far its probe's period strays from a second."""
    subprocess.run([os.path.abspath(binary), "batches", "export", str(number), "--into", f"{room}/out{number}",
                    "--store", f"{room}/store/s.sqlite"], check=True, stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL)
    loads, probes = 0, []
    with open(f"{room}/out{number}/recording.csv") as rows:
        head = next(rows).strip().split(",")
        t, probe, load = (head.index(name) for name in ["t_s", "probe_c", "load_kg"])
        for row in rows:
            cells = row.rstrip("\n").split(",")
            loads += cells[load] != ""
            if cells[probe] != "":
                probes.append(float(cells[t]))
    periods = sorted(b - a for a, b in zip(probes, probes[1:]))
    at = lambda share: periods[int(share * (len(periods) - 1))] if periods else float("nan")
    return loads, f"its probe every {at(0.5):.3f} s (median; p99 {at(0.99):.3f} s, real {1000 * at(0.99) / speed:.0f} ms)"


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("binary")
    asked.add_argument("--hours", type=float, default=24)
    asked.add_argument("--speed", type=float, default=50)
    asked.add_argument("--seed", type=int, default=1)
    asked = asked.parse_args()
    chance = random.Random(asked.seed)
    room = tempfile.mkdtemp(prefix="soak-")
    port, page = free_port(), free_port()
    kitchen(room, port, page)
    loads = [recording(f"{room}/load{n}.csv", asked.hours, chance) for n in range(len(ROMS))]
    broker = Broker(room, port)
    broker.start()
    command = [os.path.abspath(asked.binary), "run", "--kitchen", "kitchen.toml",
               "--store", "store/s.sqlite", "--speed", str(asked.speed), "--log", "warn"]
    for n in range(len(ROMS)):
        command += ["--batch", f"batch{n}.toml"]
    log = open(f"{room}/log", "w")
    process = subprocess.Popen(command, cwd=room, stderr=log, stdout=log)
    over, counts = threading.Event(), {k: 0 for k in
        ["probe faults", "broker gone", "stood still", "pages read", "pages refused"]}
    faults = threading.Thread(target=disturb, args=(room, broker, process, page, chance, over, counts),
                              daemon=True)
    faults.start()
    seen, end = [], time.monotonic() + asked.hours * 3600 / asked.speed - 2
    while time.monotonic() < end and process.poll() is None:
        time.sleep(min(10, max(0.1, end - time.monotonic())))
        try:
            now = status(process.pid)
        except (FileNotFoundError, KeyError):
            break
        now["store_kb"] = sum(os.path.getsize(f"{room}/store/{f}") for f in os.listdir(f"{room}/store")) // 1024
        seen.append(now)
    over.set()
    faults.join()
    if not seen:
        sys.exit(open(f"{room}/log").read())
    if not broker.process:
        broker.start()
    time.sleep(65 if process.poll() is None else 0)
    process.send_signal(signal.SIGTERM)
    code = process.wait(timeout=60)
    broker.stop()
    report(asked, room, loads, seen, counts, code)


def report(asked, room, loads, seen, counts, code):
    sound, rows, waiting = samples(f"{room}/store/s.sqlite")
    quarter = max(1, len(seen) // 4)
    middle = lambda key, part: statistics.median(s[key] for s in part)
    print(f"{asked.hours:g} h of {len(ROMS)} pots at {asked.speed:g} x, seed {asked.seed}: {counts}")
    for key in ["rss_kb", "fds", "threads", "store_kb"]:
        first, last = seen[quarter:2 * quarter], seen[-quarter:]
        print(f"{key}: {middle(key, first):.0f} in the second quarter, {middle(key, last):.0f} in the last, "
              f"most {max(s[key] for s in seen)}")
    cpu = (seen[-1]["cpu_s"] - seen[0]["cpu_s"]) / max(1, 10 * (len(seen) - 1))
    print(f"cpu: {100 * cpu:.1f} % of a core")
    missed = 0
    for (batch, events, last_s), expected in zip(rows, loads):
        loads_kept, period = exported(asked.binary, room, batch, asked.speed)
        missed += expected - loads_kept
        print(f"batch {batch}: {events} samples kept up to {last_s:.0f} s, {expected} loads recorded, "
              f"{loads_kept} kept; {period}")
    print(f"store: {sound}; {waiting} messages wait for the broker; exit code {code}; room {room}")
    failed = sound != "ok" or code != 0 or waiting != 0 or missed != 0
    grown = middle("rss_kb", seen[-quarter:]) > 1.25 * middle("rss_kb", seen[quarter:2 * quarter])
    leaked = middle("fds", seen[-quarter:]) > middle("fds", seen[quarter:2 * quarter]) + 5
    print(json.dumps({"failed": failed, "missed": missed, "grown": grown, "leaked": leaked}))
    if failed or grown or leaked:
        sys.exit(1)
    shutil.rmtree(room)


main()
