#!/usr/bin/env python3
"""Compose SPD contents from what a module is, as the byte tables lay them out.

Usage:  python3 make_spd.py FOLDER

Needs Python 3.9.  Writes one dump NAME.hex for each module below, and
values.csv with what each was composed of.  It shares no code and no tables
with the reader that is tested: properties become bytes here, bytes become
properties there.  The CRC is binascii.crc_hqx, which is CRC-16/XMODEM.
"""

import binascii
import csv
import sys
from pathlib import Path

DENSITIES = {256: 0, 512: 1, 1024: 2, 2048: 3, 4096: 4, 8192: 5, 16384: 6, 32768: 7, 12288: 8, 24576: 9}
DDR5_DENSITIES = {4096: 1, 8192: 2, 12288: 3, 16384: 4, 24576: 5, 32768: 6, 49152: 7, 65536: 8}
KINDS = {
    "DDR2": {"RDIMM": 1, "UDIMM": 2, "SO-DIMM": 4},
    "DDR3": {"RDIMM": 1, "UDIMM": 2, "SO-DIMM": 3, "LRDIMM": 11},
    "DDR4": {"RDIMM": 1, "UDIMM": 2, "SO-DIMM": 3, "LRDIMM": 4},
    "DDR5": {"RDIMM": 1, "UDIMM": 2, "SO-DIMM": 3, "LRDIMM": 4},
}
# DDR2: cycle in ps -> byte 9.
DDR2_CYCLES = {5000: 0x50, 3750: 0x3D, 3000: 0x30, 2500: 0x25}
# Rows, columns and banks of DDR2 dies by megabits and width.
DDR2_DIES = {(256, 8): (13, 10, 4), (512, 8): (14, 10, 4), (512, 4): (14, 11, 4), (1024, 4): (14, 11, 8), (1024, 8): (14, 10, 8), (1024, 16): (13, 10, 8)}
DDR2_RANKS = {1024: 1, 2048: 2, 4096: 4, 128: 32, 256: 64, 512: 128}

