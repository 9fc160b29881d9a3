#!/usr/bin/env python3
"""Works each section where its middle is over crop at the newest position, without any lead."""
import math
import sys

seq = 0


def inside(lat, lon, course):
    """The last ring around a point says whether there is crop whose rows are followed."""
    work = False
    for kind, bearing, ring in rings:
        odd = False
        for (a, b), (c, d) in zip(ring, ring[1:]):
            if (a > lat) != (c > lat) and lon < b + (lat - a) * (d - b) / (c - a):
                odd = not odd
        follows = bearing == "-" or abs(math.sin(course - math.radians(float(bearing)))) < 0.17
        if odd and (follows or kind in ("hole", "keep-out")):
            work = kind in ("body", "headland")
    return work


def degrees(text, side):
    point = text.index(".") - 2
    value = int(text[:point]) + float(text[point:]) / 60
    return -value if side in "SW" else value


for line in sys.stdin:
    word, *rest = line.split() or [""]
    if word == "job":
        now, places, rings = "0.000000000", [], []  # in real time: at once
    elif word == "section":
        places.append((float(rest[1]) - ahead, float(rest[2]) - right))
    elif word == "antenna":
        ahead, right = float(rest[0]), float(rest[1])
    elif word == "zone":
        zone, bearing = rest
    elif word in ("outline", "hole"):
        rings.append((zone if word == "outline" else word, bearing, []))
    elif word == "point":
        rings[-1][2].append((float(rest[0]), float(rest[1])))
    elif word == "start":
        print("ready 1", flush=True)
    elif word == "now":
        now = rest[0]
    elif word == "turn":
        print("done", now, flush=True)
    elif word[3:7] == "RMC," and (f := word.split(","))[2] == "A" and f[8]:
        lat, lon, course = degrees(f[3], f[4]), degrees(f[5], f[6]), math.radians(float(f[8]))
        sin, cos, east = math.sin(course), math.cos(course), 111320 * math.cos(math.radians(lat))
        on = [inside(lat + (x * cos - y * sin) / 111270, lon + (x * sin + y * cos) / east, course) for x, y in places]
        on += [3] * (-len(on) % 16)
        body = "PLBS,%d,%d,%s" % (seq, len(places), now[:-3])
        for k in range(0, len(on), 16):
            body += ",%08X" % sum(state << 2 * i for i, state in enumerate(on[k : k + 16]))
        check, seq = 0, seq + 1
        for byte in body.encode():
            check ^= byte
        print("$%s*%02X" % (body, check), flush=True)
