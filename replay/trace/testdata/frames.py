"""Reads and writes traces with python-can, for the tests of this package.

frames.py read FORM FILE ...     prints "= FILE" and a frame a line: microseconds, identifier, kind, length, data
frames.py write IN DIR           writes the frames of a candump log as DIR/x.asc, x.blf, x.trc, as x.screen, what
                                 candump shows, and as x.hex, what text2pcap reads, for link type 227

Kinds: x data, 29 bits; s data, 11 bits; rx, rs remote. Error and FD frames are left out.
"""
import datetime
import struct
import sys

import can
from can.io import ASCReader, ASCWriter, BLFReader, BLFWriter, CanutilsLogReader, TRCReader, TRCWriter


def reader(form, path):
    if form == "asc":
        return ASCReader(path, relative_timestamp=False)
    return {"candump": CanutilsLogReader, "blf": BLFReader, "trc": TRCReader}[form](path)


def read(form, path):
    print("=", path)
    for m in reader(form, path):
        if m.is_error_frame or m.is_fd:
            continue
        kind = ("r" if m.is_remote_frame else "") + ("x" if m.is_extended_id else "s")
        data = "" if m.is_remote_frame else bytes(m.data).hex()
        print(round(m.timestamp * 1e6), "%x" % m.arbitration_id, kind, m.dlc, data)


def write(src, folder):
    frames = list(CanutilsLogReader(src))
    for form, writer in {"asc": ASCWriter, "blf": BLFWriter, "trc": TRCWriter}.items():
        with writer(folder + "/x." + form) as w:
            for m in frames:
                m.channel = 0 if form != "trc" else 1
                w.on_message_received(m)
    with open(folder + "/x.hex", "w") as dump, open(folder + "/x.screen", "w") as screen:
        for m in frames:
            us = round(m.timestamp * 1e6)
            t = datetime.datetime.fromtimestamp(us // 1000000, datetime.timezone.utc)
            b = struct.pack(">IBBBB", m.arbitration_id | (0x80000000 if m.is_extended_id else 0), m.dlc, 0, 0, 0)
            b += bytes(m.data).ljust(8, b"\0")
            print("%s.%06d" % (t.strftime("%Y-%m-%d %H:%M:%S"), us % 1000000), file=dump)
            print("000000 " + b.hex(" ") + "\n", file=dump)
            data = bytes(m.data).hex(" ").upper()
            print(" (%010d.%06d)  can0  %08X   [%d]  %s" % (us // 1000000, us % 1000000, m.arbitration_id, m.dlc, data), file=screen)


if sys.argv[1] == "read":
    for k in range(2, len(sys.argv), 2):
        read(sys.argv[k], sys.argv[k + 1])
else:
    write(*sys.argv[2:])