# What the modules are.  "like" names public contents with the same properties and who published them; names, numbers and
# dates are invented.  size_mib is written by hand, not computed.
MODULES = [
    dict(name="ddr2-rdimm-256", generation="DDR2", kind="RDIMM", die=256, width=8, ranks=1, check=8, cycle=5000, rated=400, size_mib=256, like="coreboot mailing list 2009: decoded listing of a DDR2 RDIMM"),
    dict(name="ddr2-rdimm-4g", generation="DDR2", kind="RDIMM", die=1024, width=4, ranks=2, check=8, cycle=3000, rated=667, size_mib=4096),
    dict(name="ddr2-sodimm-1g", generation="DDR2", kind="SO-DIMM", die=1024, width=16, ranks=2, check=0, cycle=2500, rated=800, size_mib=1024),
    dict(name="ddr3-rdimm-32g", generation="DDR3", kind="RDIMM", die=4096, width=4, ranks=4, check=8, cycle=1071, rated=1866, volts=[1500], short_crc=True, size_mib=32768, like="illumos libjedec_hex2spd_ddr3.c: first module"),
    dict(name="ddr3-lrdimm-16g", generation="DDR3", kind="LRDIMM", die=4096, width=8, ranks=4, check=8, cycle=1250, rated=1600, volts=[1500, 1350], size_mib=16384, like="illumos libjedec_hex2spd_ddr3.c: second module"),
    dict(name="ddr3-udimm-8g", generation="DDR3", kind="UDIMM", die=4096, width=8, ranks=2, check=8, cycle=1500, rated=1333, volts=[1350], size_mib=8192),
    dict(name="ddr3-rdimm-16g-dual", generation="DDR3", kind="RDIMM", die=4096, dies=2, width=4, ranks=2, check=8, cycle=1250, rated=1600, volts=[1500, 1350], size_mib=16384),
    dict(name="ddr3-sodimm-2g", generation="DDR3", kind="SO-DIMM", die=4096, width=16, ranks=1, check=0, cycle=1250, rated=1600, volts=[1500, 1350], size_mib=2048, like="coreboot google/link: decoded and checked"),
    dict(name="ddr3-half-4g", generation="DDR3", kind="UDIMM", die=4096, width=8, ranks=1, check=8, cycle=1500, rated=1333, volts=[1500], size_mib=4096, length=128, like="coreboot pcengines/apu2: 128 bytes"),
    dict(name="ddr4-rdimm-64g", generation="DDR4", kind="RDIMM", die=16384, width=4, ranks=2, check=8, cycle=625, rated=3200, size_mib=65536, like="illumos libjedec_hex2spd_ddr4.c: RDIMM"),
    dict(name="ddr4-lrdimm-128g-3ds", generation="DDR4", kind="LRDIMM", die=8192, dies=4, stacked=True, width=4, ranks=2, check=8, cycle=750, rated=2666, size_mib=131072, like="illumos libjedec_hex2spd_ddr4.c: LRDIMM"),
    dict(name="ddr4-lrdimm-64g-dual", generation="DDR4", kind="LRDIMM", die=8192, dies=2, width=4, ranks=4, check=8, cycle=750, rated=2666, size_mib=65536),
    dict(name="ddr4-sodimm-16g", generation="DDR4", kind="SO-DIMM", die=8192, width=8, ranks=2, check=0, cycle=625, rated=3200, size_mib=16384, like="illumos libjedec_hex2spd_ddr4.c: SO-DIMM"),
    dict(name="ddr4-udimm-32g", generation="DDR4", kind="UDIMM", die=16384, width=8, ranks=2, check=8, cycle=682, rated=2933, size_mib=32768),
    dict(name="ddr4-rdimm-4g-no-serial", generation="DDR4", kind="RDIMM", die=4096, width=8, ranks=1, check=8, cycle=938, rated=2133, size_mib=4096, serial="00000000", like="coreboot intel/harcuvar: decoded and checked"),
    dict(name="ddr4-rdimm-48g", generation="DDR4", kind="RDIMM", die=12288, width=4, ranks=2, check=8, cycle=833, rated=2400, size_mib=49152),
    dict(name="ddr4-half-32g", generation="DDR4", kind="RDIMM", die=8192, width=4, ranks=2, check=8, cycle=833, rated=2400, size_mib=32768, length=256),
    dict(name="ddr4-generated-8g", generation="DDR4", kind="SO-DIMM", die=16384, width=16, ranks=1, check=0, cycle=625, rated=3200, size_mib=8192, checks="not checked", like="coreboot spd/ddr4/set-0: no CRC, no names"),
    dict(name="ddr4-damaged-32g", generation="DDR4", kind="RDIMM", die=8192, width=4, ranks=2, check=8, cycle=750, rated=2666, size_mib=32768, checks="wrong"),
    dict(name="ddr5-rdimm-64g", generation="DDR5", kind="RDIMM", die=16384, width=4, ranks=2, check=8, cycle=416, rated=4800, size_mib=65536, like="illumos libjedec_hex2spd_ddr5.c: first module"),
    dict(name="ddr5-rdimm-16g", generation="DDR5", kind="RDIMM", die=16384, width=8, ranks=1, check=8, cycle=416, rated=4800, size_mib=16384, like="illumos libjedec_hex2spd_ddr5.c: second module"),
    dict(name="ddr5-udimm-16g", generation="DDR5", kind="UDIMM", die=16384, width=8, ranks=1, check=0, cycle=416, rated=4800, size_mib=16384, like="ddr5-spd-recovery: UDIMM"),
    dict(name="ddr5-rdimm-96g", generation="DDR5", kind="RDIMM", die=24576, width=4, ranks=2, check=8, cycle=357, rated=5600, size_mib=98304),
    dict(name="ddr5-udimm-24g", generation="DDR5", kind="UDIMM", die=24576, width=8, ranks=1, check=4, cycle=333, rated=6000, size_mib=24576),
    dict(name="ddr5-rdimm-256g-3ds", generation="DDR5", kind="RDIMM", die=16384, dies=4, stacked=True, width=4, ranks=2, check=8, cycle=384, rated=5200, size_mib=262144),
    dict(name="ddr5-rdimm-unequal", generation="DDR5", kind="RDIMM", die=16384, width=4, ranks=2, check=8, cycle=416, rated=4800, size_mib=49152, second_die=8192),
]


