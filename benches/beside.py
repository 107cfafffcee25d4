#!/usr/bin/env python3
"""What one would write instead: a recording read, filtered and published from Python.

    pip install numpy filterpy paho-mqtt
    python3 benches/beside.py RECORDING.csv [--broker PORT]

One pot's load is gathered into the median of each second (numpy), followed by a Kalman filter of level
and slope (filterpy), and a reading is printed every ten seconds, and published where a broker's port is
given (paho-mqtt). No event is recognised, no bottom watched, nothing stored. Says on stderr how many
samples a second it read.
"""

import argparse
import csv
import json
import sys
import time

import numpy as np
from filterpy.kalman import KalmanFilter


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("recording")
    asked.add_argument("--broker", type=int)
    asked = asked.parse_args()
    client = None
    if asked.broker:
        import paho.mqtt.client as mqtt
        client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", asked.broker)
        client.loop_start()
    kalman = KalmanFilter(dim_x=2, dim_z=1)
    kalman.F = np.array([[1.0, 1.0], [0.0, 1.0]])
    kalman.H = np.array([[1.0, 0.0]])
    kalman.P *= 10.0
    kalman.R *= 0.01 ** 2
    kalman.Q = np.diag([1e-8, 1e-12])
    begun, samples, second, loads, probe = time.perf_counter(), 0, None, [], None
    with open(asked.recording, newline="") as file:
        for row in csv.DictReader(file):
            t = float(row["t_s"])
            if row["probe_c"]:
                probe = float(row["probe_c"])
                samples += 1
            if row["load_kg"]:
                loads.append(float(row["load_kg"]))
                samples += 1
            if second is None:
                second = int(t)
            if int(t) > second:
                if loads:
                    kalman.predict()
                    kalman.update(np.median(loads))
                loads, second = [], int(t)
                if second % 10 == 0:
                    level, slope = kalman.x.ravel()
                    line = json.dumps({"t_s": second, "pot_c": probe, "load_kg": round(level, 4),
                                       "evaporation_kg_h": round(-3600 * slope, 3)})
                    print(line)
                    if client:
                        client.publish("beside/reading", line, qos=1)
    took = time.perf_counter() - begun
    print(f"{samples} samples in {took:.2f} s: {samples / took:.0f} a second", file=sys.stderr)


main()
