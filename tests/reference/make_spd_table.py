#!/usr/bin/env python3
"""Tabulate what decode-dimms reads from SPD dumps.

Usage:  python3 make_spd_table.py FOLDER TABLE.tsv

Needs Python 3.9 and decode-dimms of the i2c-tools (Debian package i2c-tools).
Every .hex file of FOLDER that it can read is passed to decode-dimms -c -x; it
reads DDR2 to DDR4, whole contents.  TABLE.tsv gets one row per file, sorted
by name, under a comment naming the version and a header line:

  file      name without ending
  type      Fundamental Memory type, without " SDRAM"
  kind      first word of Module Type
  size_mb   Size
  ranks     Ranks
  width     SDRAM Device Width
  rated     Maximum module speed
  voltages  Operable voltages, Module Nominal Voltage or Voltage Interface
            Level, in mV, joined with ","; those only tolerated are left out
  serial    Assembly Serial Number
  date      Manufacturing Date
  part      Part Number, blanks at the end removed
  checks    "ok" or "bad" for each check, joined with ","

"-" = not printed.
"""

import re
import subprocess
import sys
from pathlib import Path

COLUMNS = "file type kind size_mb ranks width rated voltages serial date part checks".split()


def first(text, label, pattern=r"(\S+)"):
    found = re.search(r"^%s  +%s" % (re.escape(label), pattern), text, re.M)
    return found.group(1) if found else "-"


def row(path):
    run = subprocess.run(["decode-dimms", "-c", "-x", str(path)], capture_output=True, text=True, check=True)
    text = run.stdout
    lines = [line for line in text.splitlines() if re.match(r"(Operable voltages|Module Nominal Voltage|Voltage Interface Level) ", line)]
    volts = [str(round(float(v) * 1000)) for line in lines for v in re.findall(r"(\d+\.\d+) ?V(?! tolerant)", line)]
    checks = re.findall(r"^EEPROM (?:CRC|Checksum) of bytes \S+ +(OK|Bad)", text, re.M)
    speed = first(text, "Maximum module speed")
    return [
        path.stem,
        first(text, "Fundamental Memory type"),
        first(text, "Module Type"),
        first(text, "Size"),
        first(text, "Ranks"),
        first(text, "SDRAM Device Width"),
        speed,
        ",".join(volts) or "-",
        first(text, "Assembly Serial Number").removeprefix("0x"),
        first(text, "Manufacturing Date"),
        first(text, "Part Number", r"(\S.*?) *$"),
        ",".join(check.lower() for check in checks) or "-",
    ], re.search(r"version (\S+)", text).group(1)


def main():
    folder, table = Path(sys.argv[1]), Path(sys.argv[2])
    rows, version = [], ""
    for path in sorted(folder.glob("*.hex")):
        # Halves of contents, and generations that it does not know, are not for it.
        if not path.name.startswith(("ddr2", "ddr3", "ddr4")) or "-half-" in path.name:
            continue
        values, version = row(path)
        rows.append(values)
    lines = ["# decode-dimms %s of i2c-tools" % version, "\t".join(COLUMNS)]
    lines += ["\t".join(values) for values in rows]
    table.write_text("\n".join(lines) + "\n")


main()
