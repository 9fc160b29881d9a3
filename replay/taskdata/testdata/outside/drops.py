"""Where the rows of a set of task data first switched on, in every way of reading it that
comes to mind: a decoder of its own, and shapely for the distances.

usage: drops.py TASKDATA.zip TASK ELEMENT TRACTOR; prints JSON.
"""
import itertools, json, math, statistics, struct, sys, zipfile
import xml.etree.ElementTree as ET
from shapely.geometry import LineString, Point, Polygon

files = {}
with zipfile.ZipFile(sys.argv[1]) as z:
    for name in z.namelist():
        files[name.rsplit("/", 1)[-1].upper()] = z.read(name)
xml = lambda name: ET.fromstring(files[name.upper()])
tasks, devices, fields = xml("TSK00000.XML"), xml("DVC00000.XML"), xml("PFD00000.XML")
task = next(t for t in tasks.iter("TSK") if t.get("A") == sys.argv[2])
element, tractor_id = sys.argv[3], sys.argv[4]


def rows_of(name):
    columns = [(int(d.get("A"), 16), d.get("C")) for d in xml(name + ".XML").iter("DLV")]
    head, data, at, out = struct.Struct("<IHiiiBHHBIHB"), files[name + ".BIN"], 0, []
    while at < len(data):
        ms, _, north, east, _, _, _, _, _, utc, _, n = head.unpack_from(data, at)
        at += head.size
        values = {}
        for _ in range(n):
            index, value = struct.unpack_from("<Bi", data, at)
            at += 5
            values[columns[index]] = value
        out.append([ms, utc, north * 1e-7, east * 1e-7, values])
    return out


rows = None
for log in task.iter("TLG"):
    more = rows_of(log.get("A"))
    if rows is None:
        rows = more
    else:  # parallel logs: the same instants
        for row, other in zip(rows, more, strict=True):
            assert row[:4] == other[:4]
            row[4].update(other[4])

device = next(d for d in devices if any(e.get("A") == element for e in d.iter("DET")))
tractor = next(d for d in devices if d.get("A") == tractor_id)


def reader(dvc):
    objects = {o.get("A"): o for tag in ("DPD", "DPT") for o in dvc.iter(tag)}
    by_object = {e.get("B"): e for e in dvc.iter("DET")}

    def value(e, ddi):
        key = (ddi, e.get("A"))
        for row in rows:
            if key in row[4]:
                return row[4][key]
        for ref in e.iter("DOR"):
            o = objects.get(ref.get("A"))
            if o is not None and o.tag == "DPT" and int(o.get("B"), 16) == ddi:
                return int(o.get("C"))
        up = by_object.get(e.get("F"))
        return value(up, ddi) if up is not None and up is not e else 0

    return value


value = reader(device)
by_object = {e.get("B"): e for e in device.iter("DET")}


def below(e):
    while e is not None:
        if e.get("A") == element:
            return True
        up = by_object.get(e.get("F"))
        e = None if up is e else up
    return False


sections = sorted((e for e in device.iter("DET") if e.get("C") == "4" and below(e)), key=lambda e: value(e, 135))
link = next(c for c in task.iter("CNN"))
near, far = (link.get("D"), link.get("B")) if link.get("A") == tractor_id else (link.get("B"), link.get("D"))
det = lambda dvc, name: next(e for e in dvc.iter("DET") if e.get("A") == name)
front = reader(tractor)
hitch_x = front(det(tractor, far), 134) - value(det(device, near), 134)
hitch_y = front(det(tractor, far), 135) - value(det(device, near), 135)
antenna = next(e for e in tractor.iter("DET") if e.get("C") == "7")
antenna_x, antenna_y = front(antenna, 134), front(antenna, 135)

