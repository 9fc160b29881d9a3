"""Turns traces into logs of candump with python-can: convert.py FILE OUT ..."""
import sys

from can.io import ASCReader, BLFReader, CanutilsLogWriter, TRCReader

for k in range(1, len(sys.argv), 2):
    src, dst = sys.argv[k : k + 2]
    reader = {"asc": ASCReader, "blf": BLFReader, "trc": TRCReader}[src[-3:]]
    with CanutilsLogWriter(dst) as w:
        for m in reader(src):
            if m.is_extended_id and not m.is_error_frame and not m.is_fd and not m.is_remote_frame:
                m.channel = "can0"
                w.on_message_received(m)
