"""Reads ISO 11783-10 task data once more, for taskdata's tests to compare.

Written from the standard's layout of a time log and nothing else. Usage:

    python3 reader.py FOLDER

prints one JSON object a log: {"log", "rows", "columns": [[least, greatest, count], ...],
"position": {letter: [least, greatest]}, "fixes": [[row time in ms since 1970, north, east in 1e-7 degrees, UTC in ms of the day or null], ...],
"changes": [[previous report ms, row ms, section from 0, on], ...]} for each task that has logs. "changes" are of
the element whose work states changed most.
"""
import json, os, struct, sys, xml.etree.ElementTree as ET

EPOCH_MS = 3652 * 86400000  # 1980-01-01 since 1970-01-01
FORMS = dict(A="i", B="i", C="i", D="B", E="H", F="H", G="B", H="I", I="H")


def files(folder):
    found = {}
    for top, _, names in os.walk(folder):
        for name in names:
            found[name.upper()] = os.path.join(top, name)
    return found


def load(found, name):
    root = ET.parse(found[name]).getroot()
    for ref in list(root.iter("XFR")):
        name = ref.get("A").upper() + ".XML"
        if name in found:
            root.extend(ET.parse(found[name]).getroot())
    return root


def header(path):
    tim = ET.parse(path).getroot()
    ptn = tim.find("PTN")
    layout = [(k, ptn.get(k)) for k in "ABCDEFGHI" if ptn is not None and k in ptn.attrib]
    return layout, tim.findall("DLV")


def rows(layout, columns, data):
    at = 0
    form = struct.Struct("<IH" + "".join(FORMS[k] for k, v in layout if v == "") + "B")
    keys = [k for k, v in layout if v == ""]
    while at + form.size <= len(data):
        ms, day, *rest, n = form.unpack_from(data, at)
        if at + form.size + 5 * n > len(data):
            return
        values = [struct.unpack_from("<Bi", data, at + form.size + 5 * k) for k in range(n)]
        if ms > 86400000 or any(k >= len(columns) for k, _ in values):
            raise ValueError(f"no row at {at}")
        yield EPOCH_MS + day * 86400000 + ms, dict(zip(keys, rest)), values
        at += form.size + 5 * n


def tree(root):
    """Elements by id: (device id, type, object id, parent object id, {ddi: property value})."""
    elements = {}
    for dvc in root.iter("DVC"):
        props = {o.get("A"): (int(o.get("B"), 16), int(o.get("C"))) for o in dvc.findall("DPT")}
        for det in dvc.findall("DET"):
            own = dict(props[r.get("A")] for r in det.findall("DOR") if r.get("A") in props)
            elements[dvc.get("A"), det.get("B")] = det.get("A")
            elements[det.get("A")] = (dvc.get("A"), det.get("C"), det.get("B"), det.get("F"), own)
    return elements


def above(elements, name):
    """The element and its ancestors, as ids."""
    seen = []
    while name and name not in seen:
        seen.append(name)
        dvc, _, _, parent, _ = elements[name]
        name = elements.get((dvc, parent))
    return seen


def number(values, elements, name, ddi):
    """A value of an element: its property, else its first report, else its parent's."""
    for k in above(elements, name):
        if ddi in elements[k][4]:
            return elements[k][4][ddi]
        if (k, ddi) in values:
            return values[k, ddi]
    return None


def main(folder):
    found = files(folder)
    root = load(found, "TASKDATA.XML")
    elements = tree(root)
    for task in root.iter("TSK"):
        logs = []
        for tlg in task.findall("TLG"):
            name = tlg.get("A").upper()
            try:
                layout, columns = header(found[name + ".XML"])
                data = open(found[name + ".BIN"], "rb").read()
            except (KeyError, ET.ParseError):
                continue
            logs.append((name, layout, columns, list(rows(layout, columns, data))))
        for name, layout, columns, got in logs:
            extremes = [[None, None, 0] for _ in columns]
            position = {}
            fixes, last = [], None
            for ms, at, values in got:
                for k, v in at.items():
                    least, most = position.get(k, (v, v))
                    position[k] = (min(least, v), max(most, v))
                for k, v in values:
                    e = extremes[k]
                    e[0], e[1], e[2] = v if e[2] == 0 else min(e[0], v), v if e[2] == 0 else max(e[1], v), e[2] + 1
                here = (at.get("A"), at.get("B"), at.get("H"))
                if here != last and here[:2] != (0, 0) and None not in here[:2]:
                    fixes.append([ms, here[0], here[1], here[2]])
                last = here
            print(json.dumps(dict(task=task.get("A"), log=name, rows=len(got), columns=extremes, position=position, fixes=fixes,
                                  changes=changes(elements, [(columns, got)]))))
        if logs:
            joined = changes(elements, [(columns, got) for _, _, columns, got in logs])
            print(json.dumps(dict(task=task.get("A"), log="", changes=joined)))


def changes(elements, logs):
    """Changes of the work state of each section from the left, sections below an element with 141 = 0 being off.

    The sections are those below the element whose condensed words differed from one report to the next most often;
    where there are no such words, the device as one.
    """
    first, differ, whole = {}, {}, {}
    for columns, got in logs:
        names = [(c.get("C"), int(c.get("A"), 16)) for c in columns]
        last = {}
        for _, _, values in got:
            for k, v in values:
                name, ddi = names[k]
                first.setdefault((name, ddi), v)
                if name in elements and (161 <= ddi <= 176 or ddi == 141):
                    at = differ if ddi != 141 else whole
                    at[name] = at.get(name, 0) + (last.get(k, v) != v)
                    last[k] = v
    if not differ and not whole:
        return []
    best = max(differ or whole, key=(differ or whole).get)
    device, carriers = elements[best][0], {best} if differ else set()
    parts = [k for k, e in elements.items() if type(k) is str and e[0] == device and e[1] == "4"]
    parts = [p for p in parts if carriers & set(above(elements, p))]
    parts.sort(key=lambda p: number(first, elements, p, 135) or 0)
    if not parts:
        parts = [best]
    chain = {p: above(elements, p) for p in parts}
    under = {c: [q for q in parts if c in chain[q]] for c in carriers}
    place = {p: [(c, under[c].index(p)) for c in chain[p] if c in carriers] for p in parts}
    chosen = {k for k, e in elements.items() if type(k) is str and e[0] == device}
    word, own, state, seen, out = {}, {}, {}, None, []
    events = {}
    for columns, got in logs:
        told = [(int(c.get("A"), 16), c.get("C")) for c in columns]
        told = [t if t[1] in chosen and (161 <= t[0] <= 176 or t[0] == 141) else None for t in told]
        for ms, _, values in got:
            events.setdefault(ms, []).extend(told[k] + (v,) for k, v in values if told[k])
    for ms in sorted(events):
        for ddi, name, v in events[ms]:
            if ddi == 141:
                own[name] = v
            else:
                word[name, ddi] = v & 0xFFFFFFFF
        for i, p in enumerate(parts) if events[ms] else ():
            on = None
            for carrier, k in place[p]:
                if (carrier, 161 + k // 16) in word:
                    on = word[carrier, 161 + k // 16] >> 2 * (k % 16) & 3
                    break
            if on is None and not carriers:
                on = next((own[k] for k in chain[p] if k in own), None)
            if on is None or on > 1:
                continue
            on = on == 1 and all(own.get(k, 1) == 1 for k in chain[p])
            if p in state and state[p] != on:
                out.append([seen, ms, i, int(on)])
            state[p] = on
        seen = ms
    return out


main(sys.argv[1])