# The first time that each section's two bits go from off to on.
words, now, first = {}, {}, {}
for i, row in enumerate(rows):
    for (ddi, of), v in row[4].items():
        if of == element and 161 <= ddi <= 176:
            words[ddi - 161] = v & 0xFFFFFFFF
    for k in range(len(sections)):
        if k // 16 in words:
            on = words[k // 16] >> 2 * (k % 16) & 3
            if on == 1 and now.get(k) == 0:
                first.setdefault(k, i)
            now[k] = on

ring = [(float(p.get("C")), float(p.get("D"))) for f in fields if f.get("A") == task.get("E") for p in f.iter("PNT")]
lat0, lon0 = ring[0]


def plane(kind):
    sin, cos = math.sin(math.radians(lat0)), math.cos(math.radians(lat0))
    if kind == "ellipsoid":  # WGS 84
        a, e2 = 6378137.0, 6.69437999014e-3
        n = a / math.sqrt(1 - e2 * sin * sin)
        m = n * (1 - e2) / (1 - e2 * sin * sin)
    else:
        n = m = {"sphere of 6371 km": 6371000.0, "sphere of 6378 km": 6378137.0}[kind]
    return lambda lat, lon: (math.radians(lon - lon0) * n * cos, math.radians(lat - lat0) * m)


# UTC - row's time, a line through all rows: the row's instant, as a receiver's clock has it.
xs, ys = [r[0] for r in rows], [r[1] - r[0] for r in rows]
mx, my = statistics.fmean(xs), statistics.fmean(ys)
slope = sum((x - mx) * (y - my) for x, y in zip(xs, ys)) / sum((x - mx) ** 2 for x in xs)


def place(when, to, i):
    at = lambda k: to(rows[k][2], rows[k][3])
    if when == "the row":
        return at(i)
    if when == "the row before":
        return at(i - 1)
    if when == "the row after":
        return at(i + 1)
    if when == "between it and the row before":
        (e, n), (f, m) = at(i - 1), at(i)
        return (e + f) / 2, (n + m) / 2
    utc = rows[i][0] + my + slope * (rows[i][0] - mx)  # the row's instant
    k = next(k for k in range(1, len(rows)) if rows[k][1] >= utc)
    f = (utc - rows[k - 1][1]) / (rows[k][1] - rows[k - 1][1])
    (e, n), (g, m) = at(k - 1), at(k)
    return e + f * (g - e), n + f * (m - n)


def distances(kind, when, side, across, variant):
    to = plane(kind)
    border = Polygon([to(*p) for p in ring]).exterior
    out = []
    for k, i in first.items():
        e = sections[len(sections) - 1 - k if variant == "bits mirrored" else k]
        x, y = value(e, 134), value(e, 135)
        x *= {"x turned": -1, "x left out": 0}.get(variant, 1)
        x = (hitch_x + x - antenna_x) / 1000
        y = ({"as told": 1, "left out": 0, "reversed": -1}[side] * hitch_y + y - antenna_y) / 1000
        p, q = to(*rows[i - 1][2:4]), to(*rows[i + 1][2:4])
        d = math.hypot(q[0] - p[0], q[1] - p[1])
        sin, cos = (q[0] - p[0]) / d, (q[1] - p[1]) / d
        e0, n0 = place(when, to, i)
        at = Point(e0 + x * sin + y * cos, n0 + x * cos - y * sin)
        far = border.distance(at)
        if across == "along the way":
            way = LineString([(at.x - 40 * sin, at.y - 40 * cos), (at.x + 40 * sin, at.y + 40 * cos)])
            met = border.intersection(way)
            far = at.distance(met) if not met.is_empty else math.inf
        if far < 10:
            out.append(far)
    return out


variants = ["", "bits mirrored", "x turned", "x left out"]
answer = {"sections": len(sections), "rows": len(rows), "readings": []}
for kind, when, side, across in itertools.product(
    ["ellipsoid", "sphere of 6371 km", "sphere of 6378 km"],
    ["the instant", "the row", "the row before", "the row after", "between it and the row before"],
    ["as told", "left out", "reversed"],
    ["square", "along the way"],
):
    lists = [distances(kind, when, side, across, v) for v in variants]
    for middle, of in ("mean", statistics.fmean), ("median", statistics.median):
        for deviation, sd in ("population", statistics.pstdev), ("sample", statistics.stdev):
            answer["readings"].append({
                "plane": kind, "position": when, "hitch_side": side, "distance": across, "middle": middle, "deviation": deviation,
                "count": [len(x) for x in lists], "m": [of(x) for x in lists], "sd_m": [sd(x) for x in lists],
            })
json.dump(answer, sys.stdout)
