#!/usr/bin/env python3
"""Tabulate what jc reads from the memory devices of dmidecode listings.

Usage:  python3 make_table.py LISTINGS.tar.xz TABLE.tsv

Needs Python 3.9 and the package jc (pip install jc).  Every .txt member of
the archive is passed to jc.parse('dmidecode', text); TABLE.tsv gets one row
per listing, sorted by id, under a comment naming the jc version and a header
line:

  listing     member name without folder and ending
  devices     blocks of type 17, or "error" (and empty columns) if jc raised
  fitted      devices whose size is a number with a unit
  total_bytes sum of those sizes (units are binary: 1 kB = 1024 bytes)
  sizes       bytes, "-" = No Module Installed, "?" = anything else
  locators    blanks trimmed and collapsed, joined with "|", "-" = no key
  speeds      speed in MT/s, "-" = no key or no number (MHz, as older
              versions label the same figure, is taken over unchanged)
  configured  configured memory (or clock) speed, written like speeds

Lists keep the order of the devices; runs of equal sizes or speeds are
written VALUE*N and joined with ",".
"""

import re
import sys
import tarfile
from itertools import groupby
from pathlib import PurePosixPath
from typing import Any, Iterable, Iterator, Optional

import jc

MEMORY_DEVICE = 17
COLUMNS = ('listing', 'devices', 'fitted', 'total_bytes', 'sizes', 'locators',
           'speeds', 'configured')
UNITS = {'bytes': 1, 'kB': 1 << 10, 'KB': 1 << 10, 'MB': 1 << 20,
         'GB': 1 << 30, 'TB': 1 << 40}
SIZE = re.compile(r'(\d+) (\w+)')
SPEED = re.compile(r'(\d+) (?:MT/s|MHz)')


def size_of(text: Optional[str]) -> str:
    """Return a size in bytes, '-' for an empty slot, '?' otherwise."""
    if text == 'No Module Installed':
        return '-'
    match = SIZE.fullmatch(text or '')
    if match is None or match[2] not in UNITS:
        return '?'
    return str(int(match[1]) * UNITS[match[2]])


def speed_of(text: Optional[str]) -> str:
    """Return the number of a speed, '-' when there is none."""
    match = SPEED.fullmatch(text or '')
    return match[1] if match else '-'


def runs(items: Iterable[str]) -> str:
    """Write items run-length encoded: VALUE*N,VALUE*N."""
    return ','.join(f'{value}*{len(list(run))}'
                    for value, run in groupby(items))


def row_of(listing: str, text: str) -> list[str]:
    """Return the table row of one listing."""
    try:
        blocks: Any = jc.parse('dmidecode', text, quiet=True)
    except Exception as exc:  # whatever jc raises is a result to record
        print(f'{listing}: {type(exc).__name__}: {exc}', file=sys.stderr)
        return [listing, 'error'] + [''] * (len(COLUMNS) - 2)
    devices = [block.get('values') or {} for block in blocks
               if block.get('type') == MEMORY_DEVICE]
    sizes = [size_of(device.get('size')) for device in devices]
    fitted = [int(size) for size in sizes if size.isdigit()]
    locators = [' '.join(device.get('locator', '-').split())
                for device in devices]
    speeds = [speed_of(device.get('speed')) for device in devices]
    configured = [speed_of(device.get('configured_memory_speed')
                           or device.get('configured_clock_speed'))
                  for device in devices]
    return [listing, str(len(devices)), str(len(fitted)), str(sum(fitted)),
            runs(sizes), '|'.join(locators), runs(speeds), runs(configured)]


def listings(archive: str) -> Iterator[tuple[str, str]]:
    """Yield id and text of every listing in the archive."""
    with tarfile.open(archive) as tar:
        for member in tar:
            path = PurePosixPath(member.name)
            handle = tar.extractfile(member)
            if path.suffix == '.txt' and handle is not None:
                yield path.stem, handle.read().decode('utf-8', 'replace')


def main() -> None:
    """Read the archive named first, write the table named second."""
    if len(sys.argv) != 3:
        sys.exit('usage: make_table.py LISTINGS.tar.xz TABLE.tsv')
    rows = sorted(row_of(*listing) for listing in listings(sys.argv[1]))
    with open(sys.argv[2], 'w', encoding='utf-8', newline='\n') as table:
        print(f'# jc {jc.__version__}', file=table)
        for row in [list(COLUMNS), *rows]:
            print('\t'.join(row), file=table)


if __name__ == '__main__':
    main()