def put(data, at, *values):
    for offset, value in enumerate(values):
        data[at + offset] = value & 0xFF


def crc(data, first, last, at):
    data[at : at + 2] = binascii.crc_hqx(bytes(data[first : last + 1]), 0).to_bytes(2, "little")


def bcd(number):
    return number // 10 << 4 | number % 10


def name(data, module, at, part, width):
    """Maker, place, date and serial number, then the part number."""
    put(data, at, *module["maker"], 1, bcd(module["year"]), bcd(module["week"]), *bytes.fromhex(module["serial"]))
    data[part : part + width] = module["part"].ljust(width).encode("ascii")


def ddr2(m):
    d = bytearray(256)
    rows, columns, banks = DDR2_DIES[m["die"], m["width"]]
    put(d, 0, 0x80, 8, 8, rows, columns, m["ranks"] - 1, 64 + m["check"], 0, 5, DDR2_CYCLES[m["cycle"]])
    put(d, 11, 2 if m["check"] else 0, 0x82, m["width"])
    put(d, 17, banks, 0x38)
    d[20] = KINDS["DDR2"][m["kind"]]
    d[31] = DDR2_RANKS[m["die"] * 64 // m["width"] // 8]
    d[62] = 0x12
    bank, code = m["maker"][0] & 0x7F, m["maker"][1]
    put(d, 64, *([0x7F] * bank), code)
    d[72] = 1
    d[73:91] = m["part"].ljust(18).encode("ascii")
    put(d, 93, bcd(m["year"]), bcd(m["week"]), *bytes.fromhex(m["serial"]))
    d[63] = sum(d[:63]) & 0xFF
    return d


def ddr3(m):
    d = bytearray(256)
    short = m.get("short_crc", False)
    dies = m.get("dies", 1)
    put(d, 0, 0x92 if short else 0x12, 0x11, 0x0B, KINDS["DDR3"][m["kind"]], DENSITIES[m["die"]], 0x21)
    d[6] = (0 if 1500 in m["volts"] else 1) | (2 if 1350 in m["volts"] else 0) | (4 if 1250 in m["volts"] else 0)
    d[7] = {1: 0, 2: 1, 3: 2, 4: 3, 8: 4}[m["ranks"]] << 3 | {4: 0, 8: 1, 16: 2}[m["width"]]
    d[8] = 3 | (8 if m["check"] else 0)
    put(d, 9, 0x11, 1, 8)
    coarse = -(-m["cycle"] // 125)
    d[12], d[34] = coarse, (m["cycle"] - coarse * 125) & 0xFF
    put(d, 14, 0xFE)
    d[33] = 0 if dies == 1 else 0x80 | {2: 2, 4: 3, 8: 4}[dies] << 4
    name(d, m, 117, 128, 18)
    put(d, 148, *m["dram"])
    crc(d, 0, 116 if short else 125, 126)
    return d


def ddr4(m):
    d = bytearray(512)
    dies = m.get("dies", 1)
    put(d, 0, 0x23, 0x12, 0x0C, KINDS["DDR4"][m["kind"]], 0x80 | DENSITIES[m["die"]], 0x29)
    d[6] = (dies > 1) << 7 | (dies - 1) << 4 | (2 if m.get("stacked") else 1 if dies > 1 else 0)
    d[11] = 3
    d[12] = (m["ranks"] - 1) << 3 | {4: 0, 8: 1, 16: 2}[m["width"]]
    d[13] = 3 | (8 if m["check"] else 0)
    coarse = -(-m["cycle"] // 125)
    d[18], d[125] = coarse, (m["cycle"] - coarse * 125) & 0xFF
    put(d, 20, 0xF8, 0xFF)
    put(d, 128, 0x11, 0x11)
    crc(d, 0, 125, 126)
    crc(d, 128, 253, 254)
    name(d, m, 320, 329, 20)
    put(d, 350, *m["dram"])
    return d


def ddr5(m):
    d = bytearray(1024)
    code = lambda die, dies: DDR5_DENSITIES[die] | {1: 0, 2: 2, 4: 3, 8: 4, 16: 5}[dies] << 5
    put(d, 0, 0x30, 0x10, 0x12, KINDS["DDR5"][m["kind"]], code(m["die"], m.get("dies", 1)))
    d[6] = {4: 0, 8: 1, 16: 2}[m["width"]] << 5
    if "second_die" in m:
        d[8], d[10] = code(m["second_die"], m.get("dies", 1)), d[6]
    d[20:22] = m["cycle"].to_bytes(2, "little")
    d[192] = 0x10
    d[234] = ("second_die" in m) << 6 | (m["ranks"] - 1) << 3
    d[235] = 1 << 5 | {0: 0, 4: 1, 8: 2}[m["check"]] << 3 | 2
    crc(d, 0, 509, 510)
    name(d, m, 512, 521, 30)
    put(d, 552, *m["dram"])
    return d


def main():
    folder = Path(sys.argv[1])
    columns = "file generation kind size_mib ranks logical_ranks width check_lines cycle rated voltage maker date serial part dram checks like".split()
    with open(folder / "values.csv", "w", newline="") as out:
        table = csv.writer(out, lineterminator="\n")
        table.writerow(columns)
        for number, m in enumerate(MODULES):
            m.setdefault("maker", [(0x80, 0xCE), (0x80, 0xAD), (0x80, 0x2C), (0x01, 0x98)][number % 4])
            m.setdefault("dram", (0x80, 0xAD))
            m.setdefault("year", 10 + number)
            m.setdefault("week", 1 + 2 * number)
            m.setdefault("serial", "%08X" % (0x1A2B3C40 + number))
            m.setdefault("part", "WW%d-%dR%d-%d" % (number, m["ranks"], m["width"], m["rated"]))
            m.setdefault("checks", "right")
            data = dict(DDR2=ddr2, DDR3=ddr3, DDR4=ddr4, DDR5=ddr5)[m["generation"]](m)
            if m["checks"] == "not checked":
                for at in (126, 127, 254, 255):
                    data[at] = 0
            if m["checks"] == "wrong":
                data[40] ^= 0x20
            data = data[: m.get("length", len(data))]
            lines = ("%04X: %s\n" % (at, data[at : at + 16].hex(" ").upper()) for at in range(0, len(data), 16))
            (folder / (m["name"] + ".hex")).write_text("".join(lines))
            stack = m["dies"] if m.get("stacked") else 1
            lanes = 2 if m["generation"] == "DDR5" else 1
            volts = {"DDR2": 1800, "DDR4": 1200, "DDR5": 1100}.get(m["generation"]) or min(m["volts"])
            identity = m["generation"] != "DDR4" or len(data) == 512
            part = identity and len(data) > 128
            table.writerow([
                m["name"], m["generation"], m["kind"], m["size_mib"], m["ranks"], m["ranks"] * stack, m["width"],
                m["check"] * lanes, m["cycle"], m["rated"], volts,
                "%02X%02X" % m["maker"] if identity else "",
                "20%02d-W%02d" % (m["year"], m["week"]) if identity else "",
                m["serial"] if identity and m["serial"] != "00000000" else "",
                m["part"] if part else "",
                "%02X%02X" % m["dram"] if part and m["generation"] != "DDR2" else "",
                m["checks"], m.get("like", ""),
            ])


main()
